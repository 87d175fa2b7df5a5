"""Condensers: how much heat they take, and up to which vapour they are used."""

from __future__ import annotations

import math

from forerun.glassware.drawer import Item, Span

__all__ = ["condenser_duty", "condenser_transfer"]


def condenser_transfer(condenser: Item) -> Span:
    """Return the heat transfer of a condenser.

    Args:
        condenser: of the drawer, with its length.

    Returns:
        Overall coefficient times inner surface [W/K], low, typical, high.

    Derivation: pi x diameter x length x area factor x coefficient, all of the drawer.
    """
    length = condenser.length_m if condenser.length_m is not None else 0.0
    area = math.pi * condenser.spans["diameter_m"].typical * length
    return condenser.spans["film_W_m2_K"].times(area * condenser.spans["area_factor"].typical)


def condenser_duty(condenser: Item, vapour_temperature: float, coolant_temperature: float) -> Span:
    """Return the heat that a condenser takes from a saturated vapour.

    Args:
        condenser: of the drawer, with its length.
        vapour_temperature: [K].
        coolant_temperature: [K], or of the room for an air condenser.

    Returns:
        Duty [W], low, typical, high; 0 when the coolant is not colder.

    Derivation: transfer times temperature difference; the coolant's own warming is left out,
    valid for running water (0.5 L/min takes 35 W per kelvin).
    """
    difference = max(0.0, vapour_temperature - coolant_temperature)
    return condenser_transfer(condenser).times(difference)
