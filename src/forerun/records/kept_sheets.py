"""Sheets that this user keeps by name, in one SQLite file; what is deleted can be had back."""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from forerun.core.errors import BadInput
from forerun.core.places import FOLDER_VARIABLE
from forerun.records.library import library_folder
from forerun.records.safekeeping import make_way

__all__ = ["LONGEST_NAME", "KeptSheet", "KeptSheets"]

LONGEST_NAME = 200  # characters, as a title has them
_FILE = "sheets.sqlite"
_VERSION = 1
_PATIENCE = 10.0  # s that a writer waits for another
_SCHEMA = """
CREATE TABLE sheet (
  id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL, content TEXT NOT NULL,
  saved_utc_s REAL NOT NULL, deleted_utc_s REAL
) STRICT
"""


@dataclass(frozen=True, slots=True)
class KeptSheet:
    """One line of the list.

    Args:
        number: by which it is opened; never given twice.
        name: as its owner calls it.
        saved_utc_s: when it was saved last [s since 1970].
    """

    number: int
    name: str
    saved_utc_s: float


class KeptSheets:
    """This user's sheets; every call opens the file, so that nothing is held between them.

    Args:
        folder: where the file is; the usual place when left out.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._path = (library_folder() if folder is None else folder) / _FILE

    def listed(self) -> tuple[KeptSheet, ...]:
        """Return what is kept, the newest first."""
        ask = "SELECT id, name, saved_utc_s FROM sheet WHERE deleted_utc_s IS NULL"
        with self._open() as db:
            rows = db.execute(f"{ask} ORDER BY saved_utc_s DESC, id DESC").fetchall()
        return tuple(KeptSheet(*row) for row in rows)

    def save(self, name: str, content: Mapping[str, Any], number: int | None = None) -> int:
        """Keep a sheet.

        Args:
            name: what it is called; two may share one.
            content: its table; whatever was typed, also what is not yet a whole sheet.
            number: of the sheet that it replaces; a new one when left out.

        Returns:
            The number by which it is opened.

        Raises:
            BadInput: no name, or nothing is kept under the number.
        """
        called = _name(name)
        text = json.dumps(content, ensure_ascii=False, allow_nan=False)
        with self._open() as db:
            if number is None:
                add = "INSERT INTO sheet (name, content, saved_utc_s) VALUES (?, ?, ?)"
                return int(db.execute(add, (called, text, time.time())).lastrowid or 0)
            put = "UPDATE sheet SET name = ?, content = ?, saved_utc_s = ? WHERE id = ?"
            put += " AND deleted_utc_s IS NULL"
            _met(db.execute(put, (called, text, time.time(), number)), number)
            return number

    def opened(self, number: int) -> tuple[str, dict[str, Any]]:
        """Return the name and the table of a sheet.

        Raises:
            BadInput: nothing is kept under the number.
        """
        ask = "SELECT name, content FROM sheet WHERE id = ? AND deleted_utc_s IS NULL"
        with self._open() as db:
            row = db.execute(ask, (number,)).fetchone()
        if row is None:
            raise _unknown(number)
        return row[0], json.loads(row[1])

    def duplicate(self, number: int) -> int:
        """Keep a copy of a sheet and return its number.

        Raises:
            BadInput: nothing is kept under the number.
        """
        name, content = self.opened(number)
        return self.save(f"{name[: LONGEST_NAME - 7]} (copy)", content)

    def delete(self, number: int) -> None:
        """Take a sheet out of the list; `restore` brings it back.

        Raises:
            BadInput: nothing is kept under the number.
        """
        with self._open() as db:
            gone = "UPDATE sheet SET deleted_utc_s = ? WHERE id = ? AND deleted_utc_s IS NULL"
            _met(db.execute(gone, (time.time(), number)), number)

    def restore(self, number: int) -> None:
        """Bring a deleted sheet back into the list.

        Raises:
            BadInput: nothing was deleted under the number.
        """
        with self._open() as db:
            back = "UPDATE sheet SET deleted_utc_s = NULL WHERE id = ? AND deleted_utc_s NOT NULL"
            _met(db.execute(back, (number,)), number)

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        """Open the file, made when it is not there; what was written is on disk afterwards.

        A damaged one is set aside before, untouched.

        Raises:
            BadInput: it cannot be opened, or was written by a newer version.
            NotStored: a damaged one cannot be set aside.
        """
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            make_way(self._path)
            db = sqlite3.connect(self._path, timeout=_PATIENCE, isolation_level=None)
        except (OSError, sqlite3.Error) as problem:
            accepted = f"a folder that can be written to ({problem})"
            raise BadInput(FOLDER_VARIABLE, str(self._path.parent), accepted) from problem
        try:
            db.execute("PRAGMA synchronous=FULL")
            db.execute("BEGIN IMMEDIATE")
            _prepare(db, self._path)
            yield db
            db.execute("COMMIT")
        except sqlite3.DatabaseError as problem:
            accepted = f"a file of sheets ({problem})"
            raise BadInput("kept sheets", str(self._path), accepted) from problem
        finally:
            db.close()  # what was not committed is rolled back


def _prepare(db: sqlite3.Connection, path: Path) -> None:
    (version,) = db.execute("PRAGMA user_version").fetchone()
    if version > _VERSION:
        accepted = f"a file of sheets of version {_VERSION} (this one: {version})"
        raise BadInput("kept sheets", str(path), accepted)
    if version == 0:
        db.execute(_SCHEMA)
        db.execute(f"PRAGMA user_version={_VERSION}")


def _name(given: str) -> str:
    name = " ".join(given.split())
    if not 0 < len(name) <= LONGEST_NAME:
        raise BadInput("name", given, f"a name of 1 to {LONGEST_NAME} characters")
    return name


def _met(done: sqlite3.Cursor, number: int) -> None:
    if done.rowcount != 1:
        raise _unknown(number)


def _unknown(number: int) -> BadInput:
    return BadInput("number", number, "the number of a sheet in the list")
