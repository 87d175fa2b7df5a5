"""From the compiler's intermediate text of a kernel to machine code that needs no compiler.

The native function of a kernel takes every array apart: owner, parent, number of items, size of
an item, address, shape, strides.  A short entry is put in front of it that reads one slot of
eight bytes for each number, address and length, and works out the rest, since all arrays lie in
one piece and none owns anything.  Working space that a kernel asks for comes from the C library.
Whatever else it would need from the compiler at run time stays undefined and is found: such a
kernel is left to the compiler.

Source of the calling convention: numba's documentation, "Notes on the numba runtime" and "Native
function calling convention"; the arguments found are compared with those expected, each time.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import llvmlite.binding as llvm

from forerun.numerics.loading import Unsuitable, host, native_machine
from forerun.numerics.signatures import Array, Kind, Record, Scalar, Signature, fixed_slots

__all__ = ["MachineCode", "machine_code"]

_ITEM = 8  # bytes of every item of an array
_SLOT_TYPES = {"float64": "double", "int64": "i64", "boolean": "i8"}

# intrinsics that become instructions, and those that become a call into the C library
_INSTRUCTIONS = re.compile(
    r"llvm\.(smax|smin|umax|umin|fabs|sqrt|copysign|fma|fmuladd|maxnum|minnum|maximum|minimum|abs|"
    r"masked\.\w+|vector\.\w+|assume|lifetime\.\w+|experimental\.noalias\.scope\.decl|ctpop|ctlz|"
    r"cttz|trap|expect|is\.fpclass|is\.constant|x86\.atomic\.\w+|fshl|fshr|usub\.\w+|uadd\.\w+|"
    r"sadd\.\w+|ssub\.\w+|smul\.\w+|umul\.\w+)(\.|$)"
)
_CALLS = re.compile(
    r"llvm\.(exp|exp2|log|log2|log10|pow|sin|cos|tan|floor|ceil|trunc|rint|nearbyint|round|"
    r"memset|memcpy|memmove)(\.|$)"
)
_LIBRARY = re.compile(
    r"exp|exp2|exp10|expm1|log|log2|log10|log1p|pow|sqrt|cbrt|a?sin|a?cos|a?tan|atan2|sinh|cosh|"
    r"tanh|floor|ceil|trunc|rint|nearbyint|round|fmod|erf|erfc|tgamma|lgamma|fabs|memset|memcpy|"
    r"memmove|malloc|free"
)

# Only arrays in one piece are reshaped, so the new strides follow from the new shape alone.  An
# owner is what numba's own is: count, destructor, its argument, address, size, allocator; the
# count reaches zero in code that stands with the kernel, which then asks for it to be freed.
_HELPERS = """
define i32 @numba_attempt_nocopy_reshape(i64 %n, ptr %dims, ptr %strides, i64 %m, ptr %new_dims,
                                         ptr %new_strides, i64 %item, i32 %fortran) {
start:
  br label %check
check:
  %i = phi i64 [ %m, %start ], [ %k, %step ]
  %stride = phi i64 [ %item, %start ], [ %next, %step ]
  %more = icmp sgt i64 %i, 0
  br i1 %more, label %step, label %done
step:
  %k = sub i64 %i, 1
  %place = getelementptr i64, ptr %new_strides, i64 %k
  store i64 %stride, ptr %place
  %size = getelementptr i64, ptr %new_dims, i64 %k
  %length = load i64, ptr %size
  %next = mul i64 %stride, %length
  br label %check
done:
  ret i32 1
}

define ptr @NRT_MemInfo_alloc_aligned(i64 %size, i32 %align) {
  %wide = zext i32 %align to i64
  %unit = call i64 @llvm.umax.i64(i64 %wide, i64 16)
  %head = add i64 %unit, 48
  %whole = add i64 %size, %head
  %owner = call ptr @malloc(i64 %whole)
  %none = icmp eq ptr %owner, null
  br i1 %none, label %done, label %fill
fill:
  %start = ptrtoint ptr %owner to i64
  %beyond = add i64 %start, %head
  %mask = sub i64 0, %unit
  %lined = and i64 %beyond, %mask
  %data = inttoptr i64 %lined to ptr
  %p1 = getelementptr i64, ptr %owner, i64 1
  %p2 = getelementptr i64, ptr %owner, i64 2
  %p3 = getelementptr i64, ptr %owner, i64 3
  %p4 = getelementptr i64, ptr %owner, i64 4
  %p5 = getelementptr i64, ptr %owner, i64 5
  store i64 1, ptr %owner
  store ptr null, ptr %p1
  store ptr null, ptr %p2
  store ptr %data, ptr %p3
  store i64 %size, ptr %p4
  store ptr null, ptr %p5
  br label %done
done:
  ret ptr %owner
}

define void @NRT_MemInfo_call_dtor(ptr %owner) {
  call void @free(ptr %owner)
  ret void
}

declare i64 @llvm.umax.i64(i64, i64)
declare ptr @malloc(i64)
declare void @free(ptr)
"""
_HELPED = (
    "numba_attempt_nocopy_reshape",
    "NRT_MemInfo_alloc_aligned",
    "NRT_MemInfo_call_dtor",
)


class MachineCode(NamedTuple):
    """A kernel that stands on its own.

    Args:
        entry: name of the function to call.
        externals: names from the C library that it calls.
        code: object file in the format of this machine.
    """

    entry: str
    externals: tuple[str, ...]
    code: bytes


def machine_code(
    text: str,
    function: str,
    signature: Signature,
    entry: str,
    known: Mapping[str, int] | None = None,
) -> MachineCode:
    """Return a kernel as machine code.

    Args:
        text: optimised intermediate text of the module that holds it.
        function: name of its native function there.
        signature: what it takes and returns.
        entry: name for the entry.
        known: lengths of arrays, by name, that the code may count on [-]: its loops over them are
            unrolled, which for two or three components saves a third of the time; None for none.

    Returns:
        The code, with the one entry visible.

    Raises:
        Unsuitable: it takes its arguments otherwise than expected, or calls what only the
            compiler has.
    """
    module = llvm.parse_assembly(text)
    _check_arguments(module.get_function(function), signature)
    head = f'target triple = "{module.triple}"\ntarget datalayout = "{module.data_layout}"\n'
    fixed = fixed_slots(signature.arguments, known) if known else {}
    module.link_in(llvm.parse_assembly(head + _entry_text(function, signature, entry, fixed)))
    _hide_all_but(module, entry)
    if any(f.is_declaration and f.name in _HELPED for f in module.functions):
        _help(module, head, entry)
    if known:
        _optimise(module)
    externals = _externals(module)
    triple, cpu, features = host(module.triple)
    machine = native_machine(triple, cpu, features)
    return MachineCode(entry, externals, machine.emit_object(module))


def _check_arguments(function: Any, signature: Signature) -> None:
    found = [str(argument.type) for argument in function.arguments]
    wanted = ["ptr", "ptr", *(kind for kind, _ in _native(signature.arguments))]
    if found != wanted:
        raise Unsuitable("the compiler passes arguments in a way that is not known here")


def _native(kinds: tuple[Kind, ...]) -> Iterator[tuple[str, str]]:
    """Yield type and role of every argument of the native function, in order."""
    for kind in kinds:
        if isinstance(kind, Record):
            yield from _native(kind.fields)
        elif isinstance(kind, Scalar):
            yield _SLOT_TYPES[kind.name], "value"
        else:
            rank = kind.dimensions
            yield from (("ptr", "null"), ("ptr", "null"), ("i64", f"items {rank}"))
            yield from (("i64", f"{_ITEM}"), ("ptr", "value"))
            yield from (("i64", "value") for _ in range(rank))
            yield from (("i64", f"stride {k}") for k in range(rank))


def _entry_text(function: str, signature: Signature, entry: str, fixed: Mapping[int, int]) -> str:
    """Write the entry: it loads the slots and calls the native function with all it wants."""
    lines: list[str] = []
    passed: list[str] = []
    slot = 0

    def new(code: str) -> str:
        lines.append(f"  %t{len(lines)} = {code}")
        return f"%t{len(lines) - 1}"

    def load(kind: str) -> str:
        nonlocal slot
        place = new(f"getelementptr i64, ptr %slots, i64 {slot}")
        slot += 1
        if kind != "i8":
            return new(f"load {kind}, ptr {place}")
        return new(f"trunc i64 {new(f'load i64, ptr {place}')} to i8")

    def add(kind: Kind) -> None:
        if isinstance(kind, Record):
            for field in kind.fields:
                add(field)
        elif isinstance(kind, Array):
            add_array(kind.dimensions)
        else:
            native = _SLOT_TYPES[kind.name]
            passed.append(f"{native} {load(native)}")

    def add_array(rank: int) -> None:
        address = load("ptr")
        shape = []
        for _ in range(rank):
            known = fixed.get(slot)
            read = load("i64")
            shape.append(read if known is None else str(known))
        strides = [str(_ITEM)]
        for length in reversed(shape[1:]):
            strides.append(new(f"mul i64 {strides[-1]}, {length}"))
        items = shape[0]
        for length in shape[1:]:
            items = new(f"mul i64 {items}, {length}")
        passed.extend(("ptr null", "ptr null", f"i64 {items}", f"i64 {_ITEM}", f"ptr {address}"))
        passed.extend(f"i64 {value}" for value in (*shape, *reversed(strides)))

    for kind in signature.arguments:
        add(kind)
    types = ", ".join(["ptr", "ptr", *(kind for kind, _ in _native(signature.arguments))])
    return "\n".join(
        (
            f'declare i32 @"{function}"({types})',
            f'define i32 @"{entry}"(ptr %slots, ptr %result) {{',
            "  %failure = alloca ptr",
            *lines,
            f'  %status = call i32 @"{function}"(',
            f"    {', '.join(('ptr %result', 'ptr %failure', *passed))})",
            "  ret i32 %status",
            "}",
            "",
        )
    )


def _hide_all_but(module: Any, entry: str) -> None:
    """Drop whatever the entry does not reach, such as what the compiler wraps for Python."""
    for value in (*module.functions, *module.global_variables):
        if not value.is_declaration and value.name != entry:
            value.linkage = "internal"
    machine = native_machine(*host(module.triple))
    builder = llvm.create_pass_builder(machine, llvm.create_pipeline_tuning_options(speed_level=0))
    passes = llvm.create_new_module_pass_manager()
    passes.add_global_dead_code_eliminate_pass()
    passes.run(module, builder)


def _optimise(module: Any) -> None:
    """Take the entry and all that it calls together again, with what is known by now.

    Not in vectors: with lengths of two and three they cost more than they save.
    """
    options = llvm.create_pipeline_tuning_options(speed_level=3)
    options.loop_vectorization = options.slp_vectorization = False
    builder = llvm.create_pass_builder(native_machine(*host(module.triple)), options)
    builder.getModulePassManager().run(module, builder)


def _help(module: Any, head: str, entry: str) -> None:
    module.link_in(llvm.parse_assembly(head + _HELPERS))
    _hide_all_but(module, entry)


def _externals(module: Any) -> tuple[str, ...]:
    """Return what has to be found in the C library.

    Raises:
        Unsuitable: something else would have to be found.
    """
    names = set[str]()
    for value in (*module.functions, *module.global_variables):
        if not value.is_declaration or _INSTRUCTIONS.match(value.name):
            continue
        called = _CALLS.match(value.name)
        name = called[1] if called else value.name
        if not _LIBRARY.fullmatch(name):
            raise Unsuitable(f"it needs {name} of its compiler")
        names.add(name)
    return tuple(sorted(names))
