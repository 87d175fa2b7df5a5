"""Columns and the neck above them: plates, hold-up, load, heat loss and thermal mass."""

from __future__ import annotations

import math

from forerun.core.errors import BadInput
from forerun.glassware.drawer import Item, Span, find_item, span

__all__ = [
    "carried_at_largest",
    "column_heat_capacity",
    "column_holdup",
    "column_loss",
    "column_plates",
    "column_pressure_drop",
    "find_column",
    "highest_boilup",
    "neck_heat_capacity",
    "neck_loss",
]

_NO_COLUMN = {"", "none", "no column", "no", "simple"}


def find_column(text: str, field: str) -> Item | None:
    """Return the column that a text names.

    Args:
        text: e.g. ``Vigreux 30 cm``; ``none`` for a simple still.
        field: where it stands, for the error.

    Returns:
        The column with its length, None for ``none``.

    Raises:
        BadInput: for a name that the drawer does not hold.
    """
    if text.strip().casefold() in _NO_COLUMN:
        return None
    return find_item(text, "column", field)


def _length(column: Item) -> float:
    if column.length_m is None:
        raise BadInput("column", column.name, 'a column with its length, such as "Vigreux 30 cm"')
    return column.length_m


def column_plates(column: Item) -> Span:
    """Return the theoretical plates of a column.

    Args:
        column: from `find_column`.

    Returns:
        Plates [-], low, typical, high; without the pot.

    Derivation: length over the height of one plate (HETP); holds below the flooding load and
    near the load at which the HETP was taken.
    """
    hetp = column.spans["hetp_m"]
    length = _length(column)
    low, typical, high = (round(length / h, 6) for h in (hetp.high, hetp.typical, hetp.low))
    return Span(low, typical, high, hetp.source)


def column_holdup(column: Item, plates: float) -> Span:
    """Return the operating hold-up of a column.

    Args:
        column: from `find_column`.
        plates: theoretical plates [-].

    Returns:
        Liquid on the whole column [m3], low, typical, high.

    Derivation: hold-up per plate of the drawer times plates; valid at ordinary loads, well below
    flooding.
    """
    return column.spans["holdup_per_plate_mL"].times(1e-6 * plates)


def highest_boilup(column: Item) -> Span:
    """Return the load at which a column floods.

    Args:
        column: from `find_column`.

    Returns:
        Boil-up as condensed liquid [m3/s], low, typical, high.

    Not a published model: a value of the drawer for bench diameters.
    """
    return column.spans["highest_boilup_mL_min"].times(1e-6 / 60.0)


def carried_at_largest(column: Item) -> Span:
    """Return what the vapour carries up at the largest load, which costs plates.

    Args:
        column: from `find_column`.

    Returns:
        Liquid per vapour [mol/mol], low, typical, high: at e the plates fall to 1/(1 + e).

    Not a published model: a value of the drawer; plates fall as a column nears flooding.
    """
    return column.spans["carried_at_largest"]


def column_pressure_drop(column: Item, plates: float) -> Span:
    """Return the pressure drop over a column at its working load.

    Args:
        column: from `find_column`.
        plates: theoretical plates [-].

    Returns:
        Pot minus head [Pa], low, typical, high.

    Derivation: drop per plate of the drawer times plates; valid at an ordinary load, which it does
    not follow.
    """
    return column.spans["pressure_drop_per_plate_Pa"].times(plates)


def column_loss(column: Item, lagging: Item) -> Span:
    """Return the heat transfer from a column to the room.

    Args:
        column: from `find_column`.
        lagging: of the drawer: bare, foil, lagged, vacuum jacket.

    Returns:
        Coefficient times outer surface [W/K], low, typical, high.

    Derivation: pi x diameter x length x coefficient on the surface of the glass; resistances
    inside the column are small against it.
    """
    area = math.pi * column.spans["diameter_m"].typical * _length(column)
    return lagging.spans["film_W_m2_K"].times(area)


def _tube_heat_capacity(diameter: float, length: float) -> float:
    glass = span("glass", "density_kg_m3").typical * span("glass", "heat_capacity_J_kg_K").typical
    return math.pi * diameter * length * span("neck", "wall_m").typical * glass


def column_heat_capacity(column: Item) -> Span:
    """Return the heat capacity of a column with its packing.

    Args:
        column: from `find_column`.

    Returns:
        Heat capacity [J/K], low, typical, high.

    Derivation: glass tube of the drawer's diameter and wall, plus packing per volume of tube.
    """
    diameter = column.spans["diameter_m"].typical
    length = _length(column)
    tube = _tube_heat_capacity(diameter, length)
    packing = column.spans["packing_J_m3_K"].times(0.25 * math.pi * diameter**2 * length)
    return Span(tube + packing.low, tube + packing.typical, tube + packing.high, packing.source)


def neck_loss(lagging: Item) -> Span:
    """Return the heat transfer from neck and still head to the room.

    Args:
        lagging: of the drawer.

    Returns:
        Coefficient times surface [W/K], low, typical, high.

    Derivation: as `column_loss`, for the neck of the drawer.
    """
    area = math.pi * span("neck", "diameter_m").typical * span("neck", "length_m").typical
    return lagging.spans["film_W_m2_K"].times(area)


def neck_heat_capacity() -> Span:
    """Return the heat capacity of neck and still head.

    Returns:
        Heat capacity [J/K], low, typical, high.

    Derivation: glass tube of the drawer's neck.
    """
    diameter = span("neck", "diameter_m").typical
    length = span("neck", "length_m")
    return length.times(_tube_heat_capacity(diameter, 1.0))
