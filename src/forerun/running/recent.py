"""The last minutes of a run, as far as they are sound: what alarms and the wall look at."""

from __future__ import annotations

import bisect
import itertools
import math
import statistics
from array import array
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from forerun.records.readings import CHANNELS, Reading
from forerun.running.checks import LONE_LIMITS, RANGES
from forerun.running.incoming import FLOOD, REPEATED

__all__ = ["AUTOMATIC", "Recent", "Seen", "Stretch"]

AUTOMATIC = 5
"""Readings in quick order that make a sender a device [-]."""

_WINDOW = 1200.0  # s of the run
_APART = 0.5  # s of the run between two values of one sender that are both kept, but the newest
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


class Stretch(NamedTuple):
    """Values of a channel in order of time.

    Args:
        times_s: of the run [s].
        values: [SI], one for each time.
    """

    times_s: array[float]
    values: array[float]


@dataclass(slots=True)
class _Channel:
    """Values of one channel in order of time, each with whether its neighbours bear it out.

    They are packed: as objects they take five times more, which a server of many benches that send
    quickly would be seen to grow by in its first twenty minutes.

    Args:
        limit: by which a lone jump stands out [SI]; None where none is looked for.
        times: of the values [s of the run].
        values: what was read [SI].
        senders: who sent any of them, with a number each.
        sent_by: of each value, the number of its sender.
        borne_out: of each value, 1 where it may be looked at and 0 where not.
    """

    limit: float | None
    times: array[float] = field(default_factory=lambda: array("d"))
    values: array[float] = field(default_factory=lambda: array("d"))
    senders: dict[str, int] = field(default_factory=dict)
    sent_by: array[int] = field(default_factory=lambda: array("I"))
    borne_out: bytearray = field(default_factory=bytearray)

    def add(self, value: Seen, devices: set[str]) -> None:
        """Take in a value; what a quick sender said just before gives way to it."""
        sender = self.senders.setdefault(value.origin, len(self.senders))
        place = bisect.bisect_right(self.times, value.time_s)
        if place == len(self.times) and self._crowded(sender):
            place -= 1
            self._forget(place, place + 1)
        self.times.insert(place, value.time_s)
        self.values.insert(place, value.value)
        self.sent_by.insert(place, sender)
        self.borne_out.insert(place, True)
        self.judge(range(max(place - 1, 0), min(place + 2, len(self.times))), devices)
        oldest = bisect.bisect_left(self.times, self.times[-1] - _WINDOW)
        if oldest:
            self._forget(0, oldest)

    def _crowded(self, sender: int) -> bool:
        """Return whether the last two values are of this sender and stand too close."""
        if len(self.times) < 2 or not self.sent_by[-2] == self.sent_by[-1] == sender:
            return False
        return self.times[-1] - self.times[-2] < _APART

    def _forget(self, begin: int, end: int) -> None:
        del self.times[begin:end], self.values[begin:end]
        del self.sent_by[begin:end], self.borne_out[begin:end]

    def judge(self, places: Iterable[int], devices: set[str]) -> None:
        """Say which values nobody bears out: what a device said once, the last value too."""
        if self.limit is None:
            return
        for k in places:
            near = [*self.values[max(k - 1, 0) : k], *self.values[k + 1 : k + 2]]
            alone = all(abs(self.values[k] - other) > self.limit for other in near)
            self.borne_out[k] = not (near and alone and self._sent_by_any(devices, k))

    def _sent_by_any(self, devices: set[str], k: int) -> bool:
        return any(self.senders.get(origin) == self.sent_by[k] for origin in devices)

    def stretch(self, begin_s: float, end_s: float) -> Stretch:
        """Return what may be looked at from one time to another."""
        first = bisect.bisect_left(self.times, begin_s)
        end = bisect.bisect_right(self.times, end_s)
        times, values, fit = (
            self.times[first:end],
            self.values[first:end],
            self.borne_out[first:end],
        )
        if all(fit):
            return Stretch(times, values)
        kept = [array("d", itertools.compress(numbers, fit)) for numbers in (times, values)]
        return Stretch(*kept)

    def copy(self) -> _Channel:
        """Return what does not change when more comes in."""
        return _Channel(
            self.limit,
            self.times[:],
            self.values[:],
            dict(self.senders),
            self.sent_by[:],
            self.borne_out[:],
        )


def _channels() -> dict[str, _Channel]:
    return {name: _Channel(LONE_LIMITS.get(name)) for name in CHANNELS}


@dataclass(slots=True)
class Recent:
    """Readings of the last twenty minutes, channel by channel in order of time.

    Of a sender that sends more often than twice a second, one value in half a second is kept, and
    the newest.

    Args:
        pace: seconds of the run in a second of the room [-].
        channels: the values by channel.
        arrivals: of each sender, when its last readings arrived [s of the run].
        newest: the last value of each channel, however long ago.
        devices: senders that send by themselves.
    """

    pace: float = 1.0
    channels: dict[str, _Channel] = field(default_factory=_channels)
    arrivals: dict[str, list[float]] = field(default_factory=dict)
    newest: dict[str, Seen] = field(default_factory=dict)
    devices: set[str] = field(default_factory=set)

    def add(self, readings: Iterable[Reading], arrived_s: float) -> None:
        """Take in readings that were stored.

        Args:
            readings: in the order in which they came.
            arrived_s: when they came [s of the run].
        """
        for reading in readings:
            self._note_arrival(reading.origin, arrived_s)
            if FLOOD in reading.flags or REPEATED in reading.flags:
                continue
            for name in CHANNELS:
                value = getattr(reading, name)
                if not math.isnan(value) and _possible(name, value):
                    self._take(name, Seen(reading.time_s, value, reading.origin))

    def _note_arrival(self, origin: str, arrived_s: float) -> None:
        times = self.arrivals.setdefault(origin, [])
        times.append(arrived_s)
        del times[:-AUTOMATIC]
        if self.is_device(origin) == (origin in self.devices):
            return
        self.devices ^= {origin}
        for channel in self.channels.values():
            channel.judge(range(len(channel.times)), self.devices)

    def _take(self, name: str, seen: Seen) -> None:
        self.channels[name].add(seen, self.devices)
        before = self.newest.get(name)
        if before is None or seen.time_s >= before.time_s:
            self.newest[name] = seen

    def replace(self, readings: Iterable[Reading]) -> None:
        """Begin anew with readings that still stand, each taken to have come when it was read.

        Args:
            readings: in the order in which they came.
        """
        self.channels, self.newest, self.arrivals, self.devices = _channels(), {}, {}, set()
        for reading in readings:
            self.add([reading], reading.time_s)

    def copy(self) -> Recent:
        """Return what does not change when more comes in."""
        return Recent(
            self.pace,
            {name: channel.copy() for name, channel in self.channels.items()},
            {origin: list(times) for origin, times in self.arrivals.items()},
            dict(self.newest),
            set(self.devices),
        )

    def stretch(self, channel: str, begin_s: float = -math.inf, end_s: float = math.inf) -> Stretch:
        """Return the values of a channel in order of time, lone jumps left out.

        Args:
            channel: one of `CHANNELS`.
            begin_s: the earliest time [s of the run].
            end_s: the latest time [s of the run].
        """
        return self.channels[channel].stretch(begin_s, end_s)

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
        times, values = self.stretch(channel, begin_s, end_s)
        if len(times) < 2 or times[-1] - times[0] < 0.5 * (end_s - begin_s):
            return None
        return statistics.linear_regression(times, values).slope


def _possible(name: str, value: float) -> bool:
    low, high = RANGES.get(name, (-math.inf, math.inf))
    return low <= value <= high
