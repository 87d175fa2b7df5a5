"""`forerun erase` killed at every statement that it makes: all is there, or all is gone."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from forerun.core.errors import NotStored
from forerun.records.readings import Reading
from forerun.records.sqlite_store import SqliteRunStore

ROOT = Path(__file__).resolve().parents[2]
WORD = "Annemarie-wrote-this"
KILLED = """
import os, signal, sqlite3, sys
last, seen, plain = int(sys.argv[1]), 0, sqlite3.connect
def counted(statement):
    global seen
    seen += 1
    if seen == last:
        os.kill(os.getpid(), signal.SIGKILL)
def connect(*words, **named):
    found = plain(*words, **named)
    found.set_trace_callback(counted)
    return found
sqlite3.connect = connect
from forerun.app.cli import main
code = main(["erase", "1", "--yes", "--json"])
print(seen, file=sys.stderr)
sys.exit(code)
"""


def _made(folder: Path) -> Path:
    folder.mkdir()
    with SqliteRunStore(folder / "runs.sqlite") as store:
        for title in (WORD, "another"):
            run = store.start_run("a sheet", title, live=True)
            store.append(run, [Reading(float(k), head_K=300.0, remark=title) for k in range(60)])
            store.add(run, "note", {"text": title})
            store.end_run(run)
    return folder


def _erase(folder: Path, last: int) -> tuple[int, str]:
    """Erase the first run, killed at that statement; 0 for never."""
    surroundings = {**os.environ, "FORERUN_DATA": str(folder), "PYTHONPATH": str(ROOT / "src")}
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(last)],
        env=surroundings, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    return done.returncode, done.stderr


def _is_gone(folder: Path) -> bool:
    """Return whether the run is gone, after everything that has to hold either way."""
    with SqliteRunStore(folder / "runs.sqlite") as store:
        row, kinds = store.run(1), [entry.kind for entry in store.entries(1)]
        gone = kinds == ["erased"]
        whole = (row.title, row.sheet, row.readings) == (WORD, "a sheet", 60)
        empty = (row.title, row.sheet, row.readings, row.code) == ("", "", 0, "")
        assert empty if gone else whole and row.code and kinds == ["note"]
        assert store.run(2).readings == 60
        writer: Any = store
        for statement in ("DELETE FROM reading", "DELETE FROM entry", "UPDATE run SET title = 'x'"):
            with pytest.raises(NotStored), writer._writing():
                writer._do(statement, ())
        store.scrub()
    if gone:
        held = b"".join(path.read_bytes() for path in folder.iterdir())
        assert WORD.encode() not in held
    return gone


def test_killed_at_any_statement_all_is_there_or_all_is_gone(tmp_path: Path) -> None:
    code, said = _erase(_made(tmp_path / "whole"), 0)
    assert code == 0, said
    count = int(said.split()[-1])
    assert count > 20  # triggers away, four tables, a blank sheet, an entry, triggers back
    assert _is_gone(tmp_path / "whole")
    found = []
    for last in range(1, count + 1):
        folder = _made(tmp_path / str(last))
        code, said = _erase(folder, last)
        assert code == -signal.SIGKILL, said
        found.append(_is_gone(folder))
        if not found[-1]:
            assert _erase(folder, 0)[0] == 0  # and it can be done again
            assert _is_gone(folder)
    assert found == sorted(found)  # once gone, gone
    assert found[0] is False
    assert found[-1] is True
