"""One suite for every store of runs: a new one joins by a line in `STORES`."""

from __future__ import annotations

import math
import os
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from contract.postgres_server import server
from forerun.core.errors import BadInput, NotStored
from forerun.records.interface import Kept, RunStore, Sent
from forerun.records.library import open_store
from forerun.records.postgres_store import PostgresRunStore
from forerun.records.readings import Reading
from forerun.records.sqlite_store import SqliteRunStore
from forerun.records.writing import GroupWriter


def _of_the_lab(folder: Path) -> RunStore:
    address = folder / "address"
    if not address.exists():
        address.write_text(server().new_database(), encoding="utf-8")
    return PostgresRunStore(address.read_text(encoding="utf-8"))


STORES: dict[str, Callable[[Path], RunStore]] = {
    "sqlite": lambda folder: SqliteRunStore(folder / "runs.sqlite"),
    "of the user": open_store,
    "postgresql": _of_the_lab,
}


@pytest.fixture(params=STORES)
def opened(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[[], RunStore]:
    """Return what opens the same store again and again."""
    make = STORES[request.param]
    return lambda: make(tmp_path)


@pytest.fixture
def store(opened: Callable[[], RunStore]) -> Iterator[RunStore]:
    found = opened()
    yield found
    found.close()


def _log(*times: float) -> list[Reading]:
    return [Reading(t, head_K=300.0 + t, remark=f"at {t}") for t in times]


def test_runs_are_numbered(store: RunStore) -> None:
    assert store.runs() == ()
    assert [store.start_run("a", "first"), store.start_run("b", "second")] == [1, 2]
    assert [(r.id, r.title, r.sheet, r.ended_utc_s) for r in store.runs()] == [
        (1, "first", "a", None),
        (2, "second", "b", None),
    ]


def test_a_run_is_closed_once(store: RunStore) -> None:
    run = store.start_run("a")
    store.end_run(run)
    first = store.run(run).ended_utc_s
    store.end_run(run)
    assert first is not None
    assert store.run(run).ended_utc_s == first


def test_readings_come_back_as_they_went_in(store: RunStore) -> None:
    run = store.start_run("a")
    given = Reading(
        12.5, 351.25, math.nan, 400.0, 101325.0, 1.25e-6, math.nan, "cloudy · trüb", "typed",
        ("jump",), "raw;line", 1.7e9,
    )  # fmt: skip
    assert store.append(run, [given]) == 1
    (stored,) = store.readings(run)
    assert stored.number == 1
    assert repr(stored.reading) == repr(given)  # not-a-number is not equal to itself


def test_numbers_have_no_gaps_and_continue(store: RunStore) -> None:
    run, other = store.start_run("a"), store.start_run("b")
    assert store.append(run, _log(0, 1, 2)) == 3
    assert store.append(other, _log(5)) == 1
    assert store.append(run, []) == 3
    assert store.append(run, _log(3)) == 4
    assert [s.number for s in store.readings(run, after=2)] == [3, 4]
    assert store.run(run).readings == 4


def test_all_or_nothing(store: RunStore) -> None:
    run = store.start_run("a")
    store.append(run, _log(0))
    with pytest.raises(BadInput):
        store.append(run, [*_log(1, 2), Reading(3.0, corrects=99)])
    assert len(store.readings(run)) == 1


def test_a_correction_is_a_new_row(store: RunStore) -> None:
    run = store.start_run("a")
    store.append(run, _log(0, 1))
    store.append(run, [Reading(1.0, head_K=350.0, corrects=2)])
    assert [s.number for s in store.readings(run)] == [1, 2, 3]
    assert [s.number for s in store.readings(run, corrected=True)] == [1, 3]


def test_a_row_cannot_replace_itself_or_a_later_one(store: RunStore) -> None:
    run = store.start_run("a")
    store.append(run, _log(0))
    for number in (2, 3):
        with pytest.raises(BadInput, match="earlier"):
            store.append(run, [Reading(1.0, corrects=number)])
        with pytest.raises(BadInput, match="earlier"):
            store.add(run, "note", {}, corrects=number - 1)
    assert store.run(run).readings == 1


def test_entries(store: RunStore) -> None:
    run = store.start_run("a")
    assert store.add(run, "cut", {"number": 1, "mass_kg": 0.03}) == 1
    assert store.add(run, "note", {"text": "cloudy"}) == 2
    assert store.add(run, "cut", {"number": 1, "mass_kg": 0.031}, corrects=1) == 3
    assert [e.number for e in store.entries(run, "cut")] == [1, 3]
    (cut,) = store.entries(run, "cut", corrected=True)
    assert (cut.data["mass_kg"], cut.corrects) == (0.031, 1)
    assert [e.kind for e in store.entries(run, after=1)] == ["note", "cut"]
    with pytest.raises(BadInput):
        store.add(run, "note", {"value": math.nan})
    with pytest.raises(BadInput):
        store.add(run, "note", {}, corrects=17)


def test_passports_are_kept_in_order(store: RunStore) -> None:
    run = store.start_run("a")
    assert store.passports("my Vigreux") == ()
    store.keep_passport("my Vigreux", {"plates": 3.1}, run)
    store.keep_passport(" my Vigreux ", {"plates": 3.3})
    store.keep_passport("helices", {"plates": 9.0})
    assert [e.data["plates"] for e in store.passports("my Vigreux")] == [3.1, 3.3]
    assert store.passport_names() == ("helices", "my Vigreux")
    with pytest.raises(BadInput):
        store.keep_passport(" ", {})


@pytest.mark.parametrize("call", ["append", "readings", "end_run", "run", "add", "entries"])
def test_an_unknown_run_is_refused(store: RunStore, call: str) -> None:
    extra = {"append": ([],), "add": ("note", {})}.get(call, ())
    with pytest.raises(BadInput, match="run"):
        getattr(store, call)(7, *extra)


def test_what_was_acknowledged_is_there_after_reopening(opened: Callable[[], RunStore]) -> None:
    first = opened()
    run = first.start_run("a", "kept")
    first.append(run, _log(0, 1))
    first.close()
    again = opened()
    assert again.run(run).title == "kept"
    assert again.append(run, _log(2)) == 3
    again.close()


def test_two_openings_see_each_other(opened: Callable[[], RunStore]) -> None:
    first, second = opened(), opened()
    run = first.start_run("a")
    assert first.append(run, _log(0)) == 1
    assert second.append(run, _log(1)) == 2
    assert [s.number for s in first.readings(run)] == [1, 2]
    first.close()
    second.close()


def test_many_threads_leave_no_gap(store: RunStore) -> None:
    run = store.start_run("a")
    acknowledged: list[int] = []

    def write(k: int) -> None:
        for n in range(10):
            acknowledged.append(store.append(run, _log(k + n / 100)))

    threads = [threading.Thread(target=write, args=(k,)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(acknowledged) == list(range(1, 41))
    assert [s.number for s in store.readings(run)] == list(range(1, 41))


def test_a_live_run_has_a_code_of_its_own(store: RunStore) -> None:
    assert store.run(store.start_run("a")).code == ""
    runs = [store.run(store.start_run("a", live=True, pace=10.0)) for _ in range(20)]
    assert len({run.code for run in runs}) == 20
    assert all(len(run.code) == 6 and run.pace == 10.0 for run in runs)
    assert store.joined(f" {runs[3].code.lower()} ") == runs[3].id
    with pytest.raises(BadInput, match="code"):
        store.joined("nobody")


def test_what_is_sent_again_is_stored_once(store: RunStore) -> None:
    run = store.start_run("a")
    first = Sent("bench 3", "17", "of two readings")
    assert store.append_once(run, _log(0, 1), first) == Kept(1, 2)
    store.append(run, _log(2))
    assert store.append_once(run, _log(0, 1), first) == Kept(1, 2, again=True)
    assert store.append_once(run, _log(0), Sent("bench 4", "17")) == Kept(4, 4)
    assert store.add_once(run, "note", {}, sent=Sent("bench 3", "18")) == Kept(1, 1)
    assert store.add_once(run, "note", {}, sent=Sent("bench 3", "18")).again
    with pytest.raises(BadInput, match="sequence"):
        store.append_once(run, _log(7), Sent("bench 3", "17", "of something else"))
    assert store.run(run).readings == 4


def test_no_reading_after_the_end(store: RunStore) -> None:
    run, sent = store.start_run("a"), Sent("bench", "1")
    store.append_once(run, _log(0), sent)
    store.end_run(run)
    with pytest.raises(BadInput, match="ended"):
        store.append(run, _log(1))
    assert store.append_once(run, _log(0), sent) == Kept(1, 1, again=True)
    assert store.add(run, "assay", {"mass_kg": 0.03}) == 1


def test_acts_go_to_disk_together_and_fail_alone(store: RunStore) -> None:
    run = store.start_run("a")
    good, bad, last = store.together([
        lambda: store.append(run, _log(0)),
        lambda: store.append(run, [*_log(1), Reading(2.0, corrects=99)]),
        lambda: store.append(run, _log(3)),
    ])  # fmt: skip
    assert (good.value, last.value) == (1, 2)
    assert isinstance(bad.problem, BadInput)
    assert [s.reading.time_s for s in store.readings(run)] == [0, 3]


def test_one_writer_answers_many_in_few_commits(store: RunStore) -> None:
    run, groups = store.start_run("a"), []

    class Counting:
        def __getattr__(self, name: str) -> object:
            return getattr(store, name)

        def together(self, acts: list[Callable[[], object]]) -> object:
            groups.append(len(acts))
            return store.together(acts)

    seen: list[int] = []
    writer = GroupWriter(Counting())  # type: ignore[arg-type]
    told = [
        writer.submit(lambda n=n: store.append(run, _log(n)), seen.append)  # type: ignore[misc]
        for n in range(200)
    ]
    refused = writer.submit(lambda: store.append(99, _log(0)))
    assert [one.result(10) for one in told] == list(range(1, 201)) == seen
    with pytest.raises(BadInput):
        refused.result(10)
    writer.close()
    assert sum(groups) == 201
    assert len(groups) < 100


_WRITER = """
import sys
from pathlib import Path
from forerun.records.readings import Reading
from forerun.records.sqlite_store import SqliteRunStore
store = SqliteRunStore(Path(sys.argv[1]) / "runs.sqlite")
run = store.start_run("a")
for n in range(100000):
    print(store.append(run, [Reading(float(n))]), flush=True)
"""


@pytest.mark.skipif(os.name == "nt", reason="a process is killed by a POSIX signal")
def test_nothing_acknowledged_is_lost_when_the_process_is_killed(tmp_path: Path) -> None:
    surroundings = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2] / "src")}
    for _ in range(5):
        writer = subprocess.Popen(
            [sys.executable, "-c", _WRITER, str(tmp_path)], stdout=subprocess.PIPE, env=surroundings
        )
        assert writer.stdout
        seen = [writer.stdout.readline() for _ in range(25)]
        writer.send_signal(signal.SIGKILL)
        seen += writer.stdout.read().splitlines(keepends=True)
        writer.wait()
        writer.stdout.close()
        last = max(int(line) for line in seen if line.endswith(b"\n"))
        with SqliteRunStore(tmp_path / "runs.sqlite") as store:
            run = store.runs()[-1].id
            numbers = [s.number for s in store.readings(run)]
            assert numbers == list(range(1, len(numbers) + 1))
            assert len(numbers) >= last


def test_the_file_itself_refuses_changes(tmp_path: Path) -> None:
    with SqliteRunStore(tmp_path / "runs.sqlite") as store:
        run = store.start_run("a", live=True)
        store.append_once(run, _log(0), Sent("bench", "1"))
        store.add(run, "note", {})
        store.keep_passport("x", {})
        store.end_run(run)
    raw = sqlite3.connect(tmp_path / "runs.sqlite", isolation_level=None)
    for table in ("run", "ending", "reading", "entry", "passport", "live", "receipt"):
        column = raw.execute(f"SELECT name FROM pragma_table_info('{table}')").fetchone()[0]
        for statement in (f"DELETE FROM {table}", f"UPDATE {table} SET {column} = {column}"):
            with pytest.raises(sqlite3.IntegrityError, match="never changed"):
                raw.execute(statement)
    raw.close()


def test_a_file_of_the_first_version_is_brought_up_to_date(tmp_path: Path) -> None:
    old = sqlite3.connect(tmp_path / "runs.sqlite")
    old.executescript((Path(__file__).parent / "files" / "runs_version_1.sql").read_text("utf-8"))
    old.close()
    with SqliteRunStore(tmp_path / "runs.sqlite") as store:
        closed, going = store.runs()
        assert (closed.title, closed.readings, closed.code, closed.pace) == ("an old run", 3, "", 1)
        assert going.ended_utc_s is None
        stored = store.readings(closed.id, corrected=True)
        assert [(s.number, s.reading.head_K) for s in stored] == [(1, 300.0), (3, 302.0)]
        assert store.entries(closed.id)[0].data == {"text": "kept"}
        assert store.passports("my Vigreux")[0].data == {"plates": 3.1}
        assert store.append_once(going.id, _log(0), Sent("bench", "1")) == Kept(1, 1)
        assert store.run(store.start_run("b", live=True)).code
    raw = sqlite3.connect(tmp_path / "runs.sqlite")
    assert raw.execute("PRAGMA user_version").fetchone() == (2,)
    assert raw.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    raw.close()


def test_a_full_disk_refuses_and_goes_on(tmp_path: Path) -> None:
    with SqliteRunStore(tmp_path / "runs.sqlite") as store:
        run = store.start_run("a")
        store.append(run, _log(0))
        (pages,) = store._db.execute("PRAGMA page_count").fetchone()
        store._db.execute(f"PRAGMA max_page_count={pages}")
        with pytest.raises(NotStored, match="full"):
            store.append(run, [Reading(float(n), remark="x" * 1000) for n in range(200)])
        assert [s.reading.time_s for s in store.readings(run)] == [0]
        store._db.execute(f"PRAGMA max_page_count={pages + 1000}")
        assert store.append(run, _log(2)) == 2


def test_it_waits_for_the_disk(tmp_path: Path) -> None:
    with SqliteRunStore(tmp_path / "runs.sqlite") as store:
        connection = store._db
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert connection.execute("PRAGMA synchronous").fetchone() == (2,)


def test_a_newer_or_foreign_file_is_refused(tmp_path: Path) -> None:
    newer = sqlite3.connect(tmp_path / "newer.sqlite")
    newer.execute("PRAGMA user_version=99")
    newer.close()
    with pytest.raises(BadInput, match="99"):
        SqliteRunStore(tmp_path / "newer.sqlite")
    (tmp_path / "text.sqlite").write_text("not a database, but long enough to be looked at" * 40)
    with pytest.raises(BadInput, match="a file of runs"):
        SqliteRunStore(tmp_path / "text.sqlite")


def test_an_ended_run_is_erased_for_good_and_no_other(store: RunStore) -> None:
    sheet = "# Anna's sheet"
    gone, stays = (store.start_run(sheet, "Anna", live=True) for _ in range(2))
    code = store.run(gone).code
    for run in (gone, stays):
        store.append_once(run, _log(0.0, 10.0), Sent("a tablet", "1", "d"))
        store.add(run, "note", {"text": "Anna's note"})
        store.add(run, "note", {"text": "again"}, corrects=1)
    store.keep_passport("my Vigreux", {"plates": {"value": 3.0}}, gone)
    with pytest.raises(BadInput, match="has ended"):
        store.erase(gone)
    store.end_run(gone)
    assert store.erase(gone) == 6  # receipt, code, two notes, two readings
    store.scrub()
    row = store.run(gone)
    assert (row.title, row.sheet, row.code, row.readings) == ("", "", "", 0)
    assert store.readings(gone) == ()
    assert [(e.kind, dict(e.data)) for e in store.entries(gone)] == [("erased", {"rows": 6})]
    with pytest.raises(BadInput):
        store.joined(code)
    assert len(store.passports("my Vigreux")) == 1
    assert len(store.readings(stays)) == 2
    assert len(store.entries(stays)) == 2
    assert store.start_run(sheet) == stays + 1


def test_why_a_run_was_erased_stays_with_its_number(store: RunStore) -> None:
    run = store.start_run("sheet")
    store.end_run(run)
    with pytest.raises(BadInput, match="200 letters"):
        store.erase(run, "x" * 201)
    assert store.run(run).sheet == "sheet"
    store.erase(run, "  asked for\nby the bench ")
    (entry,) = store.entries(run)
    assert dict(entry.data) == {"rows": 0, "reason": "asked for by the bench"}


def test_after_an_erasure_rows_are_as_unchangeable_as_before(store: RunStore) -> None:
    run, other = store.start_run("sheet"), store.start_run("sheet")
    for number in (run, other):
        store.append(number, _log(0.0))
    store.end_run(run)
    store.erase(run)
    writer: Any = store
    for statement in ("DELETE FROM reading", "DELETE FROM entry", "UPDATE run SET title = 'x'"):
        with pytest.raises(NotStored), writer._writing():
            writer._do(statement, ())
    assert len(store.readings(other)) == 1


def test_an_erasure_that_fails_midway_leaves_everything(
    store: RunStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = store.start_run("sheet", "title")
    store.append(run, _log(0.0, 10.0))
    store.end_run(run)

    def broken(*_: object) -> int:
        raise RuntimeError("midway")

    monkeypatch.setattr(store, "add", broken)
    with pytest.raises(RuntimeError, match="midway"):
        store.erase(run)
    monkeypatch.undo()
    assert store.run(run).title == "title"
    assert len(store.readings(run)) == 2
    writer: Any = store
    with pytest.raises(NotStored), writer._writing():
        writer._do("DELETE FROM reading", ())


def test_what_was_erased_is_gone_from_the_file(tmp_path: Path) -> None:
    path = tmp_path / "runs.sqlite"
    word = "Annemarie-wrote-this"
    with SqliteRunStore(path) as store:
        run = store.start_run("sheet", word)
        store.append(run, [Reading(float(k), head_K=300.0, remark=word) for k in range(200)])
        store.end_run(run)
        with closing(sqlite3.connect(path, isolation_level=None)) as reader:
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM run").fetchall()  # it keeps the log until it ends
            store.erase(run)
            store._db.execute("PRAGMA busy_timeout=50")  # ten seconds otherwise
            assert not store.scrub()
        assert store.scrub()
        held = b"".join(p.read_bytes() for p in tmp_path.iterdir())
    assert word.encode() not in held
