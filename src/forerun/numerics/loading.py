"""Machine code of kernels from disk into this process, and calls into it.

Nothing here imports the compiler: LLVM alone places the code, and ctypes calls it, which releases
the GIL.
"""

from __future__ import annotations

import ctypes
import hashlib
import json
import operator
import os
import struct
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from threading import RLock, local
from typing import Any, cast

import llvmlite
import llvmlite.binding as llvm
import numpy as np

from forerun.core.errors import CalculationFailed
from forerun.numerics.signatures import Array, Kind, Record, Signature, fixed_slots

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
_NOTHING_SEEN: tuple[Any, Values] = (None, [])
_lock = RLock()

Code = tuple[str, tuple[str, ...], bytes]
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


def code_file(folder: Path, name: str, version: int = 0) -> Path:
    """Return where the machine code of a kernel is kept for this kind of machine."""
    return folder / f"{name}{f'.{version}' if version else ''}.{machine_digest()}.o"


def keep(path: Path, entry: str, externals: tuple[str, ...], code: bytes) -> None:
    """Write machine code, aside first, so that nobody reads half of it.

    Raises:
        OSError: the folder cannot be written.
    """
    head = {"entry": entry, "externals": externals, "sha256": hashlib.sha256(code).hexdigest()}
    aside = path.with_suffix(f".{os.getpid()}.part")
    aside.write_bytes(json.dumps(head).encode() + b"\n" + code)
    aside.replace(path)


def loaded(
    folder: Path,
    signature: Signature,
    name: str,
    versions: tuple[Mapping[str, int], ...] = (),
) -> Callable[..., Any] | None:
    """Return a kernel from its files, ready to be called.

    Args:
        folder: where they are kept.
        signature: what it takes and returns.
        name: its own.
        versions: lengths that each version after the first counts on [-].

    Returns:
        The function; None where a file is missing or damaged, or the code does not fit.
    """
    codes = [_read(code_file(folder, name, number)) for number in range(1 + len(versions))]
    whole = tuple(code for code in codes if code is not None)
    return placed(whole, signature, name, versions) if len(whole) == len(codes) else None


def _read(path: Path) -> Code | None:
    """Return the code of one file, None where it is missing or damaged."""
    try:
        first, _, code = path.read_bytes().partition(b"\n")
        head = json.loads(first)
        entry, externals = str(head["entry"]), tuple(head["externals"])
        sound = head["sha256"] == hashlib.sha256(code).hexdigest()
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return (entry, externals, code) if sound else None


def placed(
    codes: Sequence[Code],
    signature: Signature,
    name: str,
    versions: tuple[Mapping[str, int], ...] = (),
) -> Callable[..., Any] | None:
    """Return a function that runs machine code.

    Args:
        codes: entry, externals and code, as in `forerun.numerics.objects.MachineCode`, of the
            general version and of the others.
        signature: what it takes and returns.
        name: for messages.
        versions: lengths that each of the others counts on [-].

    Returns:
        The function, which takes the first version that its arrays fit; None where LLVM cannot
        place the general one in this process.
    """
    general = _address(codes[0])
    if general is None:
        return None
    choices = [
        _Choice(fixed_slots(signature.arguments, known), code)
        for known, code in zip(versions, codes[1:], strict=True)
    ]
    return _caller(general, signature, name, choices)


def _address(code: Code) -> int | None:
    """Place code in this process and return where its entry is, None where that cannot be."""
    entry, externals, machine = code
    with _lock:
        try:
            engine = _engine()
            # LLVM ends the process over a name that it cannot find, so each is looked for before
            if not all(llvm.address_of_symbol(external) for external in externals):
                return None
            engine.add_object_file(llvm.ObjectFileRef.from_data(machine))
            engine.finalize_object()
            return engine.get_function_address(entry) or None
        except (RuntimeError, OSError, AttributeError):
            return None


class _Choice:
    """A version of a kernel for arrays of certain lengths, placed when it is first needed."""

    def __init__(self, fixed: Mapping[int, int], code: Code) -> None:
        self._pick = operator.itemgetter(*fixed)
        self._wanted = tuple(fixed.values())
        self._code: Code | None = code
        self._call: Any = None

    def call_for(self, slots: Values) -> Any:
        """Return what to call for these slots; None where their lengths are others."""
        if self._pick(slots) != self._wanted:
            return None
        if self._code is not None:
            with _lock:
                if self._code is not None:
                    address = _address(self._code)
                    self._call = None if address is None else _CALL(address)
                    self._code = None
        return self._call


# --- calling


def _caller(
    address: int, signature: Signature, name: str, choices: Sequence[_Choice] = ()
) -> Callable[..., Any]:
    general = _CALL(address)
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
        call = general
        for choice in choices:
            if (found := choice.call_for(values)) is not None:
                call = found
                break
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
        if type(value) is not array or (value.dtype is not wanted and value.dtype != wanted):
            raise TypeError
        shape = value.shape
        if len(shape) != rank:
            raise TypeError
        # the view refuses what is read-only or not in one piece, and what is empty
        values.append(0 if 0 in shape else address_of(view(value)))
        values.extend(shape)

    return add


def _record_adder(kind: Record) -> Add:
    """Keep the slots of the last tuple that a thread saw: it and where its arrays lie stay."""
    adders = [_adder(field) for field in kind.fields]
    wanted, count = kind.of, len(kind.fields)
    kept = local()

    def add(value: Any, values: Values) -> None:
        seen, slots = getattr(kept, "last", _NOTHING_SEEN)
        if seen is not value:
            if type(value) is not wanted or len(value) != count:
                raise TypeError
            slots = []
            for one, part in zip(adders, value, strict=True):
                one(part, slots)
            kept.last = (value, slots)
        values.extend(slots)

    return add


def _described(value: Any) -> str:
    if isinstance(value, np.ndarray):
        order = "" if value.flags.carray else ", not writable in one piece"
        return f"{value.dtype}{list(value.shape)}{order}"
    return type(value).__name__
