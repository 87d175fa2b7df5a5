"""Logs that were not written for us: which column of a logger's table is which.

Not a published model: words and units in headings, as loggers and people write them. What was
understood is said in a sentence; what was not is flagged by whoever reads the table.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from forerun.core.units import Unit, find_unit
from forerun.records.tables import Table, number_from

__all__ = ["begins_a_log", "in_our_words"]

_PLAIN = frozenset(
    {
        "time", "time_s", "time_min", "head_c", "pot_c", "bath_c", "pressure_mbar",
        "pressure_mmhg", "distillate_ml", "distillate_g", "remark",
    }
)  # fmt: skip
_OUR_TIMES = frozenset({"time", "time_s", "time_min"})
_UNIT = re.compile(r"^(.*?)[\[(/_,\s]+([^\s\[\]()/_,]+(?: hg)?)\s*[\])]?$")
_CLOCK = re.compile(
    r"(?:^|[\sT])(\d{1,3}):(\d\d)(?::(\d\d(?:[.,]\d+)?))?\s*([ap]\.?m\.?)?\s*$", re.IGNORECASE
)
_HALF_DAY, _DAY = 43200.0, 86400.0  # s

_TIMES = frozenset({"time", "elapsed", "timestamp", "datetime", "clock"})
_REMARKS = frozenset({"remark", "remarks", "note", "notes", "comment", "comments"})
# dimension: words of a heading and what they name; no word for what any heading may name
_PLACES: Mapping[str, tuple[tuple[frozenset[str], str], ...]] = {
    "temperature": (
        (frozenset({"bath", "mantle", "oil"}), "bath_c"),
        (frozenset({"pot", "flask", "boiler", "liquid", "kettle"}), "pot_c"),
        (frozenset({"head", "vapour", "vapor", "overhead"}), "head_c"),
    ),
    "pressure": ((frozenset(), "pressure_mbar"),),
    "volume": ((frozenset(), "distillate_ml"),),
    "mass": ((frozenset(), "distillate_g"),),
}
_OURS = {
    "temperature": ("°C", 1.0),
    "pressure": ("mbar", 100.0),
    "volume": ("mL", 1e-6),
    "mass": ("g", 1e-3),
}
_ANY_TEMPERATURE = re.compile(
    r"^(?:t|temp|temperature|probe|sensor|channel|ch|tc|thermocouple|value|reading)?\s*\d{0,2}$"
)


@dataclass(frozen=True, slots=True)
class _Understood:
    """One column: what it is in our words, empty for a temperature of no known place."""

    name: str
    dimension: str
    unit: Unit | None = None


def begins_a_log(cells: Sequence[str]) -> bool:
    """Return whether a line is the headings of a log: a time, and something read beside it."""
    kinds = [_understood(cell) for cell in cells]
    return any(k and k.dimension == "time" for k in kinds) and any(
        k and k.dimension != "time" for k in kinds
    )


def in_our_words(table: Table) -> tuple[Table, tuple[str, ...]]:
    """Return a log under our headings, and sentences that say what was taken for what.

    Args:
        table: as read; one under our own headings goes through as it is.

    Returns:
        The table, its cells in our units; columns that are not understood keep their headings.
    """
    held = set(table.columns)
    if held & _OUR_TIMES and held & (_PLAIN - _OUR_TIMES):
        return _with_clock(table), ()
    kinds = {c: kind for c in table.columns if (kind := _understood(c)) is not None}
    names, said = _named(kinds)
    cells: dict[str, Callable[[str], str]] = {}
    for column, name in names.items():
        cells[name] = _converter(kinds[column])
    rows = [
        (number, {names.get(c, c): cells.get(names.get(c, c), str)(v) for c, v in row.items()})
        for number, row in table.rows
    ]
    columns = tuple(names.get(c, c) for c in table.columns)
    found = replace(table, columns=columns, rows=tuple(rows))
    return _with_clock(found), said


def _understood(heading: str) -> _Understood | None:
    text = heading.strip().casefold()
    words, unit = _parted(text)
    told = set(re.findall(r"[^\W\d_]+", words))
    if text == "remark" or told & _REMARKS:
        return _Understood("remark", "remark")
    if told & _TIMES:
        return _time(unit)
    for dimension, places in _PLACES.items():
        found = find_unit(unit, dimension) if unit else None
        if found is None:
            continue
        if dimension != "temperature":
            return _Understood(places[0][1], dimension, found)
        name = _place(told)
        if name or _ANY_TEMPERATURE.match(words.strip(" _-.:°")):
            return _Understood(name, dimension, found)
    return None


def _place(told: set[str]) -> str:
    for words, name in _PLACES["temperature"]:
        if told & words:
            return name
    return ""


def _parted(text: str) -> tuple[str, str]:
    """Return the words of a heading and its unit, empty where it has none."""
    if find_unit(text, "temperature"):
        return "", text
    match = _UNIT.match(text)
    if match is None:
        return text, ""
    unit = match.group(2).strip()
    known = any(find_unit(unit, dimension) for dimension in ("time", *_PLACES))
    return (match.group(1), unit) if known else (text, "")


def _time(unit: str) -> _Understood:
    found = find_unit(unit, "time") if unit else None
    return _Understood("time" if found is None else "time_s", "time", found)


def _named(kinds: Mapping[str, _Understood]) -> tuple[dict[str, str], tuple[str, ...]]:
    """Return our heading of every column that gets one, the first of each, and what is said."""
    names: dict[str, str] = {}
    nameless = []
    for column, kind in kinds.items():
        if not kind.name:
            nameless.append(column)
        elif kind.name not in names.values():
            names[column] = kind.name
    said = [f'"{c}" was taken as {_shown(n)}' for c, n in names.items() if c != n]
    known = [n for n in names.values() if n.endswith("_c")]
    if len(nameless) == 1 and not known:
        names[nameless[0]] = "head_c"
        said.append(f'"{nameless[0]}" was taken as head_C, as it is the only temperature')
    if not said:
        return names, ()
    return names, (f"Of the log, {', '.join(said)}.",)


def _shown(name: str) -> str:
    """Return one of our headings as it is written elsewhere: head_C, distillate_mL."""
    return re.sub(r"_c$", "_C", name).replace("_ml", "_mL")


def _converter(kind: _Understood) -> Callable[[str], str]:
    """Return what brings a cell into our unit; what is no number stays as it is."""
    if kind.unit is None:
        return str
    ours, factor = _OURS.get(kind.dimension, ("s", 1.0))
    if kind.unit.name == ours:
        return str
    zero = 273.15 if kind.dimension == "temperature" else 0.0
    unit = kind.unit

    def converted(cell: str) -> str:
        value = number_from(cell)
        return cell if value is None else f"{(unit.to_si(value) - zero) / factor:.9g}"

    return converted


def _with_clock(table: Table) -> Table:
    """Return a table whose clock without a date is seconds from the first row."""
    if "time" not in table.columns or "time_s" in table.columns:
        return table
    moments = [_CLOCK.search(row["time"]) for _, row in table.rows]
    if not any(moments) or any(_is_date(row["time"]) for _, row in table.rows):
        return table
    rows: list[tuple[int, dict[str, str]]] = []
    first, last, days = None, None, 0.0
    for (number, row), moment in zip(table.rows, moments, strict=True):
        cell = row["time"]
        if moment is not None:
            seconds = _seconds(moment) + days
            if last is not None and seconds < last - _HALF_DAY:
                seconds, days = seconds + _DAY, days + _DAY
            first = seconds if first is None else first
            last = seconds
            cell = f"{seconds - first:.9g}"
        kept = {k: v for k, v in row.items() if k != "time"}
        rows.append((number, {"time_s": cell, **kept}))
    columns = tuple("time_s" if c == "time" else c for c in table.columns)
    return replace(table, columns=columns, rows=tuple(rows))


def _is_date(cell: str) -> bool:
    try:
        datetime.fromisoformat(cell)
    except ValueError:
        return False
    return True


def _seconds(moment: re.Match[str]) -> float:
    """Return the seconds of the day of a clock such as 9:05, 09:05:30 or 9:05:30 PM."""
    hours, minutes, seconds, half = moment.groups()
    hour = int(hours)
    if half:
        hour = hour % 12 + (12 if half[0].casefold() == "p" else 0)
    return 3600.0 * hour + 60.0 * int(minutes) + float((seconds or "0").replace(",", "."))
