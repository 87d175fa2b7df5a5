"""Numbers and arrays as standard JSON: no NaN, no infinity, nothing of numpy's own."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

__all__ = ["by_name", "number", "numbers", "to_text"]


def number(value: float | np.floating[Any] | None) -> float | None:
    """Return a plain float, or None for what is missing or not finite."""
    if value is None:
        return None
    plain = float(value)
    return plain if math.isfinite(plain) else None


def numbers(values: Iterable[float] | npt.NDArray[np.float64]) -> list[float | None]:
    """Return an array as a list of plain floats with None where a value is not finite."""
    return [number(value) for value in values]


def by_name(
    names: Iterable[str], values: Iterable[float] | npt.NDArray[np.float64]
) -> dict[str, float | None]:
    """Return one number per name, in the order of the names."""
    return dict(zip(names, numbers(values), strict=True))


def to_text(answer: Mapping[str, Any]) -> str:
    """Return one JSON object as text, its keys in the order of their meaning.

    Raises:
        ValueError: a number that standard JSON cannot hold is left in the object.
    """
    return json.dumps(answer, allow_nan=False)
