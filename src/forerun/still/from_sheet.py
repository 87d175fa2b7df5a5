"""From a run sheet to what the still needs: the one place where the two meet."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.references import Reference
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.glassware.drawer import drawer_references
from forerun.sheets.model import Course, RunSheet
from forerun.sheets.model import Switch as SheetSwitch
from forerun.still.at_start import boils_at_start
from forerun.still.from_sheet_special import pressure_with_pump, special_inputs
from forerun.still.inputs import StillInput, Stop, Switch, plates_as_stages
from forerun.substances.catalogue import references_of
from forerun.substances.correlations import boiling_temperature, vapour_pressure
from forerun.substances.liquids import liquid_arrays

__all__ = ["Prepared", "condenser_limit", "prepare"]

Floats = npt.NDArray[np.float64]

_ORDER = {"head": "head_temperature_K", "volume": "volume_m3", "time": "time_s"}


@dataclass(frozen=True, slots=True)
class Prepared:
    """A sheet made ready for the still.

    Args:
        sheet: the run sheet.
        mixture: its substances with their equilibrium.
        still: the input of the nominal run.
        warnings: of the sheet, of the mixture and of this step.
    """

    sheet: RunSheet
    mixture: Mixture
    still: StillInput
    warnings: tuple[str, ...]


def prepare(sheet: RunSheet, mixture: Mixture | None = None) -> Prepared:
    """Return what `forerun.still.run.run_still` needs for the nominal run of a sheet.

    Args:
        sheet: from `forerun.sheets.resolving.load`.
        mixture: the same substances with their equilibrium, where it is known already.

    Returns:
        The input, the mixture and all warnings so far.

    Raises:
        BadInput: plates that are no number of plates.

    Not a published model: names of one room carried to those of another, and the condenser's
    duty taken at the boiling point of the lightest component.
    """
    substances = [portion.substance for portion in sheet.charge]
    mixture = mixture or mixture_of(substances)
    plates, carried = plates_as_stages(sheet.rig.plates.value)
    pressure, weak = pressure_with_pump(sheet, _array(sheet.programme.pressure_Pa))
    limit = condenser_limit(sheet, sheet.rig.coolant_temperature_K.value)
    told = (sheet.programme.held_back, weak)
    warnings = [*sheet.warnings, *mixture.warnings, *(words for words in told if words)]
    if limit == 0.0:
        warnings.append(
            "The coolant is not colder than the boiling point of the lightest component: its "
            "vapour passes the condenser."
        )
    still = replace(
        _still_input(sheet, mixture, plates, limit),
        pressure=pressure,
        carried=carried,
        **special_inputs(sheet, mixture),
    )
    # the pure liquids together boil at no higher a pressure: at 1 atm this is all that is asked
    most = sum(vapour_pressure(still.charge_temperature_K, s.vapour_pressure) for s in substances)
    if most > still.pressure[0, 1] and (said := boils_at_start(still)):
        warnings.append(said)
    return Prepared(sheet, mixture, still, tuple(dict.fromkeys(warnings)))


def condenser_limit(sheet: RunSheet, coolant: float) -> float:
    """Return the duty of the sheet's condenser.

    Args:
        sheet: the run sheet.
        coolant: temperature of the coolant [K].

    Returns:
        Duty [W] at the boiling point of the lightest component and the lowest pressure of the
        programme; 0 when the coolant is not colder.

    Derivation: heat transfer times temperature difference; valid while the coolant hardly warms.
    """
    lowest = min(value for _, value in sheet.programme.pressure_Pa.points)
    vapour = min(
        boiling_temperature(p.substance, lowest, "programme.pressure").temperature
        for p in sheet.charge
    )
    return sheet.rig.condenser_W_K.value * max(0.0, vapour - coolant)


def _still_input(sheet: RunSheet, mixture: Mixture, plates: int, limit: float) -> StillInput:
    rig, programme = sheet.rig, sheet.programme
    loss = rig.heat_loss_W_K.value
    neck = rig.neck_loss_share if plates else 1.0
    return StillInput(
        names=sheet.names,
        mixture=mixture.arrays,
        liquids=liquid_arrays(mixture.substances),
        charge_mol=np.array([portion.amount_mol.value for portion in sheet.charge]),
        plates=plates,
        bath_temperature=_array(programme.bath_K),
        pressure=_array(programme.pressure_Pa),
        stop=Stop(programme.stop.time_s, programme.stop.residue_m3, programme.stop.head_K),
        reflux_ratio=_array(programme.reflux_ratio),
        switches=tuple(_switch(switch) for switch in sheet.switches),
        holdup_m3=rig.holdup_m3.value if plates else 0.0,
        charge_temperature_K=rig.room_temperature_K.value,
        room_temperature_K=rig.room_temperature_K.value,
        bath_conductance_W_K=rig.heat_transfer_W_K.value,
        pot_loss_W_K=rig.flask_loss_W_K.value,
        column_loss_W_K=(1.0 - neck) * loss,
        head_loss_W_K=neck * loss,
        pot_glass_J_K=rig.glass_heat_capacity_J_K.value,
        column_glass_J_K=rig.column_heat_capacity_J_K.value,
        head_glass_J_K=rig.neck_heat_capacity_J_K.value,
        pressure_drop_Pa=rig.pressure_drop_Pa.value / plates if plates else 0.0,
        largest_load_m3_s=rig.largest_load_m3_s if plates else math.inf,
        carried_at_largest=rig.carried_at_largest,
        condenser_limit_W=limit if limit > 0.0 else math.ulp(1.0),
        coolant_temperature_K=rig.coolant_temperature_K.value,
        thermometer_lag_s=rig.thermometer_lag_s.value,
        thermometer_offset_K=rig.thermometer_offset_K.value,
        flask_m3=rig.flask_volume_m3.value,
        references=_references(sheet, mixture),
    )


def _array(course: Course) -> Floats:
    return np.array(course.points, dtype=np.float64).reshape(-1, 2)


def _switch(switch: SheetSwitch) -> Switch:
    return Switch(**{_ORDER[switch.kind]: switch.value})


def _references(sheet: RunSheet, mixture: Mixture) -> tuple[Reference, ...]:
    found = {r.key: r for p in sheet.charge for r in references_of(p.substance)}
    found |= {r.key: r for r in mixture.references}
    memory = drawer_references()["memory"]
    found[memory.key] = memory
    return tuple(found.values())
