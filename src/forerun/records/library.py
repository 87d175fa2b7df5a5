"""Where this user's runs and passports are kept."""

from __future__ import annotations

import os
from pathlib import Path

from forerun.core.errors import BadInput
from forerun.core.places import FOLDER_VARIABLE, user_folder
from forerun.records.safekeeping import make_way
from forerun.records.sql_store import SqlRunStore
from forerun.records.sqlite_store import SqliteRunStore

__all__ = ["DATABASE_VARIABLE", "FOLDER_VARIABLE", "database", "library_folder", "open_store"]

DATABASE_VARIABLE = "FORERUN_DATABASE"
"""Address of a PostgreSQL database that holds the runs of a lab, in place of a file."""

_FILE = "runs.sqlite"


def library_folder() -> Path:
    """Return the folder of this user's records: ``FORERUN_DATA``, or the usual place."""
    return user_folder()


def database() -> str | None:
    """Return the address of the lab's database, None where runs are kept in a file.

    Raises:
        BadInput: an address of another kind.
    """
    url = os.environ.get(DATABASE_VARIABLE, "").strip()
    if url and not url.startswith(("postgresql://", "postgres://")):
        accepted = "an address such as postgresql://forerun@db.example/forerun, or nothing"
        raise BadInput(DATABASE_VARIABLE, url.partition(":")[0], accepted)
    return url or None


def open_store(folder: Path | None = None) -> SqlRunStore:
    """Open this user's store, made when it is not there; a damaged file is set aside before.

    Args:
        folder: a file in this folder, whatever else is said of the place.

    Raises:
        BadInput: the folder cannot be made or the file not opened; no such database.
        NotStored: a damaged file cannot be set aside.
    """
    url = database() if folder is None else None
    if url is not None:
        from forerun.records.postgres_store import PostgresRunStore  # noqa: PLC0415 -- only there

        return PostgresRunStore(url)
    place = library_folder() if folder is None else folder
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        reason = (problem.strerror or type(problem).__name__).lower()
        raise BadInput(FOLDER_VARIABLE, str(place), f"a folder that can be made ({reason})") from (
            problem
        )
    path = place / _FILE
    make_way(path)
    return SqliteRunStore(path)
