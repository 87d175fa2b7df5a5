"""A value with its band, in the fewest words: ``25 ± 2 mL``, or ``98 (91–99) mol%``."""

from __future__ import annotations

import math
from dataclasses import dataclass

from forerun.core.quantities import decimals_for, format_number

__all__ = ["Span", "value_with_band"]

_THIN = "\N{NARROW NO-BREAK SPACE}"
_OFF_CENTRE = 0.35  # share of the half-width beyond which ± would mislead; our choice


@dataclass(frozen=True, slots=True)
class Span:
    """Lower and upper end of a band, in the unit of the value that it belongs to."""

    low: float
    high: float

    @property
    def half_width(self) -> float:
        """Half of the distance between the ends."""
        return 0.5 * (self.high - self.low)

    def known(self) -> bool:
        """Return whether both ends are numbers."""
        return math.isfinite(self.low) and math.isfinite(self.high)


def value_with_band(value: float, span: Span | None, unit: str, otherwise: int = 1) -> str:
    """Return a value with its band and unit.

    Args:
        value: in the unit shown.
        span: its band in the same unit, or None.
        unit: printed after it; may be empty.
        otherwise: decimals where no band limits them.

    Returns:
        ``25 ± 2 mL`` where the value stands near the middle of the band, otherwise the value
        and the ends of the band; digits as the band allows, never fewer than tell it from zero.
    """
    tail = _THIN + unit.replace("%", f"{_THIN}%") if unit else ""
    if span is None or not span.known() or span.half_width <= 0.0:
        return format_number(value, otherwise) + tail
    half = span.half_width
    decimals = min(decimals_for(half, otherwise), 3)
    number = format_number(value, decimals)
    if abs(value - 0.5 * (span.low + span.high)) <= _OFF_CENTRE * half:
        around = format_number(half, decimals)
        return f"{number} ± {around}{tail}" if float(around) else number + tail
    low, high = format_number(span.low, decimals), format_number(span.high, decimals)
    if low == high:
        return number + tail
    return f"{number} ({low}–{high}){tail}"
