"""Where compiled kernels are kept, and whether all of them are there.

Each source file with kernels has a folder of its own, named after a fingerprint of the file and
of all that it imports: a change recompiles what rests on it and nothing else.

Nothing here imports numba, so a command can ask before it pays for the import.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import tempfile
from functools import cache
from importlib.machinery import PathFinder
from pathlib import Path

__all__ = [
    "cache_folder",
    "drop_old_caches",
    "is_complete",
    "kernel_files",
    "kernel_fingerprint",
    "mark_complete",
    "why_not_kept",
]

_PACKAGE = Path(__file__).resolve().parents[1]
_MARK = b"\n@kernel("
_IMPORT = re.compile(rb"^(?:from|import) (forerun\.[\w.]+)", re.MULTILINE)
# how kernels are kept and called changes no kernel; how they are compiled does
_ASIDE = frozenset({"cache.py", "compiled.py", "loading.py"})
_ALWAYS = ("compiling.py", "objects.py")
_KEPT = 12  # caches of the last versions stay, so that switching back is free


def kernel_files() -> tuple[Path, ...]:
    """Return every source file of the package that holds a kernel, sorted."""
    return tuple(p for p in sorted(_PACKAGE.rglob("*.py")) if _MARK in _text(p))


def kernel_fingerprint(path: Path | None = None) -> str:
    """Return 12 hex digits that change when code that a kernel rests on changes.

    Args:
        path: a source file with kernels: it and all of the package that it imports, directly or
            not, count; None: all files with kernels, and all that they import.

    Returns:
        The fingerprint.
    """
    files = set[Path]()
    always = tuple(_PACKAGE / "numerics" / name for name in _ALWAYS)
    for start in ((path,) if path else kernel_files()) + always:
        _add_imported(start, files)
    digest = hashlib.sha256(_numba_version())
    for file in sorted(files):
        digest.update(_place(file).as_posix().encode() + b"\0" + _text(file))
    return digest.hexdigest()[:12]


def cache_folder(path: Path | None = None) -> Path:
    """Return the folder in which compiled kernels are kept.

    Args:
        path: a source file with kernels: the folder of its present version; None: the root of all.
    """
    root = os.environ.get("FORERUN_CACHE") or _usual_folder()
    if path is None:
        return Path(root)
    return Path(root) / _family(path) / kernel_fingerprint(path)


def _usual_folder() -> str:
    from platformdirs import user_cache_dir  # noqa: PLC0415 -- only without a folder of one's own

    return user_cache_dir("forerun")


def drop_old_caches(path: Path) -> None:
    """Remove all but the last few versions of the compiled kernels of one source file.

    Args:
        path: the source file.
    """
    root = cache_folder() / _family(path)
    if not root.is_dir():
        return
    kept = sorted(root.iterdir(), key=lambda p: p.stat().st_mtime, reverse=True)
    for folder in kept[_KEPT - 1 :]:
        shutil.rmtree(folder, ignore_errors=True)


def _family(path: Path) -> str:
    return ".".join(_place(path).with_suffix("").parts)


def _place(path: Path) -> Path:
    return path.relative_to(_PACKAGE) if path.is_relative_to(_PACKAGE) else Path(path.name)


@cache
def _numba_version() -> bytes:
    """Return what says which numba there is; its metadata would take longer to read."""
    found = PathFinder.find_spec("numba")
    if found is None or found.origin is None:
        return b""
    return _text(Path(found.origin).with_name("_version.py"))


@cache
def _text(path: Path) -> bytes:
    return path.read_bytes()


def _add_imported(path: Path, files: set[Path]) -> None:
    if path in files or (path.name in _ASIDE and path.parent.name == "numerics"):
        return
    files.add(path)
    for match in _IMPORT.finditer(_text(path)):
        module = _PACKAGE.parent.joinpath(*match[1].decode().split("."))
        if (file := module.with_suffix(".py")).is_file():
            _add_imported(file, files)


def is_complete(machine: str) -> bool:
    """Return whether every kernel of this version of the package has been compiled and kept.

    Args:
        machine: digest of the kind of machine.
    """
    return _seal(machine).is_file()


def mark_complete(machine: str) -> None:
    """Note that every kernel of this version of the package has been compiled and kept.

    Args:
        machine: digest of the kind of machine.

    Raises:
        OSError: the folder cannot be written.
    """
    seal = _seal(machine)
    seal.parent.mkdir(parents=True, exist_ok=True)
    seal.write_text("every kernel is compiled\n", encoding="utf-8")


def why_not_kept() -> str:
    """Return why nothing can be kept in the folder of all compiled kernels; empty: it can."""
    try:
        cache_folder().mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=cache_folder()):
            return ""
    except OSError as problem:
        return problem.strerror or type(problem).__name__


def _seal(machine: str) -> Path:
    return cache_folder() / "complete" / f"{kernel_fingerprint()}-{machine}"
