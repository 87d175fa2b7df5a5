"""Where compiled kernels are kept, and whether all of them are there.

Nothing here imports numba, so a command can ask before it pays for the import.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from importlib.metadata import version
from pathlib import Path

import platformdirs

__all__ = [
    "cache_folder",
    "drop_old_caches",
    "is_complete",
    "kernel_files",
    "kernel_fingerprint",
    "mark_complete",
]

_PACKAGE = Path(__file__).resolve().parents[1]
_MARK = b"@" + b"kernel"  # in two pieces, or this file would count as one that holds a kernel
_KEPT = 4  # caches of the last few versions stay, so that switching back is free


def kernel_files() -> tuple[Path, ...]:
    """Return every source file of the package that holds a kernel, sorted."""
    return tuple(p for p in sorted(_PACKAGE.rglob("*.py")) if _MARK in p.read_bytes())


def kernel_fingerprint() -> str:
    """Return 12 hex digits that change when any source file with a kernel changes."""
    digest = hashlib.sha256(f"numba {version('numba')}".encode())
    for path in kernel_files():
        digest.update(path.relative_to(_PACKAGE).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]


def cache_folder() -> Path:
    """Return the folder in which this version's compiled kernels are kept."""
    root = os.environ.get("FORERUN_CACHE") or platformdirs.user_cache_dir("forerun")
    return Path(root) / f"kernels-{kernel_fingerprint()}"


def drop_old_caches(root: Path) -> None:
    """Remove all but the last few caches below a folder.

    Args:
        root: the folder that holds the caches of all versions.
    """
    if not root.is_dir():
        return
    kept = sorted(root.glob("kernels-*"), key=lambda p: p.stat().st_mtime, reverse=True)
    for folder in kept[_KEPT - 1 :]:
        shutil.rmtree(folder, ignore_errors=True)


def is_complete() -> bool:
    """Return whether every kernel of this copy of the package has been compiled and kept."""
    return _seal().is_file()


def mark_complete() -> None:
    """Note that every kernel of this copy of the package has been compiled and kept."""
    seal = _seal()
    seal.parent.mkdir(parents=True, exist_ok=True)
    seal.write_text(f"all kernels of {_PACKAGE} are compiled\n", encoding="utf-8")


def _seal() -> Path:
    # numba recompiles when a file has moved or its time has changed, so both are in the name
    digest = hashlib.sha256(str(_PACKAGE).encode())
    for path in kernel_files():
        digest.update(str(path.stat().st_mtime_ns).encode())
    return cache_folder() / f"complete-{digest.hexdigest()[:12]}"
