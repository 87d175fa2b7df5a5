"""One Gauss-Newton step from the prior to all readings, its slopes taken from members.

A straight line through the members says how readings hang on the unknowns.  The step is from the
prior and not from the last belief, so readings are never counted twice, however often it is done.

Source: Gauss-Newton steps with derivatives taken from an ensemble: Gu and Oliver, SPE J. 12 (2007)
438, doi:10.2118/108438-PA; Sakov, Oliver and Bertino, Mon. Weather Rev. 140 (2012) 1988,
doi:10.1175/MWR-D-11-00176.1.  Errors enlarged by the misfit: Birge, Phys. Rev. 40 (1932) 207,
doi:10.1103/PhysRev.40.207.  Errors whose size is learned: the variance of normal errors has a
scaled inverse chi-square distribution, before and after readings; Gelman and others, Bayesian Data
Analysis, 3rd edition (2013), section 2.6, from memory.  Readings that persist, of which n tell as
much as n (1 - r)/(1 + r) independent ones (first-order correlation r): from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.forecast.observing import Observed

__all__ = ["PERSIST", "Step", "doubt_of", "fit_doubt", "stands", "stepped"]

Floats = npt.NDArray[np.float64]

PERSIST = 2.0
"""Times the error of a block [-]: neighbours err alike, and what a description leaves out lasts for
more than one block; found on simulated benches, see docs/explain/live.md."""

_SUPPOSED = 30.0  # readings that the errors supposed before a run are worth; simulated benches,
# seeds from 4000, see docs/explain/live.md
_APART_S = 60.0  # s between readings that err each for itself: a judgement
_FURTHEST = 4.0  # prior standard deviations from its middle that the mean may go
_LEAP = 2.5  # standard deviations of the members that one step may go: the line is drawn there
_RIDGE = 1e-3
_MOST_ALIKE = 0.85  # correlation of neighbours; more cannot be told from a few dozen blocks


@dataclass(frozen=True, slots=True)
class Step:
    """What is believed after a step.

    Args:
        mean: (D,) standard normal deviates of the prior [-].
        covariance: (D, D) of them [-].
        supposed: (D, D) likewise, had the errors been as supposed before the run [-].
        misfit: root mean square of readings less members' mean, over their errors, before it [-].
        doubt: factor on the errors that it took [-].
    """

    mean: Floats
    covariance: Floats
    supposed: Floats
    misfit: float
    doubt: float


def stepped(
    mean: Floats,
    covariance: Floats,
    z: Floats,
    seen: Floats,
    value: Floats,
    doubted: Callable[[Floats], float],
    narrowest: float,
) -> Step:
    """Return mean and covariance after one step.

    Args:
        mean: (D,) from which the members were drawn, standard normal deviates of the prior [-].
        covariance: (D, D) likewise [-].
        z: (N, D) the members that finished [-].
        seen: (N, b) what they foresee of the readings, over the errors of these [-].
        value: (b,) the readings, over their errors [-].
        doubted: gives the factor on the errors from what is missed, (b,) over the errors [-].
        narrowest: standard deviation below which nothing is claimed in any direction [-].

    Returns:
        What is believed then.
    """
    root = np.linalg.cholesky(covariance)
    xi = np.linalg.solve(root, (z - mean).T).T
    middle, slope = _line(xi, seen)
    away = value - middle
    misfit = float(np.sqrt(np.mean(away**2)))
    doubt = doubted(away)
    # in xi: z = mean + root xi, and the prior pulls z towards 0
    prior = root.T @ root
    hessian = slope.T @ slope / doubt**2 + prior
    pull = slope.T @ away / doubt**2 - root.T @ mean
    step = np.linalg.solve(hessian, pull)
    longest = float(np.max(np.abs(step)))
    if longest > _LEAP:
        step *= _LEAP / longest
    return Step(
        mean=np.clip(mean + root @ step, -_FURTHEST, _FURTHEST),
        covariance=_floored(root @ np.linalg.inv(hessian) @ root.T, narrowest),
        supposed=_floored(root @ np.linalg.inv(slope.T @ slope + prior) @ root.T, narrowest),
        misfit=misfit,
        doubt=doubt,
    )


def doubt_of(misfit: float, observed: Observed) -> float:
    """Return the factor on the supposed errors [-].

    The variance supposed before the run and that of what is missed, each weighed by the readings
    that it is worth; but readings that are missed say less, by as much, however few they are.

    Args:
        misfit: root mean square of what is missed, over the supposed errors [-].
        observed: the readings.

    Returns:
        At least the misfit, and below 1 where readings are met better than supposed [-].
    """
    apart = min(observed.until_s / _APART_S, float(observed.value.size))
    learned = np.sqrt((_SUPPOSED + apart * misfit**2) / (_SUPPOSED + apart))
    return max(misfit, float(learned))


def fit_doubt(away: Floats, observed: Observed) -> float:
    """Return the factor on the supposed errors where misses that persist count for what they are.

    Args:
        away: (b,) readings less fit, over the supposed errors with `PERSIST` in them [-].
        observed: the readings.

    Returns:
        As `doubt_of`; up to 1.8 times as much where what is missed persists [-].
    """
    misfit = float(np.sqrt(np.mean(away**2)))
    return doubt_of(misfit * max(1.0, _persistence(away) / PERSIST), observed)


def _persistence(away: Floats) -> float:
    """Return the root of (1 + r)/(1 - r) of the correlation r of neighbours, from 1 to 3.5."""
    power = float(away @ away)
    if away.size < 4 or power <= 0.0:
        return 1.0
    r = min(max(float(away[1:] @ away[:-1]) / power, 0.0), _MOST_ALIKE)
    return float(np.sqrt((1.0 + r) / (1.0 - r)))


def stands(mean: Floats, covariance: Floats, step: Step, settled: float) -> bool:
    """Return whether members of one belief stand for the next as they are.

    Args:
        mean: (D,) from which they were drawn [-].
        covariance: (D, D) likewise [-].
        step: to the next.
        settled: distance of the means, in standard deviations, below which they do [-].

    Returns:
        Whether neither the mean nor any width has changed by more than members show.
    """
    root = np.linalg.cholesky(step.covariance)
    moved = np.linalg.solve(root, step.mean - mean)
    wide = np.sqrt(np.diag(covariance) / np.diag(step.covariance))
    return bool(np.linalg.norm(moved) < settled and wide.max() < 1.3 and wide.min() > 0.75)


def _floored(covariance: Floats, narrowest: float) -> Floats:
    """Return (D, D) covariance that is no narrower in any direction than what can be learned."""
    variance, along = np.linalg.eigh(0.5 * (covariance + covariance.T))
    return np.asarray((along * np.maximum(variance, narrowest**2)) @ along.T, dtype=np.float64)


def _line(xi: Floats, seen: Floats) -> tuple[Floats, Floats]:
    """Return (b,) readings at xi = 0 and their (b, D) slopes, by least squares over the members."""
    n, d = xi.shape
    design = np.hstack([np.ones((n, 1)), xi])
    normal = design.T @ design
    normal[1:, 1:] += _RIDGE * n * np.eye(d)
    found = np.linalg.solve(normal, design.T @ seen)
    return found[0], np.asarray(found[1:].T, dtype=np.float64)
