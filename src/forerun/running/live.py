"""The life of a run while it goes on: begun, read, spoken of, ended, and taken up again.

Everything that is said of a run is on disk before it is answered.  No HTTP in here.
"""

from __future__ import annotations

import itertools
import threading
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, replace
from typing import Any

from forerun.core.errors import BadInput, NotStored
from forerun.records.interface import Entry, Kept, RunRow, RunStore, Sent, StoredReading
from forerun.records.readings import Reading
from forerun.records.writing import GroupWriter
from forerun.running.alarm_limits import AlarmLimits
from forerun.running.alarms import Alarm, alarms_of
from forerun.running.clock import Moment, RunClock
from forerun.running.entries import AFTER_THE_END, checked_entry
from forerun.running.incoming import Intake
from forerun.running.recent import Recent
from forerun.running.sending import Stored, Told, passed_on, sent_as
from forerun.sheets.model import RunSheet

__all__ = ["LiveRun"]

_DISK = "storage"  # the alarm for readings that could not be stored
_TAIL = 400  # readings kept at hand for those who listen
_LOOK_BACK = 1500  # readings from which a run is taken up again


@dataclass(frozen=True, slots=True)
class _Batch:
    kept: Kept
    readings: list[Reading]
    arrived: Moment


class LiveRun:
    """One run that goes on, or has ended.

    Args:
        row: of the store.
        sheet: the run's, None where it cannot be read any more.
        limits: what its alarms are held against, None without a sheet.
        clock: of the run.
        writer: through which everything is stored.
        store: in which the writer writes.
        reader: the same store, opened for reading.
    """

    def __init__(
        self,
        row: RunRow,
        sheet: RunSheet | None,
        limits: AlarmLimits | None,
        clock: RunClock,
        writer: GroupWriter,
        store: RunStore,
        reader: RunStore,
    ) -> None:
        self.id, self.code, self.title = row.id, row.code, row.title
        self.sheet, self.limits, self.clock = sheet, limits, clock
        self.started_utc_s, self.ended_utc_s = row.started_utc_s, row.ended_utc_s
        self.alarms: tuple[Alarm, ...] = ()
        self.told = Told()
        self.readings_stored = row.readings
        self.entries_stored = 0
        self.last_reading_s: float | None = None
        self.last_arrived_s: float | None = None
        self._writer, self._store, self._reader = writer, store, reader
        self._intake: Intake | None = None
        self._lock = threading.RLock()
        self._recent = Recent(clock.pace)
        self._tail: deque[StoredReading] = deque(maxlen=_TAIL)
        self._heard: set[str] = set()
        self._unstored: str = ""
        self._watchers: set[Callable[[], None]] = set()
        self._take_up()

    @property
    def pace(self) -> float:
        """Seconds of the run in a second of the room [-]."""
        return self.clock.pace

    def now_s(self) -> float:
        """Return the time of the run; that of its end once it has ended [s]."""
        if self.ended_utc_s is not None:
            return max(self.pace * (self.ended_utc_s - self.started_utc_s), 0.0)
        return self.clock.now().run_s

    # what is said of the run

    def send(self, rows: object, origin: object = None, sequence: object = None) -> Future[Stored]:
        """Store readings.

        Args:
            rows: the list that was sent.
            origin: who sent it.
            sequence: of this sending, for one that may be sent again.

        Returns:
            What holds the answer once they are on disk, or the sentence that refuses them.

        Raises:
            BadInput: an origin or a sequence that is no name.
        """
        name, sent = sent_as(origin, sequence, rows)
        arrived = self.clock.now()
        asked = self._writer.submit(lambda: self._append(rows, name, arrived, sent), self._appended)
        return passed_on(asked, self._stored, self._not_stored)

    def say(
        self,
        kind: object,
        data: object,
        corrects: object = None,
        origin: object = None,
        sequence: object = None,
    ) -> Future[Kept]:
        """Store what a bench says beside its readings.

        Args:
            kind: one of `forerun.running.entries.KINDS`.
            data: its values.
            corrects: number of the entry that it replaces.
            origin: who says it.
            sequence: of this saying, for one that may be said again.

        Raises:
            BadInput: what cannot be understood, or comes after the end of the run.
        """
        name, sent = sent_as(origin, sequence, [kind, data, corrects])
        checked = {**checked_entry(kind, data, self.now_s()), "origin": name}
        if corrects is not None and (isinstance(corrects, bool) or not isinstance(corrects, int)):
            raise BadInput("corrects", corrects, "the number of an entry of this run")
        if self.ended_utc_s is not None and kind not in AFTER_THE_END:
            raise BadInput("run", self.id, "a run that goes on; this one has ended")
        return self._keep(str(kind), checked, corrects, sent)

    def take_out(self, out: bool) -> Future[Kept]:
        """Leave the run out of what is shown of all benches together, or have it back.

        Args:
            out: whether it is left out; may be said after the end too.
        """
        return self._keep("taken_out", {"out": out})

    def is_out(self) -> bool:
        """Return whether the run is left out of what is shown of all benches together."""
        said = self._reader.entries(self.id, "taken_out")
        return bool(said) and bool(said[-1].data["out"])

    def end(self) -> Future[None]:
        """Close the run; closing it twice changes nothing."""

        def ended(_nothing: None) -> None:
            self.ended_utc_s = self._store.run(self.id).ended_utc_s
            self._changed()

        return self._writer.submit(lambda: self._store.end_run(self.id), ended)

    def tell(
        self,
        estimate: dict[str, Any] | None,
        instruction: dict[str, Any] | None,
        findings: Sequence[dict[str, Any]],
    ) -> None:
        """Take in what was reckoned.

        Args:
            estimate: where the run stands.
            instruction: what to do.
            findings: what is odd, and why.
        """
        version = self.told.version + 1
        self.told = Told(estimate, instruction, tuple(findings), version)
        self._changed()

    def _keep(
        self, kind: str, data: dict[str, Any], corrects: int | None = None, sent: Sent | None = None
    ) -> Future[Kept]:
        def kept(where: Kept) -> None:
            self._unstored = ""
            self.entries_stored = max(self.entries_stored, where.last)
            if kind == "alarm_heard":
                self._heard.add(str(data["alarm"]))
            self._changed()

        return self._writer.submit(
            lambda: self._store.add_once(self.id, kind, data, corrects, sent), kept
        )

    def _append(self, rows: object, origin: str, arrived: Moment, sent: Sent | None) -> _Batch:
        """Read and store a batch, in the writer's thread."""
        if self._intake is None:
            self._intake = self._intake_of_store()
        readings = self._intake.read(rows, origin, arrived)
        kept = self._store.append_once(self.id, readings, sent)
        if kept.again:
            self._intake = None
        return _Batch(kept, readings, arrived)

    def _appended(self, batch: _Batch) -> None:
        self._unstored = ""
        if batch.kept.again:
            return
        stored = [
            StoredReading(number, reading, batch.arrived.utc_s)
            for number, reading in enumerate(batch.readings, batch.kept.first)
        ]
        with self._lock:
            self._tail.extend(stored)
            self.readings_stored = max(self.readings_stored, batch.kept.last)
            self._look_at(stored, batch.arrived.run_s)
        self._changed()

    def _look_at(self, stored: Sequence[StoredReading], arrived_s: float) -> None:
        self.last_arrived_s = arrived_s
        self.last_reading_s = max([s.reading.time_s for s in stored] + [self.last_reading_s or 0.0])
        if any(s.reading.corrects is not None for s in stored):
            self._recent.replace([s.reading for s in self._standing()])
        else:
            self._recent.add([s.reading for s in stored], arrived_s)

    def _stored(self, batch: _Batch) -> Stored:
        readings: Sequence[Reading] = batch.readings
        if batch.kept.again:
            before = self._reader.readings(self.id, batch.kept.first - 1)
            readings = [s.reading for s in before if s.number <= batch.kept.last]
        numbered = enumerate(readings, batch.kept.first)
        return Stored(batch.kept, {n: r.flags for n, r in numbered if r.flags})

    def _not_stored(self, problem: BaseException) -> None:
        self._intake = None  # it learned from what is not stored
        if isinstance(problem, NotStored):
            self._unstored = problem.why
            self._changed()

    # what is asked of the run

    def readings(self, after: int = 0) -> tuple[StoredReading, ...]:
        """Return the readings with a higher number.

        Args:
            after: the last one that is known already.
        """
        with self._lock:
            if after >= self.readings_stored:
                return ()
            if self._tail and self._tail[0].number <= after + 1:
                new = itertools.takewhile(lambda s: s.number > after, reversed(self._tail))
                return tuple(new)[::-1]
        return self._reader.readings(self.id, after)

    def entries(self, after: int = 0) -> tuple[Entry, ...]:
        """Return what was said beside the readings, with a higher number.

        Args:
            after: the last one that is known already.
        """
        return self._reader.entries(self.id, after=after) if after < self.entries_stored else ()

    def standing(self) -> list[Reading]:
        """Return all readings that still stand, in order of time."""
        found = [s.reading for s in self._reader.readings(self.id, corrected=True)]
        return sorted(found, key=lambda reading: reading.time_s)

    def recent(self) -> Recent:
        """Return a copy of the last minutes."""
        with self._lock:
            return self._recent.copy()

    def channels(self) -> frozenset[str]:
        """Return the channels that have been read."""
        with self._lock:
            return frozenset(self._recent.newest)

    def by_hand(self) -> bool:
        """Return whether no device sends readings of this run."""
        with self._lock:
            return not self._recent.devices

    def watch(self, watcher: Callable[[], None]) -> Callable[[], None]:
        """Have something called, from any thread, whenever the run has changed.

        Args:
            watcher: must return at once.

        Returns:
            What ends that.
        """
        with self._lock:
            self._watchers.add(watcher)

        def leave() -> None:
            with self._lock:
                self._watchers.discard(watcher)

        return leave

    def tick(self) -> None:
        """Judge the alarms and look at the clocks; called once or twice a second."""
        if self.ended_utc_s is not None:
            return
        stepped = self.clock.step()
        if stepped:
            self._note_clock("stepped", stepped)
        now, before = self.now_s(), [a for a in self.alarms if a.gate != _DISK]
        with self._lock:  # judged in less time than a copy takes
            alarms = alarms_of(self.limits, self._recent, now, before)
        if self._unstored:
            alarms = (self._disk_alarm(now), *alarms)
        alarms = tuple(replace(alarm, heard=alarm.id in self._heard) for alarm in alarms)
        differs = [a.to_json() for a in alarms] != [a.to_json() for a in self.alarms]
        self.alarms = alarms
        if differs:
            self._changed()

    def cannot_judge(self) -> None:
        """Say on the page that alarms are not being judged, since judging them failed."""
        now = self.now_s()
        caution, text = "Watch the bench yourself.", "The alarms of this run cannot be judged."
        alarm = Alarm("judging-0", "judging", "warn", caution, text, now, now)
        if alarm.id not in {a.id for a in self.alarms}:
            self.alarms = (alarm, *self.alarms)
            self._changed()

    def _disk_alarm(self, now: float) -> Alarm:
        known = next((a for a in self.alarms if a.gate == _DISK), None)
        since = known.since_s if known else now
        text = f"Readings are not being stored ({self._unstored}): they have to be sent again."
        caution = "Make room on the disk of the server."
        return Alarm(f"{_DISK}-{since:.0f}", _DISK, "warn", caution, text, since, now)

    def _changed(self) -> None:
        with self._lock:
            watchers = tuple(self._watchers)
        for watcher in watchers:
            watcher()

    # taking up again

    def _take_up(self) -> None:
        """Learn from the store what was known before this server was started."""
        entries = self._reader.entries(self.id)
        self.entries_stored = entries[-1].number if entries else 0
        self._heard = {str(e.data.get("alarm")) for e in entries if e.kind == "alarm_heard"}
        stored = self._standing()
        if stored:
            self._recent.replace([s.reading for s in stored])
            self.last_reading_s = max(s.reading.time_s for s in stored)
            self.last_arrived_s = self.last_reading_s

    def _standing(self) -> tuple[StoredReading, ...]:
        after = max(self.readings_stored - _LOOK_BACK, 0)
        return self._reader.readings(self.id, after, corrected=True)

    def _intake_of_store(self) -> Intake:
        intake = Intake(self.pace)
        last = self._store.run(self.id).readings
        for stored in self._store.readings(self.id, max(last - _LOOK_BACK, 0)):
            if stored.reading.corrects is None:
                intake.remember(stored.reading, stored.stored_utc_s)
        return intake

    def note_resumed(self) -> None:
        """Say in the log that the server was away, and by which clock the run goes on."""
        now = self.now_s()
        away = now - (self.last_arrived_s or 0.0)
        self._note_clock("resumed", away, went_back=self.clock.went_back)

    def _note_clock(self, why: str, seconds: float, **more: Any) -> None:
        now = self.clock.now()
        data = {"why": why, "by_s": seconds, "now_s": now.run_s, "utc_s": now.utc_s, **more}
        self._keep("clock", data)
