"""The life of a run as a machine of states: whatever happens in whatever order, nothing is lost."""

from __future__ import annotations

import math
import tempfile
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from forerun.core.errors import BadInput
from forerun.records.sqlite_store import SqliteRunStore
from forerun.running.live import LiveRun
from forerun.running.live_runs import LiveRuns
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load

TEXT = """
title = "two liquids"
[[charge]]
substance = "acetone"
amount = "40 mL"
[[charge]]
substance = "toluene"
amount = "40 mL"
"""
SHEET: RunSheet = load(TEXT)

_numbers = st.one_of(
    st.floats(20.0, 120.0), st.sampled_from([math.nan, math.inf, 1e9, "x", None, "78,2"])
)
_times = st.one_of(
    st.none(), st.floats(-50.0, 50.0), st.sampled_from([math.nan, 1e12, -1e12, "soon"])
)
_rows = st.lists(st.tuples(_numbers, _numbers, _times), min_size=1, max_size=4)
_origins = st.sampled_from(["typed", "probe", "balance"])


class RunLife(RuleBasedStateMachine):
    """One run on one server that is restarted now and then, with clocks that a test sets."""

    def __init__(self) -> None:
        super().__init__()
        self._folder = tempfile.TemporaryDirectory(prefix="forerun-life-")
        self.passed, self.room = 1000.0, time.time()
        self.expected: list[tuple[str, int | None]] = []  # origin, what it corrects
        self.entries = 0
        self.sent: list[tuple[list[dict[str, Any]], str, int, int]] = []
        self.ended = False
        self.latest_s = 0.0
        self.runs = self._opened()

    def _opened(self) -> LiveRuns:
        path = Path(self._folder.name) / "runs.sqlite"
        return LiveRuns(
            lambda: SqliteRunStore(path),
            lambda _text: SHEET,
            steady=lambda: self.passed,
            room=lambda: self.room,
            ticking=False,
        )

    @property
    def run(self) -> LiveRun:
        return self.runs.run(1)

    @initialize()
    def begin(self) -> None:
        begun = self.runs.begin(SHEET, TEXT).result(10)
        assert begun.id == 1

    def _sendable(self, rows: list[tuple[Any, Any, float | None]]) -> list[dict[str, Any]]:
        now = self.run.now_s()
        found = []
        for head, volume, at in rows:
            shifted = now + at if isinstance(at, float) else at
            found.append({"head_C": head, "distillate_mL": volume, "time_s": shifted})
        return found

    @precondition(lambda self: not self.ended)
    @rule(rows=_rows, origin=_origins)
    def send(self, rows: list[tuple[Any, Any, float | None]], origin: str) -> None:
        sendable, sequence = self._sendable(rows), len(self.sent)
        kept = self.run.send(sendable, origin, sequence).result(10).kept
        assert (kept.first, kept.again) == (len(self.expected) + 1, False)
        self.expected += [(origin, None)] * len(rows)
        assert kept.last == len(self.expected)
        self.sent.append((sendable, origin, sequence, kept.last))

    @precondition(lambda self: self.sent)
    @rule(data=st.data())
    def send_again(self, data: st.DataObject) -> None:
        rows, origin, sequence, last = data.draw(st.sampled_from(self.sent))
        kept = self.run.send(rows, origin, sequence).result(10).kept
        assert (kept.last, kept.again) == (last, True)

    @precondition(lambda self: self.expected and not self.ended)
    @rule(data=st.data(), head=_numbers)
    def correct(self, data: st.DataObject, head: Any) -> None:
        number = data.draw(st.integers(1, len(self.expected)))
        kept = self.run.send([{"head_C": head, "corrects": number}]).result(10).kept
        self.expected.append(("typed", number))
        assert kept.last == len(self.expected)

    @precondition(lambda self: not self.ended)
    @rule(count=st.integers(1, 3))
    def refuse(self, count: int) -> None:
        missing = {"head_C": 70, "corrects": len(self.expected) + 1 + count}
        with pytest.raises(BadInput):
            self.run.send([{"head_C": 70}, missing], "probe").result(10)
        with pytest.raises(BadInput):
            self.run.send([], "probe").result(10)

    @rule(text=st.text(min_size=1, max_size=5).filter(str.strip))
    def note(self, text: str) -> None:
        before = self.run.entries_stored
        self.entries = self.run.say("note", {"text": text}).result(10).last
        assert self.entries > before

    @precondition(lambda self: not self.ended)
    @rule(count=st.integers(1, 50))
    def drip(self, count: int) -> None:
        self.entries = self.run.say("drops", {"count": count, "over_s": 10}).result(10).last

    @rule(seconds=st.floats(0.0, 900.0))
    def wait(self, seconds: float) -> None:
        self.passed += seconds
        self.room += seconds

    @rule(hours=st.sampled_from([-1.0, 1.0, -400000.0]))
    def set_the_room_s_clock(self, hours: float) -> None:
        self.room += 3600.0 * hours
        self.runs.tick()

    @rule(away=st.floats(0.0, 900.0))
    def restart(self, away: float) -> None:
        self.latest_s = self.run.now_s()
        self.runs.close()
        self.wait(away)
        self.passed -= 500.0  # the steady clock of another boot
        self.runs = self._opened()

    @rule()
    def tick(self) -> None:
        self.runs.tick()

    @precondition(lambda self: len(self.expected) > 3)
    @rule()
    def end(self) -> None:
        self.run.end().result(10)
        self.ended = True
        with pytest.raises(BadInput, match="ended"):
            self.run.send([{"head_C": 70}]).result(10)
        with pytest.raises(BadInput, match="ended"):
            self.run.say("drops", {"count": 1, "over_s": 1})

    @invariant()
    def nothing_is_lost(self) -> None:
        if not self.runs.rows():
            return
        self.runs._writer.submit(lambda: None).result(10)  # what the server says by itself
        stored = self.run.readings()
        whole = self.run._reader.readings(1)
        assert [s.number for s in whole] == list(range(1, len(self.expected) + 1))
        assert [(s.reading.origin, s.reading.corrects) for s in whole] == self.expected
        assert [s.number for s in stored] == [s.number for s in whole]
        replaced = {corrects for _, corrects in self.expected if corrects}
        assert len(self.run.standing()) == len(self.expected) - len(replaced)
        assert self.run.readings_stored == len(self.expected)
        assert len(self.run.entries()) == self.run.entries_stored >= self.entries

    @invariant()
    def times_are_those_of_the_run(self) -> None:
        if not self.runs.rows() or self.ended:
            return
        now = self.run.now_s()
        assert now >= self.latest_s - 1.0  # the store dates the start by the real clock
        self.latest_s = now
        assert all(-3600.0 <= r.time_s <= now + 5.0 + 1e-6 for r in self.run.standing())

    def teardown(self) -> None:
        self.runs.close()
        self._folder.cleanup()
