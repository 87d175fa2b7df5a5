"""From many runs to bands: quantiles against time and against volume, and of every cut.

Members end at different times.  Past its end a member has no head temperature and is left out;
a band is drawn only as far as most members reach, and says how many stand behind each point.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.forecast.quantiles import quantiles_of_members
from forerun.still.results import Cut, Run

__all__ = [
    "CutBand",
    "Interval",
    "TimeBand",
    "VolumeBand",
    "cut_bands",
    "first_drop_band",
    "interval",
    "intervals",
    "residue_band",
    "time_band",
    "volume_band",
]

Floats = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]

LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9
_POINTS = 301
_MOST_MISSING = 0.5  # a band begins and ends where about this share of the members is there


@dataclass(frozen=True, slots=True)
class TimeBand:
    """Quantiles of the head temperature against time.

    Args:
        time_s: (n,) since the start of heating [s], rising.
        p10: (n,) 10 % quantile [K].
        p50: (n,) median [K].
        p90: (n,) 90 % quantile [K].
        members: (n,) how many members stand behind each point.
    """

    time_s: Floats
    p10: Floats
    p50: Floats
    p90: Floats
    members: Counts


@dataclass(frozen=True, slots=True)
class VolumeBand:
    """Quantiles of the head temperature against what has come over.

    Args:
        volume_m3: (n,) distillate so far [m3], rising.
        p10: (n,) 10 % quantile [K].
        p50: (n,) median [K].
        p90: (n,) 90 % quantile [K].
        members: (n,) how many members stand behind each point.
    """

    volume_m3: Floats
    p10: Floats
    p50: Floats
    p90: Floats
    members: Counts


@dataclass(frozen=True, slots=True)
class Interval:
    """The middle 80 % of a number over the members that have it.

    Args:
        low: 10 % quantile [SI].
        median: [SI].
        high: 90 % quantile [SI].
    """

    low: float
    median: float
    high: float


@dataclass(frozen=True, slots=True)
class CutBand:
    """What the members say of one receiver, or of the residue: the middle 80 %.

    Args:
        number: as in `forerun.still.results.Cut`.
        reached: share of the members in which anything fell into this receiver [-].
        mole_fraction_low: (C,) 10 % quantile [-]; NaN, like all below, where no member has it.
        mole_fraction_high: (C,) 90 % quantile [-].
        volume_low_m3: 10 % quantile [m3].
        volume_high_m3: 90 % quantile [m3].
        end_low_s: 10 % quantile of when it is taken away [s].
        end_high_s: 90 % quantile of the same [s].
    """

    number: int
    reached: float
    mole_fraction_low: Floats
    mole_fraction_high: Floats
    volume_low_m3: float
    volume_high_m3: float
    end_low_s: float
    end_high_s: float


def interval(values: Sequence[float] | Floats) -> Interval | None:
    """Return the 10, 50 and 90 % quantiles of some numbers.

    Args:
        values: (N,) [SI]; those that are not finite are left out.

    Returns:
        The quantiles, None when nothing is left.
    """
    return intervals(np.asarray(values, dtype=np.float64)[:, None])[0]


def intervals(values: Floats) -> list[Interval | None]:
    """Return the 10, 50 and 90 % quantiles of many numbers, each over the members that have it.

    Args:
        values: (N, n) of N members [SI]; those that are not finite are left out.

    Returns:
        n intervals, None where nothing is left.
    """
    values = np.where(np.isfinite(values), values, np.nan)
    if values.shape[0] == 0:
        return [None] * values.shape[1]
    rows = quantiles_of_members(values, (LOW, MIDDLE, HIGH)).T.tolist()
    return [None if np.isnan(row[1]) else Interval(*row) for row in rows]


def time_band(runs: Sequence[Run]) -> TimeBand:
    """Return the band of the head temperature against time.

    Args:
        runs: at least one.

    Returns:
        The band on an even grid, to where half the members have ended.
    """
    return TimeBand(*_quantiles(runs, lambda run: (run.trace.time_s, run.trace.head_temperature_K)))


def volume_band(runs: Sequence[Run]) -> VolumeBand | None:
    """Return the band of the head temperature against what has come over.

    Args:
        runs: at least one.

    Returns:
        The band on an even grid from the first drop on, None when in most members nothing came.
    """
    over = [run for run in runs if run.first_drop_s is not None]
    if 2 * len(over) <= len(runs):
        return None
    return VolumeBand(*_quantiles(over, _against_volume))


def _against_volume(run: Run) -> tuple[Floats, Floats]:
    """Return volume and head from the last moment of every volume on."""
    trace = run.trace
    first = int(np.searchsorted(trace.time_s, run.first_drop_s or 0.0))
    volume = np.maximum.accumulate(trace.distillate_volume_m3[first:])
    head = trace.head_temperature_K[first:]
    rising = volume[1:] > volume[:-1]
    if rising.all():
        return volume, head
    more = np.concatenate([[True], rising])  # a stand-still keeps its first
    return volume[more], head[more]


def _quantiles(
    runs: Sequence[Run], curve: Callable[[Run], tuple[Floats, Floats]]
) -> tuple[Floats, Floats, Floats, Floats, Counts]:
    """Return a common axis, the three quantiles along it and the members behind each point."""
    curves = [curve(run) for run in runs]
    starts = np.array([axis[0] for axis, _ in curves])
    ends = np.array([axis[-1] for axis, _ in curves])
    first, last = np.quantile(starts, _MOST_MISSING), np.quantile(ends, _MOST_MISSING)
    grid = np.linspace(first, last, _POINTS)
    heads = np.full((len(curves), grid.size), np.nan)
    begin, end = np.searchsorted(grid, starts), np.searchsorted(grid, ends, side="right")
    for row, b, e, (axis, head) in zip(heads, begin.tolist(), end.tolist(), curves, strict=True):
        row[b:e] = np.interp(grid[b:e], axis, head)
    members = np.isfinite(heads).sum(axis=0)
    seen = members > 0
    p10, p50, p90 = quantiles_of_members(heads[:, seen], (LOW, MIDDLE, HIGH))
    return grid[seen], p10, p50, p90, members[seen]


def first_drop_band(runs: Sequence[Run]) -> Interval | None:
    """Return when the first drop falls, over the members in which it does.

    Args:
        runs: any number.
    """
    return interval([run.first_drop_s for run in runs if run.first_drop_s is not None])


def cut_bands(nominal: Run, runs: Sequence[Run]) -> tuple[CutBand, ...]:
    """Return what the members say of every cut of the nominal run.

    Args:
        nominal: the nominal run.
        runs: the members.

    Returns:
        One for each cut of the nominal run, in order.
    """
    components = len(nominal.trace.names)
    found = []
    for cut in nominal.cuts:
        same = [c for run in runs for c in run.cuts if c.number == cut.number]
        found.append(_band_of(cut.number, same, len(runs), components))
    return tuple(found)


def residue_band(runs: Sequence[Run]) -> CutBand:
    """Return what the members say of the residue.

    Args:
        runs: at least one.
    """
    residues = [run.residue for run in runs]
    return _band_of(0, residues, len(runs), len(runs[0].trace.names))


def _band_of(number: int, cuts: Sequence[Cut], members: int, components: int) -> CutBand:
    full = [cut for cut in cuts if cut.amount_mol > 0.0]
    low = high = np.full(components, np.nan)
    if full:
        low, high = np.quantile([cut.mole_fraction for cut in full], (LOW, HIGH), axis=0)
    volume, end = (
        interval(values) or Interval(np.nan, np.nan, np.nan)
        for values in ([cut.volume_m3 for cut in full], [cut.end_s for cut in full])
    )
    reached = len(full) / members if members else 0.0
    return CutBand(number, reached, low, high, volume.low, volume.high, end.low, end.high)
