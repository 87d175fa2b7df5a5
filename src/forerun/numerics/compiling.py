"""Compiling kernels with numba, and keeping what it needs to compile others that call them.

The one file that imports numba; a prepared program never comes here.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, cast

import numba
from numba import types
from numba.core.caching import IndexDataCacheFile

from forerun.numerics.objects import MachineCode, machine_code
from forerun.numerics.signatures import Array, Kind, Record, Signature

__all__ = ["Compiler"]

_OPTIONS: dict[str, Any] = {"nogil": True, "error_model": "numpy"}
# all of LLVM's fast arithmetic but what would lose infinity and not-a-number; and no counting of
# who holds an array, which costs more than a small kernel's own work
_FAST: dict[str, Any] = {"fastmath": {"reassoc", "contract", "arcp", "nsz"}, "_nrt": False}


class Compiler:
    """One kernel in numba's hands.

    Args:
        function: its Python source.
        signature: what it takes and returns, the only one that it will ever have.
        folder: where numba keeps it; not used where it cannot be written.
        fast: whether it makes no array of its own and its sums may be reordered.
        inline: whether other kernels take it in.
    """

    def __init__(
        self,
        function: Callable[..., Any],
        signature: Signature,
        folder: Path,
        fast: bool = False,
        inline: bool = False,
    ) -> None:
        self._function = function
        self._signature = signature
        self._types = _numba_signature(signature)
        self._options = _OPTIONS | (_FAST if fast else {}) | {"forceinline": inline}
        self._kept = _dispatcher(function, folder, self._options)
        self._ready = False

    def dispatcher(self) -> Any:
        """Return numba's dispatcher, compiled for the signature and closed for any other."""
        if not self._ready:
            self._kept.compile(self._types)
            self._kept.disable_compile()
            self._ready = True
        return self._kept

    def machine_code(
        self, entry: str, versions: tuple[Mapping[str, int], ...] = ()
    ) -> tuple[MachineCode, ...]:
        """Return the kernel as machine code that stands on its own, and versions of it.

        Args:
            entry: name for its entry.
            versions: lengths, by name, that each version after the first counts on [-].

        Raises:
            Unsuitable: it cannot do without numba.
        """
        compiled = self.dispatcher()
        if compiled.stats.cache_hits:  # what numba has read from disk has no text any more
            compiled = numba.njit(**self._options)(self._function)
            compiled.compile(self._types)
        result = compiled.overloads[self._types.args]
        text = compiled.inspect_llvm(self._types.args)
        name = result.fndesc.llvm_func_name
        codes = [machine_code(text, name, self._signature, entry)]
        for number, known in enumerate(versions, 1):
            codes.append(machine_code(text, name, self._signature, f"{entry}.{number}", known))
        return tuple(codes)


def _dispatcher(function: Callable[..., Any], folder: Path, options: dict[str, Any]) -> Any:
    if not _writable(folder):
        return numba.njit(**options)(function)
    numba.config.CACHE_DIR = str(folder)  # type: ignore[attr-defined]  # set by name
    dispatcher: Any = numba.njit(cache=True, **options)(function)
    # numba would also ask where the source file lies and when it was written, so that each copy
    # of a package, and each branch that is looked at, would compile all again
    kept = dispatcher._cache
    kept._cache_path = str(folder)
    file = cast(Any, IndexDataCacheFile)  # numba is untyped
    kept._cache_file = file(str(folder), kept._impl.filename_base, "by fingerprint")
    return dispatcher


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _numba_signature(signature: Signature) -> Any:
    return _numba_type(signature.returns)(*(_numba_type(kind) for kind in signature.arguments))


def _numba_type(kind: Kind) -> Any:
    if isinstance(kind, Record):
        fields = tuple(_numba_type(field) for field in kind.fields)
        return types.NamedTuple(fields, kind.of)  # type: ignore[no-untyped-call]  # untyped
    if isinstance(kind, Array):
        return types.Array(_numba_type(kind.element), kind.dimensions, "C")
    return getattr(types, kind.name)
