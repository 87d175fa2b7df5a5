"""Quantiles over members of which some have ended: column by column, all columns in one pass."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

__all__ = ["quantiles_of_members"]

Floats = npt.NDArray[np.float64]


def quantiles_of_members(values: Floats, shares: Sequence[float]) -> Floats:
    """Return quantiles over the members that are there, linear between neighbours.

    Args:
        values: (N, n) of N members at n points [any unit]; not-a-number where one is not there.
        shares: (q,) below each quantile, 0 to 1 [-].

    Returns:
        (q, n) [that unit]; not-a-number where no member is there. The same as
        `numpy.nanquantile`, which goes through the columns one by one.
    """
    # each column in one piece is sorted several times faster; not-a-number comes last
    ordered = np.sort(np.ascontiguousarray(values.T), axis=1).T
    there = np.isfinite(ordered).sum(axis=0)
    place = np.outer(np.asarray(shares, dtype=np.float64), np.maximum(there - 1, 0))
    below = np.floor(place).astype(np.intp)
    above = np.minimum(below + 1, np.maximum(there - 1, 0))
    low, high = np.take_along_axis(ordered, below, 0), np.take_along_axis(ordered, above, 0)
    part, step = place - below, high - low
    # from the nearer end, as NumPy does: the same to the last digit
    return np.asarray(np.where(part < 0.5, low + step * part, high - step * (1.0 - part)))
