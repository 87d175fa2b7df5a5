"""How good the forecast was, for this run and for all runs so far.

A forecast of a sheet is made when the bath is switched on, so that the time since then is how far
ahead it looked.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from forerun.forecast.ensemble import Forecast
from forerun.records.readings import Readings
from forerun.reviewing.ledger import Reconciled
from forerun.reviewing.observed import received
from forerun.substances.correlations import boiling_temperature

__all__ = ["Lead", "Score", "coverage_sentence", "lead_sentence", "score_of"]

Floats = npt.NDArray[np.float64]

_TOO_FEW = 8  # runs before a share means anything: with 8, an 80 % band may hold 4 by chance
_LEADS_S = (0.0, 1800.0, 3600.0, 7200.0, np.inf)  # a choice, no source
_DROP_M3 = 2.5e-8  # a drop (40 of them a millilitre, from memory): a switch by volume has no band
_LEAST_READINGS = 5  # of one stretch of time
_QUANTILES = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True)
class Lead:
    """How far off the head was in one stretch of time.

    Args:
        from_s: how far ahead the forecast looked, at least [s].
        to_s: and at most [s]; infinity for all that is later.
        miss_K: mean absolute miss of the nominal curve [K].
        readings: that were compared [-].
    """

    from_s: float
    to_s: float
    miss_K: float
    readings: int


@dataclass(frozen=True, slots=True)
class Score:
    """Forecast against record.

    Args:
        head_inside: share of the readings after the first drop within the 80 % band [-]; NaN
            without a band.
        head_miss_K: mean absolute miss of the nominal curve [K].
        first_drop_inside: whether the first drop fell in its band; None where it was not seen.
        cuts_inside: (k,) whether the volume of each receiver lies in its band.
        surprises: sentences on what lay outside.
        leads: misses of the head by how far ahead the forecast looked.
        loss_K: mean pinball loss of the 10, 50 and 90 % curves, doubled, so that a curve without
            a band would score its mean absolute miss [K]; NaN without a band.
        by_volume_K: mean absolute miss of the nominal curve against the distillate read, where
            the forecast had as much [K]; NaN without volumes.
        baseline_K: the same miss of boiling points in a row, each for as long as its liquid
            lasts [K].
    """

    head_inside: float
    head_miss_K: float
    first_drop_inside: bool | None
    cuts_inside: tuple[bool, ...]
    surprises: tuple[str, ...]
    leads: tuple[Lead, ...] = ()
    loss_K: float = math.nan
    by_volume_K: float = math.nan
    baseline_K: float = math.nan

    @property
    def beats_baseline(self) -> bool | None:
        """Whether the forecast was nearer than boiling points in a row; None where not known."""
        if not (math.isfinite(self.by_volume_K) and math.isfinite(self.baseline_K)):
            return None
        return self.by_volume_K < self.baseline_K


def score_of(
    forecast: Forecast, readings: Readings, first_drop_s: float | None, account: Reconciled
) -> Score:
    """Return how the forecast of a sheet met its record.

    Args:
        forecast: with members.
        readings: the log.
        first_drop_s: first drop by the readings [s], None where it was not seen.
        account: what was in the receivers.

    Returns:
        Shares and misses [-] and [K], and a sentence for whatever lay outside its band.

    Source:
        Gneiting & Raftery, J. Am. Stat. Assoc. 102 (2007) 359, doi:10.1198/016214506000001437
        (scores of quantiles that cannot be improved by saying what one does not believe).
    """
    surprises: list[str] = []
    inside, miss = _head(forecast, readings)
    drop = None
    if forecast.first_drop_s is not None and first_drop_s is not None:
        low, high = forecast.first_drop_s.low, forecast.first_drop_s.high
        drop = low <= first_drop_s <= high
        if not drop:
            surprises.append(
                f"The first drop fell after {first_drop_s / 60.0:.0f} min; foreseen were "
                f"{low / 60.0:.0f} to {high / 60.0:.0f} min."
            )
    cuts = []
    for band in forecast.cut_bands:
        line = account.line(str(band.number))
        if line is None or not line.measured or not np.isfinite(band.volume_low_m3):
            continue
        low, high = band.volume_low_m3 - _DROP_M3, band.volume_high_m3 + _DROP_M3
        inside_band = low <= line.volume_m3 <= high
        cuts.append(bool(inside_band))
        if not inside_band:
            surprises.append(
                f"Cut {band.number} holds {1e6 * line.volume_m3:.1f} mL; foreseen were "
                f"{1e6 * band.volume_low_m3:.1f} to {1e6 * band.volume_high_m3:.1f} mL."
            )
    return Score(
        inside,
        miss,
        drop,
        tuple(cuts),
        tuple(surprises),
        _leads(forecast, readings),
        _loss(forecast, readings),
        *_by_volume(forecast, readings),
    )


def _compared(forecast: Forecast, readings: Readings) -> npt.NDArray[np.bool_]:
    """Return which readings of the head the forecast speaks of."""
    trace = forecast.run.trace
    times, head = readings.time_s, readings.channel("head_K")
    first = forecast.run.first_drop_s or 0.0
    return np.asarray(np.isfinite(head) & (times >= first) & (times <= trace.time_s[-1]), bool)


def _leads(forecast: Forecast, readings: Readings) -> tuple[Lead, ...]:
    trace, use = forecast.run.trace, _compared(forecast, readings)
    times, head = readings.time_s[use], readings.channel("head_K")[use]
    miss = np.abs(head - np.interp(times, trace.time_s, trace.head_temperature_K))
    found = []
    for low, high in pairwise(_LEADS_S):
        there = (times >= low) & (times < high)
        if there.sum() >= _LEAST_READINGS:
            found.append(Lead(low, high, float(miss[there].mean()), int(there.sum())))
    return tuple(found)


def _loss(forecast: Forecast, readings: Readings) -> float:
    band = forecast.band
    if band is None:
        return math.nan
    use = _compared(forecast, readings) & (readings.time_s <= band.time_s[-1])
    if not use.any():
        return math.nan
    times, head = readings.time_s[use], readings.channel("head_K")[use]
    losses = []
    for level, curve in zip(_QUANTILES, (band.p10, band.p50, band.p90), strict=True):
        above = head - np.interp(times, band.time_s, curve)
        losses.append(2.0 * float(np.mean(np.maximum(level * above, (level - 1.0) * above))))
    return float(np.mean(losses))


def _by_volume(forecast: Forecast, readings: Readings) -> tuple[float, float]:
    """Return the misses of the forecast and of boiling points in a row, against distillate [K]."""
    trace = forecast.run.trace
    over = np.asarray(received(readings).volume_m3)
    head = readings.channel("head_K")
    most = float(trace.distillate_volume_m3[-1])
    use = np.isfinite(head) & np.isfinite(over) & (over > 0.0) & (over <= most)
    if use.sum() < _LEAST_READINGS:
        return math.nan, math.nan
    rising = np.concatenate([[True], np.diff(trace.distillate_volume_m3) > 0.0])
    foreseen = np.interp(
        over[use], trace.distillate_volume_m3[rising], trace.head_temperature_K[rising]
    )
    in_a_row = _boiling_points_in_a_row(forecast, over[use])
    read = head[use]
    return float(np.mean(np.abs(read - foreseen))), float(np.mean(np.abs(read - in_a_row)))


def _boiling_points_in_a_row(forecast: Forecast, over: Floats) -> Floats:
    """Return the head of a run in which each liquid comes over alone [K]."""
    sheet = forecast.sheet
    pressure = sheet.programme.pressure_Pa.points[0][1]
    row = sorted(
        (boiling_temperature(p.substance, pressure).temperature, p.volume_m3) for p in sheet.charge
    )
    ends = np.cumsum([volume for _, volume in row])
    which = np.minimum(np.searchsorted(ends, over), len(row) - 1)
    return np.array([temperature for temperature, _ in row])[which]


def _head(forecast: Forecast, readings: Readings) -> tuple[float, float]:
    trace = forecast.run.trace
    times, head = readings.time_s, readings.channel("head_K")
    use = _compared(forecast, readings)
    if not use.any():
        return float("nan"), float("nan")
    nominal = np.interp(times[use], trace.time_s, trace.head_temperature_K)
    miss = float(np.mean(np.abs(head[use] - nominal)))
    band = forecast.band
    if band is None:
        return float("nan"), miss
    within = use & (times <= band.time_s[-1])
    if not within.any():
        return float("nan"), miss
    low = np.interp(times[within], band.time_s, band.p10)
    high = np.interp(times[within], band.time_s, band.p90)
    return float(np.mean((head[within] >= low) & (head[within] <= high))), miss


def coverage_sentence(scores: Sequence[Mapping[str, Any]]) -> str:
    """Return the standing of all forecasts so far, in one sentence.

    Args:
        scores: kept scores, each with ``cuts_inside`` (list of true and false).

    Returns:
        E.g. ``Of 40 runs, 34 had every receiver inside its 80 % band.``, or that there are too
        few to say.
    """
    counted = [score for score in scores if score.get("cuts_inside")]
    cuts = [inside for score in counted for inside in score["cuts_inside"]]
    runs = len(counted)
    if runs < _TOO_FEW:
        plural = "run" if runs == 1 else "runs"
        return f"{runs} {plural} kept so far: too few to say how well the bands hold."
    inside = sum(bool(value) for value in cuts)
    share = 100.0 * inside / len(cuts)
    return (
        f"Of {len(cuts)} receivers in {runs} runs, {inside} ({share:.0f} %) lay inside the band "
        "that should hold 80 %."
    )


def lead_sentence(scores: Sequence[Mapping[str, Any]]) -> str:
    """Return how far off the head typically was, by how far ahead the forecast looked.

    Args:
        scores: kept scores, each with ``leads`` (list of ``from_s``, ``to_s`` or None, ``miss_K``)
            and ``beats_baseline``.

    Returns:
        E.g. ``The head was typically off by 1.2 K in the first 30 min, by 2.0 K from 30 to
        60 min; in 11 of 12 runs nearer than boiling points in a row.``; empty where there are too
        few runs to say.
    """
    by_time: dict[tuple[float, float], list[float]] = {}
    for score in scores:
        for lead in score.get("leads", ()):
            to = math.inf if lead["to_s"] is None else float(lead["to_s"])
            by_time.setdefault((float(lead["from_s"]), to), []).append(float(lead["miss_K"]))
    told = [
        f"{float(np.median(misses)):.1f} K {_stretch(low, high)}"
        for (low, high), misses in sorted(by_time.items())
        if len(misses) >= _TOO_FEW
    ]
    if not told:
        return ""
    judged = [
        score["beats_baseline"] for score in scores if score.get("beats_baseline") is not None
    ]
    nearer = (
        f"; in {sum(map(bool, judged))} of {len(judged)} runs nearer than boiling points in a row"
        if judged
        else ""
    )
    return f"The head was typically off by {', by '.join(told)}{nearer}."


def _stretch(low: float, high: float) -> str:
    """Return a stretch of time in words."""
    if low <= 0.0:
        return f"in the first {high / 60.0:.0f} min"
    if math.isinf(high):
        return f"after {low / 60.0:.0f} min"
    return f"from {low / 60.0:.0f} to {high / 60.0:.0f} min"
