"""Where this user's runs and passports are kept."""

from __future__ import annotations

from pathlib import Path

from forerun.core.errors import BadInput
from forerun.core.places import FOLDER_VARIABLE, user_folder
from forerun.records.sqlite_store import SqliteRunStore

__all__ = ["FOLDER_VARIABLE", "library_folder", "open_store"]

_FILE = "runs.sqlite"


def library_folder() -> Path:
    """Return the folder of this user's records: ``FORERUN_DATA``, or the usual place."""
    return user_folder()


def open_store(folder: Path | None = None) -> SqliteRunStore:
    """Open this user's store, made when it is not there.

    Args:
        folder: another place than the usual one.

    Raises:
        BadInput: the folder cannot be made or the file not opened.
    """
    place = library_folder() if folder is None else folder
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        reason = (problem.strerror or type(problem).__name__).lower()
        raise BadInput(FOLDER_VARIABLE, str(place), f"a folder that can be made ({reason})") from (
            problem
        )
    return SqliteRunStore(place / _FILE)
