"""The process that reckons where each run stands, beside the server that stores and answers.

It may be slow, fail, hang or be killed: nothing that a bench sends waits for it.
"""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import os
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, Protocol

from forerun.core.errors import ForerunError
from forerun.records.interface import Entry, StoredReading
from forerun.running.alarms import Alarm
from forerun.running.live import LiveRun
from forerun.running.live_runs import LiveRuns
from forerun.sheets.model import RunSheet

__all__ = ["Reckoned", "Reckoner", "Share", "Worker"]

_EVERY = 8.0  # s between two looks at a run whose devices send; with what a look takes, 10 s
_BY_HAND = 0.5  # s after something was typed
_UNCHANGED = 30.0  # s between two looks at a run of which nothing new is known
_FASTEST = 1.5  # s between two looks at one run, however fast it runs
_AFTER_FAILURE = 30.0  # s
_POLL = 0.2  # s
_LONGEST = 90.0  # s of one reckoning, the first one of a process included


@dataclass(frozen=True, slots=True)
class Share:
    """What is new of one run.

    Args:
        run_id: its number.
        sheet: the run's; None where the process has it already.
        readings: that the process does not have yet.
        entries: that the process does not have yet.
        now_s: of the run [s].
        alarms: that stand.
        over: numbers of runs that the process may forget.
    """

    run_id: int
    sheet: RunSheet | None
    readings: tuple[StoredReading, ...]
    entries: tuple[Entry, ...]
    now_s: float
    alarms: tuple[Alarm, ...] = ()
    over: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What was reckoned of one run, as it is sent.

    Args:
        estimate: where it stands.
        instruction: what to do.
        findings: what is odd, and why.
        all_again: whether nothing was reckoned, since all readings are needed from the first on.
    """

    estimate: dict[str, Any] | None = None
    instruction: dict[str, Any] | None = None
    findings: tuple[dict[str, Any], ...] = ()
    all_again: bool = False


class Reckoner(Protocol):
    """What does the reckoning, in the other process; it keeps what it was told of each run."""

    def reckon(self, share: Share) -> Reckoned:
        """Take in what is new of a run and return where it stands."""


@dataclass(slots=True)
class _Known:
    """What the process knows of a run, and when it last looked."""

    readings: int = 0
    entries: int = 0
    looked_at: float = -1e9
    wait_s: float = 0.0
    has_sheet: bool = False


@dataclass(slots=True)
class _Helper:
    """The process at the other end of a line."""

    line: Connection
    process: BaseProcess
    known: dict[int, _Known] = field(default_factory=dict)


class Worker:
    """Reckons the runs that go on, one after the other, that which has waited longest first.

    Args:
        runs: of the server.
        make: makes the reckoner, in the other process; a function that can be imported.
    """

    def __init__(self, runs: LiveRuns, make: Callable[[], Reckoner]) -> None:
        self._runs, self._make = runs, make
        self._helper: _Helper | None = None
        self._looked: dict[int, _Known] = {}
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, name="reckoning", daemon=True)
        self._thread.start()

    @property
    def process_id(self) -> int | None:
        """Of the other process; None while there is none."""
        return None if self._helper is None else self._helper.process.pid

    def close(self) -> None:
        """Stop reckoning."""
        self._stop.set()
        self._thread.join()
        self._let_go()

    def _work(self) -> None:
        while not self._stop.wait(_POLL):
            run = self._due()
            if run is None:
                continue
            try:
                self._look_at(run)
            except Exception:  # the next run must not go without
                traceback.print_exc(file=sys.stderr)
                self._failed(run, "Reckoning failed; the readings are kept all the same.")

    def _due(self) -> LiveRun | None:
        """Return the run that is overdue by most, as a share of what it may wait."""
        now, found, most = time.monotonic(), None, 1.0
        for run in self._runs.going():
            if run.sheet is None:
                continue
            known = self._looked.setdefault(run.id, _Known())
            waited = (now - known.looked_at) / max(_patience(run, known), known.wait_s)
            if waited >= most:
                found, most = run, waited
        return found

    def _look_at(self, run: LiveRun) -> None:
        helper = self._living() or self._begin()
        known = helper.known.setdefault(run.id, _Known())
        readings, entries = run.readings(known.readings), run.entries(known.entries)
        sheet = None if known.has_sheet else run.sheet
        over = self._over(helper, run.id)
        share = Share(run.id, sheet, readings, entries, run.now_s(), run.alarms, over)
        try:
            helper.line.send(share)
            answer = helper.line.recv() if self._answers(helper) else _Problem("took too long")
        except (EOFError, OSError):
            answer = _Problem("the process that reckons was lost; another one is begun")
        if isinstance(answer, Reckoned) and answer.all_again:
            known.readings, known.has_sheet = 0, True
            return
        if isinstance(answer, Reckoned):
            known.readings = readings[-1].number if readings else known.readings
            known.entries = entries[-1].number if entries else known.entries
            known.has_sheet = True
            self._looked[run.id] = _Known(known.readings, known.entries, time.monotonic())
            run.tell(answer.estimate, answer.instruction, answer.findings)
            return
        self._failed(run, answer.says)
        if not answer.helper_lives:
            self._let_go()

    def _over(self, helper: _Helper, asked: int) -> tuple[int, ...]:
        """Forget the runs that have ended since, but the one asked for; return their numbers."""
        needed = {run.id for run in self._runs.going()} | {asked}
        over = tuple(sorted(helper.known.keys() - needed))
        for number in over:
            helper.known.pop(number)
            self._looked.pop(number, None)
        return over

    def _answers(self, helper: _Helper) -> bool:
        until = time.monotonic() + _LONGEST
        while time.monotonic() < until and not self._stop.is_set():
            if helper.line.poll(_POLL):
                return True
        return False

    def _failed(self, run: LiveRun, why: str) -> None:
        looked = self._looked.setdefault(run.id, _Known())
        looked.looked_at, looked.wait_s = time.monotonic(), _AFTER_FAILURE
        says = f"The forecast could not be corrected: {why}"
        before = run.told.estimate or {"state": "undecided", "now_s": run.now_s()}
        run.tell({**before, "says": says, "problem": why}, run.told.instruction, run.told.findings)

    def _living(self) -> _Helper | None:
        return self._helper if self._helper and self._helper.process.is_alive() else None

    def _begin(self) -> _Helper:
        self._let_go()
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(
            target=_serve, args=(theirs, self._make), name="forerun reckoning", daemon=True
        )
        process.start()
        theirs.close()
        self._helper = _Helper(ours, process)
        return self._helper

    def _let_go(self) -> None:
        helper, self._helper = self._helper, None
        if helper is None:
            return
        helper.line.close()
        helper.process.kill()
        helper.process.join()


@dataclass(frozen=True, slots=True)
class _Problem:
    """Why there is no answer."""

    says: str
    helper_lives: bool = False


def _patience(run: LiveRun, known: _Known) -> float:
    """Return how long a run may wait for the next look [s of the room]."""
    if run.readings_stored == known.readings and run.entries_stored == known.entries:
        return max(_UNCHANGED / run.pace, _FASTEST)
    return _BY_HAND if run.by_hand() else max(_EVERY / run.pace, _FASTEST)


def _serve(line: Connection, make: Callable[[], Reckoner]) -> None:
    """Answer shares until the other end has gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which ends us
    threading.Thread(target=_leave_with_parent, daemon=True).start()
    if hasattr(os, "nice"):
        os.nice(5)
    reckoner = make()
    while True:
        try:
            share = line.recv()
        except EOFError:
            return
        try:
            answer: Reckoned | _Problem = reckoner.reckon(share)
        except ForerunError as problem:
            answer = _Problem(str(problem), helper_lives=True)
        except Exception as problem:  # the server tells the bench
            traceback.print_exc(file=sys.stderr)
            answer = _Problem(f"{type(problem).__name__}: {problem}"[:300], helper_lives=True)
        line.send(answer)


def _leave_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        multiprocessing.connection.wait([parent.sentinel])
        os._exit(0)
