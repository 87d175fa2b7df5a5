"""How many bytes an object and all that hangs on it hold."""

from __future__ import annotations

import gc
import sys
import types

import numpy as np

_NOT_ITS_OWN = (type, types.ModuleType, types.FunctionType, types.BuiltinFunctionType)


def bytes_kept(thing: object) -> int:
    """Return the bytes of an object and of all that it refers to, each once.

    Args:
        thing: what is measured; classes, functions and modules do not count.
    """
    seen: set[int] = set()
    total, left = 0, [thing]
    while left:
        one = left.pop()
        if id(one) in seen or isinstance(one, _NOT_ITS_OWN):
            continue
        seen.add(id(one))
        total += sys.getsizeof(one)  # of an array that owns its numbers, these too
        left.extend([one.base] if isinstance(one, np.ndarray) else gc.get_referents(one))
    return total
