"""Plateaus and transitions of the head temperature: where the curve stands, where it moves."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.reviewing.changepoints import noise_of, straight_pieces

__all__ = ["Plateau", "Transition", "find_plateaus", "smoothed", "transitions_between"]

Floats = npt.NDArray[np.float64]

_MOST_POINTS = 360
_SHORTEST = 180.0  # s: what stands for less is a pause, not a plateau; common practice, no source
_STEEPEST = 0.06 / 60.0  # K/s: 1 K in 17 min; a thermometer read to 0.5 K shows it as constant
_BESIDE = 0.5  # K: how far a reading may lie from the plateau's line and still belong to it
_ROUNDED = 0.7  # of the step of a coarse thermometer, where that is more
_GAP = 120.0  # s: a shorter disturbance does not end a plateau
_MOST_OF_THEM = 0.95
_WARM = 5.0  # K above the coldest reading: nothing boils before the head has warmed
_SPIKE = 4.0  # noises by which a lone reading must stand out to be passed over
_LEAST_NOISE = 0.05  # K
_WINDOW = 45.0  # s: half-width of the smoothing between two change points


@dataclass(frozen=True, slots=True)
class Plateau:
    """A time during which the head stands.

    Args:
        start_s: [s].
        end_s: [s].
        temperature_K: median reading [K].
        slope_K_s: of the line through it [K/s].
        spread_K: standard deviation of its readings about that line [K].
    """

    start_s: float
    end_s: float
    temperature_K: float
    slope_K_s: float
    spread_K: float


@dataclass(frozen=True, slots=True)
class Transition:
    """What lies between two plateaus.

    Args:
        start_s: [s].
        end_s: [s].
        start_K: [K].
        end_K: [K].
    """

    start_s: float
    end_s: float
    start_K: float
    end_K: float


def find_plateaus(times: Floats, head: Floats) -> tuple[Plateau, ...]:
    """Return the times during which the head temperature stands.

    Args:
        times: (n,) rising [s].
        head: (n,) head thermometer [K]; rows that are not finite are passed over.

    Returns:
        Plateaus of at least 3 min and a slope of at most 0.06 K/min, in order. One begins and ends
        where the smoothed reading comes within 0.5 K of the line through it.

    Not a published model: a choice of limits around `straight_pieces`. Valid for readings at
    least every minute or so; sparser ones find only long plateaus.
    """
    seen = np.isfinite(head) & np.isfinite(times)
    t, v = times[seen], head[seen]
    t, first = np.unique(t, return_index=True)
    v = v[first]
    if t.size < 6:
        return ()
    v = _without_spikes(v)
    grid, even = _even(t, v)
    noise = max(noise_of(even), _LEAST_NOISE)
    begins = straight_pieces(grid, even, noise)
    curve = smoothed(t, v, [float(grid[k]) for k in begins[1:]])
    warm = float(np.min(v)) + _WARM
    beside = max(_BESIDE, _ROUNDED * _least_step(v))
    cores = _joined(_level_pieces(grid, even, begins, warm), grid, even, beside)
    found = [_plateau(t, v, curve, (grid[a], grid[b - 1]), beside) for a, b in cores]
    return _apart([p for p in found if p.end_s - p.start_s >= _SHORTEST])


def smoothed(times: Floats, values: Floats, changes: Sequence[float]) -> Floats:
    """Return a curve averaged between its change points and never across one.

    Args:
        times: (n,) rising [s].
        values: (n,) [any unit].
        changes: times at which the course changes [s].

    Returns:
        (n,) values [same unit]; each is that at its own time of the line through its neighbours
        within 45 s on the same side of every change point.

    Not a published model: a moving straight line. Valid for any curve.
    """
    edges = np.searchsorted(times, np.asarray(changes, dtype=np.float64))
    bounds = np.concatenate([[0], edges, [times.size]]).astype(np.int64)
    piece = np.searchsorted(edges, np.arange(times.size), side="right")
    low = np.maximum(np.searchsorted(times, times - _WINDOW), bounds[piece])
    high = np.minimum(np.searchsorted(times, times + _WINDOW, side="right"), bounds[piece + 1])
    middle = float(values.mean())
    t, v = times - float(times.mean()), values - middle
    sums = np.vstack([np.zeros(5), np.cumsum(np.stack([t * 0 + 1, t, v, t * t, t * v], 1), 0)])
    count, st, sv, stt, stv = (sums[high] - sums[low]).T
    spread = stt - st * st / count
    slope = np.divide(stv - st * sv / count, spread, out=np.zeros_like(spread), where=spread > 1e-6)
    return np.asarray(middle + sv / count + slope * (t - st / count), dtype=np.float64)


def transitions_between(plateaus: Sequence[Plateau]) -> tuple[Transition, ...]:
    """Return what lies between each plateau and the next.

    Args:
        plateaus: in order.
    """
    return tuple(
        Transition(a.end_s, b.start_s, a.temperature_K, b.temperature_K)
        for a, b in itertools.pairwise(plateaus)
    )


def _without_spikes(values: Floats) -> Floats:
    """Return the values with lone readings that stand out put to the median of their five."""
    padded = np.pad(values, 2, mode="edge")
    medians = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    limit = _SPIKE * max(noise_of(values), 2.0 * _LEAST_NOISE) + 1.0
    return np.where(np.abs(values - medians) > limit, medians, values)


def _least_step(values: Floats) -> float:
    steps = np.abs(np.diff(values))
    steps = steps[steps > 1e-9]
    return min(float(np.min(steps)), 2.0) if steps.size else 0.0


def _even(times: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Return the curve at even distances: means of bins, or itself where it is coarse."""
    count = min(_MOST_POINTS, times.size)
    edges = np.linspace(times[0], times[-1], count + 1)
    bins = np.clip(np.searchsorted(edges, times, side="right") - 1, 0, count - 1)
    filled = np.bincount(bins, minlength=count)
    sums = np.bincount(bins, weights=values, minlength=count)
    middle = 0.5 * (edges[1:] + edges[:-1])
    has = filled > 0
    means = np.interp(middle, middle[has], sums[has] / filled[has])
    if times.size <= _MOST_POINTS:
        return middle, np.interp(middle, times, values)
    return middle, means


def _level_pieces(
    grid: Floats, even: Floats, begins: Sequence[int], warm: float
) -> list[tuple[int, int]]:
    pieces = []
    for a, b in zip(begins, [*begins[1:], grid.size], strict=True):
        slope, level = _line(grid[a:b], even[a:b])
        if b - a >= 2 and abs(slope) <= 2.0 * _STEEPEST and level > warm:
            pieces.append((a, b))
    return pieces


def _joined(
    pieces: Sequence[tuple[int, int]], grid: Floats, even: Floats, beside: float
) -> list[tuple[int, int]]:
    """Return level pieces, neighbours of one height put together, those that slope left out."""
    joined: list[tuple[int, int]] = []
    for a, b in pieces:
        while joined and grid[a] - grid[joined[-1][1] - 1] <= _GAP:
            first = joined[-1][0]
            if not _one_level(grid[first:b], even[first:b], beside):
                break
            joined.pop()
            a = first  # noqa: PLW2901 -- the piece grows backwards
        joined.append((a, b))
    return [(a, b) for a, b in joined if abs(_line(grid[a:b], even[a:b])[0]) <= _STEEPEST]


def _one_level(times: Floats, values: Floats, beside: float) -> bool:
    """Return whether all but stray values lie beside one nearly level line."""
    slope, level = _line(times, values)
    rest = np.abs(values - level - slope * (times - times.mean()))
    return abs(slope) <= _STEEPEST and float(np.quantile(rest, _MOST_OF_THEM)) <= beside


def _line(times: Floats, values: Floats) -> tuple[float, float]:
    """Return slope and mean."""
    t = times - times.mean()
    spread = float(t @ t)
    return (float(t @ values) / spread if spread > 0.0 else 0.0), float(values.mean())


def _plateau(
    times: Floats, values: Floats, curve: Floats, span: tuple[float, float], beside: float
) -> Plateau:
    start, end = span
    core = (times >= start) & (times <= end)
    if not core.any():
        core[int(np.argmin(np.abs(times - start)))] = True
    slope, level = _line(times[core], values[core])
    if times[core].size < 5:
        slope = 0.0
    middle = float(times[core].mean())
    level = float(np.median(values[core] - slope * (times[core] - middle)))
    away = np.abs(curve - (level + slope * (times - middle)))
    on = away <= beside
    inside = np.flatnonzero(core & on)
    if inside.size == 0:
        return Plateau(middle, middle, level, slope, 0.0)
    first, last = int(inside[0]), int(inside[-1])
    first, last = _extended(on, first, -1), _extended(on, last, 1)
    rest = values[first : last + 1] - (level + slope * (times[first : last + 1] - middle))
    return Plateau(
        _crossing(times, away, first, -1, beside),
        _crossing(times, away, last, 1, beside),
        float(np.median(values[first : last + 1])),
        slope,
        float(np.std(rest)),
    )


def _extended(beside: npt.NDArray[np.bool_], at: int, way: int) -> int:
    """Return the last index on this way before two readings in a row lie off the line."""
    k = at + way
    while 0 <= k < beside.size:
        if beside[k]:
            at = k
        elif not 0 <= k + way < beside.size or not beside[k + way]:
            break
        k += way
    return at


def _crossing(times: Floats, away: Floats, at: int, way: int, beside: float) -> float:
    """Return when the curve crosses the edge of the plateau, between two readings."""
    beyond = at + way
    if not 0 <= beyond < times.size:
        return float(times[at])
    inside, outside = float(away[at]), float(away[beyond])
    share = (beside - inside) / (outside - inside) if outside > inside else 0.0
    return float(times[at] + min(max(share, 0.0), 1.0) * (times[beyond] - times[at]))


def _apart(found: Sequence[Plateau]) -> tuple[Plateau, ...]:
    """Return plateaus that do not overlap; of two that do the longer one."""
    kept: list[Plateau] = []
    for plateau in sorted(found, key=lambda p: p.start_s - p.end_s):
        if all(plateau.end_s <= k.start_s or plateau.start_s >= k.end_s for k in kept):
            kept.append(plateau)
    return tuple(sorted(kept, key=lambda p: p.start_s))
