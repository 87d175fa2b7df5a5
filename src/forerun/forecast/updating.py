"""A belief about a running still, moved by every new reading: one pass of runs at a time.

The members of the last belief have been run to the end already, so their traces tell what they
foresee of readings that came since.  A straight line through the members says how readings hang on
the unknowns; with it one Gauss-Newton step goes from the prior to all readings so far.  Members
drawn from the result are run in turn, until the step no longer moves them.

Where members miss the readings by more than their errors, the errors are taken larger by that
ratio: far from the truth the steps stay wide, and a still that is not described keeps wide bands.
Where they go on meeting the readings better than that, the errors are by and by taken smaller: how
far a description is off is itself supposed before a run and learned from it.

Sources: `forerun.forecast.stepping`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.forecast.drawing import Prior, draw_members
from forerun.forecast.ensemble import run_ensemble
from forerun.forecast.observing import Observed, seen_in
from forerun.forecast.smoother import drawn_from
from forerun.forecast.stepping import PERSIST, Step, doubt_of, stands, stepped
from forerun.still.results import Run

__all__ = ["Belief", "first_belief", "updated"]

Floats = npt.NDArray[np.float64]

_FORGET_S = 1800.0  # s after which a reading counts half: what stood still has drifted by then
_TIMING_S = 20.0  # s, clock and length of a step of members that are run coarsely; a judgement
_FEWEST, _MOST = 8, 1024
_ENOUGH = 4  # members that must finish
_ROUNDS = 4
_SETTLED = 0.5  # mean moved by less than this many standard deviations: the members may stay
_LEAST = 0.01  # of the prior's standard deviation, in any direction, a judgement: no log of one run
# teaches more, and members closer together show the rounding of their runs instead of a slope


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed of a still.

    Args:
        mean: (D,) from which the members were drawn, standard normal deviates of the prior [-].
        covariance: (D, D) likewise [-].
        z: (N, D) deviates of the members that finished [-].
        runs: (N,) their runs, from cold flask to the end.
        misfit: root mean square of readings less members' mean, over their errors [-]; 0 before
            any reading.
        rounds: passes of runs that the last update took [-].
    """

    mean: Floats
    covariance: Floats
    z: Floats
    runs: tuple[Run, ...]
    misfit: float = 0.0
    rounds: int = 1


def first_belief(
    prior: Prior, members: int = 64, seed: int = 1, threads: int | None = None
) -> Belief:
    """Return what is believed before anything was read.

    Args:
        prior: what is not known.
        members: of the ensemble, 8 to 1,024.
        seed: makes it reproducible.
        threads: how many runs at a time; None for one on each processor.

    Raises:
        BadInput: members out of range.
        CalculationFailed: hardly a member finished.
    """
    if not _FEWEST <= members <= _MOST:
        raise BadInput("members", members, f"a number from {_FEWEST} to {_MOST}")
    d = len(prior.unknowns)
    return _drawn(prior, np.zeros(d), np.eye(d), members, seed, threads)


def updated(
    belief: Belief,
    prior: Prior,
    observed: Observed,
    *,
    members: int = 64,
    seed: int = 1,
    threads: int | None = None,
    rounds: int = _ROUNDS,
    keep: bool = False,
) -> Belief:
    """Return what is believed after readings.

    Args:
        belief: from the last time, or `first_belief`; made with the same unknowns.
        prior: what was not known before any reading; its run may carry bath and pressure as they
            have been measured meanwhile.
        observed: all readings so far, not only the new ones.
        members: of the ensemble.
        seed: makes it reproducible.
        threads: how many runs at a time; None for one on each processor.
        rounds: passes of runs at most, >= 1.
        keep: whether the members may stay as they are as long as they stand for what is believed;
            only right where their courses of bath and pressure still hold.

    Returns:
        The belief, its members run with the courses that `prior` carries.

    Raises:
        CalculationFailed: hardly a member finished.
    """
    current = belief
    done = 0
    if not keep:
        current = _drawn(prior, belief.mean, belief.covariance, members, seed, threads)
        done = 1
    while True:
        step = _stepped(current, observed)
        current = replace(current, misfit=step.misfit, rounds=done)
        if done >= rounds or stands(current.mean, current.covariance, step, _SETTLED):
            return current
        current = _drawn(prior, step.mean, step.covariance, members, seed, threads)
        done += 1


def _drawn(
    prior: Prior, mean: Floats, covariance: Floats, members: int, seed: int, threads: int | None
) -> Belief:
    """Return members of a normal distribution with their runs."""
    z = drawn_from(mean, covariance, members, seed)
    results = run_ensemble(draw_members(prior, z), threads)
    fine = [k for k, result in enumerate(results) if isinstance(result, Run)]
    if len(fine) < _ENOUGH:
        raise CalculationFailed(
            "the forecast of the running still",
            f"{len(fine)} of {members} members finished",
            "Report the run sheet.",
        )
    runs = tuple(result for result in results if isinstance(result, Run))
    return Belief(mean, covariance, z[fine], runs)


def _stepped(current: Belief, observed: Observed) -> Step:
    """Return what is believed after one Gauss-Newton step."""
    sigma = observed.sigma(_TIMING_S) * _aged(observed)
    seen = np.array([seen_in(run, observed) for run in current.runs]) / sigma

    def doubted(away: Floats) -> float:
        return doubt_of(float(np.sqrt(np.mean(away**2))), observed)

    value = observed.value / sigma
    return stepped(current.mean, current.covariance, current.z, seen, value, doubted, _LEAST)


def _aged(observed: Observed) -> Floats:
    """Return (b,) factors on the errors of blocks: the older, the less they say of now."""
    age = observed.until_s - observed.time_s[observed.starts]
    return np.asarray(PERSIST * np.sqrt(1.0 + (age / _FORGET_S) ** 2), dtype=np.float64)
