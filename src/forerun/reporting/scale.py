"""Axes: round numbers to put at the ticks, and positions between them."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Axis", "axis_over", "step_between"]

_ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)
_TIMES = (1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 240.0)


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis in the unit of its labels.

    Args:
        low: value at the lower end.
        high: value at the upper end.
        ticks: values that carry a label, ascending.
    """

    low: float
    high: float
    ticks: tuple[float, ...]

    def place(self, value: float) -> float:
        """Return the position of a value, 0 at the lower end and 1 at the upper [-]."""
        return (value - self.low) / (self.high - self.low)

    def label(self, tick: float) -> str:
        """Return a tick as text with no more decimals than the spacing needs."""
        step = self.ticks[1] - self.ticks[0] if len(self.ticks) > 1 else 1.0
        decimals = next((d for d in range(9) if abs(step * 10**d % 1.0 - 0.5) >= 0.499), 9)
        return f"{tick:.{decimals}f}"


def step_between(span: float, wanted: int, minutes: bool = False) -> float:
    """Return a round distance between ticks.

    Args:
        span: length of the axis, in its unit; above zero.
        wanted: ticks that have room [-].
        minutes: whether the axis counts minutes, which go by 15 and 30 rather than 10 and 50.

    Returns:
        The smallest round step that needs no more ticks than wanted.
    """
    raw = span / max(wanted, 1)
    if minutes and _TIMES[0] <= raw <= _TIMES[-1]:
        return next(step for step in _TIMES if step >= raw)
    decade = 10.0 ** math.floor(math.log10(raw))
    return next(m * decade for m in (*_ROUND, 20.0) if m * decade >= raw * (1 - 1e-9))


def axis_over(
    low: float, high: float, wanted: int, *, snug: bool = False, minutes: bool = False
) -> Axis:
    """Return an axis that holds two values.

    Args:
        low: least value to show.
        high: largest value to show.
        wanted: ticks that have room [-].
        snug: end the axis at the values themselves instead of at the next ticks.
        minutes: see `step_between`.

    Returns:
        The axis; a span of zero is widened by one unit.
    """
    if not high > low:
        high = low + 1.0
    step = step_between(high - low, wanted, minutes)
    first = math.ceil(low / step - 1e-9) if snug else math.floor(low / step + 1e-9)
    last = math.floor(high / step + 1e-9) if snug else math.ceil(high / step - 1e-9)
    ticks = tuple(k * step for k in range(first, last + 1))
    if snug:
        return Axis(low, high, ticks)
    return Axis(ticks[0], ticks[-1], ticks)
