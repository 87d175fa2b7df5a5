"""Weighted least squares with what was known before, and the covariance at the minimum.

Minimised is |(d - f(z))/sigma|^2 + |z|^2: the readings, and standard normal deviates as the prior.
Gauss-Newton steps with Levenberg's damping; derivatives by differences, all runs of one at a time.

Source: Levenberg, Quart. Appl. Math. 2 (1944) 164, doi:10.1090/qam/10666; the covariance
(J'J + 1)^-1 is that of the linearised problem (Tarantola, Inverse Problem Theory, SIAM 2005,
section 3.2, doi:10.1137/1.9780898717921).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed

__all__ = ["Minimum", "minimised", "profiled"]

Floats = npt.NDArray[np.float64]
Predict = Callable[[Floats], Floats]

_STEP = 0.25  # prior standard deviations; below it the steps of the integrator are seen
_MOST = 4.0  # prior standard deviations from the prior's middle that a fit may go
_SPREADS = 1
_GAIN = 1e-2  # relative fall of the sum below which it is over,
_FALL = 0.1  # and the fall itself: a third of a standard deviation, at most


@dataclass(frozen=True, slots=True)
class Minimum:
    """A fitted point.

    Args:
        z: (D,) standard normal deviates at the minimum [-].
        covariance: (D, D) of them [-].
        jacobian: (b, D) derivatives of the scaled readings [-].
        cost: the sum that was minimised [-].
        misfit: (b,) readings less forecast over their standard deviation [-].
        rounds: Gauss-Newton steps taken.
        supposed: (D, D) covariance, had the errors been as supposed [-].
        doubt: factor on the supposed errors, reckoned in above [-].
    """

    z: Floats
    covariance: Floats
    jacobian: Floats
    cost: float
    misfit: Floats
    rounds: int
    supposed: Floats
    doubt: float


def minimised(
    predict: Predict,
    value: Floats,
    sigmas: Sequence[Floats],
    dimensions: int,
    rounds: int = 5,
    *,
    doubted: Callable[[Floats], float] = lambda _away: 1.0,
) -> Minimum:
    """Return the least-squares fit.

    Args:
        predict: takes (N, D) points and returns (N, b) readings [any].
        value: (b,) the readings [any].
        sigmas: (b,) standard deviations [same], one set for each round, the last for all that
            follow; wider ones first lead a fit that starts far off.
        dimensions: D, number of unknowns [-].
        rounds: at most so many steps, >= 1.
        doubted: gives a factor on `sigmas` from what is missed, (b,) over them [-].

    Returns:
        The minimum with its covariance.

    Raises:
        CalculationFailed: a run at the starting point did not finish.
    """
    z, damping = np.zeros(dimensions), 1e-2
    done = 0
    while True:
        sigma = sigmas[min(done, len(sigmas) - 1)]
        misfit, jacobian = _linear(predict, value, sigma, z)
        doubt = doubted(misfit)
        misfit, jacobian, sigma = misfit / doubt, jacobian / doubt, sigma * doubt
        cost = float(misfit @ misfit + z @ z)
        hessian = jacobian.T @ jacobian + np.eye(dimensions)
        if done >= rounds:
            break
        slope = jacobian.T @ misfit - z
        trials = np.array([damping * 0.1, damping * 10.0])
        moves = [np.linalg.solve(hessian + d * np.diag(np.diag(hessian)), slope) for d in trials]
        places = np.clip(z + np.array(moves), -_MOST, _MOST)
        costs = [
            _cost(seen, value, sigma, p) for seen, p in zip(predict(places), places, strict=True)
        ]
        best = int(np.nanargmin(costs)) if np.any(np.isfinite(costs)) else 0
        done += 1
        damping = float(np.clip(trials[best], 1e-4, 1e4))
        better = costs[best] < cost
        if better:
            z = places[best]
        if done >= len(sigmas) and (not better or cost - costs[best] < max(_GAIN * cost, _FALL)):
            if not better:
                break
            rounds = done  # one more derivative, at the last place
    covariance = np.asarray(np.linalg.inv(hessian), dtype=np.float64)
    for _ in range(_SPREADS):  # derivatives over the width that the fit claims, not beyond it
        jacobian = _across(predict, sigma, z, covariance)
        hessian = jacobian.T @ jacobian + np.eye(dimensions)
        covariance = np.asarray(np.linalg.inv(hessian), dtype=np.float64)
    supposed = np.linalg.inv(doubt**2 * (jacobian.T @ jacobian) + np.eye(dimensions))
    return Minimum(z, covariance, jacobian, cost, misfit, done, np.asarray(supposed), doubt)


def profiled(
    predict: Predict, value: Floats, sigma: Floats, fit: Minimum, k: int, z: float
) -> float:
    """Return how much the sum rises when one unknown is held and all others are free.

    Args:
        predict: like that of `minimised` [any].
        value: (b,) the readings [any].
        sigma: (b,) their standard deviations [same].
        fit: the minimum.
        k: index of the unknown.
        z: where it is held [-].

    Returns:
        Rise of the sum over its minimum [-]; 1 at one standard deviation where the problem is
        linear, and hardly any where the readings say nothing beyond the prior.

    Not a published model: two chord steps along the derivatives at the minimum.
    """
    free = [i for i in range(fit.z.size) if i != k]
    along = fit.covariance[free, k] / fit.covariance[k, k]
    place = fit.z.copy()
    place[free] += along * (z - fit.z[k])
    place[k] = z
    inner = fit.jacobian[:, free]
    hessian = inner.T @ inner + np.eye(len(free))
    lowest = np.inf
    for _ in range(2):
        seen = predict(place[None, :])[0]
        lowest = min(lowest, _cost(seen, value, sigma, place))
        misfit = (value - seen) / sigma
        place[free] += np.linalg.solve(hessian, inner.T @ misfit - place[free])
    lowest = min(lowest, _cost(predict(place[None, :])[0], value, sigma, place))
    return float(lowest - fit.cost)


def _cost(seen: Floats, value: Floats, sigma: Floats, z: Floats) -> float:
    misfit = (value - seen) / sigma
    return float(misfit @ misfit + z @ z)


def _linear(predict: Predict, value: Floats, sigma: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Return misfit and derivatives, forward and back where both runs finish."""
    step = _STEP * np.eye(z.size)
    seen = predict(np.vstack([z[None, :], z + step]))
    if not np.all(np.isfinite(seen[0])):
        raise CalculationFailed(
            "the fit to the readings", "its run did not finish", "Report the run sheet."
        )
    slope = (seen[1:] - seen[0]) / _STEP
    slope[~np.isfinite(slope)] = 0.0
    return (value - seen[0]) / sigma, np.asarray((slope / sigma).T, dtype=np.float64)


def _across(predict: Predict, sigma: Floats, z: Floats, covariance: Floats) -> Floats:
    """Return derivatives by central differences along the axes of the covariance, one sd out."""
    values, axes = np.linalg.eigh(covariance)
    root = axes * np.sqrt(np.clip(values, 1e-4, 1.0))
    seen = predict(np.vstack([z + root.T, z - root.T]))
    d = z.size
    along = 0.5 * (seen[:d] - seen[d:]) / sigma  # (D, b), a row for each axis
    along[~np.isfinite(along)] = 0.0
    return np.asarray(np.linalg.solve(root.T, along).T, dtype=np.float64)
