"""Smooth curves through values at even places: slopes at the nodes, cubics between them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["cubics", "even_slopes"]

Floats = npt.NDArray[np.float64]

_LEAST_NODES = 5
# differences of five even places, exact for polynomials up to the fourth degree
_FIRST = np.array([-25.0, 48.0, -36.0, 16.0, -3.0]) / 12.0
_SECOND = np.array([-3.0, -10.0, 18.0, -6.0, 1.0]) / 12.0
_WITHIN = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) / 12.0


def cubics(values: Floats, slopes: Floats) -> Floats:
    """Return the cubics that have these values and slopes at the ends of their intervals.

    Args:
        values: (N + 1, ...) at the nodes [any].
        slopes: (N + 1, ...) there, per interval [as the values].

    Returns:
        (N, 4, ...) coefficients of 1, s, s^2 and s^3, s from 0 to 1 in each interval [as the
        values]; valid for any number of nodes from two on.

    Derivation: Hermite's interpolation.
    """
    rise = np.diff(values, axis=0)
    return np.stack(
        [
            values[:-1],
            slopes[:-1],
            3.0 * rise - 2.0 * slopes[:-1] - slopes[1:],
            slopes[:-1] + slopes[1:] - 2.0 * rise,
        ],
        axis=1,
    )


def even_slopes(values: Floats) -> Floats:
    """Return the slopes at even nodes, exact for polynomials up to the fourth degree.

    Args:
        values: (N, ...) at the nodes, N >= 5 [any].

    Returns:
        (N, ...) slopes per interval [as the values]; valid for what is smooth over five nodes.

    Raises:
        ValueError: fewer than five nodes.

    Source:
        Abramowitz & Stegun, Handbook of Mathematical Functions (1964), table 25.2 (five points);
        the digits from memory, checked on polynomials (tests/unit/numerics/test_cubics.py).
    """
    nodes = values.shape[0]
    if nodes < _LEAST_NODES:
        raise ValueError(f"slopes need {_LEAST_NODES} nodes or more, not {nodes}")
    weights = np.zeros((nodes, nodes))
    for k in range(2, nodes - 2):
        weights[k, k - 2 : k + 3] = _WITHIN
    for row, end in ((0, _FIRST), (1, _SECOND)):
        weights[row, :_LEAST_NODES] = end
        weights[nodes - 1 - row, nodes - _LEAST_NODES :] = -end[::-1]
    return np.tensordot(weights, values, axes=1)
