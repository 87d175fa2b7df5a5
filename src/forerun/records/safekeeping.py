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

__all__ = ["CLASSES", "STORES", "back_up", "bring_back", "damage", "make_way", "set_aside"]

STORES = ("runs.sqlite", "sheets.sqlite")
"""Names of the files in the folder of a user's records."""

CLASSES = "classes"
"""Name of the folder with the classes that have hidden runs: files, not a store."""

_UNFINISHED = ".part"  # a file that takes its name when it is whole
_ROUNDS = 20  # in which a folder is copied anew because somebody wrote into it meanwhile
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
    """Copy stores and hidden classes as they stand, while others may write, and prove each copy.

    Args:
        folder: of a user's records.
        target: folder of the copies; made when it is not there.

    Returns:
        The copies, the folder of the classes last.

    Raises:
        BadInput: nothing to copy, something of the same name there already, or a damaged file.
        NotStored: the disk did not take it.
    """
    present = [folder / name for name in (*STORES, CLASSES) if (folder / name).exists()]
    if not present:
        raise BadInput("records", str(folder), "a folder with runs, sheets or classes")
    for path in present:
        if (target / path.name).exists():
            raise BadInput("folder", str(target), f"a folder without {path.name} in it")
        if path.is_file() and (problem := damage(path)):
            raise BadInput(path.name, problem, "a file that can be read through")
    try:
        target.mkdir(parents=True, exist_ok=True)
        copies = tuple(_copied_either(path, target / path.name) for path in present)
    except (OSError, sqlite3.Error) as problem:
        raise NotStored(str(target), str(problem)) from problem
    return copies


def bring_back(source: Path, folder: Path) -> tuple[Path, ...]:
    """Put copies in the place of what is there, which is set aside, not written over.

    Args:
        source: folder that `back_up` filled.
        folder: of a user's records; no other process may have them open.

    Returns:
        What was set aside.

    Raises:
        BadInput: no copies there, or a damaged one; then nothing is changed.
        NotStored: the disk did not take it.
    """
    copies = [source / name for name in (*STORES, CLASSES) if (source / name).exists()]
    if not copies or source.resolve() == folder.resolve():
        raise BadInput("folder", str(source), "a folder that `forerun backup` filled")
    for copy in copies:
        if copy.is_file() and (problem := damage(copy)):
            raise BadInput(copy.name, problem, "a copy that can be read through")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        fresh = [_copied_either(copy, folder / f"{copy.name}.arriving") for copy in copies]
    except (OSError, sqlite3.Error) as problem:
        raise NotStored(str(folder), str(problem)) from problem
    aside = []
    for path in fresh:
        place = path.with_suffix("")
        if place.exists():
            aside.append(set_aside(place, "before"))
        path.replace(place)
    return tuple(aside)


def _copied_either(path: Path, target: Path) -> Path:
    return _copied_folder(path, target) if path.is_dir() else _copied(path, target)


def _copied_folder(path: Path, target: Path) -> Path:
    """Copy a folder of files until none has changed meanwhile; on disk when it returns.

    A student hands in several files at once, and a copy of half of them would be no hand-in.
    """
    for _ in range(_ROUNDS):
        before = _seen(path)
        shutil.rmtree(target, ignore_errors=True)
        target.mkdir(mode=0o700)
        try:
            for name in before:
                place = target / name
                place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                shutil.copy2(path / name, place)
                with place.open("rb+") as file:
                    os.fsync(file.fileno())
        except FileNotFoundError:
            continue  # erased meanwhile
        if _seen(path) == before:
            break
    else:
        raise OSError(f"{path.name} did not stand still long enough to be copied")
    for name in before:
        if (path / name).read_bytes() != (target / name).read_bytes():
            raise OSError(f"the copy of {name} is not what was copied")
    return target


def _seen(folder: Path) -> dict[Path, tuple[int, int, int]]:
    """Return the whole files below a folder, each with its inode, length and time of change."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if path.is_symlink() or not path.is_file() or path.suffix == _UNFINISHED:
            continue
        about = path.stat()
        found[path.relative_to(folder)] = (about.st_ino, about.st_size, about.st_mtime_ns)
    return found


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
