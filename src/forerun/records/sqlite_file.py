"""One SQLite file and the only pen that writes in it.

Write-ahead log, every commit synchronised, one writer at a time: an acknowledged row survives a
kill of the process and a loss of power.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from forerun.core.errors import BadInput, NotStored
from forerun.records.schema import (
    VERSION,
    bring_up_to_date,
    free_to_change,
    statements,
    unchangeable,
)
from forerun.records.sql_database import SqlDatabase

__all__ = ["SCHEMA_VERSION", "SqliteFile"]

SCHEMA_VERSION = VERSION
"""Version of the files that are written."""

_PATIENCE = 10.0  # s that a writer waits for another


class SqliteFile(SqlDatabase):
    """A file of runs, open.

    Args:
        path: of the file; made when it is not there, brought up to date when it is older.

    Raises:
        BadInput: the file cannot be opened, or was written by a newer version.
    """

    _no_such_row = (sqlite3.IntegrityError,)

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
            self._db.execute("PRAGMA secure_delete=ON")  # what is erased is gone from the file, too
            self._prepare()
        except (sqlite3.Error, NotStored) as problem:
            raise BadInput("store", self._path, f"a file of runs ({problem})") from problem

    def _prepare(self) -> None:
        with self._writing():
            (version,) = self._db.execute("PRAGMA user_version").fetchone()
            if version > SCHEMA_VERSION:
                accepted = f"a file of runs of version {SCHEMA_VERSION} (this one: {version})"
                raise BadInput("store", self._path, accepted)
            if version < SCHEMA_VERSION:
                bring_up_to_date(self._db, version)

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """Hold the only pen; what was written is on disk when the outermost holder puts it down."""
        with self._lock:
            inner = self._db.in_transaction
            try:
                self._db.execute("SAVEPOINT act" if inner else "BEGIN IMMEDIATE")
                yield
                self._db.execute("RELEASE act" if inner else "COMMIT")
            except sqlite3.Error as problem:
                self._undo(inner)
                raise NotStored(self._path, str(problem)) from problem
            except BaseException:
                self._undo(inner)
                raise

    def _undo(self, inner: bool) -> None:
        if not self._db.in_transaction:
            return  # a disk without room may have ended the transaction by itself
        for statement in ("ROLLBACK TO act", "RELEASE act") if inner else ("ROLLBACK",):
            self._db.execute(statement)

    @contextmanager
    def _let_go(self, tables: Sequence[str]) -> Iterator[None]:
        for statement in statements(free_to_change(*tables)):
            self._db.execute(statement)
        yield
        for statement in statements(unchangeable(*tables)):
            self._db.execute(statement)

    def scrub(self) -> bool:
        """Bring what was erased, which is overwritten by zeros, from the log into the file.

        Somebody who is reading the file holds it up; whoever writes next, or closes it last, does
        it then.
        """
        with self._lock:
            (busy, _, _) = self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            return not busy

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            self._db.close()

    def _all(self, statement: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        with self._lock:
            return self._db.execute(statement, values).fetchall()

    def _do(self, statement: str, values: Sequence[object]) -> None:
        with self._lock:
            self._db.execute(statement, values)
