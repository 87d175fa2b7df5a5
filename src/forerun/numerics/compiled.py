"""One decorator for everything that is compiled.

numba notices a change of a function's own file but not of the functions that it calls, so
compiled code is kept in a folder named after a fingerprint of every source file that holds a
kernel: a stale cache cannot be met, and a read-only installation still has one.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
import platformdirs

__all__ = ["cache_folder", "kernel", "kernel_fingerprint"]

Compiled = TypeVar("Compiled", bound=Callable[..., Any])

_MARK = "@kernel"
_KEPT = 4  # caches of the last few versions stay, so that switching back is free


def kernel_fingerprint() -> str:
    """Return 12 hex digits that change when any source file with a kernel changes."""
    package = Path(__file__).resolve().parents[1]
    digest = hashlib.sha256(f"numba {numba.__version__}".encode())
    for path in sorted(package.rglob("*.py")):
        text = path.read_bytes()
        if _MARK.encode() in text:
            digest.update(path.relative_to(package).as_posix().encode() + b"\0" + text)
    return digest.hexdigest()[:12]


def cache_folder() -> Path:
    """Return the folder in which this version's compiled kernels are kept."""
    root = os.environ.get("FORERUN_CACHE") or platformdirs.user_cache_dir("forerun")
    return Path(root) / f"kernels-{kernel_fingerprint()}"


def _use_own_cache() -> None:
    folder = cache_folder()
    if not folder.exists():
        _drop_old(folder.parent)
    numba.config.CACHE_DIR = str(folder)  # type: ignore[attr-defined]  # numba sets its options by name


def _drop_old(root: Path) -> None:
    if not root.is_dir():
        return
    kept = sorted(root.glob("kernels-*"), key=lambda p: p.stat().st_mtime, reverse=True)
    for folder in kept[_KEPT - 1 :]:
        shutil.rmtree(folder, ignore_errors=True)


def kernel(signature: Any) -> Callable[[Compiled], Compiled]:
    """Compile a function on import, release the GIL in it and keep the result on disk.

    Args:
        signature: the numba signature; an explicit one, so that no later command compiles.

    Returns:
        A decorator that keeps the Python type of the function for the type checker.
    """
    compile_now = numba.njit(signature, cache=True, nogil=True, error_model="numpy")

    def wrap(function: Compiled) -> Compiled:
        return cast(Compiled, compile_now(function))

    return wrap


_use_own_cache()
