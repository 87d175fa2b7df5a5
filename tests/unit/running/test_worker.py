"""The process that reckons: newest wins, and its failing, hanging or dying stops nobody."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from forerun.records.sqlite_store import SqliteRunStore
from forerun.running import worker as worker_file
from forerun.running.live import LiveRun
from forerun.running.live_runs import LiveRuns
from forerun.running.worker import Worker
from forerun.sheets.resolving import load
from unit.running.live_machine import SHEET, TEXT
from unit.running.reckoners import telling


@pytest.fixture
def runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[LiveRuns]:
    monkeypatch.setattr(worker_file, "_AFTER_FAILURE", 0.5)
    monkeypatch.setattr(worker_file, "_LONGEST", 20.0)
    with LiveRuns(lambda: SqliteRunStore(tmp_path / "runs.sqlite"), load, ticking=False) as found:
        yield found


@pytest.fixture
def worker(runs: LiveRuns) -> Iterator[Worker]:
    found = Worker(runs, telling)
    yield found
    found.close()


@pytest.fixture
def run(runs: LiveRuns, worker: Worker) -> LiveRun:
    assert worker.process_id is None  # none is begun before there is something to reckon
    return runs.begin(SHEET, TEXT).result(10)


def _until(run: LiveRun, fits: Callable[[dict[str, Any]], object]) -> dict[str, Any]:
    end = time.monotonic() + 30.0
    while time.monotonic() < end:
        if run.told.estimate is not None and fits(run.told.estimate):
            return run.told.estimate
        time.sleep(0.02)
    raise AssertionError(f"still {run.told.estimate}")


def test_what_is_typed_is_reckoned_at_once(runs: LiveRuns, run: LiveRun) -> None:
    assert _until(run, lambda e: e["state"] == "waiting")["title"] == "two liquids"
    run.send([{"head_C": 56.0}]).result(10)
    _until(run, lambda e: e["readings"] == 1)
    other = runs.begin(SHEET, TEXT).result(10)
    asked = time.monotonic()
    other.send([{"head_C": 56.0}, {"head_C": 57.0}]).result(10)
    _until(other, lambda e: e["readings"] == 2)
    assert time.monotonic() - asked < 5.0
    assert (run.told.instruction or {})["text"] == "hold"
    assert run.told.findings == ({"name": "none"},)


@pytest.mark.skipif(os.name == "nt", reason="a process is killed by a POSIX signal")
def test_a_killed_process_is_begun_again_and_told_everything(run: LiveRun, worker: Worker) -> None:
    run.send([{"head_C": 56.0}, {"head_C": 57.0}]).result(10)
    first = _until(run, lambda e: e.get("readings") == 2)["process"]
    assert first == worker.process_id
    os.kill(first, signal.SIGKILL)
    assert run.send([{"head_C": 58.0}]).result(10).kept.last == 3
    found = _until(run, lambda e: e.get("readings") == 3 and e["process"] != first)
    assert "problem" not in found


@pytest.mark.parametrize(
    ("asked", "says"),
    [("die", "was lost"), ("fail", "by nothing"), ("refuse", "did not finish")],
)
def test_what_goes_wrong_is_said_and_the_next_reading_is_reckoned(
    run: LiveRun, asked: str, says: str, capfd: pytest.CaptureFixture[str]
) -> None:
    run.send([{"head_C": 56.0, "remark": asked}]).result(10)
    assert says in _until(run, lambda e: "problem" in e)["says"]
    run.send([{"head_C": 57.0}]).result(10)
    _until(run, lambda e: e.get("readings") == 2)
    assert (asked == "fail") == ("ZeroDivisionError" in capfd.readouterr().err)


def test_one_that_hangs_is_ended_and_nobody_waits_for_it(
    runs: LiveRuns, run: LiveRun, monkeypatch: pytest.MonkeyPatch
) -> None:
    _until(run, lambda e: e["state"] == "waiting")
    monkeypatch.setattr(worker_file, "_LONGEST", 1.0)
    run.send([{"head_C": 56.0, "remark": "dawdle"}]).result(10)
    time.sleep(1.0)
    asked = time.monotonic()
    run.send([{"head_C": 57.0}]).result(10)
    assert time.monotonic() - asked < 0.5
    monkeypatch.setattr(worker_file, "_LONGEST", 20.0)
    _until(run, lambda e: e.get("readings") == 2)


def test_a_run_that_has_ended_is_forgotten(runs: LiveRuns, run: LiveRun) -> None:
    _until(run, lambda e: e["runs"] == [run.id])
    other = runs.begin(SHEET, TEXT).result(10)
    _until(other, lambda e: e["runs"] == [run.id, other.id])
    run.end().result(10)
    other.send([{"head_C": 56.0}]).result(10)
    assert _until(other, lambda e: e["readings"] == 1)["runs"] == [other.id]


def test_a_reckoner_that_needs_all_readings_gets_them(run: LiveRun) -> None:
    run.send([{"head_C": 56.0}, {"head_C": 57.0}]).result(10)
    _until(run, lambda e: e.get("readings") == 2)
    run.send([{"head_C": 58.0, "remark": "again"}]).result(10)
    assert "problem" not in _until(run, lambda e: e.get("readings") == 3)
