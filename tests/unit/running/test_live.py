"""The life of a run: stored before it is answered, taken up again, judged while it goes on."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from forerun.core.errors import BadInput, NotStored
from forerun.records.sqlite_store import SqliteRunStore
from forerun.running.live import LiveRun
from forerun.running.live_objects import run_object, summary_object
from forerun.running.live_runs import LiveRuns
from forerun.sheets.resolving import load
from unit.running.live_machine import SHEET, TEXT, RunLife

TestLife = RunLife.TestCase
TestLife.settings = settings(
    max_examples=30, stateful_step_count=30, deadline=None,
    suppress_health_check=list(HealthCheck), derandomize=True,
)  # fmt: skip


@pytest.fixture
def opened(tmp_path: Path) -> Callable[[], LiveRuns]:
    def make() -> LiveRuns:
        return LiveRuns(lambda: SqliteRunStore(tmp_path / "runs.sqlite"), load, ticking=False)

    return make


@pytest.fixture
def runs(opened: Callable[[], LiveRuns]) -> Iterator[LiveRuns]:
    with opened() as found:
        yield found


@pytest.fixture
def run(runs: LiveRuns) -> LiveRun:
    return runs.begin(SHEET, TEXT, "bench 1").result(10)


def test_a_run_is_taken_up_where_it_was(opened: Callable[[], LiveRuns]) -> None:
    with opened() as before:
        run = before.begin(SHEET, TEXT).result(10)
        run.send([{"head_C": 56.0, "bath_C": 260.0}]).result(10)
        before.tick()
        alarm = run.alarms[0]
        run.say("alarm_heard", {"alarm": alarm.id}).result(10)
    with opened() as after:
        (again,) = after.going()
        assert (again.code, again.title) == (run.code, "two liquids")
        assert again.now_s() >= run.last_reading_s
        kinds = [entry.kind for entry in after._reader.entries(again.id)]
        after.tick()
        assert again.alarms[0].gate == "bath"
    assert kinds[0] == "alarm_heard"


def test_being_away_is_said_in_the_log(opened: Callable[[], LiveRuns]) -> None:
    with opened() as before:
        before.begin(SHEET, TEXT).result(10).send([{"head_C": 56.0}]).result(10)
    with opened() as after:
        (again,) = after.going()
        again.say("note", {"text": "back"}).result(10)
        clock, _ = again.entries()
    assert (clock.kind, clock.data["why"]) == ("clock", "resumed")
    assert clock.data["by_s"] >= 0.0


def test_many_runs_at_once_keep_to_themselves(runs: LiveRuns) -> None:
    begun = [runs.begin(SHEET, TEXT).result(10) for _ in range(8)]
    problems: list[BaseException] = []

    def bench(run: LiveRun) -> None:
        try:
            for k in range(25):
                found = run.send([{"head_C": 50 + k}], "probe", k).result(10)
                assert found.kept.last == k + 1
        except BaseException as problem:
            problems.append(problem)

    threads = [threading.Thread(target=bench, args=(run,)) for run in begun]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert problems == []
    assert [run.readings_stored for run in begun] == [25] * 8
    assert len({run.code for run in begun}) == 8


def test_whoever_watches_is_called(run: LiveRun) -> None:
    calls: list[int] = []
    leave = run.watch(lambda: calls.append(1))
    run.send([{"head_C": 56.0}]).result(10)
    run.say("note", {"text": "x"}).result(10)
    run.tell({"state": "waiting"}, None, [])
    assert len(calls) == 3
    leave()
    run.send([{"head_C": 57.0}]).result(10)
    assert len(calls) == 3


def test_a_full_disk_is_an_alarm_and_the_run_goes_on(runs: LiveRuns, run: LiveRun) -> None:
    run.send([{"head_C": 56.0}]).result(10)
    database = runs._store._db  # type: ignore[attr-defined]
    (pages,) = database.execute("PRAGMA page_count").fetchone()
    database.execute(f"PRAGMA max_page_count={pages}")
    many = [{"head_C": 57.0, "remark": "x" * 1000} for _ in range(200)]
    with pytest.raises(NotStored, match="full"):
        run.send(many, "probe", 1).result(10)
    runs.tick()
    assert run.alarms[0].gate == "storage"
    assert run.readings_stored == 1
    database.execute(f"PRAGMA max_page_count={pages + 1000}")
    assert run.send(many, "probe", 1).result(10).kept.last == 201
    runs.tick()
    assert run.alarms == ()


def test_a_run_that_was_not_live_is_refused(runs: LiveRuns) -> None:
    number = runs._store.start_run(TEXT)
    with pytest.raises(BadInput, match="begun live"):
        runs.run(number)
    assert [row.id for row in runs.rows()] == []


def test_a_sheet_that_cannot_be_read_any_more_still_shows_its_readings(
    opened: Callable[[], LiveRuns],
) -> None:
    with opened() as before:
        number = before._store.start_run("charge = 7", "odd", live=True)
    with opened() as after:
        run = after.run(number)
        run.send([{"head_C": 56.0, "bath_C": 300.0}]).result(10)
        after.tick()
        shown = run_object(run)
        assert (shown["sheet"], shown["alarms"]) == (None, [])
        assert shown["not_judged"]["bath"]
        assert summary_object(run)["residue_m3"] is None


def test_one_line_for_the_wall(runs: LiveRuns, run: LiveRun) -> None:
    assert summary_object(run)["state"] == "waiting"
    run.send([{"head_C": 56.0, "distillate_mL": 75}]).result(10)
    runs.tick()
    line = summary_object(run)
    assert (line["state"], line["alarm"]["gate"]) == ("near_dry", "dryness")
    assert line["residue_m3"] == pytest.approx(80e-6 - 75e-6 - SHEET.rig.holdup_m3.value)
    run.tell({"residue_m3": [1e-6, 2e-6, 3e-6]}, {"text": "stop now"}, [{"name": "flooding"}])
    line = summary_object(run)
    assert (line["residue_m3"], line["instruction"]) == (2e-6, "stop now")
    run.end().result(10)
    assert summary_object(run)["state"] == "ended"


def test_a_bench_that_reads_no_amounts_drips_by_its_estimate(run: LiveRun) -> None:
    run.send([{"head_C": 56.0}]).result(10)
    assert summary_object(run)["state"] == "heating"
    run.tell({"rate_m3_s": [1e-8, 2e-8, 3e-8]}, None, ())
    line = summary_object(run)
    assert (line["state"], line["rate_m3_s"]) == ("dripping", None)
    run.tell({"rate_m3_s": [0.0, 0.0, 1e-9]}, None, ())
    assert summary_object(run)["state"] == "heating"


def test_alarms_that_cannot_be_judged_are_said(
    runs: LiveRuns,
    run: LiveRun,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def fails() -> None:
        raise ZeroDivisionError

    other = runs.begin(SHEET, TEXT).result(10)
    other.send([{"bath_C": 260.0}]).result(10)
    monkeypatch.setattr(run, "tick", fails)
    runs.tick()
    assert run.alarms[0].gate == "judging"
    assert other.alarms[0].gate == "bath"
    assert "ZeroDivisionError" in capsys.readouterr().err


def test_the_file_is_whole_after_closing(opened: Callable[[], LiveRuns], tmp_path: Path) -> None:
    with opened() as runs:
        run = runs.begin(SHEET, TEXT).result(10)
        asked = [run.send([{"head_C": 56.0 + k}]) for k in range(50)]
    assert all(one.done() for one in asked)
    raw = sqlite3.connect(tmp_path / "runs.sqlite")
    assert raw.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert raw.execute("SELECT count(*) FROM reading").fetchone() == (50,)
    raw.close()
