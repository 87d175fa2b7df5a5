"""Where this user's runs and passports are kept."""

from __future__ import annotations

import sys
from pathlib import Path

from forerun.core.errors import BadInput
from forerun.core.places import FOLDER_VARIABLE, user_folder
from forerun.records.safekeeping import damage, set_aside
from forerun.records.sqlite_store import SqliteRunStore

__all__ = ["FOLDER_VARIABLE", "library_folder", "open_store"]

_FILE = "runs.sqlite"


def library_folder() -> Path:
    """Return the folder of this user's records: ``FORERUN_DATA``, or the usual place."""
    return user_folder()


def open_store(folder: Path | None = None) -> SqliteRunStore:
    """Open this user's store, made when it is not there; a damaged one is set aside before.

    Args:
        folder: another place than the usual one.

    Raises:
        BadInput: the folder cannot be made or the file not opened.
        NotStored: a damaged file cannot be set aside.
    """
    place = library_folder() if folder is None else folder
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        reason = (problem.strerror or type(problem).__name__).lower()
        raise BadInput(FOLDER_VARIABLE, str(place), f"a folder that can be made ({reason})") from (
            problem
        )
    path = place / _FILE
    if wrong := damage(path):
        aside = set_aside(path)
        print(
            f"look out: {path} cannot be read through ({wrong}); it was set aside as "
            f"{aside.name}, untouched, and an empty file takes its place.",
            file=sys.stderr,
        )
    return SqliteRunStore(path)
