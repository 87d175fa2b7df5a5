"""Baths: their limit and how fast they follow."""

from __future__ import annotations

import math

from forerun.glassware.drawer import Item, find_item

__all__ = ["bath_limit", "find_bath"]


def find_bath(text: str, field: str) -> Item:
    """Return the bath that a text names.

    Args:
        text: e.g. ``silicone oil``.
        field: where it stands, for the error.

    Returns:
        The bath.

    Raises:
        BadInput: for a name that the drawer does not hold.
    """
    return find_item(text, "bath", field)


def bath_limit(bath: Item) -> float:
    """Return the temperature that a bath should not pass.

    Args:
        bath: from `find_bath`.

    Returns:
        Typical limit [K]; infinite for a mantle, which has none of its own. The flash point of
        the very oil (minus 20 K) and the local rule may lie lower.

    Not a published model: a value of the drawer.
    """
    limit = bath.spans.get("limit_C")
    return math.inf if limit is None else limit.typical + 273.15
