"""Runs in one SQLite file: write-ahead log, every commit synchronised, one writer at a time.

An acknowledged row survives a kill of the process and a loss of power.  Triggers refuse to change
or delete rows, so that whatever else opens the file keeps to it too.
"""

from __future__ import annotations

import json
import math
import sqlite3
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from forerun.core.errors import BadInput
from forerun.records.interface import Entry, RunRow, StoredReading
from forerun.records.readings import CHANNELS, Reading

__all__ = ["SCHEMA_VERSION", "SqliteRunStore"]

SCHEMA_VERSION = 1
_PATIENCE = 10.0  # s that a writer waits for another
_NUMBERS = ("time_s", *CHANNELS, "utc_s")
_COLUMNS = (*_NUMBERS, "remark", "origin", "flags", "raw", "corrects")
_TABLES = ("run", "ending", "reading", "entry", "passport")

_SCHEMA = f"""
CREATE TABLE run (
  id INTEGER PRIMARY KEY, title TEXT NOT NULL, sheet TEXT NOT NULL, started_utc_s REAL NOT NULL
) STRICT;
CREATE TABLE ending (
  run_id INTEGER PRIMARY KEY REFERENCES run(id), ended_utc_s REAL NOT NULL
) STRICT;
CREATE TABLE reading (
  run_id INTEGER NOT NULL REFERENCES run(id), number INTEGER NOT NULL,
  stored_utc_s REAL NOT NULL,
  {", ".join(f"{name} REAL" for name in _NUMBERS)},
  remark TEXT NOT NULL, origin TEXT NOT NULL, flags TEXT NOT NULL, raw TEXT NOT NULL,
  corrects INTEGER,
  PRIMARY KEY (run_id, number),
  FOREIGN KEY (run_id, corrects) REFERENCES reading(run_id, number)
) STRICT, WITHOUT ROWID;
CREATE TABLE entry (
  run_id INTEGER NOT NULL REFERENCES run(id), number INTEGER NOT NULL, kind TEXT NOT NULL,
  data TEXT NOT NULL, stored_utc_s REAL NOT NULL, corrects INTEGER,
  PRIMARY KEY (run_id, number),
  FOREIGN KEY (run_id, corrects) REFERENCES entry(run_id, number)
) STRICT, WITHOUT ROWID;
CREATE TABLE passport (
  id INTEGER PRIMARY KEY, name TEXT NOT NULL, data TEXT NOT NULL,
  run_id INTEGER REFERENCES run(id), stored_utc_s REAL NOT NULL
) STRICT;
CREATE INDEX passport_of_item ON passport(name, id);
""" + "".join(
    f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
    "BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;\n"
    for table in _TABLES
    for act in ("UPDATE", "DELETE")
)


class SqliteRunStore:
    """A store of runs in one file.

    Args:
        path: of the file; made when it is not there.

    Raises:
        BadInput: the file cannot be opened, or was written by a newer version.
    """

    def __init__(self, path: str | Path) -> None:
        self._path = str(path)
        self._lock = threading.RLock()
        try:
            self._db = sqlite3.connect(
                self._path, timeout=_PATIENCE, isolation_level=None, check_same_thread=False
            )
            self._db.execute("PRAGMA journal_mode=WAL")
            self._db.execute("PRAGMA synchronous=FULL")
            self._db.execute("PRAGMA foreign_keys=ON")
            self._prepare()
        except sqlite3.Error as problem:
            raise BadInput("store", self._path, f"a file of runs ({problem})") from problem

    def _prepare(self) -> None:
        with self._writing():
            (version,) = self._db.execute("PRAGMA user_version").fetchone()
            if version > SCHEMA_VERSION:
                accepted = f"a file of runs of version {SCHEMA_VERSION} (this one: {version})"
                raise BadInput("store", self._path, accepted)
            if version == 0:
                for statement in _statements(_SCHEMA):
                    self._db.execute(statement)
                self._db.execute(f"PRAGMA user_version={SCHEMA_VERSION}")

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """Hold the only pen; what was written is on disk when it is put down."""
        with self._lock:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                self._db.execute("ROLLBACK")
                raise
            self._db.execute("COMMIT")

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
        """Let go of the file."""
        with self._lock:
            self._db.close()

    def start_run(self, sheet: str, title: str = "") -> int:
        """Open a run and return its number."""
        with self._writing():
            done = self._db.execute(
                "INSERT INTO run (title, sheet, started_utc_s) VALUES (?, ?, ?)",
                (title, sheet, time.time()),
            )
            return int(done.lastrowid or 0)

    def end_run(self, run_id: int) -> None:
        """Close a run; closing it twice changes nothing."""
        with self._writing():
            self._must_have(run_id)
            self._db.execute("INSERT OR IGNORE INTO ending VALUES (?, ?)", (run_id, time.time()))

    def runs(self) -> tuple[RunRow, ...]:
        """Return all runs, the oldest first."""
        return self._runs("", ())

    def run(self, run_id: int) -> RunRow:
        """Return one run.

        Raises:
            BadInput: no such run.
        """
        found = self._runs("WHERE run.id = ?", (run_id,))
        if not found:
            raise self._unknown(run_id)
        return found[0]

    def _runs(self, where: str, values: Sequence[object]) -> tuple[RunRow, ...]:
        rows = self._all(
            "SELECT id, title, sheet, started_utc_s, ended_utc_s, (SELECT count(*) FROM reading "
            f"WHERE run_id = run.id) FROM run LEFT JOIN ending ON run_id = run.id {where} "
            "ORDER BY id",
            values,
        )
        return tuple(RunRow(*row) for row in rows)

    def append(self, run_id: int, readings: Sequence[Reading]) -> int:
        """Add readings, all of them or none.

        Args:
            run_id: number of the run.
            readings: in the order in which they came.

        Returns:
            The number of the last stored one, after it is on disk; with nothing to add, that of
            the last one so far, 0 for none.

        Raises:
            BadInput: no such run, or a correction of a reading that is not there.
        """
        with self._writing():
            self._must_have(run_id)
            last = self._last("reading", run_id)
            moment = time.time()
            names = ("run_id", "number", "stored_utc_s", *_COLUMNS)
            marks = ", ".join("?" * len(names))
            for number, reading in enumerate(readings, last + 1):
                self._insert(
                    f"INSERT INTO reading ({', '.join(names)}) VALUES ({marks})",
                    (run_id, number, moment, *_cells(reading)),
                    reading.corrects,
                )
            return last + len(readings)

    def readings(
        self, run_id: int, after: int = 0, *, corrected: bool = False
    ) -> tuple[StoredReading, ...]:
        """Return readings in the order in which they came.

        Args:
            run_id: number of the run.
            after: only those with a higher number.
            corrected: leave out those that a later one replaces.
        """
        rows = self._all(
            f"SELECT number, stored_utc_s, {', '.join(_COLUMNS)} FROM reading "
            "WHERE run_id = ? AND number > ? ORDER BY number",
            (run_id, after),
        )
        found = tuple(StoredReading(row[0], _reading(row[2:]), row[1]) for row in rows)
        if not found:
            self._must_have(run_id)
        if not corrected:
            return found
        replaced = self._replaced("reading", run_id)
        return tuple(stored for stored in found if stored.number not in replaced)

    def add(
        self, run_id: int, kind: str, data: Mapping[str, Any], corrects: int | None = None
    ) -> int:
        """Add an entry and return its number, after it is on disk.

        Raises:
            BadInput: no such run, data that JSON cannot hold, or a correction of nothing.
        """
        text = _as_json(data)
        with self._writing():
            self._must_have(run_id)
            number = self._last("entry", run_id) + 1
            values = (run_id, number, kind, text, time.time(), corrects)
            self._insert("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?)", values, corrects)
            return number

    def entries(
        self, run_id: int, kind: str | None = None, after: int = 0, *, corrected: bool = False
    ) -> tuple[Entry, ...]:
        """Return entries in the order in which they came.

        Args:
            run_id: number of the run.
            kind: only those of this kind; None for all.
            after: only those with a higher number.
            corrected: leave out those that a later one replaces.
        """
        rows = self._all(
            "SELECT number, kind, data, stored_utc_s, corrects FROM entry "
            "WHERE run_id = ? AND number > ? AND (? IS NULL OR kind = ?) ORDER BY number",
            (run_id, after, kind, kind),
        )
        found = tuple(Entry(r[0], r[1], json.loads(r[2]), r[3], r[4]) for r in rows)
        if not found:
            self._must_have(run_id)
        if not corrected:
            return found
        replaced = self._replaced("entry", run_id)
        return tuple(entry for entry in found if entry.number not in replaced)

    def keep_passport(self, name: str, data: Mapping[str, Any], run_id: int | None = None) -> int:
        """Add a measured state of a physical item and return its number.

        Raises:
            BadInput: an empty name, data that JSON cannot hold, or no such run.
        """
        if not name.strip():
            raise BadInput("name", name, 'the name of an item, such as "my Vigreux"')
        text = _as_json(data)
        with self._writing():
            if run_id is not None:
                self._must_have(run_id)
            done = self._db.execute(
                "INSERT INTO passport (name, data, run_id, stored_utc_s) VALUES (?, ?, ?, ?)",
                (name.strip(), text, run_id, time.time()),
            )
            return int(done.lastrowid or 0)

    def passports(self, name: str) -> tuple[Entry, ...]:
        """Return every state of an item, the oldest first; empty for one never measured."""
        rows = self._all(
            "SELECT id, data, stored_utc_s FROM passport WHERE name = ? ORDER BY id",
            (name.strip(),),
        )
        return tuple(Entry(r[0], "passport", json.loads(r[1]), r[2]) for r in rows)

    def passport_names(self) -> tuple[str, ...]:
        """Return the names of all items that were measured, in alphabetical order."""
        return tuple(r[0] for r in self._all("SELECT DISTINCT name FROM passport ORDER BY name"))

    def _all(self, statement: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        with self._lock:
            return self._db.execute(statement, values).fetchall()

    def _insert(self, statement: str, values: Sequence[object], corrects: int | None) -> None:
        try:
            self._db.execute(statement, values)
        except sqlite3.IntegrityError as problem:
            raise BadInput("corrects", corrects, "the number of a row of the same run") from problem

    def _last(self, table: str, run_id: int) -> int:
        row = self._db.execute(
            f"SELECT coalesce(max(number), 0) FROM {table} WHERE run_id = ?", (run_id,)
        ).fetchone()
        return int(row[0])

    def _replaced(self, table: str, run_id: int) -> set[int]:
        rows = self._all(
            f"SELECT corrects FROM {table} WHERE run_id = ? AND corrects IS NOT NULL", (run_id,)
        )
        return {int(row[0]) for row in rows}

    def _must_have(self, run_id: int) -> None:
        if not self._all("SELECT 1 FROM run WHERE id = ?", (run_id,)):
            raise self._unknown(run_id)

    def _unknown(self, run_id: int) -> BadInput:
        known = ", ".join(str(row[0]) for row in self._all("SELECT id FROM run ORDER BY id"))
        return BadInput("run", run_id, f"the number of a run: {known}" if known else "none so far")


def _statements(script: str) -> Iterator[str]:
    """Return the statements of a script one by one, since running a script would commit first."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""


def _cells(reading: Reading) -> tuple[object, ...]:
    numbers = [getattr(reading, name) for name in _NUMBERS]
    plain = [None if n is None or not math.isfinite(n) else float(n) for n in numbers]
    flags = json.dumps(list(reading.flags), ensure_ascii=False)
    return (*plain, reading.remark, reading.origin, flags, reading.raw, reading.corrects)


def _reading(cells: Sequence[Any]) -> Reading:
    values = dict(zip(_COLUMNS, cells, strict=True))
    for name in ("time_s", *CHANNELS):
        values[name] = math.nan if values[name] is None else values[name]
    values["flags"] = tuple(json.loads(values["flags"]))
    return Reading(**values)


def _as_json(data: Mapping[str, Any]) -> str:
    try:
        return json.dumps(dict(data), ensure_ascii=False, allow_nan=False)
    except (TypeError, ValueError) as problem:
        raise BadInput("data", repr(data)[:100], f"plain values ({problem})") from problem
