"""What the readings of a run say about its sheet: fitted members, and a forecast from them.

Whole runs are fitted, from the cold flask on: no state is corrected on the way, so every member
keeps all its balances.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.forecast.drawing import Prior, as_member, draw_member, normal_points, prior_of
from forerun.forecast.ensemble import Forecast, Progress, forecast_of_runs, run_ensemble
from forerun.forecast.least_squares import Minimum, minimised, profiled
from forerun.forecast.observing import Observed, Readings, observed_until, seen_in
from forerun.forecast.outlook import outlook_of
from forerun.forecast.posterior import Learned, Tied, learned_from, tied_in
from forerun.forecast.smoother import INFLATIONS, smoothed
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.inputs import StillInput, Stop
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = ["Calibrated", "calibrate", "forecast_from", "profile"]

Floats = npt.NDArray[np.float64]

_MARGIN = 20.0  # s, run past the last reading
_TIMINGS = (40.0, 16.0, 8.0)  # s, clock of the first rounds of a fit, then its own
_MISSES = 1.8  # root mean square misfit in standard deviations that deserves a word
_MOST_MEMBERS = 4096
_TOLERANCE = 3e-4  # of the runs compared with readings: an error of some 0.001 K


@dataclass(frozen=True, slots=True)
class Calibrated:
    """A sheet that has seen its run.

    Args:
        prior: what was not known before.
        observed: the readings in blocks.
        method: ``smoother`` or ``least_squares``.
        seed: of the ensemble.
        z: (N, D) members, standard normal deviates of the prior [-].
        members: (N,) their inputs, whole runs to the stop of the sheet.
        weights: (N,) of the members, summing to 1 [-]; equal ones.
        learned: every unknown before and after.
        correlation: (D, D) of the unknowns after the record [-].
        tied: pairs that the record does not tell apart.
        misfit: root mean square of readings less fit over their standard deviation [-].
        fit: the minimum, for ``least_squares`` only.
        warnings: sentences that its user should read.
    """

    prior: Prior
    observed: Observed
    method: str
    seed: int
    z: Floats
    members: tuple[StillInput, ...]
    weights: Floats
    learned: tuple[Learned, ...]
    correlation: Floats
    tied: tuple[Tied, ...]
    misfit: float
    fit: Minimum | None
    warnings: tuple[str, ...]


def calibrate(
    sheet: RunSheet | Prepared,
    readings: Readings,
    until_s: float = math.inf,
    members: int = 64,
    seed: int = 1,
    *,
    method: Literal["smoother", "least_squares"] = "smoother",
    unknowns: Sequence[str] | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Calibrated:
    """Fit what is not known about a run to its readings.

    Args:
        sheet: the run sheet, or what `forerun.still.from_sheet.prepare` made of it (its input may
            carry bath and pressure as they were measured).
        readings: of the run.
        until_s: only readings up to then are used [s].
        members: of the ensemble, 8 to 4,096.
        seed: makes it reproducible.
        method: ``smoother`` follows curvature and takes any number of unknowns; ``least_squares``
            is faster for few, and gives profiles.
        unknowns: names of those to be fitted, alone or before their colon; the others keep the
            spread of the prior.  None for all.
        threads: how many runs at a time; None for one on each processor.
        progress: called with runs done and all of one pass.

    Returns:
        Members that fit, what was learned and what was not.

    Raises:
        BadInput: too few readings, members out of range, a name that is none of the unknowns.
        CalculationFailed: hardly a member finished.
    """
    if not 8 <= members <= _MOST_MEMBERS:
        raise BadInput("members", members, f"a number from 8 to {_MOST_MEMBERS}")
    prior = prior_of(sheet if isinstance(sheet, Prepared) else prepare(sheet))
    observed = observed_until(readings, until_s)
    fitted = _fitted(prior, unknowns)
    points = normal_points(len(prior.unknowns), members, seed)
    still = _Still(prior, observed, fitted, threads, progress)
    fit = None
    if not fitted:
        z = points
    elif method == "smoother":
        still.points = points
        z = points.copy()
        moved = smoothed(
            points[:, fitted], still.seen, observed.value, observed.sigma(), seed, INFLATIONS
        )
        z = still.points.copy()
        z[:, fitted] = moved
    else:
        sigmas = [observed.sigma(timing) for timing in _TIMINGS]
        fit = minimised(still.seen_smoothly, observed.value, sigmas, len(fitted))
        root = np.linalg.cholesky(fit.covariance)
        z = points.copy()
        z[:, fitted] = fit.z + points[:, fitted] @ root.T
    return _calibrated(prior, observed, method, seed, z, fit)


def _fitted(prior: Prior, wanted: Sequence[str] | None) -> list[int]:
    """Return the places of the unknowns that are fitted."""
    names = [unknown.name for unknown in prior.unknowns]
    if wanted is None:
        return list(range(len(names)))
    for name in wanted:
        if not any(n == name or n.partition(":")[0] == name for n in names):
            raise BadInput("unknowns", name, f"names of what the sheet leaves open: {names}")
    return [k for k, n in enumerate(names) if n in wanted or n.partition(":")[0] in wanted]


class _Still:
    """Runs of the still as a function of the unknowns that are fitted."""

    def __init__(
        self,
        prior: Prior,
        observed: Observed,
        fitted: list[int],
        threads: int | None,
        progress: Progress | None,
    ) -> None:
        self.prior, self.observed, self.fitted = prior, observed, fitted
        self.threads, self.progress = threads, progress
        self.points = np.zeros((0, len(prior.unknowns)))

    def seen(self, z: Floats) -> Floats:
        """Return (N, b) readings of members; those left out of `z` are forgotten here too."""
        full = self.points
        full[:, self.fitted] = z
        seen = self._seen_by([draw_member(self.prior, member) for member in full])
        self.points = full[np.all(np.isfinite(seen), axis=1)]
        return seen

    def seen_smoothly(self, z: Floats) -> Floats:
        """Return (N, b) readings, between whole numbers of plates on the straight line."""
        full = np.zeros((z.shape[0], len(self.prior.unknowns)))
        full[:, self.fitted] = z
        k = next((i for i, u in enumerate(self.prior.unknowns) if u.name == "plates"), None)
        nominal = self.prior.prepared.sheet.rig.plates.value
        if k is None or k not in self.fitted or nominal <= 0.0:
            return self._seen_by([draw_member(self.prior, member) for member in full])
        sigma = self.prior.unknowns[k].sigma
        plates = np.maximum(nominal * np.exp(sigma * full[:, k]), 1.0)
        lower = np.floor(plates + 1e-9)
        share = np.maximum(plates - lower, 0.0)[:, None]
        upper = np.where(share[:, 0] > 1e-6, lower + 1.0, lower)  # whole already: one run will do
        rows = np.vstack([full, full])
        rows[:, k] = np.log(np.concatenate([lower, upper]) / nominal) / sigma
        wanted, place = np.unique(rows, axis=0, return_inverse=True)
        seen = self._seen_by([draw_member(self.prior, member) for member in wanted])
        seen = seen[place.ravel()]
        n = full.shape[0]
        return np.asarray((1.0 - share) * seen[:n] + share * seen[n:], dtype=np.float64)

    def _seen_by(self, inputs: list[StillInput]) -> Floats:
        short = [_until(given, self.observed.until_s) for given in inputs]
        runs = run_ensemble(short, self.threads, self.progress)
        none = np.full(self.observed.value.size, np.nan)
        return np.array(
            [seen_in(run, self.observed) if isinstance(run, Run) else none for run in runs]
        )


def _until(given: StillInput, until_s: float) -> StillInput:
    """Return a run that ends soon after the last reading; no receiver matters to it."""
    tolerance = max(given.tolerance, _TOLERANCE)
    return replace(
        given,
        stop=Stop(until_s + _MARGIN),
        switches=(),
        tolerance=tolerance,
        rates_between_steps=True,
    )


def _calibrated(
    prior: Prior,
    observed: Observed,
    method: str,
    seed: int,
    z: Floats,
    fit: Minimum | None,
) -> Calibrated:
    middle = run_still(_until(draw_member(prior, z.mean(axis=0)), observed.until_s))
    away = (observed.value - seen_in(middle, observed)) / observed.sigma()
    misfit = float(np.sqrt(np.mean(away**2)))
    learned = learned_from(prior, z)
    warnings = []
    if misfit > _MISSES:
        warnings.append(
            f"The fitted run misses the readings by {misfit:.1f} times their errors: something "
            "happens that the sheet does not describe, and the bands are too narrow for it."
        )
    none = [entry.name for entry in learned if not entry.learned]
    if none:
        warnings.append(f"Not learned from this record: {', '.join(none)}.")
    correlation = np.atleast_2d(np.corrcoef(z, rowvar=False)) if z.shape[1] else np.zeros((0, 0))
    return Calibrated(
        prior=prior,
        observed=observed,
        method=method,
        seed=seed,
        z=z,
        members=tuple(draw_member(prior, member) for member in z),
        weights=np.full(z.shape[0], 1.0 / z.shape[0]),
        learned=learned,
        correlation=correlation,
        tied=tied_in(prior, z),
        misfit=misfit,
        fit=fit,
        warnings=tuple(warnings),
    )


def forecast_from(
    calibrated: Calibrated,
    threads: int | None = None,
    progress: Progress | None = None,
    receiver: int | None = None,
) -> Forecast:
    """Forecast the rest of a run from members that fit its readings so far.

    Args:
        calibrated: from `calibrate`.
        threads: how many runs at a time; None for one on each processor.
        progress: called with runs done and all.
        receiver: number of the receiver in place now; None takes that of most members.

    Returns:
        A forecast whose `outlook` counts from the last reading used.

    Raises:
        CalculationFailed: no member finished.
    """
    middle = run_still(draw_member(calibrated.prior, calibrated.z.mean(axis=0)))
    inputs = [as_member(member) for member in calibrated.members]
    results = run_ensemble(inputs, threads, progress)
    forecast = forecast_of_runs(
        calibrated.prior.prepared,
        middle,
        results,
        calibrated.seed,
        calibrated.prior.unknowns,
        calibrated.z,
    )
    runs = [result for result in results if isinstance(result, Run)]
    outlook = outlook_of(runs, calibrated.observed.until_s, receiver)
    warnings = tuple(dict.fromkeys([*forecast.warnings, *calibrated.warnings]))
    return replace(forecast, outlook=outlook, warnings=warnings)


def profile(
    calibrated: Calibrated, name: str, threads: int | None = None
) -> tuple[tuple[float, float], ...]:
    """Return how firmly readings and prior hold one unknown, the others being free.

    Args:
        calibrated: from `calibrate` with ``least_squares``.
        name: of a fitted unknown.
        threads: how many runs at a time; None for one on each processor.

    Returns:
        (deviate of the prior [-], rise of the sum of squares [-]) at the minimum and 1 and 2
        standard deviations of the fit on either side.

    Raises:
        BadInput: no least-squares fit, or a name that was not fitted.
    """
    fit = calibrated.fit
    names = [unknown.name for unknown in calibrated.prior.unknowns]
    if fit is None or fit.z.size != len(names) or name not in names:
        raise BadInput("name", name, "an unknown of a least-squares fit of all unknowns")
    k = names.index(name)
    still = _Still(calibrated.prior, calibrated.observed, list(range(len(names))), threads, None)
    observed = calibrated.observed
    sd = math.sqrt(fit.covariance[k, k])
    found: list[tuple[float, float]] = []
    for step in (-2.0, -1.0, 0.0, 1.0, 2.0):
        z = float(fit.z[k] + step * sd)
        rise = 0.0
        if step:
            rise = profiled(still.seen_smoothly, observed.value, observed.sigma(), fit, k, z)
        found.append((z, rise))
    return tuple(found)
