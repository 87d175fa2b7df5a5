"""`forerun watch`: a run followed in the terminal, from a source or from what is typed."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any

from forerun.app.ready import kernels_ready
from forerun.core.errors import BadInput, ForerunError
from forerun.core.formats import format_temperature, format_volume
from forerun.core.provenance import signed
from forerun.running.sources.interface import Row, Source
from forerun.running.sources.typed import typed
from forerun.sheets.model import RunSheet

if TYPE_CHECKING:
    from forerun.running.following import Followed
    from forerun.running.live import LiveRun
    from forerun.running.live_runs import LiveRuns

__all__ = ["Watched", "watch"]

_EVERY = 10.0  # s of the room between two estimates while devices send
_SAID_AGAIN = 60.0  # s after which an unchanged instruction is said again with new numbers
_POLL = 0.1  # s
_MEMBERS = 48
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Watched:
    """A run that was watched.

    Args:
        run: its number in this user's store.
        title: of the run.
        duration_s: of the run [s].
        readings: stored.
        estimate: the last one, None where there was none.
        instruction: the last one, likewise.
        findings: of the whole log.
        alarms: that stood at its end.
    """

    run: int
    title: str
    duration_s: float
    readings: int
    estimate: dict[str, Any] | None = None
    instruction: dict[str, Any] | None = None
    findings: list[dict[str, Any]] = field(default_factory=list)
    alarms: list[dict[str, Any]] = field(default_factory=list)

    def to_json(self) -> dict[str, Any]:
        """Return it as one object."""
        return signed(
            {
                "run": self.run,
                "title": self.title,
                "duration_s": self.duration_s,
                "readings": self.readings,
                "estimate": self.estimate,
                "instruction": self.instruction,
                "findings": self.findings,
                "alarms": self.alarms,
            },
            {"command": "watch", "run": self.run},
        )


def watch(
    sheet: RunSheet,
    text: str,
    *,
    say: Say,
    source: Source | None = None,
    lines: Iterable[str] | None = None,
    pace: float = 1.0,
    runs: LiveRuns | None = None,
) -> Watched:
    """Follow a run until its lines end, or the user stops it; everything is stored as it comes.

    Args:
        sheet: of the run.
        text: the same as text, kept with the run.
        say: takes each line for the screen.
        source: of readings; None where only lines are typed.
        lines: that are typed; None for standard input.
        pace: seconds of the run in a second of the room [-].
        runs: where runs are kept; None for this user's.

    Raises:
        BadInput: a source that cannot be, or a folder that cannot be used.
        CalculationFailed: the sheet's own run did not finish.
    """
    kernels_ready()
    from forerun.app.sheet import load
    from forerun.records.library import open_store
    from forerun.running.following import Follower
    from forerun.running.live_runs import LiveRuns
    from forerun.running.sources.pump import Pump

    with ExitStack() as stack:
        kept = runs or stack.enter_context(LiveRuns(open_store, load))
        run = kept.begin(sheet, text, pace=pace).result()
        say(f"Run {run.id} begun: {run.title}. Advisory: your institution's stricter rule wins.")
        following = _Following(run, Follower(sheet, _MEMBERS), say)
        came: SimpleQueue[str | None] = SimpleQueue()
        pump = None
        if source is not None:
            name = source.name
            pump = Pump(source, lambda rows: _store(run, rows, name), say)
            stack.callback(pump.close)
        if lines is not None or source is None or not sys.stdin.isatty():
            _reading(sys.stdin if lines is None else lines, came)
        try:
            _go_on(following, came, pump, source is None)
        except KeyboardInterrupt:
            say("Stopped: the run is kept.")
        run.end().result()
        return following.told()


def _reading(lines: Iterable[str], came: SimpleQueue[str | None]) -> None:
    """Read typed lines in a thread of its own, so that devices and alarms do not wait for them."""

    def work() -> None:
        for line in lines:
            came.put(line)
        came.put(None)

    threading.Thread(target=work, name="typed lines", daemon=True).start()


def _store(run: LiveRun, rows: Sequence[Row], origin: str) -> None:
    run.send([dict(row) for row in rows], origin).result()


def _go_on(following: _Following, came: SimpleQueue[str | None], pump: Any, alone: bool) -> None:
    """Go on until the lines have ended and no device sends, or somebody types that it ends."""
    while True:
        try:
            line = came.get(timeout=_POLL)
        except Empty:
            line = ""
        if pump is not None and pump.problem is not None:
            raise pump.problem
        if line is None:
            if alone:
                following.look(now=True)
                return
        elif line.strip() and not following.take(line):
            return
        following.alarms()
        following.look()


class _Following:
    """What the terminal has been told of a run."""

    def __init__(self, run: LiveRun, follower: Any, say: Say) -> None:
        self._run, self._follower, self._say = run, follower, say
        self._last: Followed | None = None
        self._looked, self._seen, self._said_at = -1e9, (-1, -1), -1e9
        self._said = ""
        self._alarms: set[str] = set()

    def take(self, line: str) -> bool:
        """Take in a typed line.

        Args:
            line: as it was typed.

        Returns:
            Whether the run goes on.
        """
        try:
            found = typed(line)
            if found.ends:
                return False
            if found.row:
                self._run.send([dict(found.row)], "typed").result()
            if found.entry is not None:
                self._run.say(found.entry[0], dict(found.entry[1])).result()
            if found.switched:
                number = 1 if self._last is None else self._last.estimate.receiver[0]
                self._run.say("switched", {"receiver": number}).result()
                self._say(f"Bottle {number} away, bottle {number + 1} in place.")
            if found.answer:
                self._answered(found.answer)
        except ForerunError as problem:
            self._say(str(problem))
        else:
            self.look(now=True)
        return True

    def _answered(self, answer: str) -> None:
        last = self._last
        if last is None:
            raise BadInput("line", answer, "an answer once something was asked")
        one = last.instruction
        if one.action == "answer_test" and answer in {"yes", "no"}:
            asked = one.key.partition("-")[2]
            data = {"finding": asked, "test": one.text, "answer": answer}
            self._run.say("test", data).result()
        elif answer == "yes":
            raise BadInput(
                "line", answer, "done, not now or no: nothing was asked that is so or not"
            )
        else:
            self._run.say("answer", {"instruction": one.id, "answer": answer}).result()

    def alarms(self) -> None:
        """Say alarms that are new, cautions first."""
        for alarm in self._run.alarms:
            if alarm.id not in self._alarms:
                self._alarms.add(alarm.id)
                word = "STOP" if alarm.state == "stop" else "LOOK"
                self._say(f"\a{word}: {alarm.caution} {alarm.text}")

    def look(self, now: bool = False) -> None:
        """Correct the forecast where it is time to, and say what changed.

        Args:
            now: whether something was typed.
        """
        run, room = self._run, time.monotonic()
        state = (run.readings_stored, run.entries_stored)
        waited = room - self._looked
        if state == self._seen and waited < _SAID_AGAIN:
            return
        if not now and waited < _EVERY:
            return
        self._looked, self._seen = room, state
        from forerun.records.readings import readings_of

        entries = {entry.number: entry for entry in run.entries()}
        for entry in tuple(entries.values()):
            entries.pop(entry.corrects or 0, None)
        self._last = self._follower.follow(
            readings_of(run.standing()), run.now_s(), tuple(entries.values()), run.alarms
        )
        one = self._last.instruction
        if one.id != self._said or room - self._said_at >= _SAID_AGAIN or now:
            self._said, self._said_at = one.id, room
            self._say(f"{_clock(run.now_s())}  {one.text}\n         {one.why}{self._where()}")

    def _where(self) -> str:
        last = self._last
        newest = self._run.recent().newest
        parts = []
        if "head_K" in newest:
            parts.append(f"head {format_temperature(newest['head_K'].value)}")
        if last is not None:
            left = last.estimate.residue_m3
            parts.append(f"about {format_volume(left.middle, left.high - left.middle)} in the pot")
        return f"\n         {', '.join(parts)}." if parts else ""

    def told(self) -> Watched:
        """Return what is known at the end."""
        from forerun.reporting.findings import finding_objects

        last, run = self._last, self._run
        findings = [] if last is None or last.diagnosis is None else finding_objects(last.diagnosis)
        return Watched(
            run.id,
            run.title,
            run.now_s(),
            run.readings_stored,
            None if last is None else last.estimate.to_json(),
            None if last is None else dict(last.instruction.to_json()),
            findings,
            [alarm.to_json() for alarm in run.alarms],
        )


def _clock(seconds: float) -> str:
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}"
