"""Head thermometers: how late and how wrong they read."""

from __future__ import annotations

from forerun.glassware.drawer import Item, Span, find_item, item

__all__ = ["find_thermometer", "stem_coefficient", "thermometer_error", "thermometer_lag"]


def find_thermometer(text: str, field: str) -> Item:
    """Return the thermometer that a text names.

    Args:
        text: e.g. ``thermocouple``.
        field: where it stands, for the error.

    Returns:
        The thermometer.

    Raises:
        BadInput: for a name that the drawer does not hold.
    """
    return find_item(text, "thermometer", field)


def thermometer_lag(thermometer: Item) -> Span:
    """Return the time constant of a thermometer in condensing vapour.

    Args:
        thermometer: from `find_thermometer`.

    Returns:
        Time constant of a first-order lag [s], low, typical, high.

    Not a published model: a value of the drawer.
    """
    return thermometer.spans["lag_s"]


def thermometer_error(thermometer: Item) -> float:
    """Return the error that stays the same through a run.

    Args:
        thermometer: from `find_thermometer`.

    Returns:
        One standard deviation of reading minus truth [K].

    Not a published model: a value of the drawer.
    """
    return thermometer.spans["error_K"].typical


def stem_coefficient() -> float:
    """Return how much a glass thermometer reads low for its thread outside the vapour.

    Returns:
        Share of vapour minus room per kelvin of thread [1/K], for mercury.

    Not a published model: a value of the drawer, the textbook rule of the emergent stem.
    """
    return item("thermometer", "glass thermometer").spans["stem_per_K"].typical
