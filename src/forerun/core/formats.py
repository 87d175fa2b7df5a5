"""SI numbers as the bench writes them, with no more digits than the band allows.

A half-width of 2 K gives whole kelvins, one of 0.8 or 0.13 K gives tenths: the last digit shown
is the first significant one of the band.
Rule of rounding: JCGM 100:2008 (GUM), 7.2.6, two digits of the uncertainty at the most.
"""

from __future__ import annotations

import math
from collections.abc import Callable

__all__ = [
    "decimals_for",
    "format_amount",
    "format_band",
    "format_boiling_range",
    "format_fraction",
    "format_mass",
    "format_number",
    "format_per_cent",
    "format_pressure",
    "format_temperature",
    "format_temperature_difference",
    "format_time",
    "format_volume",
]

_THIN = "\u202f"  # narrow no-break space between number and unit
_MOST_DECIMALS = 6
_TRACE_DECIMALS = 2  # of per cent: 0.01 %, about where a bench's own assays end (our choice)
_ROUNDING = 1e-12  # of a fraction: what is nearer to 0 or 1 is so but for the arithmetic
_PRESSURE_UNITS = {
    "mmHg": 133.322387415,
    "torr": 101325.0 / 760.0,
    "mbar": 100.0,
    "hPa": 100.0,
    "kPa": 1000.0,
    "bar": 1e5,
    "atm": 101325.0,
    "Pa": 1.0,
}
_FRACTION_BASES = ("mol%", "wt%", "vol%", "%")


def decimals_for(half_width: float | None, otherwise: int = 1) -> int:
    """Return how many decimals a band allows.

    Args:
        half_width: of the band, in the unit shown; None or 0 where there is none.
        otherwise: decimals without a band.

    Returns:
        Between 0 and 6.
    """
    if half_width is None or not half_width > 0.0 or not math.isfinite(half_width):
        return otherwise
    place = int(f"{half_width:.0e}".partition("e")[2])
    return min(max(0, -place), _MOST_DECIMALS)


def format_number(value: float, decimals: int) -> str:
    """Return a number with a true minus sign and never "-0".

    Args:
        value: any; NaN and infinities become a dash.
        decimals: digits after the point, not negative.
    """
    if not math.isfinite(value):
        return "–"
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = f"{0.0:.{decimals}f}"
    return text.replace("-", "\N{MINUS SIGN}")


def _shown(value: float, unit: str, half_width: float | None, otherwise: int) -> str:
    number = format_number(value, decimals_for(half_width, otherwise))
    return f"{number}{_THIN}{unit}"


def format_temperature(temperature: float, half_width: float | None = None) -> str:
    """Return a temperature in °C.

    Args:
        temperature: [K].
        half_width: of its band [K], if it has one.

    Returns:
        E.g. ``78.4 °C``; whole tenths without a band, the precision of a good thermometer.
    """
    return _shown(temperature - 273.15, "°C", half_width, 1)


def format_temperature_difference(difference: float, half_width: float | None = None) -> str:
    """Return a difference of temperatures in K.

    Args:
        difference: [K].
        half_width: of its band [K], if it has one.
    """
    return _shown(difference, "K", half_width, 1)


def format_pressure(
    pressure: float, unit: str | None = "mmHg", half_width: float | None = None
) -> str:
    """Return a pressure in one unit, or in mmHg and mbar together.

    Args:
        pressure: [Pa].
        unit: mmHg, torr, mbar, hPa, kPa, bar, atm or Pa; None shows ``760 mmHg (1013 mbar)``.
        half_width: of its band [Pa], if it has one.

    Returns:
        Whole units from 50 on, three digits below.
    """
    if unit is None:
        first = format_pressure(pressure, "mmHg", half_width)
        return f"{first} ({format_pressure(pressure, 'mbar', half_width)})"
    factor = _PRESSURE_UNITS[unit]
    value = pressure / factor
    width = None if half_width is None else half_width / factor
    return _shown(value, unit, width, _figures(value))


def _figures(value: float, whole_from: float = 50.0, figures: int = 3) -> int:
    """Return decimals for three figures below ``whole_from``, without closing zeros."""
    size = abs(value)
    if size >= whole_from or size == 0.0 or not math.isfinite(size):
        return 0
    decimals = min(max(0, figures - 1 - math.floor(math.log10(size))), _MOST_DECIMALS)
    _, _, closing = f"{size:.{decimals}f}".partition(".")
    return len(closing.rstrip("0"))


def format_volume(volume: float, half_width: float | None = None) -> str:
    """Return a volume in mL, in L from 1 L on.

    Args:
        volume: [m3].
        half_width: of its band [m3], if it has one.
    """
    factor, unit, otherwise = (1e-6, "mL", 1) if abs(volume) < 1e-3 else (1e-3, "L", 2)
    width = None if half_width is None else half_width / factor
    return _shown(volume / factor, unit, width, otherwise)


def format_mass(mass: float, half_width: float | None = None) -> str:
    """Return a mass in g, in kg from 1 kg on.

    Args:
        mass: [kg].
        half_width: of its band [kg], if it has one.
    """
    factor, unit = (1e-3, "g") if abs(mass) < 1.0 else (1.0, "kg")
    width = None if half_width is None else half_width / factor
    return _shown(mass / factor, unit, width, 2)


def format_amount(amount: float, half_width: float | None = None) -> str:
    """Return an amount of substance in mol, in mmol below 0.1 mol.

    Args:
        amount: [mol].
        half_width: of its band [mol], if it has one.
    """
    factor, unit, otherwise = (1.0, "mol", 3) if abs(amount) >= 0.1 else (1e-3, "mmol", 1)
    width = None if half_width is None else half_width / factor
    return _shown(amount / factor, unit, width, otherwise)


def format_fraction(fraction: float, basis: str = "mol%", half_width: float | None = None) -> str:
    """Return a fraction in per cent of the basis.

    Args:
        fraction: between 0 and 1 [-].
        basis: mol%, wt%, vol% or % alone.
        half_width: of its band [-], if it has one.

    Raises:
        ValueError: for another basis; the four mean different things.
    """
    if basis not in _FRACTION_BASES:
        raise ValueError(f"basis {basis!r} is none of {', '.join(_FRACTION_BASES)}")
    unit = basis.replace("%", f"{_THIN}%") if len(basis) > 1 else basis
    if half_width is None:
        return f"{format_per_cent(fraction)}{_THIN}{unit}"
    return _shown(100.0 * fraction, unit, 100.0 * half_width, 1)


def format_per_cent(fraction: float, decimals: int = 1) -> str:
    """Return the number of per cent of a fraction; only what is pure is shown as 100.

    Where rounding would make something impure pure, or a trace nothing, up to two decimals are
    shown, and beyond those what it lies above or below.

    Args:
        fraction: between 0 and 1 [-].
        decimals: digits after the point where those suffice.

    Returns:
        E.g. ``99.98``, ``0.02``, ``>99.99``, ``<0.01``.
    """
    value = 100.0 * fraction
    if not _ROUNDING < fraction < 1.0 - _ROUNDING:
        return format_number(value, decimals)
    for digits in range(decimals, _TRACE_DECIMALS + 1):
        if 0.0 < round(value, digits) < 100.0:
            return format_number(value, digits)
    least = 10.0**-_TRACE_DECIMALS
    return f">{100.0 - least:.{_TRACE_DECIMALS}f}" if value > 50.0 else f"<{least:g}"


def format_time(time: float) -> str:
    """Return a time as ``45 s``, ``20 min`` or ``1 h 20 min``.

    Args:
        time: [s].
    """
    if not math.isfinite(time):
        return "–"
    sign = "\N{MINUS SIGN}" if time < 0 else ""
    seconds = round(abs(time))
    if seconds < 120:
        return f"{sign}{seconds}{_THIN}s"
    minutes = round(seconds / 60.0)
    if minutes < 60:
        return f"{sign}{minutes}{_THIN}min"
    hours, rest = divmod(minutes, 60)
    tail = f" {rest}{_THIN}min" if rest else ""
    return f"{sign}{hours}{_THIN}h{tail}"


def format_band(low: float, high: float, write: Callable[[float, float | None], str]) -> str:
    """Return a range such as ``78.2–79.6 °C`` with the digits that its width allows.

    Args:
        low: lower end [SI].
        high: upper end [SI], same unit.
        write: one of the formatters here that takes a value and a half-width.
    """
    half_width = 0.5 * abs(high - low)
    first, second = write(low, half_width), write(high, half_width)
    if first == second:
        return second
    number, _, unit = first.partition(_THIN)
    same_unit = unit and second.endswith(_THIN + unit)
    return f"{number}–{second}" if same_unit else f"{first} – {second}"


def format_boiling_range(low: float, high: float, pressure: float, unit: str = "mmHg") -> str:
    """Return a boiling range the way the literature prints it, ``78–80 °C/10 mmHg``.

    Args:
        low: lower end [K].
        high: upper end [K].
        pressure: [Pa].
        unit: of the pressure, as in `format_pressure`.
    """
    first, second = round(low - 273.15), round(high - 273.15)
    span = format_number(first, 0)
    if second != first:
        span += f"–{format_number(second, 0)}"
    return f"{span}{_THIN}°C/{format_pressure(pressure, unit)}"
