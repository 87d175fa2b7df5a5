"""Readings that must not steer anything: found, said, left out of what is computed, never lost.

Nothing is changed where readings are stored.  Limits are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from forerun.records.readings import CHANNELS, Reading, Readings
from forerun.running.incoming import AHEAD, LATE, NO_TIME, OUT_OF_ORDER, STEPPED

__all__ = ["LONE_LIMITS", "RANGES", "Checked", "Doubt", "check_readings"]

RANGES: Mapping[str, tuple[float, float]] = {  # SI
    "head_K": (150.0, 750.0),
    "pot_K": (150.0, 750.0),
    "bath_K": (150.0, 900.0),
    "pressure_Pa": (0.1, 5e5),
    "distillate_m3": (-1e-6, 0.1),
    "distillate_kg": (-1e-3, 100.0),
}
"""Lowest and highest value of each channel that a bench can have [SI]."""

LONE_LIMITS: Mapping[str, float] = {
    "head_K": 20.0,
    "pot_K": 15.0,
    "bath_K": 25.0,
    "distillate_m3": 20e-6,
    "distillate_kg": 20e-3,
}
"""One reading this far from both its neighbours is no vapour but noise [SI]."""

_OF_TIME = (LATE, OUT_OF_ORDER, AHEAD, STEPPED, NO_TIME)
_ALIKE = 0.25  # of that limit: neighbours that agree with each other
_NEAREST = 0.2  # s; readings of one device closer than this are a flood
_CLOCK_STEP = 30.0  # s between the clock of the room and the clock that never steps
_NO_CLOCK = 946684800.0  # s; before the year 2000 the clock of the room was not set


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a reading, or one value of it, is left out.

    Args:
        time_s: of the reading [s].
        channel: of `CHANNELS`, or empty for the whole reading.
        reason: a phrase.
        used: whether its values are used all the same (only its clock is in doubt).
    """

    time_s: float
    channel: str
    reason: str
    used: bool = False


@dataclass(frozen=True, slots=True)
class Checked:
    """A log and what of it may steer a computation.

    Args:
        readings: what may be used: doubtful values not-a-number, doubtful rows left out.
        doubts: everything that was left out, in order of time.
    """

    readings: Readings
    doubts: tuple[Doubt, ...]

    def told(self) -> tuple[str, ...]:
        """Return one sentence for each kind of doubt, with how many and since when."""
        kinds: dict[str, list[float]] = {}
        for doubt in self.doubts:
            kinds.setdefault(doubt.reason, []).append(doubt.time_s)
        return tuple(
            f"Readings in doubt: {reason}, {len(times)} from {times[0] / 60.0:.0f} min on."
            for reason, times in kinds.items()
        )


def check_readings(readings: Readings) -> Checked:
    """Return what of a log may steer a computation.

    Args:
        readings: in any order; they are taken in order of time.

    Returns:
        the log without duplicates, without a flood, without values that are impossible or that
        stand alone; remarks always stay. Steps of the room's clock are said; time is taken from
        the clock that never steps.
    """
    doubts: list[Doubt] = []
    ordered = tuple(sorted(readings.rows, key=_when))
    rows = _in_range(ordered, doubts)
    rows = _without_repeats(rows, doubts)
    for channel, limit in LONE_LIMITS.items():
        rows = _without_lone(rows, channel, limit, doubts)
    _clock(ordered, doubts)
    _told_by_flags(rows, doubts)
    doubts.sort(key=lambda doubt: doubt.time_s)
    return Checked(replace(readings, rows=tuple(rows)), tuple(doubts))


def _when(row: Reading) -> float:
    return row.time_s if math.isfinite(row.time_s) else -math.inf


def _told_by_flags(rows: list[Reading], doubts: list[Doubt]) -> None:
    """Note what was odd about a time when it came in; the values are used all the same."""
    for row in rows:
        doubts += [Doubt(row.time_s, "", flag, used=True) for flag in row.flags if flag in _OF_TIME]


def _in_range(rows: tuple[Reading, ...], doubts: list[Doubt]) -> list[Reading]:
    kept = []
    for row in rows:
        if not math.isfinite(row.time_s):
            doubts.append(Doubt(0.0, "", "no time"))
            continue
        changed: dict[str, Any] = {}
        for channel, (low, high) in RANGES.items():
            value = getattr(row, channel)
            if not math.isnan(value) and not low <= value <= high:
                doubts.append(Doubt(row.time_s, channel, f"impossible {channel}"))
                changed[channel] = math.nan
        kept.append(replace(row, **changed) if changed else row)
    return kept


def _without_repeats(rows: list[Reading], doubts: list[Doubt]) -> list[Reading]:
    """Return the rows without exact duplicates and without what comes faster than anyone reads."""
    kept: list[Reading] = []
    last: dict[str, Reading] = {}
    for row in rows:
        before = last.get(row.origin)
        near = before is not None and row.time_s - before.time_s < _NEAREST
        if before is not None and near and not row.remark and _speaks_of_same(before, row):
            same = row.time_s == before.time_s and _values(row) == _values(before)
            doubts.append(Doubt(row.time_s, "", "sent twice" if same else "faster than 5 a second"))
            continue
        last[row.origin] = row
        kept.append(row)
    return kept


def _values(row: Reading) -> tuple[float | None, ...]:
    values = (float(getattr(row, channel)) for channel in CHANNELS)
    return tuple(None if math.isnan(value) else value for value in values)


def _speaks_of_same(one: Reading, other: Reading) -> bool:
    """Return whether the second reading holds no channel that the first one lacks."""
    pairs = zip(_values(one), _values(other), strict=True)
    return all(b is None or a is not None for a, b in pairs)


def _without_lone(
    rows: list[Reading], channel: str, limit: float, doubts: list[Doubt]
) -> list[Reading]:
    read = [k for k, row in enumerate(rows) if not math.isnan(getattr(row, channel))]
    kept = list(rows)
    for a, b, c in zip(read, read[1:], read[2:], strict=False):
        before, here, after = (getattr(rows[k], channel) for k in (a, b, c))
        away = min(abs(here - before), abs(here - after))
        if away > limit and abs(after - before) < _ALIKE * limit:
            doubts.append(Doubt(rows[b].time_s, channel, f"a lone jump of {channel}"))
            unread: dict[str, Any] = {channel: math.nan}
            kept[b] = replace(rows[b], **unread)
    return kept


def _clock(rows: tuple[Reading, ...], doubts: list[Doubt]) -> None:
    """Note where the room's clock stepped against the one that never does, or was not set."""
    before: float | None = None
    for row in rows:
        if row.utc_s is None:
            continue
        apart = row.utc_s - row.time_s
        if row.utc_s < _NO_CLOCK:
            doubts.append(Doubt(row.time_s, "", "the room's clock was not set", used=True))
        elif before is not None and abs(apart - before) > _CLOCK_STEP:
            doubts.append(Doubt(row.time_s, "", "the room's clock stepped", used=True))
        before = apart
