"""An ensemble smoother that takes the same readings in several times, each time more firmly.

Source: Emerick and Reynolds, Comput. Geosci. 55 (2013) 3, doi:10.1016/j.cageo.2012.03.011
(ensemble smoother with multiple data assimilation): with inflation factors a_k of the error
variances, sum 1/a_k = 1, a linear problem gets exactly the posterior of one assimilation, and a
curved one is followed in small steps.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed

__all__ = ["INFLATIONS", "smoothed"]

Floats = npt.NDArray[np.float64]

INFLATIONS = (9.333, 7.0, 4.0, 2.0)
"""Factors on the error variance, strongest first (the paper's decreasing set)."""

_FEWEST = 4


def smoothed(
    z: Floats,
    predict: Callable[[Floats], Floats],
    value: Floats,
    sigma: Floats,
    seed: int,
    inflations: tuple[float, ...] = INFLATIONS,
) -> Floats:
    """Move an ensemble from the prior to what readings leave of it.

    Args:
        z: (N, D) members, standard normal deviates [-].
        predict: takes (N, D) members and returns (N, b) readings [any]; a row of NaN
            for a member that did not finish.
        value: (b,) the readings [any].
        sigma: (b,) their standard deviations [same].
        seed: of the perturbations.
        inflations: (K,) factors of the error variances, 1/a summing to about 1 [-].

    Returns:
        (M, D) the members that finished every time, M <= N [-].

    Raises:
        CalculationFailed: fewer than four members finished.
    """
    random = np.random.default_rng(seed)
    target = value / sigma
    for inflation in inflations:
        seen = predict(z)
        fine = np.all(np.isfinite(seen), axis=1)
        z, seen = z[fine], seen[fine] / sigma
        if z.shape[0] < _FEWEST:
            raise CalculationFailed(
                "the fit to the readings",
                f"{z.shape[0]} members finished",
                "Use more members, or report the run sheet.",
            )
        noise = random.standard_normal(seen.shape)
        noise -= noise.mean(axis=0)  # members keep the mean of the readings
        wanted = target + np.sqrt(inflation) * noise
        z = z + _gain(z, seen, inflation, wanted - seen)
    return z


def _gain(z: Floats, seen: Floats, inflation: float, misfit: Floats) -> Floats:
    """Return the moves of the members, in the space that the ensemble spans."""
    n = z.shape[0]
    away = (z - z.mean(axis=0)) / np.sqrt(n - 1)
    shown = (seen - seen.mean(axis=0)) / np.sqrt(n - 1)
    # C_zd (C_dd + a I)^-1 through the singular values of the shown deviations
    u, s, vt = np.linalg.svd(shown, full_matrices=False)
    weight = s / (s * s + inflation)
    return np.asarray(((misfit @ vt.T) * weight) @ (u.T @ away), dtype=np.float64)
