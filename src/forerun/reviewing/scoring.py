"""How good the forecast was, for this run and for all runs so far."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from forerun.forecast.ensemble import Forecast
from forerun.records.readings import Readings
from forerun.reviewing.ledger import Reconciled

__all__ = ["Score", "coverage_sentence", "score_of"]

Floats = npt.NDArray[np.float64]

_TOO_FEW = 8  # runs before a share means anything: with 8, an 80 % band may hold 4 by chance


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
    """

    head_inside: float
    head_miss_K: float
    first_drop_inside: bool | None
    cuts_inside: tuple[bool, ...]
    surprises: tuple[str, ...]


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
        inside_band = band.volume_low_m3 <= line.volume_m3 <= band.volume_high_m3
        cuts.append(bool(inside_band))
        if not inside_band:
            surprises.append(
                f"Cut {band.number} holds {1e6 * line.volume_m3:.0f} mL; foreseen were "
                f"{1e6 * band.volume_low_m3:.0f} to {1e6 * band.volume_high_m3:.0f} mL."
            )
    return Score(inside, miss, drop, tuple(cuts), tuple(surprises))


def _head(forecast: Forecast, readings: Readings) -> tuple[float, float]:
    trace = forecast.run.trace
    times, head = readings.time_s, readings.channel("head_K")
    first = forecast.run.first_drop_s or 0.0
    use = np.isfinite(head) & (times >= first) & (times <= trace.time_s[-1])
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
