"""An ensemble smoother: members drawn, run, and drawn again where the readings send them.

Every round starts from the prior (`forerun.forecast.stepping`), so it may take as many rounds as
a still needs that is far from its sheet; the width that it ends with is that of a normal
distribution, not of so many members, which a smoother that moves them one by one makes too narrow
(docs/decisions/0028-what-a-fit-does-not-know.md).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.forecast.drawing import normal_points
from forerun.forecast.stepping import Step, stands, stepped

__all__ = ["ROUNDS", "Smoothed", "drawn_from", "smoothed"]

Floats = npt.NDArray[np.float64]

ROUNDS = 12
"""At most so many; five are usual, and a still at a tenth of the heat takes ten."""

_FEWEST = 4
_WHOLE = 3  # rounds of whole steps; later ones go half the way once the readings are met, since
# two sets of slopes may send members to and fro between them
_SETTLED = 0.2  # standard deviations for each unknown: what slopes out of few members waver by
_WAVERS = 0.4  # likewise, beyond which a fit is said not to have settled
_LEADS = 4  # rounds that may go by when something happened, while how it looked is far off
_EARLY = 0.05  # of the logarithm of that time, how well it is to be met: no error of a reading
_LEAST = 0.05  # of the prior's standard deviation, in any direction: a judgement; no record of one
# run tells more of a still that its sheet only half describes


@dataclass(frozen=True, slots=True)
class Smoothed:
    """Where a smoother ended.

    Args:
        last: what is believed.
        rounds: passes of runs [-].
        settled: whether the last round hardly moved it.
    """

    last: Step
    rounds: int
    settled: bool


def smoothed(
    dimensions: int,
    predict: Callable[[Floats], Floats],
    value: Floats,
    sigma: Floats,
    doubted: Callable[[Floats], float],
    members: int,
    seed: int,
    arrival: Callable[[Floats], Floats] | None = None,
) -> Smoothed:
    """Return what readings leave of a standard normal prior.

    Args:
        dimensions: D, number of unknowns [-].
        predict: takes (N, D) members and returns (N, b) readings [any]; a row of NaN
            for a member that did not finish.
        value: (b,) the readings [any].
        sigma: (b,) their supposed standard deviations [same].
        doubted: gives the factor on them from what is missed, (b,) over them [-].
        members: N of each round; more than D + 1 tell all slopes apart.
        seed: makes it reproducible.
        arrival: logarithm of when vapour arrived, (N,) of (N, b) readings [-]; it leads the first
            rounds of a fit that is far off, and is no reading of its own in the end.

    Returns:
        What is believed, and how it was come to.

    Raises:
        CalculationFailed: fewer than four members finished.
    """
    mean, covariance = np.zeros(dimensions), np.eye(dimensions)
    done, settled = 0, False
    while not settled and done < ROUNDS:
        done += 1
        z = drawn_from(mean, covariance, members, seed)
        seen = predict(z)
        fine = np.all(np.isfinite(seen), axis=1)
        if np.count_nonzero(fine) < _FEWEST:
            raise CalculationFailed(
                "the fit to the readings",
                f"{np.count_nonzero(fine)} members finished",
                "Use more members, or report the run sheet.",
            )
        step = stepped(
            mean, covariance, z[fine], seen[fine] / sigma, value / sigma, doubted, _LEAST
        )
        ahead = _led(arrival, step, mean, covariance, z[fine], seen[fine], value)
        if ahead is not None and done <= _LEADS:
            mean = ahead
            continue
        settled = stands(mean, covariance, step, _SETTLED * np.sqrt(dimensions))
        share = 0.5 if done > _WHOLE and step.misfit < 1.0 and not settled else 1.0
        mean = mean + share * (step.mean - mean)
        covariance = covariance + share * (step.covariance - covariance)
    near = settled or stands(mean, covariance, step, _WAVERS * np.sqrt(dimensions))
    return Smoothed(replace(step, mean=mean, covariance=covariance), done, near)


def _led(
    arrival: Callable[[Floats], Floats] | None,
    step: Step,
    mean: Floats,
    covariance: Floats,
    z: Floats,
    seen: Floats,
    value: Floats,
) -> Floats | None:
    """Return (D,) where vapour would arrive when it did; None where a fit is near enough.

    Where to, not how sure: that is for the readings themselves.
    """
    if arrival is None or step.misfit < 1.0:
        return None
    when = arrival(np.vstack([value[None, :], seen]))[:, None] / _EARLY
    if abs(float(when[0, 0] - when[1:].mean())) < 1.0:
        return None
    return stepped(mean, covariance, z, when[1:], when[0], lambda _away: 1.0, _LEAST).mean


def drawn_from(mean: Floats, covariance: Floats, members: int, seed: int) -> Floats:
    """Return (N, D) members of a normal distribution, their mean exactly its own.

    Args:
        mean: (D,) [-].
        covariance: (D, D) [-].
        members: N.
        seed: makes them reproducible.

    Returns:
        Standard normal deviates of the prior [-].
    """
    points = normal_points(mean.size, members, seed)
    points = points - points.mean(axis=0)
    return np.asarray(mean + points @ np.linalg.cholesky(covariance).T, dtype=np.float64)
