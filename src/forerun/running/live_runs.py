"""All live runs of one server: one writer for them, one thread that judges them twice a second."""

from __future__ import annotations

import sys
import threading
import time
import traceback
from collections.abc import Callable
from concurrent.futures import Future
from types import TracebackType
from typing import Self

from forerun.core.errors import BadInput, ForerunError
from forerun.records.interface import RunRow, RunStore
from forerun.records.writing import GroupWriter
from forerun.running.alarm_limits import limits_of
from forerun.running.clock import Moment, RunClock
from forerun.running.live import LiveRun
from forerun.running.sending import passed_on
from forerun.sheets.model import RunSheet

__all__ = ["FASTEST", "LiveRuns"]

FASTEST = 60.0
"""Seconds of a run in a second of the room, at most [-]."""

_TICK = 0.5  # s
_TAKEN_UP = 100  # runs that go on, the newest ones, are taken up again at once


class LiveRuns:
    """The live runs of a store.

    Args:
        opened: opens the store; called twice, to write and to read.
        read_sheet: turns the text of a sheet into the sheet.
        steady: seconds of a clock that never steps.
        room: seconds since 1970-01-01 by the clock of the room.
        ticking: whether a thread judges alarms by itself.
    """

    def __init__(
        self,
        opened: Callable[[], RunStore],
        read_sheet: Callable[[str], RunSheet],
        *,
        steady: Callable[[], float] = time.monotonic,
        room: Callable[[], float] = time.time,
        ticking: bool = True,
    ) -> None:
        self._store, self._reader = opened(), opened()
        self._read_sheet = read_sheet
        self._steady, self._room = steady, room
        self._lock = threading.RLock()
        self._known: dict[int, LiveRun] = {}
        self._writer = GroupWriter(self._store)
        self._stop = threading.Event()
        going = [row for row in self.rows() if row.ended_utc_s is None]
        for row in going[-_TAKEN_UP:]:
            self.run(row.id)
        self._ticker = threading.Thread(target=self._tick, name="alarms", daemon=True)
        if ticking:
            self._ticker.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        problem: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Store what was asked for, then let go of the file."""
        self._stop.set()
        if self._ticker.is_alive():
            self._ticker.join()
        self._writer.close()
        self._store.close()
        self._reader.close()

    def begin(
        self, sheet: RunSheet, text: str, title: str = "", pace: float = 1.0
    ) -> Future[LiveRun]:
        """Begin a run.

        Args:
            sheet: of the run.
            text: the sheet as text, kept with the run.
            title: of the run; that of the sheet when left out.
            pace: seconds of the run in a second of the room, 1 at a real bench [-].

        Raises:
            BadInput: a pace that no run has.
        """
        if not 1.0 <= pace <= FASTEST:
            raise BadInput("pace", pace, f"a number from 1 to {FASTEST:g}")
        name = title or sheet.title
        asked = self._writer.submit(lambda: self._store.start_run(text, name, live=True, pace=pace))
        return passed_on(asked, lambda number: self._opened(self._reader.run(number), sheet))

    def run(self, run_id: int) -> LiveRun:
        """Return a run, taken up again where this server has not had it yet.

        Args:
            run_id: its number.

        Raises:
            BadInput: no live run has it.
        """
        known = self.at_hand(run_id)
        if known is not None:
            return known
        row = self._reader.run(run_id)
        if not row.code:
            raise BadInput("run", run_id, "the number of a run that was begun live")
        try:
            sheet = self._read_sheet(row.sheet)
        except ForerunError:
            sheet = None  # an older sheet: its readings are shown all the same
        return self._opened(row, sheet)

    def at_hand(self, run_id: int) -> LiveRun | None:
        """Return a run that this server has already, at once.

        Args:
            run_id: its number.
        """
        with self._lock:
            return self._known.get(run_id)

    def _opened(self, row: RunRow, sheet: RunSheet | None) -> LiveRun:
        with self._lock:
            if row.id in self._known:
                return self._known[row.id]
            limits = None if sheet is None else limits_of(sheet)
            run = LiveRun(
                row, sheet, limits, self._clock(row), self._writer, self._store, self._reader
            )
            self._known[row.id] = run
        if run.ended_utc_s is None and (run.readings_stored or run.entries_stored):
            run.note_resumed()
        return run

    def _clock(self, row: RunRow) -> RunClock:
        noted = self._reader.entries(row.id, "clock")
        known, least = Moment(0.0, row.started_utc_s), 0.0
        if noted:
            known = Moment(float(noted[-1].data["now_s"]), float(noted[-1].data["utc_s"]))
            least = known.run_s
        least = max(least, self.last_reading_s(row) or 0.0)
        return RunClock(known, row.pace, least, self._steady, self._room)

    def join(self, code: str) -> LiveRun:
        """Return the run that has a code.

        Args:
            code: as it was shown.

        Raises:
            BadInput: no run has it.
        """
        return self.run(self._reader.joined(code))

    def erase(self, run_id: int, reason: str = "") -> Future[int]:
        """Take all that is kept of an ended run away for good; it has no code from then on.

        Args:
            run_id: its number.
            reason: stays with its number, for good; none where left out.

        Raises:
            BadInput: no such run, one that goes on, or a reason that is too long.
        """

        def gone(rows: int) -> int:
            with self._lock:
                self._known.pop(run_id, None)
            self._reader.scrub()
            return rows

        return passed_on(self._writer.submit(lambda: self._store.erase(run_id, reason)), gone)

    def rows(self) -> tuple[RunRow, ...]:
        """Return every live run, the oldest first."""
        return tuple(row for row in self._reader.runs() if row.code)

    def last_reading_s(self, row: RunRow) -> float | None:
        """Return the time of the last reading that was stored [s of the run].

        Args:
            row: of the run.
        """
        last = self._reader.readings(row.id, max(row.readings - 1, 0))
        return last[-1].reading.time_s if last else None

    def going(self) -> tuple[LiveRun, ...]:
        """Return the runs that go on, the oldest first."""
        with self._lock:
            known = sorted(self._known.values(), key=lambda run: run.id)
        return tuple(run for run in known if run.ended_utc_s is None)

    def tick(self) -> None:
        """Judge every run that goes on once."""
        for run in self.going():
            _judge(run)

    def _tick(self) -> None:
        """Judge the runs one after the other, so that what is sent never waits for all of them."""
        while not self._stop.is_set():
            going = self.going()
            for run in going:
                _judge(run)
                if self._stop.wait(_TICK / len(going)):
                    return
            if not going:
                self._stop.wait(_TICK)


def _judge(run: LiveRun) -> None:
    try:
        run.tick()
    except Exception:  # one run must not leave the others without alarms
        traceback.print_exc(file=sys.stderr)
        run.cannot_judge()
