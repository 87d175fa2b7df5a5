"""Many sheets from one: which keys are varied, over which values, in every combination."""

from __future__ import annotations

import copy
import hashlib
import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from forerun.core.errors import BadInput

__all__ = ["MOST_POINTS", "SweepPlan", "Varied", "plan_of", "table_at", "varied"]

MOST_POINTS = 200_000
_NUMBER = re.compile(r"^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$")
_ACCEPTED = (
    'a key of the sheet with a range or a list, such as "rig.plates=2:10:5", '
    '"charge.heptane.amount=20:60:9 mL", "rig.heat_loss=0.1 W/K:1 W/K:7:log" or '
    '"rig.bath=water,silicone oil"'
)


@dataclass(frozen=True, slots=True)
class Varied:
    """One key and the values that it takes.

    Args:
        key: path in the sheet, such as ``programme.reflux_ratio``.
        values: numbers, or texts with their unit, as a sheet would have them.
    """

    key: str
    values: tuple[float | int | str, ...]


@dataclass(frozen=True, slots=True)
class SweepPlan:
    """A sheet and what is varied in it.

    Args:
        table: the sheet as a table of tables.
        vary: the keys; the last one changes fastest.
    """

    table: Mapping[str, Any]
    vary: tuple[Varied, ...]

    @property
    def points(self) -> int:
        """Number of combinations [-]."""
        return math.prod(len(v.values) for v in self.vary)

    def values_at(self, number: int) -> tuple[float | int | str, ...]:
        """Return the values of one combination, counted from 0."""
        found: list[float | int | str] = []
        for one in reversed(self.vary):
            number, k = divmod(number, len(one.values))
            found.append(one.values[k])
        return tuple(reversed(found))

    def fingerprint(self) -> str:
        """Return what tells this plan from every other."""
        whole = [self.table, [[v.key, list(v.values)] for v in self.vary]]
        text = json.dumps(whole, sort_keys=True, default=str)
        return hashlib.sha256(text.encode("utf-8")).hexdigest()


def varied(word: str) -> Varied:
    """Read one ``key=lo:hi:n`` or ``key=a,b,c``.

    Args:
        word: as written; a unit may follow the numbers, ``:log`` spaces them evenly in ratio.

    Raises:
        BadInput: it cannot be read.
    """
    key, sign, text = word.partition("=")
    if not sign or not key.strip() or not text.strip():
        raise BadInput("--vary", word, _ACCEPTED)
    parts = [part.strip() for part in text.split(":")]
    if len(parts) == 1:
        values = tuple(_plain(part.strip()) for part in text.split(",") if part.strip())
    else:
        values = _range(word, parts)
    if not values or len(set(values)) != len(values):
        raise BadInput("--vary", word, "each value once")
    return Varied(key.strip(), values)


def _range(word: str, parts: Sequence[str]) -> tuple[float | int | str, ...]:
    if len(parts) not in (3, 4) or (len(parts) == 4 and parts[3] != "log"):
        raise BadInput("--vary", word, _ACCEPTED)
    ends = [_NUMBER.match(part) for part in parts[:2]]
    count = _NUMBER.match(parts[2])
    if None in ends or count is None:
        raise BadInput("--vary", word, _ACCEPTED)
    low, high = (float(end.group(1)) for end in ends if end)
    units = {m.group(2) for m in (*ends, count) if m and m.group(2)}
    n = float(count.group(1))
    if len(units) > 1 or n != int(n) or not 1 <= n <= MOST_POINTS or (n == 1 and low != high):
        raise BadInput("--vary", word, "one unit, and a whole number of values from 2 on")
    logarithmic = len(parts) == 4
    if logarithmic and not (low > 0.0 and high > 0.0):
        raise BadInput("--vary", word, "ends above zero for a range with :log")
    unit = units.pop() if units else ""
    steps = [k / (n - 1) if n > 1 else 0.0 for k in range(int(n))]
    if logarithmic:
        numbers = [low * (high / low) ** s for s in steps]
    else:
        numbers = [low + (high - low) * s for s in steps]
    return tuple(_plain(f"{value:.9g} {unit}".strip()) for value in numbers)


def _plain(text: str) -> float | int | str:
    """Return a bare number as one, anything else as written."""
    match = _NUMBER.match(text)
    if match is None or match.group(2):
        return text
    value = float(text)
    return int(value) if value.is_integer() and abs(value) < 1e15 else value


def plan_of(table: Mapping[str, Any], words: Sequence[str]) -> SweepPlan:
    """Return what is to be run.

    Args:
        table: the sheet as a table of tables.
        words: what is varied, see `varied`.

    Raises:
        BadInput: nothing to vary, a key twice, a key that is not there, too many points.
    """
    if not words:
        raise BadInput("--vary", "nothing", _ACCEPTED)
    vary = tuple(varied(word) for word in words)
    keys = [v.key for v in vary]
    if len(set(keys)) != len(keys):
        raise BadInput("--vary", ", ".join(keys), "each key once")
    plan = SweepPlan(table, vary)
    if plan.points > MOST_POINTS:
        raise BadInput("--vary", f"{plan.points} points", f"at most {MOST_POINTS:,} points")
    table_at(plan, 0)
    return plan


def table_at(plan: SweepPlan, number: int) -> dict[str, Any]:
    """Return the sheet of one combination.

    Args:
        plan: from `plan_of`.
        number: of the combination, from 0.

    Raises:
        BadInput: a key leads nowhere.
    """
    table = copy.deepcopy(dict(plan.table))
    for one, value in zip(plan.vary, plan.values_at(number), strict=True):
        _set(table, one.key, value)
    return table


def _set(table: dict[str, Any], key: str, value: object) -> None:
    *way, last = key.split(".")
    place: Any = table
    for depth, part in enumerate(way):
        if isinstance(place, list):
            place = _entry(place, part, key)
        elif isinstance(place, dict):
            empty: dict[str, Any] = {}
            place = place.setdefault(part, empty)
        else:
            raise BadInput("--vary", key, f"a key; {'.'.join(way[:depth])} is no table")
    if not isinstance(place, dict):
        raise BadInput("--vary", key, "a key of a table, such as rig.plates")
    place[last] = value


def _entry(entries: list[Any], part: str, key: str) -> Any:
    """Return an entry of a list of tables by its place from 1, or by its substance."""
    if part.isdigit():
        if 1 <= int(part) <= len(entries):
            return entries[int(part) - 1]
        raise BadInput("--vary", key, f"a place from 1 to {len(entries)}")
    for entry in entries:
        name = entry.get("substance") if isinstance(entry, dict) else None
        if isinstance(name, str) and name.casefold() == part.casefold():
            return entry
    names = [str(e.get("substance", "")) for e in entries if isinstance(e, dict)]
    raise BadInput("--vary", key, f"a place from 1 on, or one of: {', '.join(filter(None, names))}")
