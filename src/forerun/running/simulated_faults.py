"""What can go wrong on a simulated bench: each fault, when a sheet can have it, and its grace.

Sizes and times are our own choice, no source: from just visible to plain.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from forerun.running import simulated_heat as heat
from forerun.running import simulated_matter as matter
from forerun.running import simulated_vapour as vapour
from forerun.running.simulated_standing import Faulty, Standing
from forerun.still.from_sheet import Prepared

__all__ = ["FAULTS", "Fault", "possible_faults"]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that can go wrong.

    Args:
        make: does it to a run.
        possible: whether a sheet can have it.
        grace_s: how long after its beginning its name is still of use [s].
    """

    make: Callable[[Standing], Faulty]
    possible: Callable[[Prepared], bool]
    grace_s: float = float("inf")


def _always(prepared: Prepared) -> bool:
    return True


FAULTS: Mapping[str, Fault] = {
    "heat_loss": Fault(heat.heat_loss, heat.loses_heat),
    "light_exhausted": Fault(heat.light_exhausted, heat.parts_in_steps),
    "heater_fault": Fault(heat.heater_fault, _always, 2400.0),
    "thermometer_offset": Fault(heat.thermometer_offset, _always),
    "barometer": Fault(heat.barometer, vapour.open_to_air),
    "azeotrope": Fault(matter.azeotrope, matter.has_azeotrope),
    "too_few_plates": Fault(matter.too_few_plates, matter.parts_by_plates),
    "bumping": Fault(heat.bumping, _always, 1200.0),
    "heater_cycling": Fault(heat.heater_cycling, _always, 3600.0),
    "carry_over": Fault(matter.carry_over, _always),
    "flooding": Fault(vapour.flooding, matter.has_plates, 1200.0),
    "leak": Fault(vapour.leak, vapour.under_vacuum, 1800.0),
    "decomposition": Fault(vapour.decomposition, vapour.under_vacuum, 1200.0),
    "solvent_vapour": Fault(vapour.solvent_vapour, vapour.under_vacuum),
    "condenser_breakthrough": Fault(vapour.condenser_breakthrough, vapour.under_vacuum, 2400.0),
    "solid_plug": Fault(vapour.solid_plug, vapour.can_freeze, 900.0),
    "water": Fault(matter.water, matter.shuns_water),
    "two_liquids": Fault(matter.two_liquids, matter.shuns_water),
    "near_dry": Fault(matter.near_dry, matter.can_run_dry, 600.0),
    "superheated_vapour": Fault(heat.superheated_vapour, _always),
    "exotherm": Fault(heat.exotherm, _always, 600.0),
    "lost_mass": Fault(matter.lost_mass, _always),
    "gained_mass": Fault(matter.gained_mass, _always),
}
"""By the names of findings."""


def possible_faults(prepared: Prepared) -> tuple[str, ...]:
    """Return the faults that a run of a sheet can have.

    Args:
        prepared: the sheet made ready for the still.
    """
    return tuple(name for name, fault in FAULTS.items() if fault.possible(prepared))
