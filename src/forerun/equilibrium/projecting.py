"""Express what a model says of a pair in Redlich-Kister terms."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

__all__ = ["redlich_kister_terms"]

Floats = npt.NDArray[np.float64]

_TEMPERATURES = (300.0, 350.0, 400.0)  # K, where bench distillations happen
_REFERENCE = 350.0  # K, as in kernels.py
_NODES = 24


def _design(x: Floats, terms: int) -> Floats:
    """Return d(ln gamma_1, ln gamma_2)/dA_k of g = x1 x2 sum A_k (x1 - x2)^k, (2 n, K)."""
    difference, product = 2.0 * x - 1.0, x * (1.0 - x)
    columns = []
    for k in range(terms):
        value = product * difference**k
        power = difference ** (k - 1) if k else np.zeros_like(x)
        slope = -difference * difference**k + product * k * 2.0 * power  # dg/dx1
        columns.append(np.concatenate([value + (1.0 - x) * slope, value - x * slope]))
    return np.stack(columns, axis=1)


def redlich_kister_terms(ln_activity: Callable[[float, Floats], Floats], terms: int) -> Floats:
    """Return the terms whose ln gamma comes closest to a given function of a binary.

    Args:
        ln_activity: function of temperature [K] and x (2,) [-] giving ln gamma (2,) [-].
        terms: number of terms K.

    Returns:
        (K, 2) a, b of A_k = a + b (350 K/T - 1) in g_E/RT = x1 x2 sum A_k (x1 - x2)^k [-], least
        squares in both ln gamma over all compositions; valid between 300 and 400 K.

    Source:
        Redlich & Kister, Ind. Eng. Chem. 40 (1948) 345, doi:10.1021/ie50458a036.
    """
    x = 0.5 - 0.5 * np.cos(np.pi * (np.arange(_NODES) + 0.5) / _NODES)
    design = _design(x, terms)
    rows, values = [], []
    for temperature in _TEMPERATURES:
        tilt = _REFERENCE / temperature - 1.0
        rows.append(np.hstack([design, design * tilt]))
        pairs = np.array([ln_activity(temperature, np.array([v, 1.0 - v])) for v in x])
        values.append(pairs.T.ravel())
    solution = np.linalg.lstsq(np.vstack(rows), np.concatenate(values), rcond=None)[0]
    return np.ascontiguousarray(solution.reshape(2, terms).T)
