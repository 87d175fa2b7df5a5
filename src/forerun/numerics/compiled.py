"""One decorator for everything that is compiled: `kernel`.

A kernel is made ready when it is first called: its machine code is read from the folder of its
source file, which is named after a fingerprint of the file and of all that it imports, so that a
stale kernel cannot be met.  Only where there is no code for this machine is numba imported, to
compile it and keep it.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any, TypeVar, cast

from forerun.numerics.cache import cache_folder, drop_old_caches
from forerun.numerics.signatures import Signature

if TYPE_CHECKING:
    from forerun.numerics.compiling import Compiler

__all__ = [
    "Kernel",
    "compile_all",
    "compiled_observers",
    "kernel",
    "left_to_numba",
    "when_missing",
]

Compiled = TypeVar("Compiled", bound=Callable[..., Any])

compiled_observers: list[Callable[[str], None]] = []
"""Called with the name of each kernel when it is ready, for a progress bar."""

left_to_numba: dict[str, str] = {}
"""Name and reason of every kernel of this process that cannot do without numba."""

_when_missing: list[Callable[[], object]] = []
_imported: list[Kernel] = []
_lock = RLock()


def kernel(
    signature: Signature,
    *,
    fast: bool = False,
    inline: bool = False,
    versions: tuple[Mapping[str, int], ...] = (),
) -> Callable[[Compiled], Compiled]:
    """Compile a function when it is first needed, for one signature, and keep it on disk.

    Args:
        signature: from `forerun.numerics.signatures`; the only one that the function will ever
            have, so that no later command compiles.
        fast: whether it makes no array of its own and its sums may be reordered and fused with
            products; infinity and not-a-number keep their meaning.
        inline: whether other kernels take it in instead of calling it, for those that are called
            from few places with many words to hand over.
        versions: lengths by the names that the signature gives them; each makes a version that
            counts on them, taken by itself where all arrays have them, the first that fits.

    Returns:
        A decorator that keeps the Python type of the function for the type checker. The compiled
        function releases the GIL, takes nothing but what the signature says (else a TypeError)
        and may be called from several threads.
    """
    if not isinstance(signature, Signature):
        raise TypeError("a kernel is signed with the types of forerun.numerics.signatures")

    def wrap(function: Compiled) -> Compiled:
        return cast(Compiled, Kernel(function, signature, fast, inline, versions))

    return wrap


def compile_all(module: str = "") -> None:
    """Make every kernel that has been imported ready, and keep it.

    Args:
        module: only those of this module; empty: of all.
    """
    for one in tuple(_imported):
        if not module or one.__module__ == module:
            one.make_ready()


def when_missing(act: Callable[[], object]) -> None:
    """Do something once, before the first kernel is compiled because no code of it is kept.

    Args:
        act: announces it, or prepares all kernels.
    """
    _when_missing[:] = [act]


def _loading() -> Any:
    return import_module("forerun.numerics.loading")  # LLVM, only when a kernel is needed


class Kernel:
    """A compiled function.

    Args:
        function: its Python source.
        signature: what it takes and returns.
        fast: whether it makes no array of its own and its sums may be reordered.
        inline: whether other kernels take it in.
        versions: lengths that versions of it count on [-].
    """

    def __init__(
        self,
        function: Callable[..., Any],
        signature: Signature,
        fast: bool = False,
        inline: bool = False,
        versions: tuple[Mapping[str, int], ...] = (),
    ) -> None:
        functools.update_wrapper(self, function)
        self._function = function
        self._signature = signature
        self._fast = fast
        self._inline = inline
        self._versions = versions
        self._name = f"{function.__module__}.{function.__qualname__}"
        self._run: Callable[..., Any] = self._first_call
        self._ready = False
        _imported.append(self)

    def __call__(self, *given: Any) -> Any:
        """Run it."""
        return self._run(*given)

    def __repr__(self) -> str:
        return f"<kernel {self._name}>"

    def _first_call(self, *given: Any) -> Any:
        self.make_ready()
        return self._run(*given)

    def make_ready(self) -> None:
        """Read the machine code, or compile it and keep it."""
        with _lock:
            if self._ready:
                return
            self._run = self._from_disk() or self._compiled()
            self._ready = True
        for observe in compiled_observers:
            observe(self._name)

    def _from_disk(self) -> Callable[..., Any] | None:
        loading = _loading()
        what = (self._folder, self._signature, self._name, self._versions)
        found = loading.loaded(*what)
        if found is None and _when_missing:
            _when_missing.pop()()
            found = loading.loaded(*what)
        return cast("Callable[..., Any] | None", found)

    def _compiled(self) -> Callable[..., Any]:
        """Compile it; without numba from then on if it can do without."""
        loading = _loading()
        drop_old_caches(Path(self._function.__code__.co_filename).resolve())
        try:
            codes = self._compiler.machine_code(loading.entry_name(self._name), self._versions)
        except loading.Unsuitable as reason:
            return self._left_to_numba(str(reason))
        with suppress(OSError):  # where nothing can be written, the next process compiles again
            for number, code in enumerate(codes):
                loading.keep(loading.code_file(self._folder, self._name, number), *code)
        found = loading.placed(codes, self._signature, self._name, self._versions)
        return found or self._left_to_numba("its code cannot be placed in this process")

    def _left_to_numba(self, reason: str) -> Callable[..., Any]:
        left_to_numba[self._name] = reason
        return cast(Callable[..., Any], self._compiler.dispatcher())

    @functools.cached_property
    def _folder(self) -> Path:
        return cache_folder(Path(self._function.__code__.co_filename).resolve())

    @functools.cached_property
    def _compiler(self) -> Compiler:
        compiling = import_module("forerun.numerics.compiling")  # numba, only when it is needed
        made = compiling.Compiler(
            self._function, self._signature, self._folder, self._fast, self._inline
        )
        return cast("Compiler", made)

    @property
    def _numba_type_(self) -> Any:
        """Tell numba what this is when it compiles another kernel that calls it."""
        return self._compiler.dispatcher()._numba_type_
