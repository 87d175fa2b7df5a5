"""The last minutes of a run, as far as they are sound: what alarms and the wall look at."""

from __future__ import annotations

import bisect
import itertools
import math
import statistics
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from forerun.records.readings import CHANNELS, Reading
from forerun.running.checks import LONE_LIMITS, RANGES
from forerun.running.incoming import FLOOD, REPEATED

__all__ = ["AUTOMATIC", "Recent", "Seen"]

AUTOMATIC = 5
"""Readings in quick order that make a sender a device [-]."""

_WINDOW = 1200.0  # s of the run
_MOST = 6000  # readings
_DEVICE_SPACING = 30.0  # s; a person types more slowly


@dataclass(frozen=True, slots=True)
class Seen:
    """One value of a channel.

    Args:
        time_s: of the run [s].
        value: [SI].
        origin: who sent it.
    """

    time_s: float
    value: float
    origin: str


@dataclass(slots=True)
class Recent:
    """Readings of the last twenty minutes in order of time.

    Args:
        pace: seconds of the run in a second of the room [-].
        rows: the readings.
        arrivals: of each sender, when its last readings arrived [s of the run].
        newest: the last value of each channel, however long ago.
    """

    pace: float = 1.0
    rows: list[Reading] = field(default_factory=list)
    arrivals: dict[str, list[float]] = field(default_factory=dict)
    newest: dict[str, Seen] = field(default_factory=dict)

    def add(self, readings: Iterable[Reading], arrived_s: float) -> None:
        """Take in readings that were stored.

        Args:
            readings: in the order in which they came.
            arrived_s: when they came [s of the run].
        """
        for reading in readings:
            self.arrivals.setdefault(reading.origin, []).append(arrived_s)
            del self.arrivals[reading.origin][:-AUTOMATIC]
            if FLOOD in reading.flags or REPEATED in reading.flags:
                continue
            sound = _sound(reading)
            bisect.insort(self.rows, sound, key=lambda row: row.time_s)
            self._renew(sound)
        oldest = (self.rows[-1].time_s if self.rows else 0.0) - _WINDOW
        first = max(bisect.bisect_left(self.rows, oldest, key=lambda r: r.time_s), 0)
        del self.rows[: max(first, len(self.rows) - _MOST)]

    def replace(self, readings: Iterable[Reading]) -> None:
        """Begin anew with readings that still stand, each taken to have come when it was read.

        Args:
            readings: in the order in which they came.
        """
        self.rows, self.newest, self.arrivals = [], {}, {}
        for reading in readings:
            self.add([reading], reading.time_s)

    def copy(self) -> Recent:
        """Return what does not change when more comes in."""
        arrivals = {origin: list(times) for origin, times in self.arrivals.items()}
        return Recent(self.pace, list(self.rows), arrivals, dict(self.newest))

    def _renew(self, reading: Reading) -> None:
        for name in CHANNELS:
            value = getattr(reading, name)
            before = self.newest.get(name)
            if not math.isnan(value) and (before is None or reading.time_s >= before.time_s):
                self.newest[name] = Seen(reading.time_s, value, reading.origin)

    def series(self, channel: str, since_s: float = -math.inf) -> list[Seen]:
        """Return the values of a channel in order of time, lone jumps left out.

        Args:
            channel: one of `CHANNELS`.
            since_s: the earliest time [s of the run].
        """
        seen = [
            Seen(row.time_s, getattr(row, channel), row.origin)
            for row in self.rows
            if row.time_s >= since_s and not math.isnan(getattr(row, channel))
        ]
        limit = LONE_LIMITS.get(channel)
        return seen if limit is None else self._without_jumps(seen, limit)

    def _without_jumps(self, seen: list[Seen], limit: float) -> list[Seen]:
        """Leave out what a device said once and nobody has borne out, the last value too."""
        kept = []
        for k, here in enumerate(seen):
            near = [*seen[max(k - 1, 0) : k], *seen[k + 1 : k + 2]]
            alone = all(abs(here.value - other.value) > limit for other in near)
            if not (near and alone and self.is_device(here.origin)):
                kept.append(here)
        return kept

    def is_device(self, origin: str) -> bool:
        """Return whether a sender sends by itself.

        Args:
            origin: of its readings.
        """
        times = self.arrivals.get(origin, [])
        if len(times) < AUTOMATIC:
            return False
        gaps = [b - a for a, b in itertools.pairwise(times)]
        return statistics.median(gaps) <= _DEVICE_SPACING * self.pace

    def silent(self, now_s: float, longest_s: float) -> list[tuple[str, float]]:
        """Return the devices that have said nothing for long, and for how long [s of the run].

        Args:
            now_s: of the run [s].
            longest_s: silence that is still usual [s of the run].
        """
        return [
            (origin, now_s - times[-1])
            for origin, times in self.arrivals.items()
            if self.is_device(origin) and now_s - times[-1] > longest_s
        ]

    def slope(self, channel: str, begin_s: float, end_s: float) -> float | None:
        """Return how fast a channel changed [SI/s], by a straight line through its values.

        Args:
            channel: one of `CHANNELS`.
            begin_s: of the stretch [s of the run].
            end_s: of the stretch [s of the run].

        Returns:
            None where it holds fewer than two values, or less than half of it is covered.
        """
        seen = [s for s in self.series(channel, begin_s) if s.time_s <= end_s]
        if len(seen) < 2 or seen[-1].time_s - seen[0].time_s < 0.5 * (end_s - begin_s):
            return None
        times = [s.time_s for s in seen]
        return statistics.linear_regression(times, [s.value for s in seen]).slope


def _sound(reading: Reading) -> Reading:
    """Return a reading without values that are impossible, and without the line as it came."""
    odd: dict[str, float] = {
        name: math.nan
        for name, (low, high) in RANGES.items()
        if not low <= getattr(reading, name) <= high
    }
    return replace(reading, raw="", **odd)  # type: ignore[arg-type]  # only names of numbers
