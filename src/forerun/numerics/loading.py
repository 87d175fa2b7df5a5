"""Machine code of kernels from disk into this process, and calls into it.

Nothing here imports the compiler: LLVM alone places the code, and ctypes calls it, which releases
the GIL.
"""

from __future__ import annotations

import ctypes
import hashlib
import json
import os
import struct
from collections.abc import Callable
from functools import cache
from pathlib import Path
from threading import RLock
from typing import Any, cast

import llvmlite
import llvmlite.binding as llvm
import numpy as np

from forerun.core.errors import CalculationFailed
from forerun.numerics.signatures import Array, Kind, Record, Signature

__all__ = [
    "Unsuitable",
    "code_file",
    "entry_name",
    "host",
    "keep",
    "loaded",
    "machine_digest",
    "native_machine",
    "placed",
]

_FORMAT = 1  # of the kept file
_KINDS = {"float64": np.dtype(np.float64), "int64": np.dtype(np.int64)}
_RESULTS: dict[str, Any] = {
    "float64": ctypes.c_double,
    "int64": ctypes.c_int64,
    "boolean": ctypes.c_bool,
    "void": ctypes.c_int64,  # a word that nobody reads
}
_CALL = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_char_p, ctypes.c_void_p)
_lock = RLock()

Values = list[Any]
Add = Callable[[Any, Values], None]


class Unsuitable(Exception):  # noqa: N818 -- it is a finding, not an error
    """This kernel cannot run without its compiler; the message says why."""


# --- this machine


@cache
def host(triple: str = "") -> tuple[str, str, str]:
    """Return the target triple, processor and features that code is made for on this machine."""
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    features = llvm.get_host_cpu_features().flatten()
    return triple or llvm.get_process_triple(), llvm.get_host_cpu_name(), features


@cache
def native_machine(triple: str, cpu: str, features: str) -> Any:
    """Return LLVM's target machine with the settings that just-in-time code needs."""
    reloc = "static" if triple.startswith(("x86", "i386", "i686")) else "default"
    target = llvm.Target.from_triple(triple)
    return target.create_target_machine(
        cpu=cpu, features=features, opt=3, reloc=reloc, codemodel="jitdefault", jit=True
    )


@cache
def machine_digest() -> str:
    """Return 12 hex digits for this kind of machine: code made for another does not run here."""
    parts = (*host(), llvmlite.__version__, str(_FORMAT))
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:12]


@cache
def _engine() -> Any:
    return llvm.create_mcjit_compiler(llvm.parse_assembly(""), native_machine(*host()))


# --- on disk


def entry_name(name: str) -> str:
    """Return what the entry of a kernel is called."""
    return f"entry.{name}"


def code_file(folder: Path, name: str) -> Path:
    """Return where the machine code of a kernel is kept for this kind of machine."""
    return folder / f"{name}.{machine_digest()}.o"


def keep(path: Path, entry: str, externals: tuple[str, ...], code: bytes) -> None:
    """Write machine code, aside first, so that nobody reads half of it.

    Raises:
        OSError: the folder cannot be written.
    """
    head = {"entry": entry, "externals": externals, "sha256": hashlib.sha256(code).hexdigest()}
    aside = path.with_suffix(f".{os.getpid()}.part")
    aside.write_bytes(json.dumps(head).encode() + b"\n" + code)
    aside.replace(path)


def loaded(path: Path, signature: Signature, name: str) -> Callable[..., Any] | None:
    """Return a kernel from its file, ready to be called.

    Args:
        path: from `code_file`.
        signature: what it takes and returns.
        name: for messages.

    Returns:
        The function; None where there is no such file, or it is damaged, or does not fit.
    """
    try:
        first, _, code = path.read_bytes().partition(b"\n")
        head = json.loads(first)
        entry, externals = str(head["entry"]), tuple(head["externals"])
        sound = head["sha256"] == hashlib.sha256(code).hexdigest()
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return placed(entry, externals, code, signature, name) if sound else None


def placed(
    entry: str, externals: tuple[str, ...], code: bytes, signature: Signature, name: str
) -> Callable[..., Any] | None:
    """Return a function that runs machine code.

    Args:
        entry, externals, code: as in `forerun.numerics.objects.MachineCode`.
        signature: what it takes and returns.
        name: for messages.

    Returns:
        The function; None where LLVM cannot place the code in this process.
    """
    with _lock:
        try:
            engine = _engine()
            # LLVM ends the process over a name that it cannot find, so each is looked for before
            if not all(llvm.address_of_symbol(external) for external in externals):
                return None
            engine.add_object_file(llvm.ObjectFileRef.from_data(code))
            engine.finalize_object()
            address = engine.get_function_address(entry)
        except (RuntimeError, OSError, AttributeError):
            return None
    return _caller(address, signature, name) if address else None


# --- calling


def _caller(address: int, signature: Signature, name: str) -> Callable[..., Any]:
    call = _CALL(address)
    layout = struct.Struct(_format(signature.arguments)).pack
    adders = [_adder(kind) for kind in signature.arguments]
    count = len(adders)
    result_of = _RESULTS[signature.returns.name]
    returns = signature.returns.name != "void"
    byref = ctypes.byref

    def run(*given: Any) -> Any:
        try:
            if len(given) != count:
                raise TypeError
            values: Values = []
            for add, value in zip(adders, given, strict=True):
                add(value, values)
            slots = layout(*values)
        except (TypeError, ValueError, struct.error):
            kinds = ", ".join(_described(value) for value in given)
            raise TypeError(f"{name} takes {signature}, not ({kinds})") from None
        result = result_of()
        if call(slots, byref(result)) != 0:
            why = "found a shape that does not fit, or no memory"
            raise CalculationFailed(name, why, "Please report this with the input.")
        return result.value if returns else None

    return run


def _format(kinds: tuple[Kind, ...]) -> str:
    return "@" + "".join(_codes(kind) for kind in kinds)


def _codes(kind: Kind) -> str:
    if isinstance(kind, Record):
        return "".join(_codes(field) for field in kind.fields)
    if isinstance(kind, Array):
        return "q" * (1 + kind.dimensions)
    return "d" if kind.name == "float64" else "q"


def _adder(kind: Kind) -> Add:
    """Return what checks one argument and appends its slots."""
    if isinstance(kind, Record):
        return _record_adder(kind)
    if isinstance(kind, Array):
        return _array_adder(kind)
    return _SCALARS[kind.name]


def _add_float(value: Any, values: Values) -> None:
    if type(value) is not float and not isinstance(value, float | int | np.number | np.bool_):
        raise TypeError
    values.append(value)


def _add_whole(value: Any, values: Values) -> None:
    if type(value) is not int and not isinstance(value, int | np.integer):
        raise TypeError
    values.append(value)


def _add_truth(value: Any, values: Values) -> None:
    if not isinstance(value, bool | np.bool_):
        raise TypeError
    values.append(int(value))


_SCALARS: dict[str, Add] = {"float64": _add_float, "int64": _add_whole, "boolean": _add_truth}


def _array_adder(kind: Array) -> Add:
    wanted, rank = _KINDS[kind.element.name], kind.dimensions
    address_of, view = ctypes.addressof, cast(Callable[[Any], Any], ctypes.c_char.from_buffer)
    array = np.ndarray

    def add(value: Any, values: Values) -> None:
        if type(value) is not array or value.dtype != wanted or value.ndim != rank:
            raise TypeError
        # the view refuses what is read-only or not in one piece, and what is empty
        values.append(address_of(view(value)) if value.size else 0)
        values.extend(value.shape)

    return add


def _record_adder(kind: Record) -> Add:
    """Keep the slots of the last tuple seen: neither it nor where its arrays lie can change."""
    adders = [_adder(field) for field in kind.fields]
    wanted, count = kind.of, len(kind.fields)
    last: tuple[Any, Values] = (None, [])

    def add(value: Any, values: Values) -> None:
        nonlocal last
        seen, slots = last
        if seen is not value:
            if type(value) is not wanted or len(value) != count:
                raise TypeError
            slots = []
            for one, part in zip(adders, value, strict=True):
                one(part, slots)
            last = (value, slots)
        values.extend(slots)

    return add


def _described(value: Any) -> str:
    if isinstance(value, np.ndarray):
        order = "" if value.flags.carray else ", not writable in one piece"
        return f"{value.dtype}{list(value.shape)}{order}"
    return type(value).__name__
