"""Put a mistake into modules that are loaded already, in a process that ends soon."""

from __future__ import annotations

import functools
import sys
from collections.abc import Iterator
from types import CodeType, FunctionType, ModuleType
from typing import Any

__all__ = ["CannotPutError", "put"]


class CannotPutError(Exception):
    """A mistake that does not reach what is loaded."""


def put(module: ModuleType, where: str, constant: bool, code: CodeType) -> None:
    """Let a loaded module run with a mistake in it.

    Args:
        module: that is loaded.
        where: a function or method by its qualified name, or the name of a constant.
        constant: whether it is a constant of the module.
        code: of the whole module with the mistake.

    Raises:
        CannotPutError: nothing that is loaded goes by that name.
    """
    if constant:
        _constant(module, where, code)
    else:
        _function(module, where).__code__ = _found(code, where)


def _constant(module: ModuleType, name: str, code: CodeType) -> None:
    """Give a constant its new value wherever it went by its name."""
    fresh = ModuleType(module.__name__)
    fresh.__dict__.update({k: v for k, v in module.__dict__.items() if k.startswith("__")})
    try:
        exec(code, fresh.__dict__)
    except Exception as problem:  # a mistake may well make a module that cannot be loaded
        raise SystemExit(1) from problem
    old, new = module.__dict__[name], fresh.__dict__[name]
    for other in tuple(sys.modules.values()):
        if getattr(other, "__dict__", {}).get(name) is old:
            setattr(other, name, new)
    if type(old) is type(new) and isinstance(old, dict):
        old.clear()
        old.update(new)  # where it was bound by another name


def _function(module: ModuleType, where: str) -> FunctionType:
    found: Any = module
    for part in where.split("."):
        held = vars(found).get(part)
        if held is None:
            raise CannotPutError(where)
        found = held
    return _bare(found, where)


def _bare(found: Any, where: str) -> FunctionType:
    while not isinstance(found, FunctionType):
        if isinstance(found, property):
            found = found.fget
        elif isinstance(found, staticmethod | classmethod):
            found = found.__func__
        elif isinstance(found, functools.cached_property):
            found = found.func
        elif hasattr(found, "__wrapped__"):
            found = found.__wrapped__
        else:
            raise CannotPutError(where)
    while hasattr(found, "__wrapped__"):
        found = found.__wrapped__
    return found


def _found(code: CodeType, where: str) -> CodeType:
    for one in _codes(code):
        if one.co_qualname == where:
            return one
    raise CannotPutError(where)


def _codes(code: CodeType) -> Iterator[CodeType]:
    for one in code.co_consts:
        if isinstance(one, CodeType):
            yield one
            yield from _codes(one)
