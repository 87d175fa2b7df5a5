"""What one run of the still returns: frozen, SI units, nothing computed here.

n points in time, C components in the order of `Trace.names`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from forerun.core.references import Reference

__all__ = ["Cut", "Energy", "Ledger", "Run", "Trace"]

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Trace:
    """Every state worth seeing, against time.

    Args:
        names: (C,) names of the components.
        time_s: (n,) time since the start of heating [s], rising; two points may share a time
            where a receiver was changed.
        head_temperature_K: (n,) reading of the head thermometer, lag and offset included [K].
        pot_temperature_K: (n,) liquid in the pot [K].
        bath_temperature_K: (n,) bath [K].
        pressure_Pa: (n,) pressure in the head [Pa]; empty where it was not kept.
        distillate_volume_m3: (n,) distillate so far, all receivers, at room temperature [m3].
        distillate_mole_fraction: (n, C) composition of what drips now [-]; NaN before anything
            reached the condenser.
        pot_mole_fraction: (n, C) composition of the pot [-].
        boilup_rate_mol_s: (n,) vapour that leaves the pot [mol/s]; empty where it was not kept.
        distillate_rate_mol_s: (n,) what drips into the receiver [mol/s], likewise.
        pot_pressure_Pa: (n,) pressure over the pot [Pa]; empty where it was not kept.
        load: (n,) vapour that leaves the pot over the most that the column carries [-]; 0 where
            no largest load is known, empty where it was not kept.
        received_mol: (n, C) distillate so far [mol]; empty where it was not kept.
    """

    names: tuple[str, ...]
    time_s: Floats
    head_temperature_K: Floats
    pot_temperature_K: Floats
    bath_temperature_K: Floats
    pressure_Pa: Floats
    distillate_volume_m3: Floats
    distillate_mole_fraction: Floats
    pot_mole_fraction: Floats
    boilup_rate_mol_s: Floats
    distillate_rate_mol_s: Floats
    pot_pressure_Pa: Floats = field(default_factory=lambda: np.zeros(0))
    load: Floats = field(default_factory=lambda: np.zeros(0))
    received_mol: Floats = field(default_factory=lambda: np.zeros((0, 0)))


@dataclass(frozen=True, slots=True)
class Cut:
    """What one receiver (or, at the end, the pot) holds.

    Args:
        number: 1 for the first receiver; 0 for the residue.
        start_s: when the receiver was put in place [s].
        end_s: when it was taken away [s].
        start_head_K: head thermometer at the first drop into it, or at its start if none fell [K].
        end_head_K: head thermometer when it was taken away [K].
        volume_m3: volume at room temperature, volumes taken as additive [m3].
        mass_kg: mass [kg].
        amount_mol: amount [mol].
        mole_fraction: (C,) [-]; NaN when it is empty.
        mass_fraction: (C,) [-]; NaN when it is empty.
    """

    number: int
    start_s: float
    end_s: float
    start_head_K: float
    end_head_K: float
    volume_m3: float
    mass_kg: float
    amount_mol: float
    mole_fraction: Floats
    mass_fraction: Floats


@dataclass(frozen=True, slots=True)
class Ledger:
    """Where every mole went.

    Args:
        charge_mol: (C,) put in at the start, wetting film of the column included [mol].
        cuts_mol: (C,) sum over all receivers [mol].
        residue_mol: (C,) left in the pot [mol].
        holdup_mol: (C,) left on the column and in the head [mol].
        vent_mol: (C,) vapour that the condenser did not hold [mol].
        closure: largest |charge + fed - all the others| of a component over its charge [-].
        fed_mol: (C,) led in as vapour during the run [mol]; empty where nothing was.
    """

    charge_mol: Floats
    cuts_mol: Floats
    residue_mol: Floats
    holdup_mol: Floats
    vent_mol: Floats
    closure: float
    fed_mol: Floats = field(default_factory=lambda: np.zeros(0))


@dataclass(frozen=True, slots=True)
class Energy:
    """Where every joule went.

    Args:
        supplied_J: from the bath into the pot, net [J].
        lost_J: from pot, column and head to the room, net [J].
        condenser_J: into the coolant [J].
        stored_J: gained by glass, liquids and products, all counted from the state at start [J].
        closure: |supplied - lost - condenser - stored| over the largest of them [-].
    """

    supplied_J: float
    lost_J: float
    condenser_J: float
    stored_J: float
    closure: float


@dataclass(frozen=True, slots=True)
class Run:
    """One run from cold flask to the stop.

    Args:
        trace: the states against time.
        first_drop_s: when the first drop fell [s]; None when nothing came over.
        cuts: one per receiver, in order; an empty tuple when nothing came over.
        residue: what is left in the pot, as a cut with number 0.
        ledger: the account of moles.
        energy: the account of heat.
        warnings: sentences about this run that its user should read.
        unmodelled: sentences about what was left out.
        references: the sources of the methods and data that were used.
    """

    trace: Trace
    first_drop_s: float | None
    cuts: tuple[Cut, ...]
    residue: Cut
    ledger: Ledger
    energy: Energy
    warnings: tuple[str, ...]
    unmodelled: tuple[str, ...]
    references: tuple[Reference, ...]
