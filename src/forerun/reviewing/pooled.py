"""All benches of a class together: how their curves lie, who stands apart and why, one table.

Benches are codes; no names of people are asked for or kept.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.cells import harmless
from forerun.core.errors import BadInput
from forerun.records.readings import Readings
from forerun.reviewing.findings import Diagnosis
from forerun.reviewing.fitting_run import Estimate
from forerun.reviewing.observed import received

__all__ = ["Apart", "Pooled", "pooled"]

Floats = npt.NDArray[np.float64]

_POINTS = 41
_LEAST_BENCHES = 4  # below that nobody stands apart from the others
_FAR = 3.5  # robust standard deviations; Iglewicz & Hoaglin 1993, from memory
_TO_SIGMA = 1.4826  # of a median absolute deviation, for a normal distribution
_LEAST_K, _LEAST_SHARE = 0.5, 0.05  # smaller distances are no news
_LIKELY = 0.3  # probability from which the diagnosis of a log names the cause
_COLUMNS = (
    "bench", "distillate_m3", "head_K", "p10_K", "p50_K", "p90_K", "plates", "plates_low",
    "plates_high", "cause",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Apart:
    """A bench that stands apart.

    Args:
        bench: its code.
        head_K: median distance of its head from the class at equal distillate [K].
        cause: likely one, in words; a rule, not a proof.
        basis: what names it: ``diagnosis`` of its own log, its fitted ``plates``, or the ``shape``
            of its curve among the others.
    """

    bench: str
    head_K: float
    cause: str
    basis: str = "shape"


@dataclass(frozen=True, slots=True)
class Pooled:
    """A class.

    Args:
        volume_m3: (n,) distillate [m3].
        over_m3: (b,) distillate of each bench at its end [m3].
        heads_K: (b, n) head of each bench there, NaN where it had not as much [K].
        benches: (b,) codes.
        p10_K, p50_K, p90_K: (n,) quantiles over the benches [K].
        plates: fitted plates by bench, with their bands.
        apart: those that stand apart.
    """

    volume_m3: Floats
    over_m3: Floats
    heads_K: Floats
    benches: tuple[str, ...]
    p10_K: Floats
    p50_K: Floats
    p90_K: Floats
    plates: Mapping[str, Estimate]
    apart: tuple[Apart, ...]

    def csv(self) -> str:
        """Return one table, a line for each bench and volume that it reached, SI."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\r\n")
        writer.writerow(_COLUMNS)
        causes = {a.bench: a.cause for a in self.apart}
        lines = np.column_stack([self.p10_K, self.p50_K, self.p90_K])
        for bench, heads in zip(self.benches, self.heads_K, strict=True):
            found = self.plates.get(bench)
            own = ("", "", "") if found is None else (found.value, found.low, found.high)
            for k in np.flatnonzero(np.isfinite(heads)):
                row = [self.volume_m3[k], heads[k], *lines[k], *own]
                figures = [f"{v:.8g}" if v != "" else v for v in row]
                writer.writerow([harmless(bench), *figures, causes.get(bench, "")])
        return out.getvalue()


def pooled(
    benches: Mapping[str, Readings],
    plates: Mapping[str, Estimate] | None = None,
    findings: Mapping[str, Diagnosis] | None = None,
) -> Pooled:
    """Return a class from the logs of its benches.

    Args:
        benches: log by code of the bench, each with head and distillate.
        plates: by bench, where the runs were fitted.
        findings: by bench, where its log was diagnosed.

    Returns:
        Curves against distillate, their 10, 50 and 90 % quantiles, and the benches that lie
        further from the median of the class than benches do among each other.

    Raises:
        BadInput: a bench without head or distillate.
    """
    curves = {code: _curve(code, log) for code, log in benches.items()}
    if not curves:
        raise BadInput("benches", "none", "at least one log")
    over = np.array([volume[-1] for volume, _ in curves.values()])
    grid = np.linspace(0.05, 1.0, _POINTS) * float(np.median(over))
    heads = np.array([np.interp(grid, v, h, right=np.nan) for v, h in curves.values()])
    middle = np.array([_quantiles(column) for column in heads.T]).T
    known = dict(plates or {})
    apart = [
        _explained(one, known, (findings or {}).get(one.bench))
        for one in _apart(tuple(curves), heads, middle[1], over)
    ]
    return Pooled(
        grid, over, heads, tuple(curves), middle[0], middle[1], middle[2], known, tuple(apart)
    )


def _explained(apart: Apart, plates: Mapping[str, Estimate], found: Diagnosis | None) -> Apart:
    """Return a bench that stands apart with the best reason that is known."""
    likely = [f for f in found.findings if f.probability >= _LIKELY] if found else []
    if likely:
        first = max(likely, key=lambda f: f.probability)
        cause = f"{first.causes[0].label}, {100 * first.probability:.0f} %"
        return replace(apart, cause=cause, basis="diagnosis")
    own = plates.get(apart.bench)
    others = [e.value for code, e in plates.items() if code != apart.bench]
    if own is None or len(others) < _LEAST_BENCHES - 1:
        return apart
    usual = float(np.median(others))
    if own.low <= usual <= own.high:
        return apart
    word = "fewer" if own.value < usual else "more"
    cause = f"{word} plates: {own.value:.1f} ({own.low:.1f} to {own.high:.1f}) against {usual:.1f}"
    return replace(apart, cause=cause, basis="plates")


def _quantiles(column: Floats) -> Floats:
    there = column[np.isfinite(column)]
    if not there.size:
        return np.full(3, np.nan)
    return np.asarray(np.quantile(there, (0.1, 0.5, 0.9)), dtype=np.float64)


def _curve(code: str, log: Readings) -> tuple[Floats, Floats]:
    """Return distillate, rising, and head of one bench."""
    over, head = np.asarray(received(log).volume_m3), log.channel("head_K")
    read = np.isfinite(over) & np.isfinite(head) & (over > 0.0)
    if read.sum() < 2:
        raise BadInput(f"bench {code}", "a log", "head and distillate at two moments or more")
    volume, head = np.maximum.accumulate(over[read]), head[read]
    first = np.concatenate([[True], np.diff(volume) > 0.0])
    return volume[first], head[first]


def _apart(
    codes: tuple[str, ...], heads: Floats, middle: Floats, over: Floats
) -> tuple[Apart, ...]:
    if len(codes) < _LEAST_BENCHES:
        return ()
    away = [row[np.isfinite(row)] - middle[np.isfinite(row)] for row in heads]
    distance = np.array([float(np.median(a)) if a.size else np.nan for a in away])
    change = np.array([_change(a) for a in away])
    share = over / float(np.median(over))
    found = []
    for k, code in enumerate(codes):
        cause = ""
        if _far(change, k, _LEAST_K):
            cause = "another shape of the curve: other plates, heat or charge"
        elif _far(distance, k, _LEAST_K):
            cause = "the same shape, shifted: thermometer or barometer"
        elif _far(share, k, _LEAST_SHARE) and share[k] < 1.0:
            cause = "less came over: loss, a leak, or stopped early"
        if cause:
            found.append(Apart(code, float(distance[k]), cause))
    return tuple(found)


def _change(away: Floats) -> float:
    """Return by how much the distance from the class changes along a curve [K]."""
    if away.size < 4:
        return float("nan")
    half = away.size // 2
    return float(np.median(away[half:]) - np.median(away[:half]))


def _far(values: Floats, k: int, least: float) -> bool:
    """Return whether one value lies further from the others than they do among each other."""
    others = np.delete(values, k)
    others = others[np.isfinite(others)]
    if not (others.size and np.isfinite(values[k])):
        return False
    middle = float(np.median(others))
    sigma = _TO_SIGMA * float(np.median(np.abs(others - middle)))
    return abs(float(values[k]) - middle) > max(_FAR * sigma, least)
