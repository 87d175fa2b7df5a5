"""Readings as they come in: anything that has a shape is kept, what is odd about it is flagged.

A time is taken as it was sent when it can be that of this run.  A clock that was not set, is ahead
or was stepped only keeps the order of what it sends: then the time is that of arrival.  Limits are
common practice, no source.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from forerun.core.errors import BadInput
from forerun.records.readings import CHANNELS, HEADINGS, LONGEST_REMARK, Reading, channel_value
from forerun.running.clock import Moment

__all__ = [
    "AHEAD",
    "FLOOD",
    "LATE",
    "MOST_ROWS",
    "NO_TIME",
    "OUT_OF_ORDER",
    "REPEATED",
    "STEPPED",
    "Intake",
]

MOST_ROWS = 5000
"""Readings that may be sent at a time."""

LATE = "came late"
OUT_OF_ORDER = "came out of order"
REPEATED = "sent twice"
FLOOD = "faster than 5 a second"
AHEAD = "its clock cannot be that of this run: time of arrival"
STEPPED = "its clock was stepped: time of arrival"
NO_TIME = "no usable time: time of arrival"

_PROMPT = 30.0  # s from being read to being sent
_FAST = 5.0  # s that a clock may be ahead without being wrong
_LONGEST_BEFORE = 3600.0  # s before the start that a reading may speak of
_SILENCE = 600.0  # s after which a clock that went back may as well be an old batch
_STEP = 30.0  # s
_NEAREST = 0.2  # s
_LONGEST_RAW = 4000  # characters
_KEYS = {name.lower(): name for name in (*HEADINGS, "time_s", "time", "remark", "corrects")}
_ROWS = 'a list of readings, such as [{"head_C": 78.2, "distillate_mL": 12}]'


@dataclass(slots=True)
class _Sender:
    """What is remembered of one origin."""

    arrived: Moment
    newest_claim: float  # s of the run by its own clock
    offset: float = 0.0  # s that its clock is ahead of the run's
    last: Reading | None = None


@dataclass(slots=True)
class Intake:
    """Turns what one run is sent into readings, and remembers each sender's clock.

    Args:
        pace: seconds of the run in a second of the room [-].
        senders: what is known of each origin.
    """

    pace: float = 1.0
    senders: dict[str, _Sender] = field(default_factory=dict)

    def read(self, rows: object, origin: str, arrived: Moment) -> list[Reading]:
        """Return readings with their times and flags.

        Args:
            rows: the list that was sent.
            origin: who sent it.
            arrived: when.

        Raises:
            BadInput: no list of objects, or a correction that names no reading.
        """
        if not isinstance(rows, list) or not 0 < len(rows) <= MOST_ROWS:
            raise BadInput("readings", rows, f"{_ROWS}, at most {MOST_ROWS}")
        if not all(isinstance(row, dict) for row in rows):
            raise BadInput("readings", rows, _ROWS)
        found = [_values(row, origin) for row in rows]
        claims = [self._claim(row, arrived) for row in rows]
        times = self._times([claim for claim, _ in claims], origin, arrived)
        readings = []
        for reading, (_, utc), (time, flag) in zip(found, claims, times, strict=True):
            readings.append(self._placed(reading, time, flag, utc, arrived))
        return readings

    def remember(self, reading: Reading, stored_utc_s: float) -> None:
        """Learn a sender's clock from what it sent before this server was started.

        Args:
            reading: the sender's last one.
            stored_utc_s: when it was stored [s since 1970-01-01].
        """
        offset = 0.0
        if AHEAD in reading.flags or STEPPED in reading.flags:
            offset = self.pace * ((reading.utc_s or stored_utc_s) - stored_utc_s)
        arrived = Moment(reading.time_s, stored_utc_s)
        claim = reading.time_s + offset
        self.senders[reading.origin] = _Sender(arrived, claim, offset, reading)

    def _claim(self, row: Mapping[str, Any], arrived: Moment) -> tuple[float | None, float | None]:
        """Return the time of the run that a row claims, and the room's time by its clock."""
        given = {_KEYS.get(str(key).lower(), ""): value for key, value in row.items()}
        if given.get("time_s") is not None:
            value = _number(given["time_s"])
            return (math.nan if value is None else value), None
        if given.get("time") is None:
            return None, None
        utc = _room_time(given["time"], arrived.utc_s)
        if utc is None:
            return math.nan, None
        return arrived.run_s + self.pace * (utc - arrived.utc_s), utc

    def _times(
        self, claims: Sequence[float | None], origin: str, arrived: Moment
    ) -> list[tuple[float, str]]:
        """Return a time for each claim, and what is odd about it."""
        now = arrived.run_s
        usable = [c for c in claims if c is not None and math.isfinite(c)]
        offset, flag = self._offset(max(usable), origin, arrived) if usable else (0.0, "")
        times = []
        for claim in claims:
            if claim is None:
                times.append((now, ""))
            elif not math.isfinite(claim):
                times.append((now, NO_TIME))
            else:
                time = claim - offset
                known = -_LONGEST_BEFORE <= time <= now + _FAST * self.pace
                times.append((time, flag) if known else (now, flag or AHEAD))
        return times

    def _offset(self, newest: float, origin: str, arrived: Moment) -> tuple[float, str]:
        """Return how far a sender's clock is ahead of the run's, and the flag that says so."""
        now, sender = arrived.run_s, self.senders.get(origin)
        kept = sender.offset if sender else 0.0
        found, flag = newest - now, AHEAD
        prompt, fast = _PROMPT * self.pace, _FAST * self.pace
        if -prompt <= newest - now <= fast:
            found, flag = 0.0, ""
        elif kept and -prompt <= newest - kept - now <= fast:
            found, flag = kept, STEPPED
        elif -_LONGEST_BEFORE <= newest <= now:
            if not (sender and _went_back(sender, newest, arrived, self.pace)):
                return 0.0, ""  # a batch that comes late, by a clock that was right before
            flag = STEPPED
        self.senders[origin] = _Sender(arrived, newest, found, sender.last if sender else None)
        return found, flag

    def _placed(
        self, reading: Reading, time: float, flag: str, utc: float | None, arrived: Moment
    ) -> Reading:
        sender = self.senders.setdefault(reading.origin, _Sender(arrived, time))
        flags = [*reading.flags, *([flag] if flag else [])]
        if time < arrived.run_s - _PROMPT * self.pace:
            flags.append(LATE)
        last, near = sender.last, False
        if last is not None and reading.corrects is None:
            if time < last.time_s:
                flags.append(OUT_OF_ORDER)
            elif time - last.time_s < _NEAREST * self.pace and not reading.remark:
                doubts = _too_near(last, replace(reading, time_s=time))
                near, flags = bool(doubts), [*flags, *doubts]
        if utc is None and self.pace == 1.0:
            utc = arrived.utc_s - (arrived.run_s - time)
        placed = replace(reading, time_s=time, flags=tuple(flags), utc_s=utc)
        if reading.corrects is None and not near and (last is None or time >= last.time_s):
            sender.last = placed
        return placed


def _went_back(sender: _Sender, newest: float, arrived: Moment, pace: float) -> bool:
    silent = arrived.run_s - sender.arrived.run_s
    return newest < sender.newest_claim - _STEP * pace and silent < _SILENCE * pace


def _too_near(last: Reading, reading: Reading) -> list[str]:
    same = [
        (getattr(last, name), getattr(reading, name))
        for name in CHANNELS
        if not math.isnan(getattr(reading, name))
    ]
    if not same or any(math.isnan(before) for before, _ in same):
        return []  # another channel of the same moment
    twice = last.time_s == reading.time_s and all(before == now for before, now in same)
    return [REPEATED if twice else FLOOD]


def _values(row: Mapping[str, Any], origin: str) -> Reading:
    """Return a row's numbers, without its time."""
    flags: list[str] = []
    numbers: dict[str, float] = {}
    remark, corrects = "", None
    for key, value in row.items():
        name = _KEYS.get(str(key).lower())
        if name is None:
            flags.append(f'unknown heading "{str(key)[:40]}"')
        elif name == "remark":
            remark = _printable("" if value is None else str(value))
        elif name == "corrects":
            corrects = _corrected(value)
        elif name in HEADINGS and value is not None:
            channel, number = channel_value(name, _written(value))
            if number is None:
                flags.append(f"{name} {_written(value)[:40]}")
            else:
                numbers[channel] = number
    raw = json.dumps(row, ensure_ascii=True, allow_nan=True)[:_LONGEST_RAW]
    known = Reading(0.0, remark=remark[:LONGEST_REMARK], origin=origin, flags=tuple(flags))
    changed: dict[str, Any] = {**numbers, "raw": raw, "corrects": corrects}
    return replace(known, **changed)


def _written(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return repr(value) if isinstance(value, float | int) else _printable(str(value))


def _printable(text: str) -> str:
    """Return a text that any file can hold."""
    return text.encode("utf-8", "replace").decode("utf-8").replace("\x00", "")


def _corrected(value: object) -> int | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not 0 < value < 2**53:
        raise BadInput("corrects", value, "the number of a reading of this run")
    return value


def _number(value: object) -> float | None:
    if isinstance(value, bool):
        return None
    try:
        number = float(value)  # type: ignore[arg-type]  # whatever it is, it is tried
    except (TypeError, ValueError, OverflowError):
        return None
    return number if math.isfinite(number) else None


def _room_time(value: object, near: float) -> float | None:
    """Return an ISO time in seconds since 1970; without a zone, by this machine's own.

    Of the two moments that one wall clock shows when summer time ends, that nearer to ``near``.
    """
    try:
        moment = datetime.fromisoformat(str(value).strip())
        if moment.tzinfo is not None:
            return moment.timestamp()
        both = [moment.replace(fold=fold).timestamp() for fold in (0, 1)]
    except (ValueError, OverflowError, OSError):
        return None
    return min(both, key=lambda utc: abs(utc - near))
