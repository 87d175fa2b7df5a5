"""Readings of a run, thinned to what they tell, and the same numbers out of a forecast run.

Readings follow each other faster than their errors forget each other.  They are averaged over
blocks; the error of a block has a part that averaging removes (noise), one that it does not (what
the still's description leaves out) and one that counts where the record is steep (its timing).
A constant error of the thermometer is no part of it: that is an unknown of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.still.results import Run

__all__ = ["Observed", "Readings", "observed_until", "risen", "seen_in"]

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

_BLOCKS = 60  # of a record: more cost time and tell nothing new about a handful of unknowns
_SHORTEST = 10.0  # s, as the points of a trace
_LEFT_OUT_K = 0.15  # K, what the still's description leaves out of a smooth curve: a judgement
_TIMING = 8.0  # s, clock and length of a step; a judgement
_NOISE_K = 0.1  # K, one reading of a laboratory thermometer or thermocouple; common practice
_NOISE_M3 = 0.5e-6  # m3, one reading of a measuring cylinder; common practice
_POT_LEFT_OUT_K = 1.0  # K, a pot that is hotter at its wall, superheat before bubbles: a judgement
_FEWEST = 3
_ROOM_K = 2.0  # K, how well a sheet knows the room in which a cold head stands: a judgement
_COLD_K = 5.0  # K, above the first reading: no vapour has come yet


@dataclass(frozen=True, slots=True)
class Readings:
    """What was read while a still ran.

    Args:
        time_s: (n,) since the start of heating [s], rising.
        head_temperature_K: (n,) of the head thermometer [K]; NaN where it was not read.
        distillate_volume_m3: (n,) distillate so far [m3], NaN where it was not read; None where
            it never was.
        noise_K: standard deviation of one reading of the thermometer [K].
        noise_m3: standard deviation of one reading of the volume [m3].
        pot_temperature_K: (n,) of the liquid in the pot [K], likewise; None where it never was
            read.
    """

    time_s: Floats
    head_temperature_K: Floats
    distillate_volume_m3: Floats | None = None
    noise_K: float = _NOISE_K
    noise_m3: float = _NOISE_M3
    pot_temperature_K: Floats | None = None

    def __post_init__(self) -> None:
        n = self.time_s.size
        others = (self.distillate_volume_m3, self.pot_temperature_K)
        channels = [self.head_temperature_K, *(c for c in others if c is not None)]
        if any(channel.size != n for channel in channels):
            raise BadInput("readings", n, "as many temperatures (and volumes) as times")
        if n and (not np.all(np.isfinite(self.time_s)) or np.any(np.diff(self.time_s) < 0.0)):
            raise BadInput("readings", "times", "finite times in rising order")
        for name, value in (("noise_K", self.noise_K), ("noise_m3", self.noise_m3)):
            if not (math.isfinite(value) and value > 0.0):
                raise BadInput(name, value, "a standard deviation above zero")


@dataclass(frozen=True, slots=True)
class Observed:
    """Readings in blocks.

    Args:
        until_s: of the last reading used [s].
        time_s: (n,) times of the readings used, channel by channel [s].
        starts: (b,) index of the first reading of each block.
        heads: number of blocks of the head thermometer, which come first.
        spans: the channels in order: name in `forerun.still.results.Trace` and number of readings.
        value: (b,) mean reading [K or m3].
        smooth: (b,) standard deviation of it where the record is flat [K or m3].
        slope: (b,) steepness of the record [K/s or m3/s].
    """

    until_s: float
    time_s: Floats
    starts: Whole
    heads: int
    spans: tuple[tuple[str, int], ...]
    value: Floats
    smooth: Floats
    slope: Floats

    def sigma(self, timing: float = _TIMING) -> Floats:
        """Return the standard deviation of every block [K or m3].

        Args:
            timing: standard deviation of the clock [s]; larger than it is while a fit is far off.
        """
        return np.asarray(np.hypot(self.smooth, self.slope * timing), dtype=np.float64)


def observed_until(readings: Readings, until_s: float, *, heads_needed: bool = True) -> Observed:
    """Return the readings up to a time, in blocks.

    Args:
        readings: of the run.
        until_s: now, or the end of the record [s].
        heads_needed: whether a record without three head temperatures is refused; otherwise three
            readings of any kind will do.

    Returns:
        At most 60 blocks for each kind of reading.

    Raises:
        BadInput: fewer than three readings by then.
    """
    use = (readings.time_s <= until_s) & (readings.time_s >= 0.0)
    noise = readings.noise_K
    parts = {
        "head_temperature_K": _part(readings.head_temperature_K, noise, _LEFT_OUT_K, use, readings),
        "pot_temperature_K": _part(
            readings.pot_temperature_K, noise, _POT_LEFT_OUT_K, use, readings
        ),
        # cylinder readings share their error, so averaging does not remove it
        "distillate_volume_m3": _part(
            readings.distillate_volume_m3, readings.noise_m3, readings.noise_m3, use, readings
        ),
    }
    read = {name: part for name, part in parts.items() if part is not None}
    needed = [read[name] for name in read if name == "head_temperature_K" or not heads_needed]
    count = sum(part[0].size for part in needed)
    if count < _FEWEST:
        raise BadInput("readings", count, "at least three")
    head = read.get("head_temperature_K")
    if head is not None:
        head[3][:] = np.hypot(head[3], _cold(head[2]))
    counts = [part[0].size for part in read.values()]
    offsets = np.concatenate([[0], np.cumsum(counts)[:-1]])
    starts = [part[1] + offset for part, offset in zip(read.values(), offsets, strict=True)]
    time, _, value, smooth, slope = (
        np.concatenate(columns) for columns in zip(*read.values(), strict=True)
    )
    return Observed(
        until_s=float(time.max()),
        time_s=time,
        starts=np.concatenate(starts).astype(np.int64),
        heads=0 if head is None else head[2].size,
        spans=tuple(zip(read, counts, strict=True)),
        value=value,
        smooth=smooth,
        slope=slope,
    )


_Part = tuple[Floats, Whole, Floats, Floats, Floats]


def _part(
    values: Floats | None,
    noise: float,
    left_out: float,
    use: npt.NDArray[np.bool_],
    readings: Readings,
) -> _Part | None:
    """Return one channel in blocks, None where it was never read."""
    if values is None:
        return None
    known = use & np.isfinite(values)
    if not np.any(known):
        return None
    return _blocks(readings.time_s[known], values[known], noise, left_out)


def _blocks(time: Floats, reading: Floats, noise: float, left_out: float) -> _Part:
    """Return times, first reading of each block, means, their errors and slopes."""
    span = float(time[-1] - time[0])
    length = max(span / _BLOCKS, _SHORTEST)
    number = np.minimum(((time - time[0]) / length).astype(np.int64), _BLOCKS - 1)
    starts = np.flatnonzero(np.diff(number, prepend=-1))
    counts = np.diff(starts, append=time.size)
    middle = np.add.reduceat(time, starts) / counts
    value = np.add.reduceat(reading, starts) / counts
    smooth = np.hypot(noise / np.sqrt(counts), left_out)
    slope = np.abs(np.gradient(value, middle)) if value.size > 1 else np.zeros(value.size)
    return time, starts, value, smooth, slope


def _cold(value: Floats) -> Floats:
    """Return the error of blocks that show the room: one error, of which no mean makes less."""
    warm = np.flatnonzero(value > value[0] + _COLD_K)
    cold = int(warm[0]) if warm.size else value.size
    error = np.zeros(value.size)
    error[:cold] = _ROOM_K * math.sqrt(max(cold, 1))
    return error


def risen(seen: Floats, observed: Observed) -> Floats:
    """Return when the head had risen half-way from the first to the highest reading of the record.

    Args:
        seen: (N, b) readings in the blocks of the record [K, m3].
        observed: the record.

    Returns:
        (N,) logarithms of that time over a second [-]; the record's end where it never had.
    """
    count = observed.heads
    heads, times = seen[:, :count], observed.time_s[observed.starts[:count]]
    record = observed.value[:count]
    level = 0.5 * (float(record[0]) + float(record.max())) if count else 0.0
    above = heads >= level
    first = np.argmax(above, axis=1)
    found = np.full(seen.shape[0], np.log(max(observed.until_s, 1.0)))
    for k in np.flatnonzero(above.any(axis=1) & (first > 0)):
        at = first[k]
        share = (level - heads[k, at - 1]) / (heads[k, at] - heads[k, at - 1])
        found[k] = np.log(max(times[at - 1] + share * (times[at] - times[at - 1]), 1.0))
    return found


def seen_in(run: Run, observed: Observed) -> Floats:
    """Return what a run would have shown at the readings.

    Args:
        run: of the still; past its end its last values hold.
        observed: the readings.

    Returns:
        (b,) means over the same blocks [K or m3].
    """
    trace = run.trace
    ends = np.cumsum([count for _, count in observed.spans])
    values = np.concatenate(
        [
            np.interp(observed.time_s[end - count : end], trace.time_s, getattr(trace, name))
            for (name, count), end in zip(observed.spans, ends, strict=True)
        ]
    )
    counts = np.diff(observed.starts, append=values.size)
    return np.asarray(np.add.reduceat(values, observed.starts) / counts, dtype=np.float64)
