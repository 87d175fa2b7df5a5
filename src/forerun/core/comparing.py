"""Two objects of JSON side by side: how many values there are, which differ, and by how much."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["Compared", "Difference", "compare"]


@dataclass(frozen=True, slots=True)
class Difference:
    """One value that is not the same.

    Args:
        path: keys and places that lead to it, such as ``cuts[0].volume_m3``.
        then: the saved value; None where there was none.
        now: the new one; None where there is none.
    """

    path: str
    then: Any
    now: Any

    @property
    def relative(self) -> float | None:
        """Difference over the larger of the two; None where one is no number [-]."""
        if not (_is_number(self.then) and _is_number(self.now)):
            return None
        largest = max(abs(self.then), abs(self.now))
        return abs(self.then - self.now) / largest if largest else 0.0


@dataclass(frozen=True, slots=True)
class Compared:
    """What a comparison found.

    Args:
        values: how many were compared.
        differences: those that are not the same, in the order of the object.
    """

    values: int
    differences: tuple[Difference, ...]

    @property
    def largest(self) -> Difference | None:
        """The number that is furthest off by its size, or else what differs first."""
        numbers = [d for d in self.differences if d.relative is not None]
        if numbers:
            return max(numbers, key=lambda d: d.relative or 0.0)
        return self.differences[0] if self.differences else None


def compare(then: Any, now: Any) -> Compared:
    """Compare every value of two objects of JSON, to the last digit.

    Args:
        then: the saved object.
        now: the new one.
    """
    pairs = list(_leaves(then, now, ""))
    return Compared(len(pairs), tuple(Difference(*pair) for pair in pairs if not _same(*pair[1:])))


def _leaves(then: Any, now: Any, path: str) -> Iterator[tuple[str, Any, Any]]:
    if isinstance(then, Mapping) and isinstance(now, Mapping):
        for key in dict.fromkeys((*then, *now)):
            yield from _leaves(then.get(key), now.get(key), f"{path}.{key}" if path else key)
    elif isinstance(then, list) and isinstance(now, list):
        for k in range(max(len(then), len(now))):
            yield from _leaves(_at(then, k), _at(now, k), f"{path}[{k}]")
    else:
        yield path, then, now


def _at(values: list[Any], place: int) -> Any:
    return values[place] if place < len(values) else None


def _same(then: Any, now: Any) -> bool:
    return bool(then == now) and isinstance(then, bool) is isinstance(now, bool)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
