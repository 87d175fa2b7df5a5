"""One decorator for everything that is compiled: @kernel.

numba notices a change of a function's own file but not of the functions that it calls, so
compiled code is kept in a folder named after a fingerprint of the file and of all that it
imports: a stale cache cannot be met, and a read-only installation still has one.

A kernel is read from the cache, or compiled, when it is first called or first needed by another
kernel that is being compiled.  A command so pays for the few kernels that it calls, not for the
many that these were built from.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from threading import RLock
from typing import Any, TypeVar, cast

import numba
from numba.core.caching import IndexDataCacheFile
from numba.core.runtime import rtsys  # type: ignore[attr-defined]  # numba keeps no list

from forerun.numerics.cache import cache_folder, drop_old_caches, kernel_fingerprint

__all__ = [
    "cache_folder",
    "compile_all",
    "compiled_observers",
    "kernel",
    "kernel_fingerprint",
]

Compiled = TypeVar("Compiled", bound=Callable[..., Any])

compiled_observers: list[Callable[[str], None]] = []
"""Called with the name of each kernel when it is ready, for a progress bar."""

_waiting: dict[str, Callable[[], None]] = {}
_lock = RLock()


@cache
def _folder_for(source: str) -> str:
    path = Path(source).resolve()
    folder = cache_folder(path)
    if not folder.exists():
        drop_old_caches(path)
    return str(folder)


def kernel(signature: Any) -> Callable[[Compiled], Compiled]:
    """Compile a function when it is first needed, for one signature, and keep it on disk.

    Args:
        signature: the numba signature; the only one that the function will ever have, so that no
            later command compiles.

    Returns:
        A decorator that keeps the Python type of the function for the type checker. The compiled
        function releases the GIL.
    """
    dispatcher_of = numba.njit(cache=True, nogil=True, error_model="numpy")

    def wrap(function: Compiled) -> Compiled:
        folder = _folder_for(function.__code__.co_filename)
        numba.config.CACHE_DIR = folder  # type: ignore[attr-defined]  # numba sets options by name
        dispatcher = dispatcher_of(function)
        _keep_in(folder, dispatcher)
        return cast(Compiled, _waiting_for_use(dispatcher, signature))

    return wrap


def _keep_in(folder: str, dispatcher: Any) -> None:
    """Keep compiled code by what was compiled.

    numba would also ask where the source file lies and when it was written, so that each copy of
    a package, and each branch that is looked at, would compile all again.
    """
    Path(folder).mkdir(parents=True, exist_ok=True)
    kept = dispatcher._cache
    kept._cache_path = folder
    file = cast(Any, IndexDataCacheFile)  # numba is untyped
    kept._cache_file = file(folder, kept._impl.filename_base, "by fingerprint")


def compile_all() -> None:
    """Read from the cache, or compile, every kernel that has been imported and not been used."""
    for make_ready in tuple(_waiting.values()):
        make_ready()


def _read_from_cache(dispatcher: Any, signature: Any) -> None:
    """Take compiled code from disk without what only a compilation needs.

    numba registers all that it can compile (0.4 s of imports) before it looks into the cache;
    machine code needs only the run-time part of that.
    """
    rtsys.initialize(dispatcher.targetctx)
    kept = dispatcher._cache
    with kept._guard_against_spurious_io_errors():
        result = kept._load_overload(signature, dispatcher.targetctx)
        if result is not None:
            dispatcher.targetctx.insert_user_function(
                result.entry_point, result.fndesc, [result.library]
            )
            dispatcher.add_overload(result)


def _waiting_for_use(dispatcher: Any, signature: Any) -> Any:
    """Hook the two ways in which numba comes to a function that it has not compiled yet."""
    wanted = tuple(signature.args)
    name = f"{dispatcher.py_func.__module__}.{dispatcher.py_func.__qualname__}"
    template_of = dispatcher.get_call_template

    def make_ready() -> None:
        with _lock:
            if _waiting.pop(name, None) is None:
                return
            _read_from_cache(dispatcher, signature)
            dispatcher.compile(signature)
            dispatcher.disable_compile()
        for observe in compiled_observers:
            observe(name)

    def first_call(*given: Any) -> Any:
        make_ready()
        kinds = [dispatcher.typeof_pyval(value) for value in given]
        dispatcher._types_active_call.clear()  # numba keeps what it has typed until told otherwise
        fits = dispatcher.typingctx.can_convert
        if len(kinds) != len(wanted) or any(
            fits(kind, want) is None for kind, want in zip(kinds, wanted, strict=True)
        ):
            raise TypeError(f"{name} takes {wanted}, not {tuple(kinds)}")
        return dispatcher.overloads[wanted].entry_point

    def first_use(args: Any, keywords: Any) -> Any:
        make_ready()
        return template_of(args, keywords)

    dispatcher._compile_for_args = first_call
    dispatcher.get_call_template = first_use
    _waiting[name] = make_ready
    return dispatcher
