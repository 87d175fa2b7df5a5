"""A damaged file is set aside and never written over; copies are made, proven and brought back."""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
import threading
from contextlib import closing
from pathlib import Path

from forerun.core.errors import BadInput, NotStored

__all__ = ["STORES", "back_up", "bring_back", "damage", "make_way", "set_aside"]

STORES = ("runs.sqlite", "sheets.sqlite")
"""Names of the files in the folder of a user's records."""

_BROKEN = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
_lock = threading.Lock()  # two requests must not both set aside
_COMPANIONS = ("-wal", "-shm", "-journal")  # belong to the file: without them rows may be missing


def damage(path: Path) -> str:
    """Read a file through and return what is wrong with it; nothing when it is sound.

    A file that is only locked, or not to be read, is not damaged.

    Args:
        path: of an SQLite file.
    """
    if not path.exists() or path.stat().st_size == 0:
        return ""
    try:
        with closing(sqlite3.connect(path, timeout=1.0)) as db:
            (said,) = db.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.DatabaseError as problem:
        code = getattr(problem, "sqlite_errorcode", 0) & 0xFF  # the rest says more of the same
        return str(problem) if code in _BROKEN else ""
    return "" if said == "ok" else str(said).replace("\n", " ")[:200]


def set_aside(path: Path, word: str = "damaged") -> Path:
    """Give a file and what belongs to it another name, and return that; nothing is written over.

    Args:
        path: of the file.
        word: put into the new name.

    Raises:
        NotStored: the folder lets nothing be renamed.
    """
    number = 1
    while any(
        path.with_name(f"{path.name}.{word}-{number}{c}").exists() for c in ("", *_COMPANIONS)
    ):
        number += 1
    aside = path.with_name(f"{path.name}.{word}-{number}")
    try:
        for companion in (*_COMPANIONS, ""):
            old = path.with_name(path.name + companion)
            if old.exists():
                old.rename(aside.with_name(aside.name + companion))
    except OSError as problem:
        raise NotStored(str(path), str(problem)) from problem
    return aside


def make_way(path: Path) -> None:
    """Set a damaged file aside, so that a new one can be made in its place, and say so on stderr.

    Args:
        path: of an SQLite file; left alone where it is sound, locked or not there.

    Raises:
        NotStored: it is damaged and cannot be set aside.
    """
    with _lock:
        if not (wrong := damage(path)):
            return
        aside = set_aside(path)
    print(
        f"look out: {path} cannot be read through ({wrong}); it was set aside as "
        f"{aside.name}, untouched, and an empty file takes its place.",
        file=sys.stderr,
    )


def back_up(folder: Path, target: Path) -> tuple[Path, ...]:
    """Copy the stores as they stand, while others may write, and prove each copy.

    Args:
        folder: of a user's records.
        target: folder of the copies; made when it is not there.

    Returns:
        The copies.

    Raises:
        BadInput: nothing to copy, something of the same name there already, or a damaged file.
        NotStored: the disk did not take it.
    """
    present = [folder / name for name in STORES if (folder / name).exists()]
    if not present:
        raise BadInput("records", str(folder), "a folder with runs or sheets")
    for path in present:
        if (target / path.name).exists():
            raise BadInput("folder", str(target), f"a folder without {path.name} in it")
        if problem := damage(path):
            raise BadInput(path.name, problem, "a file that can be read through")
    try:
        target.mkdir(parents=True, exist_ok=True)
        copies = tuple(_copied(path, target / path.name) for path in present)
    except (OSError, sqlite3.Error) as problem:
        raise NotStored(str(target), str(problem)) from problem
    return copies


def bring_back(source: Path, folder: Path) -> tuple[Path, ...]:
    """Put copies in the place of the stores; what is there is set aside, not written over.

    Args:
        source: folder that `back_up` filled.
        folder: of a user's records; no other process may have them open.

    Returns:
        What was set aside.

    Raises:
        BadInput: no copies there, or a damaged one; then nothing is changed.
        NotStored: the disk did not take it.
    """
    copies = [source / name for name in STORES if (source / name).exists()]
    if not copies or source.resolve() == folder.resolve():
        raise BadInput("folder", str(source), "a folder that `forerun backup` filled")
    for copy in copies:
        if problem := damage(copy):
            raise BadInput(copy.name, problem, "a copy that can be read through")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        fresh = [_copied(copy, folder / f"{copy.name}.arriving") for copy in copies]
    except (OSError, sqlite3.Error) as problem:
        raise NotStored(str(folder), str(problem)) from problem
    aside = []
    for path in fresh:
        place = path.with_suffix("")
        if place.exists():
            aside.append(set_aside(place, "before"))
        path.replace(place)
    return tuple(aside)


def _copied(path: Path, target: Path) -> Path:
    """Copy a store through SQLite, so that rows of its log come along; on disk when it returns."""
    target.unlink(missing_ok=True)
    with closing(sqlite3.connect(path)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new)
        new.execute("PRAGMA journal_mode=DELETE")
    shutil.copymode(path, target)
    with target.open("rb+") as file:
        os.fsync(file.fileno())
    if problem := damage(target):
        raise OSError(f"the copy cannot be read through: {problem}")
    return target
