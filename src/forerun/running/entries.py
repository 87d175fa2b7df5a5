"""What a bench says beside its readings: drops counted, a bottle changed, an answer, a note."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from forerun.core.errors import BadInput

__all__ = ["AFTER_THE_END", "KINDS", "checked_entry"]

_LONGEST = 2000  # characters of a text
_Check = Callable[[str, object], object]


def _text(field: str, value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise BadInput(field, value, "a text")
    return value.encode("utf-8", "replace").decode("utf-8").replace("\x00", "")[:_LONGEST]


def _number(low: float, high: float) -> _Check:
    def check(field: str, value: object) -> float:
        fits = isinstance(value, int | float) and not isinstance(value, bool)
        if not fits or not low <= float(value) <= high:  # type: ignore[arg-type]  # fits
            raise BadInput(field, value, f"a number from {low:g} to {high:g}")
        return float(value)  # type: ignore[arg-type]  # fits

    return check


def _count(field: str, value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 < value <= 100_000:
        raise BadInput(field, value, "a whole number from 1 to 100000")
    return value


def _one_of(*words: str) -> _Check:
    def check(field: str, value: object) -> str:
        if value not in words:
            raise BadInput(field, value, " or ".join(f'"{word}"' for word in words))
        return str(value)

    return check


_KINDS: Mapping[str, Mapping[str, _Check]] = {
    "drops": {"count": _count, "over_s": _number(0.0, 86400.0)},
    "switched": {"receiver": _count},
    "odd": {"text": _text},
    "note": {"text": _text},
    "answer": {"instruction": _text, "answer": _one_of("done", "not_now", "no")},
    "test": {"finding": _text, "test": _text, "answer": _one_of("yes", "no")},
    "alarm_heard": {"alarm": _text},
    "drops_per_mL": {"value": _number(1.0, 1000.0)},
}

KINDS = tuple(_KINDS)
"""What may be said of a run that goes on."""

AFTER_THE_END = ("note", "odd")
"""What may be said of a run that has ended."""


def checked_entry(kind: object, data: object, now_s: float) -> dict[str, Any]:
    """Return what was said, checked, with the time of the run at which it was.

    Args:
        kind: one of `KINDS`.
        data: its values; ``time_s`` may be left out, then it is now.
        now_s: of the run [s].

    Raises:
        BadInput: an unknown kind, or a value that is missing or cannot be used.
    """
    parts = _KINDS.get(kind) if isinstance(kind, str) else None
    if parts is None:
        raise BadInput("kind", kind, ", ".join(KINDS))
    if not isinstance(data, Mapping):
        raise BadInput("data", data, f"an object with {', '.join(parts)}")
    for key in data:
        if key not in parts and key != "time_s":
            raise BadInput(f"data.{key}", key, f"these keys: {', '.join(parts)}, time_s")
    found = {key: check(f"data.{key}", data.get(key)) for key, check in parts.items()}
    return {**found, "time_s": _time(data.get("time_s"), now_s)}


def _time(value: object, now_s: float) -> float:
    if value is None:
        return now_s
    fits = isinstance(value, int | float) and not isinstance(value, bool)
    time = float(value) if fits else math.nan  # type: ignore[arg-type]  # fits
    if not -3600.0 <= time <= now_s + 60.0:
        raise BadInput("data.time_s", value, f"seconds since the start, at most {now_s:.0f}")
    return time
