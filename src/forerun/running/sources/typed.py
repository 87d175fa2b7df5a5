"""What a person types at the bench: ``head 78.2, 12 mL``, ``switched``, ``odd foams``, ``done``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from forerun.core.errors import BadInput

__all__ = ["Typed", "typed"]

ACCEPTED = (
    "numbers such as head 78.2, pot 91, bath 120, 12 mL, 9.5 g, 760 mmHg, 20 mbar; or "
    "drops 20 in 30; drops per mL 40; switched; odd WORDS; note WORDS; done, not now or no; "
    "yes or no to a test; end"
)
_NUMBER = r"([-+]?\d+(?:[.,]\d+)?)"
_PLACE = re.compile(rf"(head|pot|bath)\s*[:=]?\s*{_NUMBER}\s*(?:°?\s*C)?", re.IGNORECASE)
_AMOUNT = re.compile(rf"(?:over\s+)?{_NUMBER}\s*(mL|g|mbar|mmHg|torr)", re.IGNORECASE)
_DROPS = re.compile(r"(\d+)\s+drops?\s+in\s+(\d+)\s*s?|drops?\s+(\d+)\s+in\s+(\d+)\s*s?", re.I)
_PER_ML = re.compile(rf"drops\s+per\s+mL\s+{_NUMBER}", re.IGNORECASE)
_WORDS = re.compile(r"(odd|note)\s+(\S.*)", re.IGNORECASE)
_HEADINGS = {
    "ml": "distillate_mL",
    "g": "distillate_g",
    "mbar": "pressure_mbar",
    "mmhg": "pressure_mmHg",
    "torr": "pressure_mmHg",
}
_ANSWERS = {"done": "done", "not now": "not_now", "no": "no", "yes": "yes"}


@dataclass(frozen=True, slots=True)
class Typed:
    """One typed line.

    Args:
        row: numbers by their headings.
        entry: kind and data of what else may be said; None for nothing.
        answer: ``done``, ``not_now``, ``no`` or ``yes``, to whatever was asked last.
        switched: whether the receiver was changed.
        ends: whether the run has ended.
    """

    row: Mapping[str, Any] = field(default_factory=dict)
    entry: tuple[str, Mapping[str, Any]] | None = None
    answer: str = ""
    switched: bool = False
    ends: bool = False


def typed(line: str) -> Typed:
    """Return what a typed line says.

    Args:
        line: without its end.

    Raises:
        BadInput: it cannot be understood.
    """
    text = " ".join(line.split())
    low = text.lower().rstrip(".")
    if low in {"end", "stop"}:
        return Typed(ends=True)
    if low in {"switched", "switch", "bottle off"}:
        return Typed(switched=True)
    if low in _ANSWERS:
        return Typed(answer=_ANSWERS[low])
    entry = _entry(text)
    return Typed(row=_numbers(text)) if entry is None else Typed(entry=entry)


def _entry(text: str) -> tuple[str, dict[str, Any]] | None:
    said = _WORDS.fullmatch(text)
    if said:
        return said[1].lower(), {"text": said[2]}
    per_ml = _PER_ML.fullmatch(text)
    if per_ml:
        return "drops_per_mL", {"value": _number(per_ml[1])}
    drops = _DROPS.fullmatch(text)
    if drops:
        count, over = (int(part) for part in drops.groups() if part is not None)
        return "drops", {"count": count, "over_s": float(over)}
    return None


def _numbers(text: str) -> dict[str, float]:
    row: dict[str, float] = {}
    for part in re.split(r"[;]\s*|,\s+", text):
        place, amount = _PLACE.fullmatch(part.strip()), _AMOUNT.fullmatch(part.strip())
        if place:
            row[f"{place[1].lower()}_C"] = _number(place[2])
        elif amount:
            row[_HEADINGS[amount[2].lower()]] = _number(amount[1])
        else:
            raise BadInput("line", text, ACCEPTED)
    return row


def _number(text: str) -> float:
    return float(text.replace(",", "."))
