"""One decorator for everything that is compiled: @kernel.

numba notices a change of a function's own file but not of the functions that it calls, so
compiled code is kept in a folder named after a fingerprint of the file and of all that it
imports: a stale cache cannot be met, and a read-only installation still has one.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

from forerun.numerics.cache import cache_folder, drop_old_caches, kernel_fingerprint

__all__ = ["cache_folder", "compiled_observers", "kernel", "kernel_fingerprint"]

Compiled = TypeVar("Compiled", bound=Callable[..., Any])

compiled_observers: list[Callable[[str], None]] = []
"""Called with the name of each kernel when it is ready, for a progress bar."""


@cache
def _folder_for(source: str) -> str:
    path = Path(source).resolve()
    folder = cache_folder(path)
    if not folder.exists():
        drop_old_caches(path)
    return str(folder)


def kernel(signature: Any) -> Callable[[Compiled], Compiled]:
    """Compile a function on import, release the GIL in it and keep the result on disk.

    Args:
        signature: the numba signature; an explicit one, so that no later command compiles.

    Returns:
        A decorator that keeps the Python type of the function for the type checker.
    """
    compile_now = numba.njit(signature, cache=True, nogil=True, error_model="numpy")

    def wrap(function: Compiled) -> Compiled:
        folder = _folder_for(function.__code__.co_filename)
        numba.config.CACHE_DIR = folder  # type: ignore[attr-defined]  # numba sets options by name
        ready = cast(Compiled, compile_now(function))
        for observe in compiled_observers:
            observe(function.__name__)
        return ready

    return wrap
