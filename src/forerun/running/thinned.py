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
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from forerun.records.interface import StoredReading
from forerun.records.readings import Reading
from forerun.running.checks import LONE_LIMITS, RANGES

__all__ = ["Thinned"]

_SLOT = 10.0  # s of the run, merged into one reading
_AS_THEY_CAME = 60.0  # s of the run: the newest readings
_FEWEST = 3  # readings in a slot that a median can be taken of


class Thinned:
    """The readings of one run that still stand, the older ones merged."""

    def __init__(self) -> None:
        self._new: dict[int, Reading] = {}
        self._old: dict[int, Reading] = {}
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
            if found is None and number <= self._merged_until:
                return False
        self._merge()
        return True

    def readings(self) -> list[Reading]:
        """Return all of them, in no order."""
        return [*self._old.values(), *self._new.values()]

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
            self._old[alike[-1]] = _one([rows.pop(number) for number in alike])
            self._merged_until = max(self._merged_until, *alike)
        self._old.update(rows)


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
