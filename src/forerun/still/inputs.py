"""What the still needs to know for one run: SI floats and arrays, nothing else."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.core.references import Reference
from forerun.equilibrium.arrays import MixtureArrays
from forerun.substances.liquids import LiquidArrays

__all__ = ["BathRule", "StillInput", "Stop", "Switch", "Trap", "plates_as_stages", "whole_plates"]

Floats = npt.NDArray[np.float64]

_NO_PLATE = 0.05  # fewer plates than this are none


@dataclass(frozen=True, slots=True)
class Switch:
    """When to change the receiver: exactly one of the three is given.

    Args:
        head_temperature_K: when the head thermometer has reached this reading [K].
        volume_m3: when this much distillate has come over since the start [m3].
        time_s: at this time since the start [s].
    """

    head_temperature_K: float | None = None
    volume_m3: float | None = None
    time_s: float | None = None

    def __post_init__(self) -> None:
        given = (self.head_temperature_K, self.volume_m3, self.time_s)
        if sum(value is not None for value in given) != 1:
            raise BadInput("switch", given, "exactly one of head, volume and time")


@dataclass(frozen=True, slots=True)
class Stop:
    """When the run ends: at the first of these.

    Args:
        time_s: latest end [s].
        residue_m3: liquid left in the pot, as it would measure at room temperature [m3].
        head_temperature_K: reading of the head thermometer that ends the run when reached [K].
    """

    time_s: float
    residue_m3: float | None = None
    head_temperature_K: float | None = None


@dataclass(frozen=True, slots=True)
class BathRule:
    """How a hand on the dial leads the bath: exactly one of the three is given.

    Args:
        drop_rate_m3_s: distillate to keep, as a volume at room temperature [m3/s].
        above_head_K: bath minus head to keep, once something comes over; minus pot before [K].
        above_pot_K: bath minus pot to keep [K].
        fastest_K_s: how fast the bath can be made to change [K/s].
        highest_K: what the bath is not to pass [K].
    """

    drop_rate_m3_s: float | None = None
    above_head_K: float | None = None
    above_pot_K: float | None = None
    fastest_K_s: float = 0.1
    highest_K: float = math.inf

    def __post_init__(self) -> None:
        given = (self.drop_rate_m3_s, self.above_head_K, self.above_pot_K)
        if sum(value is not None for value in given) != 1:
            raise BadInput("programme.keep", given, "exactly one of drops, above head, above pot")


@dataclass(frozen=True, slots=True)
class Trap:
    """A decanting trap between condenser and still: two layers part in it, one runs back.

    Args:
        volume_m3: what it holds before anything runs back [m3].
        returned: (C,) share of each component that is in the layer that runs back [-].
    """

    volume_m3: float
    returned: Floats


@dataclass(frozen=True, slots=True)
class StillInput:
    """One run: what is in the flask, what stands around it, what is done to it.

    A programme is an array (n, 2) of times [s] and values, straight between its points and
    constant before the first and after the last; a time given twice is a step.  The reflux
    programme is straight in R/(1 + R), so that total reflux (infinity) is an ordinary value.

    Args:
        names: (C,) names of the components.
        mixture: phase equilibrium of the components.
        liquids: heat capacities, latent heats and volumes of the components.
        charge_mol: (C,) what is put into the pot [mol].
        plates: theoretical plates between pot and head, >= 0.
        bath_temperature: (n, 2) times [s] and bath temperatures [K].
        pressure: (n, 2) times [s] and pressures in the head [Pa].
        stop: when the run ends.
        reflux_ratio: (n, 2) times [s] and reflux ratios [-]; infinity is total reflux.
        switches: when to change the receiver, in order.
        holdup_m3: liquid on all plates together in operation [m3].
        charge_temperature_K: charge, glass and column at the start [K].
        room_temperature_K: the room [K].
        bath_conductance_W_K: heat transfer coefficient times area from bath to pot [W/K], at the
            fill `bath_reference_m3`.
        bath_reference_m3: fill for which `bath_conductance_W_K` holds [m3]; None: the charge.
        pot_loss_W_K: pot to room [W/K].
        column_loss_W_K: all plates together to room [W/K].
        head_loss_W_K: neck and head to room [W/K].
        pot_glass_J_K: heat capacity of flask wall and stirrer [J/K].
        column_glass_J_K: heat capacity of the column with its packing [J/K].
        head_glass_J_K: heat capacity of neck and head [J/K].
        pressure_drop_Pa: per plate, at the working load, 0.7 of the largest; constant where the
            largest is not given [Pa].
        largest_load_m3_s: vapour, as liquid at room temperature, at which the column floods at
            101325 Pa [m3/s]; infinite: never.
        carried: liquid that a mole of vapour carries from plate to plate at a small load [-]; for
            plates that are not whole, see `plates_as_stages`.
        carried_at_largest: how much more it carries at the largest load [-].
        pump_speed_m3_s: volume that the pump takes [m3/s]; 0: it holds the programme's pressure
            whatever passes the condenser.
        diluent_mol: what does not distil, in the pot [mol]; counts as an ideal diluent.
        diluent_m3: its volume [m3].
        diluent_J_K: its heat capacity [J/K].
        steam: (n, 2) times [s] and vapour that is led into the pot [mol/s].
        steam_component: number of the component that is fed as vapour.
        steam_temperature_K: of that vapour [K].
        bath_rule: how the bath is led; None: by its programme.
        steady_K_s: total reflux until the head changes less than this for `steady_for_s` [K/s].
        steady_for_s: 0: the reflux follows its programme from the start [s].
        trap: a decanting trap; None: none.
        stem: share of head minus room by which the thermometer reads low [-].
        two_liquids: whether a pair of components may stand as two liquids on a stage.
        condenser_limit_W: largest duty of the condenser [W].
        coolant_temperature_K: coolant, and so what drips [K].
        thermometer_lag_s: time constant of the head thermometer [s].
        thermometer_offset_K: reading minus truth [K].
        flask_m3: volume of the flask [m3], for the wall that the liquid touches and for warnings;
            None: not known.
        first_drop_m3: volume of the drop that counts as the first [m3]; 40 drops a millilitre of
            an organic liquid, from memory.
        sample_interval_s: distance in time between points of the trace [s].
        rates_between_steps: whether rates and the composition of the vapour in the trace are read
            off a straight line between the steps of the integrator, as for the members of an
            ensemble; all else is the same.
        tolerance: error allowed in a step [-]; moles relative, temperatures 10 K times this.
        references: sources of the data behind `mixture` and `liquids`.
    """

    names: tuple[str, ...]
    mixture: MixtureArrays
    liquids: LiquidArrays
    charge_mol: Floats
    plates: int
    bath_temperature: Floats
    pressure: Floats
    stop: Stop
    reflux_ratio: Floats = field(default_factory=lambda: np.array([[0.0, 0.0]]))
    switches: tuple[Switch, ...] = ()
    holdup_m3: float = 0.0
    charge_temperature_K: float = 293.15
    room_temperature_K: float = 293.15
    bath_conductance_W_K: float = 1.5
    bath_reference_m3: float | None = None
    pot_loss_W_K: float = 0.1
    column_loss_W_K: float = 0.1
    head_loss_W_K: float = 0.05
    pot_glass_J_K: float = 60.0
    column_glass_J_K: float = 60.0
    head_glass_J_K: float = 20.0
    pressure_drop_Pa: float = 0.0
    largest_load_m3_s: float = math.inf
    carried: float = 0.0
    carried_at_largest: float = 0.0
    pump_speed_m3_s: float = 0.0
    diluent_mol: float = 0.0
    diluent_m3: float = 0.0
    diluent_J_K: float = 0.0
    steam: Floats = field(default_factory=lambda: np.array([[0.0, 0.0]]))
    steam_component: int = 0
    steam_temperature_K: float = 373.15
    bath_rule: BathRule | None = None
    steady_K_s: float = 0.0
    steady_for_s: float = 0.0
    trap: Trap | None = None
    stem: float = 0.0
    two_liquids: bool = False
    condenser_limit_W: float = math.inf
    coolant_temperature_K: float = 283.15
    thermometer_lag_s: float = 8.0
    thermometer_offset_K: float = 0.0
    flask_m3: float | None = None
    first_drop_m3: float = 2.5e-8
    sample_interval_s: float = 10.0
    rates_between_steps: bool = False
    tolerance: float = 1e-4
    references: tuple[Reference, ...] = ()


def plates_as_stages(plates: float) -> tuple[int, float]:
    """Return the stages of a column and what each vapour carries, for plates that are not whole.

    The next whole number of stages is taken, and each works at the efficiency plates / stages:
    liquid carried up with the vapour, e moles a mole, is a Murphree efficiency 1/(1 + e).

    Args:
        plates: theoretical plates, >= 0 [-].

    Returns:
        Stages [-] and liquid carried up per mole of vapour [-]; exact for whole plates.

    Source:
        Lewis, Ind. Eng. Chem. 28 (1936) 399, doi:10.1021/ie50316a007: plates times efficiency,
        for steps that are small; Colburn, ibid. 526, doi:10.1021/ie50317a006 (both from memory).

    Raises:
        BadInput: negative, not finite, or more than 100.
    """
    if not (math.isfinite(plates) and 0.0 <= plates <= 100.0):
        raise BadInput("rig.plates", plates, "a number of theoretical plates from 0 to 100")
    if plates < _NO_PLATE:
        return 0, 0.0
    stages = math.ceil(plates - 1e-9)
    return stages, max(stages / plates - 1.0, 0.0)


def whole_plates(plates: float) -> tuple[int, str | None]:
    """Return the whole number of plates to calculate with and a sentence if it was rounded.

    Half a plate has no meaning in a column of equilibrium stages that is exact at its ends, so
    the nearest whole number is taken; an ensemble covers the rest by drawing the number.

    Args:
        plates: theoretical plates, >= 0 [-].

    Returns:
        The whole number [-], and None or a warning.

    Not a published model: a rounding.

    Raises:
        BadInput: negative, not finite, or more than 100.
    """
    if not (math.isfinite(plates) and 0.0 <= plates <= 100.0):
        raise BadInput("rig.plates", plates, "a number of theoretical plates from 0 to 100")
    whole = math.floor(plates + 0.5)
    if whole == plates:
        return whole, None
    return whole, f"{plates:.2g} plates are calculated as {whole}, the nearest whole number."
