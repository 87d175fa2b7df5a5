"""What a PostgreSQL database of runs holds; the same tables and versions as a file of runs."""

from __future__ import annotations

from forerun.records.schema import NUMBERS, VERSION

__all__ = ["PREPARED", "READ_VERSION"]

_TABLES = ("run", "ending", "reading", "entry", "passport", "live", "receipt")

READ_VERSION = "SELECT version FROM forerun_version"
"""Asks a database for its version."""

PREPARED: tuple[str, ...] = (
    "CREATE TABLE forerun_version (version INTEGER NOT NULL)",
    f"INSERT INTO forerun_version VALUES ({VERSION})",
    "CREATE TABLE run (id INTEGER PRIMARY KEY, title TEXT NOT NULL, sheet TEXT NOT NULL, "
    "started_utc_s DOUBLE PRECISION NOT NULL)",
    "CREATE TABLE ending (run_id INTEGER PRIMARY KEY REFERENCES run(id), "
    "ended_utc_s DOUBLE PRECISION NOT NULL)",
    "CREATE TABLE reading (run_id INTEGER NOT NULL REFERENCES run(id), number INTEGER NOT NULL, "
    "stored_utc_s DOUBLE PRECISION NOT NULL, "
    + ", ".join(f"{name} DOUBLE PRECISION" for name in NUMBERS)
    + ", remark TEXT NOT NULL, origin TEXT NOT NULL, flags TEXT NOT NULL, raw TEXT NOT NULL, "
    "corrects INTEGER, PRIMARY KEY (run_id, number), "
    "FOREIGN KEY (run_id, corrects) REFERENCES reading(run_id, number))",
    "CREATE TABLE entry (run_id INTEGER NOT NULL REFERENCES run(id), number INTEGER NOT NULL, "
    "kind TEXT NOT NULL, data TEXT NOT NULL, stored_utc_s DOUBLE PRECISION NOT NULL, "
    "corrects INTEGER, PRIMARY KEY (run_id, number), "
    "FOREIGN KEY (run_id, corrects) REFERENCES entry(run_id, number))",
    "CREATE TABLE passport (id INTEGER PRIMARY KEY, name TEXT NOT NULL, data TEXT NOT NULL, "
    "run_id INTEGER REFERENCES run(id), stored_utc_s DOUBLE PRECISION NOT NULL)",
    "CREATE INDEX passport_of_item ON passport(name, id)",
    "CREATE TABLE live (run_id INTEGER PRIMARY KEY REFERENCES run(id), code TEXT NOT NULL, "
    "pace DOUBLE PRECISION NOT NULL)",
    "CREATE INDEX live_code ON live(code)",
    "CREATE TABLE receipt (run_id INTEGER NOT NULL REFERENCES run(id), origin TEXT NOT NULL, "
    "sequence TEXT NOT NULL, digest TEXT NOT NULL, first INTEGER NOT NULL, last INTEGER NOT NULL, "
    "PRIMARY KEY (run_id, origin, sequence))",
    "CREATE FUNCTION rows_are_never_changed() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
    "RAISE EXCEPTION 'rows are never changed: add a correction'; END $$",
    *(
        f"CREATE TRIGGER {table}_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION rows_are_never_changed()"
        for table in _TABLES
    ),
)
"""Statements that make an empty database one of this version."""
