"""What the glass did: the still fitted to the readings of one run.

The bath and the pressure are taken as they were read. Heat transfer, heat loss, hold-up, the
thermometer's offset and how far each pair is from its models are fitted for each of a ladder of
plates, drawn towards what the sheet says of them; the plates are then weighed by how well they
explain the readings. Plates need not be whole, and they are those of the column at a small load:
what the sheet's column loses near flooding is reckoned in. Widths are widened by what the best fit
still misses, since misses of a model are not noise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.equilibrium.band_rules import EIGHTY
from forerun.forecast.drawing import LEAST_PLATES, Prior, draw_member
from forerun.forecast.unknowns import Unknown, model_error
from forerun.records.readings import Readings
from forerun.reviewing.observed import received
from forerun.still.from_sheet import Prepared
from forerun.still.inputs import StillInput, Stop
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = ["Estimate", "RunFit", "fit_run", "fitted_input"]

Floats = npt.NDArray[np.float64]
Progress = Callable[[int, int], None]

_POINTS = 48  # readings that are compared; more would only repeat what a model misses
_KNOTS = 40
# One standard deviation of reading and model together; a choice, no source.
_HEAD_K, _POT_K = 1.0, 2.0
_VOLUME = (1e-6, 0.03)  # m3 absolute, relative
_PRIOR = {"heat_transfer": 0.5, "heat_loss": 0.6, "holdup": 0.5}  # relative, wider than a forecast
_PLATES = 0.4  # relative width of what is believed of the plates before
_RUNG = 0.16  # between neighbours of the ladder, in the logarithm
_REACH = 4  # rungs up and down: 1.6 times the width before
_OFFSET_K = 1.0
_SHIFT = 3.0  # SciPy takes its steps relative to the value, and every value here may be zero
_FURTHEST = 2.5  # standard deviations that a pair may be from its models
_HOPELESS = 12.0  # by which the misfit may grow before no further plates are tried: weight e-6
_LEAST_READINGS = 12
_COLD, _WARM = 14, 7  # most steps of a fit from nothing, and from that of another column


@dataclass(frozen=True, slots=True)
class Estimate:
    """A fitted quantity.

    Args:
        name: ``plates``, ``heat_transfer_W_K``, ``heat_loss_W_K``, ``holdup_m3`` or
            ``thermometer_offset_K``.
        value: [SI].
        low: lower end of the 80 % band [SI].
        high: upper end of the 80 % band [SI].
        learnt: share of the doubt that the readings took away, 0 for none [-].
        before: middle [SI] and relative width, one standard deviation [-], of what was taken for
            likely before the readings; None where nothing was.
    """

    name: str
    value: float
    low: float
    high: float
    learnt: float
    before: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class RunFit:
    """The still as the readings make it out.

    Args:
        estimates: every fitted quantity, plates first; without a column no plates.
        tried: plates that were tried, with their weights, summing to 1 [-].
        head_rms_K: root mean square miss of the head thermometer at the best fit [K].
        run: the still run with the best values.
        logs: logarithms of the factors on the sheet's values, and the offset, by name [-] or [K].
        plates: of the best fit [-].
    """

    estimates: tuple[Estimate, ...]
    tried: tuple[tuple[float, float], ...]
    head_rms_K: float
    run: Run
    logs: tuple[tuple[str, float], ...]
    plates: float

    def get(self, name: str) -> Estimate | None:
        """Return one quantity by its name, None where it was not fitted."""
        return next((e for e in self.estimates if e.name == name), None)


@dataclass(frozen=True, slots=True)
class _Seen:
    """Readings that are compared: times, values and one standard deviation of each."""

    head: tuple[Floats, Floats]
    pot: tuple[Floats, Floats]
    volume: tuple[Floats, Floats]


@dataclass(frozen=True, slots=True)
class _Found:
    plates: float
    theta: Floats
    covariance: Floats
    cost: float
    rows: int
    persistence: float


def fit_run(
    prepared: Prepared, readings: Readings, progress: Progress | None = None
) -> RunFit | None:
    """Fit the still to the readings of a run.

    Args:
        prepared: the sheet, made ready.
        readings: of the same run.
        progress: called after each number of plates, with done and all.

    Returns:
        The fit, or None where fewer than a dozen head temperatures were read after boiling.

    Raises:
        CalculationFailed: the still could not be run with any of the values tried.
    """
    seen = _compared(readings)
    if seen.head[0].size < _LEAST_READINGS:
        return None
    names = _names(prepared)
    prior = _wide_prior(prepared, names)
    given = _as_driven(prepared.still, readings)
    found = _climbed(prepared, prior, given, names, seen, progress)
    if not found:
        raise CalculationFailed(
            "the fit of the run", "no still could be run", "Check the bath readings and the sheet."
        )
    return _summed_up(prepared, prior, given, names, found, seen)


def fitted_input(prepared: Prepared, fit: RunFit) -> StillInput:
    """Return the sheet's own run with the fitted values in place of the stated ones.

    Args:
        prepared: the sheet, made ready.
        fit: from `fit_run`.
    """
    names = tuple(name for name, _ in fit.logs)
    theta = np.array([value for _, value in fit.logs])
    prior = _wide_prior(prepared, names)
    return _member(prior, prepared.still, theta, fit.plates)


def _climbed(
    prepared: Prepared,
    prior: Prior,
    given: StillInput,
    names: Sequence[str],
    seen: _Seen,
    progress: Progress | None,
) -> list[_Found]:
    """Return fits for plates outwards from the stated one, while they are worth it."""
    candidates = _candidates(prepared)
    middle = candidates.index(min(candidates, key=lambda n: abs(n - prepared.still.plates)))
    found: dict[int, _Found | None] = {}
    start = np.zeros(len(names))
    at: int | None = middle
    while at is not None:
        one = _fit(prior, given, names, candidates[at], seen, start)
        found[at] = one
        if progress is not None:
            progress(len(found), len(candidates))
        start = start if one is None else one.theta
        at = _next(found, len(candidates), names)
    return [one for _, one in sorted(found.items()) if one is not None]


def _next(found: dict[int, _Found | None], count: int, names: Sequence[str]) -> int | None:
    """Return the next plates to try: beyond the better of the two ends, if it is good."""
    done = [one for one in found.values() if one is not None]
    if not done:
        return max(found) + 1 if max(found) + 1 < count else None
    best = min(done, key=lambda f: f.cost)
    limit = best.cost + _HOPELESS * _excess(best, names)
    ends = []
    for edge, beyond in ((max(found), max(found) + 1), (min(found), min(found) - 1)):
        at_edge = found[edge]
        if 0 <= beyond < count and at_edge is not None and at_edge.cost <= limit:
            ends.append((at_edge.cost, beyond))
    return min(ends)[1] if ends else None


def _excess(best: _Found, names: Sequence[str]) -> float:
    """Return by what to divide the misfit so that it weighs like independent noise [-].

    Two parts: misses larger than their standard deviations, and misses that persist from one
    reading to the next, of which n tell as much as n (1 - r)/(1 + r) independent ones.
    """
    return max(1.0, best.cost / max(best.rows - len(names), 1)) * best.persistence


def _persistence(misses: Floats) -> float:
    """Return (1 + r)/(1 - r) of the correlation r between neighbours, from 1 to 12."""
    if misses.size < 4 or float(np.std(misses)) < 1e-9:
        return 1.0
    off = misses - misses.mean()
    r = float(off[1:] @ off[:-1]) / float(off @ off)
    r = min(max(r, 0.0), 0.85)
    return (1.0 + r) / (1.0 - r)


def _names(prepared: Prepared) -> tuple[str, ...]:
    rig = prepared.sheet.rig
    names = ["heat_transfer", "thermometer"]
    if rig.heat_loss_W_K.value > 0.0:
        names.append("heat_loss")
    if prepared.still.plates and rig.holdup_m3.value > 0.0:
        names.append("holdup")
    pairs = [
        " and ".join(prepared.mixture.names[k] for k in p.components)
        for p in prepared.mixture.pairs
    ]
    return (*names, *(f"activity:{pair}" for pair in pairs))


def _wide_prior(prepared: Prepared, names: Sequence[str]) -> Prior:
    """Return a prior whose deviates are logarithms of factors, and kelvins for the offset."""
    kinds = {"thermometer": "normal"} | {n: "factor" for n in names if n.startswith("activity")}
    unknowns = [Unknown(name, kinds.get(name, "log-normal"), 1.0) for name in names]
    unknowns.append(Unknown("plates", "log-normal", 1.0))
    return Prior(prepared, tuple(unknowns), model_error(prepared.mixture))


def _member(prior: Prior, given: StillInput, theta: Floats, plates: float) -> StillInput:
    stated = prior.prepared.sheet.rig.plates.value
    factor = math.log(plates / stated) if plates and stated > 0.0 else 0.0
    member = draw_member(prior, np.append(theta, factor))
    return replace(
        member,
        bath_temperature=given.bath_temperature,
        pressure=given.pressure,
        stop=given.stop,
        switches=given.switches,
        reflux_ratio=given.reflux_ratio,
    )


def _candidates(prepared: Prepared) -> list[float]:
    stated = prepared.sheet.rig.plates.value
    if not prepared.still.plates:
        return [0.0]
    rungs = (stated * math.exp(_RUNG * k) for k in range(-_REACH, _REACH + 1))
    return [plates for plates in rungs if plates >= LEAST_PLATES]


def _as_driven(still: StillInput, readings: Readings) -> StillInput:
    """Return the run with bath and pressure as they were read, to the end of the readings."""
    end = float(readings.time_s[-1])
    bath = _course(readings, "bath_K", still.bath_temperature)
    pressure = _course(readings, "pressure_Pa", still.pressure)
    return replace(
        still, bath_temperature=bath, pressure=pressure, stop=Stop(max(end, 60.0)), switches=()
    )


def _course(readings: Readings, channel: str, otherwise: Floats) -> Floats:
    values, times = readings.channel(channel), readings.time_s
    read = np.isfinite(values) & (times >= 0.0)
    if read.sum() < 3:
        return otherwise
    times, first = np.unique(times[read], return_index=True)
    values = values[read][first]
    if times.size > _KNOTS:
        knots = np.linspace(times[0], times[-1], _KNOTS)
        values, times = np.interp(knots, times, values), knots
    return np.column_stack([times, values])


def _compared(readings: Readings) -> _Seen:
    times, head = readings.time_s, readings.channel("head_K")
    warm = head > np.nanmin(head) + 5.0 if np.isfinite(head).any() else np.zeros(head.size, bool)
    amounts = received(readings).volume_m3
    return _Seen(
        head=_thinned(times, np.where(warm, head, np.nan)),
        pot=_thinned(times, readings.channel("pot_K")),
        volume=_thinned(times, amounts),
    )


def _thinned(times: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Return at most 48 values, evenly in time, each the median of its neighbours."""
    read = np.isfinite(values)
    t, v = times[read], values[read]
    if t.size <= _POINTS:
        return t, v
    edges = np.linspace(t[0], t[-1], _POINTS + 1)
    bins = np.clip(np.searchsorted(edges, t, side="right") - 1, 0, _POINTS - 1)
    filled = np.unique(bins)
    return (
        np.array([np.median(t[bins == k]) for k in filled]),
        np.array([np.median(v[bins == k]) for k in filled]),
    )


def _misses(run: Run, seen: _Seen) -> Floats:
    trace = run.trace
    parts = []
    for (times, values), curve, sigma in (
        (seen.head, trace.head_temperature_K, _HEAD_K),
        (seen.pot, trace.pot_temperature_K, _POT_K),
    ):
        parts.append((values - np.interp(times, trace.time_s, curve)) / sigma)
    times, values = seen.volume
    over = np.interp(times, trace.time_s, trace.distillate_volume_m3)
    parts.append((values - over) / np.hypot(_VOLUME[0], _VOLUME[1] * values))
    return np.concatenate(parts)


def _fit(
    prior: Prior,
    given: StillInput,
    names: Sequence[str],
    plates: float,
    seen: _Seen,
    start: Floats,
) -> _Found | None:
    from scipy.optimize import least_squares  # noqa: PLC0415 -- half a second nobody else needs

    widths = np.array([_PRIOR.get(name, 1.0) for name in names])
    furthest = np.array([_FURTHEST if name.startswith("activity") else 1.5 for name in names])

    def residuals(shifted: Floats) -> Floats:
        theta = shifted - _SHIFT
        run = run_still(_member(prior, given, theta, plates))
        return np.concatenate([_misses(run, seen), theta / widths])

    try:
        found = least_squares(
            residuals,
            _SHIFT + np.clip(start, -0.9 * furthest, 0.9 * furthest),
            bounds=(_SHIFT - furthest, _SHIFT + furthest),
            x_scale=widths,
            diff_step=0.01,
            loss="soft_l1",
            ftol=2e-3,
            xtol=2e-3,
            max_nfev=_COLD if not start.any() else _WARM,
        )
    except CalculationFailed:
        return None
    normal = found.jac.T @ found.jac
    return _Found(
        plates,
        found.x - _SHIFT,
        np.linalg.pinv(normal, hermitian=True),
        2.0 * found.cost,
        found.fun.size,
        _persistence(found.fun[: seen.head[0].size]),
    )


def _summed_up(
    prepared: Prepared,
    prior: Prior,
    given: StillInput,
    names: Sequence[str],
    found: Sequence[_Found],
    seen: _Seen,
) -> RunFit:
    best = min(found, key=lambda f: f.cost)
    excess = _excess(best, names)
    stated = prepared.sheet.rig.plates.value
    scores = np.array([-0.5 * f.cost / excess for f in found])
    if prepared.still.plates:
        scores -= 0.5 * np.array([(math.log(f.plates / stated) / _PLATES) ** 2 for f in found])
    weights = np.exp(scores - scores.max())
    weights /= weights.sum()
    theta = np.array([f.theta for f in found])
    mean = weights @ theta
    spread = weights @ (theta - mean) ** 2
    spread = spread + weights @ np.array([np.diag(f.covariance) * excess for f in found])
    run = run_still(_member(prior, given, best.theta, best.plates))
    estimates = [
        _estimate(prepared, name, float(m), float(np.sqrt(s)))
        for name, m, s in zip(names, mean, spread, strict=True)
        if not name.startswith("activity")
    ]
    if prepared.still.plates:
        estimates.insert(0, _plates(found, weights, stated))
    times, head = seen.head
    miss = head - np.interp(times, run.trace.time_s, run.trace.head_temperature_K)
    return RunFit(
        tuple(estimates),
        tuple((f.plates, float(w)) for f, w in zip(found, weights, strict=True)),
        float(np.sqrt(np.mean(miss**2))),
        run,
        tuple(zip(names, map(float, best.theta), strict=True)),
        best.plates,
    )


def _plates(found: Sequence[_Found], weights: Floats, stated: float) -> Estimate:
    logs = np.log([f.plates for f in found])
    mean = float(weights @ logs)
    # between two rungs nothing was tried: that adds the variance of an even spread
    sigma = math.sqrt(float(weights @ (logs - mean) ** 2) + _RUNG**2 / 12.0)
    low, value, high = (math.exp(mean + k * EIGHTY * sigma) for k in (-1.0, 0.0, 1.0))
    return Estimate("plates", value, low, high, _learnt(sigma, _PLATES), (stated, _PLATES))


def _estimate(prepared: Prepared, name: str, log: float, sigma: float) -> Estimate:
    rig = prepared.sheet.rig
    if name == "thermometer":
        value = rig.thermometer_offset_K.value + log
        half = EIGHTY * sigma
        learnt = _learnt(sigma, _OFFSET_K)
        return Estimate("thermometer_offset_K", value, value - half, value + half, learnt)
    keys = {
        "heat_transfer": ("heat_transfer_W_K", rig.heat_transfer_W_K.value),
        "heat_loss": ("heat_loss_W_K", rig.heat_loss_W_K.value),
        "holdup": ("holdup_m3", rig.holdup_m3.value),
    }
    key, stated = keys[name]
    value, factor = stated * math.exp(log), math.exp(EIGHTY * sigma)
    width = _PRIOR[name]
    learnt = _learnt(sigma, width)
    return Estimate(key, value, value / factor, value * factor, learnt, (stated, width))


def _learnt(after: float, before: float) -> float:
    return max(0.0, 1.0 - after / before)
