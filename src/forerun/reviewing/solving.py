"""A root between two brackets, for small functions of one number."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["bracketed_root"]

_STEPS = 200
_NARROW = 1e-13


def bracketed_root(function: Callable[[float], float], low: float, high: float) -> float:
    """Return where a continuous function changes its sign.

    Args:
        function: of one number [any unit].
        low: lower end of the search [unit of the argument].
        high: upper end of the search [same unit].

    Returns:
        The root [same unit]; the end with the smaller value where the sign does not change.

    Source:
        Illinois form of false position: Dowell & Jarratt, BIT 11 (1971) 168,
        doi:10.1007/BF01934364. Valid for any continuous function.
    """
    left, right = function(low), function(high)
    if left == 0.0 or right == 0.0 or (left > 0.0) == (right > 0.0):
        return low if abs(left) <= abs(right) else high
    width = _NARROW * (abs(high) + abs(low))
    middle = low
    for _ in range(_STEPS):
        middle = (low * right - high * left) / (right - left)
        value = function(middle)
        if value == 0.0 or abs(high - low) < width:
            return middle
        if (value > 0.0) == (right > 0.0):
            high, right = middle, value
            left *= 0.5
        else:
            low, left = middle, value
            right *= 0.5
    return middle
