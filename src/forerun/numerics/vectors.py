"""Vector operations of the kernels, written as loops.

numba's own array statements and allocations bring the whole of its string handling into every
kernel, for the message of an error that cannot happen here; it costs time to compile and to load.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, void

__all__ = ["copy_into", "straight_line"]

Floats = npt.NDArray[np.float64]


@kernel(void(float64[::1], float64[::1]), fast=True, inline=True)
def copy_into(target: Floats, source: Floats) -> None:
    """Copy a vector into another.

    Args:
        target: (n,) overwritten [any].
        source: (n,) [as the target].

    Validity: equal lengths. Not a published model.
    """
    for k in range(target.shape[0]):
        target[k] = source[k]


@kernel(void(float64[::1], float64[::1], float64[::1], float64), fast=True, inline=True)
def straight_line(target: Floats, start: Floats, slope: Floats, along: float) -> None:
    """Write start + slope · along.

    Args:
        target: (n,) overwritten [any].
        start: (n,) [as the target].
        slope: (n,) [target per unit of `along`].
        along: how far [any].

    Validity: equal lengths. Not a published model.
    """
    for k in range(target.shape[0]):
        target[k] = start[k] + slope[k] * along
