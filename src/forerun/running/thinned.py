"""A log that a device fills, kept as dense as what is reckoned from it needs.

A thermometer that speaks ten times a second tells a forecast no more than one that speaks every ten
seconds, and a diagnosis was proven on the latter (docs/explain/diagnosis.md).  The newest readings
stay as they came; older ones that a device sent close together become one, with the median of each
channel.  What a person said, what stands out and what corrects something is never merged.  The
store keeps every reading: this is only what the forecast looks at.  Lengths are judgements.
"""

from __future__ import annotations

import math
import statistics
from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from forerun.records.interface import StoredReading
from forerun.records.readings import CHANNELS, Reading
from forerun.running.checks import LONE_LIMITS, RANGES

__all__ = ["Thinned"]

_SLOT = 10.0  # s of the run, merged into one reading
_AS_THEY_CAME = 60.0  # s of the run: the newest readings
_FEWEST = 3  # readings in a slot that a median can be taken of
_WIDTH = 2 + len(CHANNELS)  # numbers of a reading that is packed: its times and what was read
_ORIGINS = 1000  # senders told apart among them


class Thinned:
    """The readings of one run that still stand, the older ones merged."""

    def __init__(self) -> None:
        self._new: dict[int, Reading] = {}
        self._old: dict[int, Reading] = {}
        self._plain = _Plain()
        self._merged_until = self._last = 0

    def add(self, stored: Iterable[StoredReading]) -> bool:
        """Take in what is new.

        Args:
            stored: in the order of their numbers; what was added before is passed over.

        Returns:
            False where one of them corrects a reading that was merged already: then nothing holds
            any more, and all readings have to be added to a new log.
        """
        coming = [one for one in stored if one.number > self._last]
        gone = {one.reading.corrects for one in coming if one.reading.corrects is not None}
        for one in coming:
            self._new[one.number] = replace(one.reading, raw="")
            self._last = one.number
        for number in gone:
            found = self._new.pop(number, None) or self._old.pop(number, None)
            if found is None and not self._plain.drop(number) and number <= self._merged_until:
                return False
        self._merge()
        return True

    def readings(self) -> list[Reading]:
        """Return all of them, in no order."""
        return [*self._old.values(), *self._plain.readings(), *self._new.values()]

    def _merge(self) -> None:
        """Merge the slots that are past; a reading that comes late stays alone."""
        newest = max((r.time_s for r in self._new.values()), default=0.0)
        until = _SLOT * math.floor((newest - _AS_THEY_CAME) / _SLOT)
        past = {number: r for number, r in self._new.items() if r.time_s < until}
        slots: dict[tuple[str, float], list[int]] = {}
        for number, reading in past.items():
            slot = (reading.origin, math.floor(reading.time_s / _SLOT))
            slots.setdefault(slot, []).append(number)
        for numbers in slots.values():
            self._close(numbers)

    def _close(self, numbers: Sequence[int]) -> None:
        rows = {number: self._new.pop(number) for number in numbers}
        middle = _medians(rows.values())
        alike = [n for n, row in rows.items() if _mergeable(row, middle)]
        if len(alike) >= _FEWEST:
            rows[alike[-1]] = _one([rows.pop(number) for number in alike])
            self._merged_until = max(self._merged_until, *alike)
        for number, row in rows.items():
            if not self._plain.add(number, row):
                self._old[number] = row


class _Plain:
    """Readings of which only numbers are to be kept, packed: as objects they take four times more.

    What is kept of a run for hours is mostly this.
    """

    def __init__(self) -> None:
        self._numbers = array("q")
        self._values = array("d")
        self._origins: list[str] = []
        self._from = array("H")

    def add(self, number: int, reading: Reading) -> bool:
        """Take in a reading; return False where it says more than numbers."""
        said = (reading.remark, reading.flags, reading.raw, reading.corrects is not None)
        if any(said) or (reading.origin not in self._origins and len(self._origins) > _ORIGINS):
            return False
        if reading.origin not in self._origins:
            self._origins.append(reading.origin)
        self._numbers.append(number)
        self._from.append(self._origins.index(reading.origin))
        clock = math.nan if reading.utc_s is None else reading.utc_s
        self._values.extend((reading.time_s, clock, *(getattr(reading, c) for c in CHANNELS)))
        return True

    def drop(self, number: int) -> bool:
        """Forget a reading; return whether it was here."""
        if number not in self._numbers:
            return False
        at = self._numbers.index(number)
        del self._numbers[at], self._from[at]
        del self._values[at * _WIDTH : (at + 1) * _WIDTH]
        return True

    def readings(self) -> Iterator[Reading]:
        """Tell them in the order in which they came."""
        for k, origin in enumerate(self._from):
            time, clock, *packed = self._values[k * _WIDTH : (k + 1) * _WIDTH]
            utc = None if math.isnan(clock) else clock
            read: dict[str, Any] = {
                channel: value
                for channel, value in zip(CHANNELS, packed, strict=True)
                if not math.isnan(value)
            }
            yield Reading(time, origin=self._origins[origin], utc_s=utc, **read)


def _medians(rows: Iterable[Reading]) -> dict[str, float]:
    """Return the middle of each channel over what is possible; not-a-number where it is unread."""
    found = {}
    listed = list(rows)
    for channel, (low, high) in RANGES.items():
        known = [v for v in (float(getattr(r, channel)) for r in listed) if low <= v <= high]
        found[channel] = statistics.median(known) if known else math.nan
    return found


def _mergeable(row: Reading, middle: dict[str, float]) -> bool:
    """Return whether a reading says nothing that the others of its slot do not say."""
    if row.remark or row.corrects is not None or not math.isfinite(row.time_s):
        return False
    for channel, (low, high) in RANGES.items():
        value = float(getattr(row, channel))
        if math.isnan(value):
            continue
        far = abs(value - middle[channel]) > LONE_LIMITS.get(channel, math.inf)
        if far or not low <= value <= high:
            return False
    return True


def _one(rows: Sequence[Reading]) -> Reading:
    """Return one reading for several of a device."""
    flags = dict.fromkeys(flag for row in rows for flag in row.flags)
    time = statistics.fmean(row.time_s for row in rows)
    values: dict[str, Any] = {"time_s": time, "flags": tuple(flags), **_medians(rows)}
    return replace(rows[-1], **values)
