"""Where a noisy curve changes its course: the best pieces of straight lines.

Optimal partitioning: among all ways to cut the curve into straight pieces, the one with the least
squared miss plus a price for each cut.
Source: B. Jackson et al., IEEE Signal Process. Lett. 12 (2005) 105, doi:10.1109/LSP.2001.838216;
price as in R. Killick, P. Fearnhead, I. A. Eckley, J. Am. Stat. Assoc. 107 (2012) 1590,
doi:10.1080/01621459.2012.737745.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["noise_of", "straight_pieces"]

Floats = npt.NDArray[np.float64]

_NORMAL_MAD = 0.6744897501960817  # median absolute deviation of a standard normal variable
_FREE = 4.0  # numbers that one more piece has: its line, its start and the level of its noise


def noise_of(values: Floats) -> float:
    """Return the noise of an evenly sampled curve.

    Args:
        values: (n,) [any unit].

    Returns:
        One standard deviation [same unit], from second differences, so that slopes do not count,
        and by a median, so that steps do not either; never below that of the finest step between
        two values, which is what rounding leaves.

    Derivation: the second difference of independent errors has the variance 6 sigma^2; rounding
    to steps q has q^2/12. Valid for any curve that is smooth between its steps.
    """
    if values.size < 3:
        return 0.0
    second = np.diff(values, 2)
    spread = float(np.median(np.abs(second))) / (_NORMAL_MAD * 6.0**0.5)
    steps = np.abs(np.diff(values))
    steps = steps[steps > 1e-9]
    rounding = float(np.min(steps)) / 12.0**0.5 if steps.size else 0.0
    return float(max(spread, min(rounding, 0.5)))


def straight_pieces(times: Floats, values: Floats, noise: float, least: int = 3) -> list[int]:
    """Return where the straight pieces of a curve begin.

    Args:
        times: (n,) rising [s].
        values: (n,) [any unit].
        noise: standard deviation of a value [same unit], positive.
        least: points in the shortest piece.

    Returns:
        Indices of the first point of each piece, beginning with 0.

    Source: see the file; cost of a piece: squared miss of its line over noise^2; price of a piece:
    4 ln n. Valid for any n; the work grows as n^2.
    """
    n = values.size
    sums = _running_sums(times, values)
    price = _FREE * np.log(max(n, 2))
    best = np.full(n + 1, np.inf)
    best[0] = -price
    previous = np.zeros(n + 1, dtype=np.int64)
    for end in range(1, n + 1):
        if end < least and end != n:
            continue
        starts = np.arange(0, max(end - least, 0) + 1)
        costs = best[starts] + _misses(sums, starts, end) / noise**2 + price
        at = int(np.argmin(costs))
        best[end], previous[end] = costs[at], starts[at]
    begins: list[int] = []
    end = n
    while end > 0:
        end = int(previous[end])
        begins.append(end)
    return begins[::-1]


def _running_sums(times: Floats, values: Floats) -> Floats:
    """Return (n + 1, 6) running sums of 1, t, v, t^2, t v, v^2 about their middles."""
    t = (times - times.mean()) / max(float(np.ptp(times)), 1e-300)
    v = values - values.mean()
    rows = np.stack([np.ones_like(t), t, v, t * t, t * v, v * v], axis=1)
    return np.vstack([np.zeros(6), np.cumsum(rows, axis=0)])


def _misses(sums: Floats, starts: npt.NDArray[np.int64], end: int) -> Floats:
    """Return the squared miss of the best line through each of the pieces that end here."""
    count, t, v, tt, tv, vv = (sums[end] - sums[starts]).T
    spread = tt - t * t / count
    shared = tv - t * v / count
    left = vv - v * v / count
    slope = np.divide(shared, spread, out=np.zeros_like(shared), where=spread > 1e-15)
    return np.asarray(np.maximum(left - slope * shared, 0.0), dtype=np.float64)
