"""A belief about a running still, moved by every new reading: one pass of runs at a time.

The members of the last belief have been run to the end already, so their traces tell what they
foresee of readings that came since.  A straight line through the members says how readings hang on
the unknowns; with it one Gauss-Newton step goes from the prior to all readings so far.  Members
drawn from the result are run in turn, until the step no longer moves them.

Where members miss the readings by more than their errors, the errors are taken larger by that
ratio: far from the truth the steps stay wide, and a still that is not described keeps wide bands.
Where they go on meeting the readings better than that, the errors are by and by taken smaller: how
far a description is off is itself supposed before a run and learned from it.

Source: Gauss-Newton steps with derivatives taken from an ensemble: Gu and Oliver, SPE J. 12 (2007)
438, doi:10.2118/108438-PA; Sakov, Oliver and Bertino, Mon. Weather Rev. 140 (2012) 1988,
doi:10.1175/MWR-D-11-00176.1.  Errors enlarged by the misfit: Birge, Phys. Rev. 40 (1932) 207,
doi:10.1103/PhysRev.40.207.  Errors whose size is learned: the variance of normal errors has a
scaled inverse chi-square distribution, before and after readings; Gelman and others, Bayesian Data
Analysis, 3rd edition (2013), section 2.6, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.forecast.drawing import Prior, as_member, draw_member, normal_points
from forerun.forecast.ensemble import run_ensemble
from forerun.forecast.observing import Observed, seen_in
from forerun.still.results import Run

__all__ = ["Belief", "first_belief", "updated"]

Floats = npt.NDArray[np.float64]

_PERSIST = 2.0  # times the error of a block: neighbours err alike, and what a description leaves
# out lasts for more than one block; found on simulated benches, see docs/explain/live.md
_SUPPOSED = 30.0  # readings that the errors supposed before a run are worth; simulated benches,
# seeds from 4000, see docs/explain/live.md
_APART_S = 60.0  # s between readings that err each for itself: a judgement
_FORGET_S = 1800.0  # s after which a reading counts half: what stood still has drifted by then
_TIMING_S = 20.0  # s, clock and length of a step of members that are run coarsely; a judgement
_FEWEST, _MOST = 8, 1024
_ENOUGH = 4  # members that must finish
_ROUNDS = 4
_SETTLED = 0.5  # mean moved by less than this many standard deviations: the members may stay
_FURTHEST = 4.0  # prior standard deviations from its middle that the mean may go
_LEAP = 2.5  # standard deviations of the members that one step may go: the line is drawn there
_RIDGE = 1e-3
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
        mean, covariance, misfit = _stepped(current, observed)
        current = replace(current, misfit=misfit, rounds=done)
        if done >= rounds or _near(current, mean, covariance):
            return current
        current = _drawn(prior, mean, covariance, members, seed, threads)
        done += 1


def _drawn(
    prior: Prior, mean: Floats, covariance: Floats, members: int, seed: int, threads: int | None
) -> Belief:
    """Return members of a normal distribution with their runs."""
    points = normal_points(mean.size, members, seed)
    points = points - points.mean(axis=0)
    z = mean + points @ np.linalg.cholesky(covariance).T
    inputs = [as_member(draw_member(prior, member)) for member in z]
    results = run_ensemble(inputs, threads)
    fine = [k for k, result in enumerate(results) if isinstance(result, Run)]
    if len(fine) < _ENOUGH:
        raise CalculationFailed(
            "the forecast of the running still",
            f"{len(fine)} of {members} members finished",
            "Report the run sheet.",
        )
    runs = tuple(result for result in results if isinstance(result, Run))
    return Belief(mean, covariance, z[fine], runs)


def _stepped(current: Belief, observed: Observed) -> tuple[Floats, Floats, float]:
    """Return mean and covariance after one Gauss-Newton step, and the misfit before it."""
    sigma = observed.sigma(_TIMING_S) * _aged(observed)
    seen = np.array([seen_in(run, observed) for run in current.runs]) / sigma
    root = np.linalg.cholesky(current.covariance)
    xi = np.linalg.solve(root, (current.z - current.mean).T).T
    middle, slope = _line(xi, seen)
    away = observed.value / sigma - middle
    misfit = float(np.sqrt(np.mean(away**2)))
    doubt = _doubt(misfit, observed)
    slope, away = slope / doubt, away / doubt
    # in xi: z = mean + root xi, and the prior pulls z towards 0
    hessian = slope.T @ slope + root.T @ root
    pull = slope.T @ away - root.T @ current.mean
    step = np.linalg.solve(hessian, pull)
    longest = float(np.max(np.abs(step)))
    if longest > _LEAP:
        step *= _LEAP / longest
    mean = np.clip(current.mean + root @ step, -_FURTHEST, _FURTHEST)
    covariance = root @ np.linalg.inv(hessian) @ root.T
    return mean, _not_certain(0.5 * (covariance + covariance.T)), misfit


def _doubt(misfit: float, observed: Observed) -> float:
    """Return the factor on the supposed errors [-].

    The variance supposed before the run and that of what is missed, each weighed by the readings
    that it is worth; but readings that the members miss say less, by as much, however few they are.
    """
    apart = min(observed.until_s / _APART_S, float(observed.value.size))
    learned = np.sqrt((_SUPPOSED + apart * misfit**2) / (_SUPPOSED + apart))
    return max(misfit, float(learned))


def _not_certain(covariance: Floats) -> Floats:
    """Return (D, D) covariance that is no narrower in any direction than what can be learned."""
    variance, along = np.linalg.eigh(covariance)
    return np.asarray((along * np.maximum(variance, _LEAST**2)) @ along.T, dtype=np.float64)


def _aged(observed: Observed) -> Floats:
    """Return (b,) factors on the errors of blocks: the older, the less they say of now."""
    age = observed.until_s - observed.time_s[observed.starts]
    return np.asarray(_PERSIST * np.sqrt(1.0 + (age / _FORGET_S) ** 2), dtype=np.float64)


def _line(xi: Floats, seen: Floats) -> tuple[Floats, Floats]:
    """Return (b,) readings at xi = 0 and their (b, D) slopes, by least squares over the members."""
    n, d = xi.shape
    design = np.hstack([np.ones((n, 1)), xi])
    normal = design.T @ design
    normal[1:, 1:] += _RIDGE * n * np.eye(d)
    found = np.linalg.solve(normal, design.T @ seen)
    return found[0], np.asarray(found[1:].T, dtype=np.float64)


def _near(current: Belief, mean: Floats, covariance: Floats) -> bool:
    """Return whether the members stand for the new belief as they are."""
    root = np.linalg.cholesky(covariance)
    moved = np.linalg.solve(root, mean - current.mean)
    wide = np.sqrt(np.diag(current.covariance) / np.diag(covariance))
    return bool(np.linalg.norm(moved) < _SETTLED and wide.max() < 1.3 and wide.min() > 0.75)
