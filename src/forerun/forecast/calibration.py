"""What the readings of a run say about its sheet: fitted members, and a forecast from them.

Whole runs are fitted, from the cold flask on: no state is corrected on the way, so every member
keeps all its balances.  What a bench does not keep as its sheet says is left open as well
(`forerun.forecast.circumstances`), and how large the errors of the readings are is learned.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.forecast.circumstances import member_of, with_circumstances
from forerun.forecast.drawing import Prior, as_member, normal_points, prior_of
from forerun.forecast.ensemble import Forecast, Progress, forecast_of_runs, run_ensemble
from forerun.forecast.least_squares import Minimum, minimised, profiled
from forerun.forecast.observing import Observed, Readings, observed_until, risen, seen_in
from forerun.forecast.outlook import outlook_of
from forerun.forecast.posterior import Learned, Tied, learned_from, tied_in
from forerun.forecast.smoother import Smoothed, smoothed
from forerun.forecast.stepping import PERSIST, fit_doubt
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.inputs import StillInput, Stop
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = ["Calibrated", "calibrate", "forecast_from", "profile"]

Floats = npt.NDArray[np.float64]

_MARGIN = 20.0  # s, run past the last reading
_TIMINGS = (40.0, 16.0, 8.0)  # s, clock of the first rounds of a fit, then its own
_MISSES = 1.0  # factor on the supposed errors above which a record is not explained
_SLOPES = 3  # members of a round for each unknown: with two, slopes waver from round to round
_MOST_MEMBERS = 4096
_TOLERANCE = 3e-4  # of the runs compared with readings: an error of some 0.001 K


@dataclass(frozen=True, slots=True)
class Calibrated:
    """A sheet that has seen its run.

    Args:
        prior: what was not known before, circumstances of the bench among it.
        observed: the readings in blocks.
        method: ``smoother`` or ``least_squares``.
        seed: of the ensemble.
        z: (N, D) members, standard normal deviates of the prior [-].
        members: (N,) their inputs, whole runs to the stop of the sheet.
        weights: (N,) of the members, summing to 1 [-]; equal ones.
        learned: every unknown before and after.
        correlation: (D, D) of the unknowns after the record [-].
        tied: pairs that the record does not tell apart.
        misfit: root mean square of readings less fit over their supposed errors [-].
        fit: the minimum, for ``least_squares`` only.
        warnings: sentences that its user should read.
        doubt: factor on the supposed errors that was learned from the record; above 1 the still
            behaves in a way that the model does not explain [-].
        widening: standard deviation over what it would be with the supposed errors, of the unknown
            for which that is most [-]; 1 where the record is explained.
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
    doubt: float = 1.0
    widening: float = 1.0


@dataclass(frozen=True, slots=True)
class _Believed:
    """What either way ends with: all unknowns for the smoother, those fitted for least squares."""

    covariance: Floats
    supposed: Floats
    doubt: float
    settled: bool
    fit: Minimum | None = None


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
            carry bath and pressure as they were measured; of a sheet the bath is taken as planned,
            and doubted more).
        readings: of the run.
        until_s: only readings up to then are used [s].
        members: of the ensemble, 8 to 4,096.
        seed: makes it reproducible.
        method: ``smoother`` takes any number of unknowns; ``least_squares`` is faster for few, and
            gives profiles.
        unknowns: names of those to be fitted, alone or before their colon; the others keep the
            spread of the prior.  The smoother reckons with their doubt, least squares holds them
            where the sheet has them.  The circumstances are fitted too.  None for all.
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
    read = isinstance(sheet, Prepared)
    own = prior_of(sheet if isinstance(sheet, Prepared) else prepare(sheet))
    prior = with_circumstances(own, bath_read=read)
    observed = observed_until(readings, until_s)
    fitted = _fitted(prior, len(own.unknowns), unknowns)
    z = normal_points(len(prior.unknowns), members, seed)
    still = _Still(prior, observed, fitted, threads, progress)
    way = _by_smoother if method == "smoother" else _by_least_squares
    mean, believed = way(still, members, seed)
    z -= z.mean(axis=0)
    z[:, fitted] = mean + z[:, fitted] @ np.linalg.cholesky(believed.covariance).T
    return _calibrated(still, method, seed, z, believed)


def _by_smoother(still: _Still, members: int, seed: int) -> tuple[Floats, _Believed]:
    """Return what is believed of the fitted unknowns, the others being as doubtful as ever."""
    observed, d = still.observed, len(still.prior.unknowns)
    sigma = PERSIST * observed.sigma()
    found: Smoothed = smoothed(
        d,
        still.seen,
        observed.value,
        sigma,
        still.doubted,
        max(members, _SLOPES * d),
        seed,
        lambda seen: risen(seen, observed),
    )
    part = np.ix_(still.fitted, still.fitted)
    last = found.last
    believed = _Believed(last.covariance[part], last.supposed[part], last.doubt, found.settled)
    return last.mean[still.fitted], believed


def _by_least_squares(still: _Still, members: int, seed: int) -> tuple[Floats, _Believed]:
    observed = still.observed
    sigmas = [PERSIST * observed.sigma(timing) for timing in _TIMINGS]
    fit = minimised(
        still.seen_smoothly, observed.value, sigmas, len(still.fitted), doubted=still.doubted
    )
    return fit.z, _Believed(fit.covariance, fit.supposed, fit.doubt, True, fit)


def _fitted(prior: Prior, own: int, wanted: Sequence[str] | None) -> list[int]:
    """Return the places of the unknowns that are fitted; circumstances, after `own`, always."""
    names = [unknown.name for unknown in prior.unknowns]
    if wanted is None:
        return list(range(len(names)))
    for name in wanted:
        if not any(n == name or n.partition(":")[0] == name for n in names):
            raise BadInput("unknowns", name, f"names of what the sheet leaves open: {names[:own]}")
    return [
        k for k, n in enumerate(names) if k >= own or n in wanted or n.partition(":")[0] in wanted
    ]


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
        self.doubted: Callable[[Floats], float] = lambda away: fit_doubt(away, observed)

    def seen(self, z: Floats) -> Floats:
        """Return (N, b) readings of members, (N, D) of all unknowns."""
        return self._seen_by([member_of(self.prior, member) for member in z])

    def seen_smoothly(self, z: Floats) -> Floats:
        """Return (N, b) readings, between whole numbers of plates on the straight line."""
        full = np.zeros((z.shape[0], len(self.prior.unknowns)))
        full[:, self.fitted] = z
        k = next((i for i, u in enumerate(self.prior.unknowns) if u.name == "plates"), None)
        nominal = self.prior.prepared.sheet.rig.plates.value
        if k is None or k not in self.fitted or nominal <= 0.0:
            return self._seen_by([member_of(self.prior, member) for member in full])
        sigma = self.prior.unknowns[k].sigma
        plates = np.maximum(nominal * np.exp(sigma * full[:, k]), 1.0)
        lower = np.floor(plates + 1e-9)
        share = np.maximum(plates - lower, 0.0)[:, None]
        upper = np.where(share[:, 0] > 1e-6, lower + 1.0, lower)  # whole already: one run will do
        rows = np.vstack([full, full])
        rows[:, k] = np.log(np.concatenate([lower, upper]) / nominal) / sigma
        wanted, place = np.unique(rows, axis=0, return_inverse=True)
        seen = self._seen_by([member_of(self.prior, member) for member in wanted])
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
    still: _Still, method: str, seed: int, z: Floats, believed: _Believed
) -> Calibrated:
    prior, observed = still.prior, still.observed
    middle = run_still(_until(member_of(prior, z.mean(axis=0)), observed.until_s))
    away = (observed.value - seen_in(middle, observed)) / (PERSIST * observed.sigma())
    misfit = float(np.sqrt(np.mean(away**2)))
    ratios = np.sqrt(np.diag(believed.covariance) / np.diag(believed.supposed))
    widening = max(1.0, float(np.max(ratios, initial=1.0)))
    learned = learned_from(prior, z)
    return Calibrated(
        prior=prior,
        observed=observed,
        method=method,
        seed=seed,
        z=z,
        members=tuple(member_of(prior, member) for member in z),
        weights=np.full(z.shape[0], 1.0 / z.shape[0]),
        learned=learned,
        correlation=np.atleast_2d(np.corrcoef(z, rowvar=False)),
        tied=tied_in(prior, z),
        misfit=misfit,
        fit=believed.fit,
        warnings=_warnings(learned, misfit, believed, widening),
        doubt=believed.doubt,
        widening=widening,
    )


def _warnings(
    learned: tuple[Learned, ...], misfit: float, believed: _Believed, widening: float
) -> tuple[str, ...]:
    """Return what the user of a fit should read."""
    warnings = []
    if believed.doubt > _MISSES:
        warnings.append(
            "The still behaves in a way that the model does not explain: its readings are missed "
            f"by {misfit:.1f} times their errors, and bands are up to {widening:.1f} times as wide "
            "for it."
        )
    if not believed.settled:
        warnings.append("The fit had not settled when it was ended: take its middle with care.")
    none = [entry.name for entry in learned if not entry.learned]
    if none:
        warnings.append(f"Not learned from this record: {', '.join(none)}.")
    return tuple(warnings)


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
    middle = run_still(member_of(calibrated.prior, calibrated.z.mean(axis=0)))
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
    sigma = PERSIST * fit.doubt * observed.sigma()
    sd = math.sqrt(fit.covariance[k, k])
    found: list[tuple[float, float]] = []
    for step in (-2.0, -1.0, 0.0, 1.0, 2.0):
        z = float(fit.z[k] + step * sd)
        rise = 0.0
        if step:
            rise = profiled(still.seen_smoothly, observed.value, sigma, fit, k, z)
        found.append((z, rise))
    return tuple(found)
