"""Runs in one SQLite file."""

from __future__ import annotations

from forerun.records.sql_store import SqlRunStore
from forerun.records.sqlite_file import SCHEMA_VERSION, SqliteFile

__all__ = ["SCHEMA_VERSION", "SqliteRunStore"]


class SqliteRunStore(SqliteFile, SqlRunStore):
    """A store of runs in one file.

    Args:
        path: of the file; made when it is not there.

    Raises:
        BadInput: the file cannot be opened, or was written by a newer version.
    """
