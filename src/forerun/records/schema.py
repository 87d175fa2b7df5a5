"""What a file of runs holds, and how a file of an older version becomes one of this version."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from forerun.records.readings import CHANNELS

__all__ = ["NUMBERS", "VERSION", "bring_up_to_date", "free_to_change", "statements", "unchangeable"]

NUMBERS = ("time_s", *CHANNELS, "utc_s")
"""The columns of a reading that hold numbers."""


def unchangeable(*tables: str) -> str:
    """Return triggers that refuse to change or delete rows, whoever opens the file.

    Args:
        tables: their names.
    """
    return "".join(
        f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
        "BEGIN SELECT RAISE(ABORT, 'rows are never changed: add a correction'); END;\n"
        for table in tables
        for act in ("UPDATE", "DELETE")
    )


def free_to_change(*tables: str) -> str:
    """Return what takes these triggers away again.

    Args:
        tables: their names.
    """
    return "".join(
        f"DROP TRIGGER {table}_no_{act};\n" for table in tables for act in ("update", "delete")
    )


_FIRST = f"""
CREATE TABLE run (
  id INTEGER PRIMARY KEY, title TEXT NOT NULL, sheet TEXT NOT NULL, started_utc_s REAL NOT NULL
) STRICT;
CREATE TABLE ending (
  run_id INTEGER PRIMARY KEY REFERENCES run(id), ended_utc_s REAL NOT NULL
) STRICT;
CREATE TABLE reading (
  run_id INTEGER NOT NULL REFERENCES run(id), number INTEGER NOT NULL,
  stored_utc_s REAL NOT NULL,
  {", ".join(f"{name} REAL" for name in NUMBERS)},
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
{unchangeable("run", "ending", "reading", "entry", "passport")}"""

_LIVE_RUNS = f"""
CREATE TABLE live (
  run_id INTEGER PRIMARY KEY REFERENCES run(id), code TEXT NOT NULL, pace REAL NOT NULL
) STRICT;
CREATE INDEX live_code ON live(code);
CREATE TABLE receipt (
  run_id INTEGER NOT NULL REFERENCES run(id), origin TEXT NOT NULL, sequence TEXT NOT NULL,
  digest TEXT NOT NULL, first INTEGER NOT NULL, last INTEGER NOT NULL,
  PRIMARY KEY (run_id, origin, sequence)
) STRICT, WITHOUT ROWID;
{unchangeable("live", "receipt")}"""

_LADDER = (_FIRST, _LIVE_RUNS)  # script n makes a file of version n out of one of version n - 1
VERSION = len(_LADDER)
"""Version of the files that this program writes."""


def bring_up_to_date(db: sqlite3.Connection, version: int) -> None:
    """Bring a file to this version, within the transaction that is open.

    Args:
        db: the open file.
        version: that it has; 0 for an empty one.
    """
    for script in _LADDER[version:]:
        for statement in statements(script):
            db.execute(statement)
    db.execute(f"PRAGMA user_version={VERSION}")


def statements(script: str) -> Iterator[str]:
    """Return the statements of a script one by one, since running a script would commit first.

    Args:
        script: statements, each ended by a semicolon.
    """
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""
