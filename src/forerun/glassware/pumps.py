"""Pumps: the pressure that they reach against a leak."""

from __future__ import annotations

from forerun.glassware.drawer import Item, find_item

__all__ = ["find_pump", "leak_flow", "pressure_reached", "pump_speed"]

_AROUND_FLASK = (
    1.0e-3  # m3: column, condenser, receiver, hose and trap beside the flask, from memory
)


def find_pump(text: str, field: str) -> Item:
    """Return the pump that a text names.

    Args:
        text: e.g. ``diaphragm``.
        field: where it stands, for the error.

    Returns:
        The pump.

    Raises:
        BadInput: for a name that the drawer does not hold.
    """
    return find_item(text, "pump", field)


def pump_speed(pump: Item) -> float:
    """Return the volume that a pump takes through its hose.

    Args:
        pump: from `find_pump`.

    Returns:
        Volume per time [m3/s], taken as the same at all pressures well above its lowest.

    Not a published model: a value of the drawer.
    """
    return pump.spans["speed_L_min"].typical * 1e-3 / 60.0


def leak_flow(rise: float, flask: float) -> float:
    """Return the flow through a leak from the rise of the pressure when the pump is shut off.

    Args:
        rise: of the pressure [Pa/s].
        flask: its volume [m3].

    Returns:
        Flow [Pa m3/s], at the temperature of the room; valid for a cold, dry apparatus.

    Derivation: ideal gas, V dp/dt; the rest of the apparatus counts as one litre.
    """
    return rise * (flask + _AROUND_FLASK)


def pressure_reached(pump: Item, leak: float) -> float:
    """Return the lowest pressure that a pump holds against a leak.

    Args:
        pump: from `find_pump`.
        leak: flow through the leak [Pa m3/s].

    Returns:
        Pressure [Pa].

    Derivation: what leaks in is what the pump takes, S (p - p_lowest); valid while the speed does
    not depend on the pressure.
    """
    return pump.spans["lowest_Pa"].typical + leak / pump_speed(pump)
