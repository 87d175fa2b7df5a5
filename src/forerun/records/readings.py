"""Readings: what thermometers, gauge and receiver said when, and files of them.

A file has headings: ``time_s``, ``time_min`` or ``time`` (ISO 8601), then any of ``head_C``,
``pot_C``, ``bath_C``, ``pressure_mbar``, ``pressure_mmHg``, ``distillate_mL``, ``distillate_g``,
``remark``; or those of a logger, see `forerun.records.headings`.  A cell that cannot be used is
left empty and flagged; its row stays.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.core.units import Unit, find_unit
from forerun.records.headings import begins_a_log, in_our_words
from forerun.records.tables import Flag, Table, number_from, read_table

__all__ = [
    "CHANNELS",
    "HEADINGS",
    "LONGEST_REMARK",
    "Reading",
    "Readings",
    "channel_value",
    "read_readings",
    "readings_of",
]

Floats = npt.NDArray[np.float64]

CHANNELS = ("head_K", "pot_K", "bath_K", "pressure_Pa", "distillate_m3", "distillate_kg")
"""The numbers of a reading beside its time, by their names in `Reading`."""

_NAN = math.nan
_TEMPERATURE = ("a temperature in °C from -120 to 450", -120.0, 450.0)
_AMOUNT = (0.0, 1e5)
# heading: channel, its unit, what is accepted, lowest and highest
_COLUMNS: dict[str, tuple[str, str, str, str, float, float]] = {
    "head_c": ("head_K", "temperature", "°C", *_TEMPERATURE),
    "pot_c": ("pot_K", "temperature", "°C", *_TEMPERATURE),
    "bath_c": ("bath_K", "temperature", "°C", *_TEMPERATURE),
    "pressure_mbar": (
        "pressure_Pa", "pressure", "mbar", "a pressure in mbar from 0.001 to 5000", 1e-3, 5e3,
    ),
    "pressure_mmhg": (
        "pressure_Pa", "pressure", "mmHg", "a pressure in mmHg from 0.001 to 4000", 1e-3, 4e3,
    ),
    "distillate_ml": (
        "distillate_m3", "volume", "mL", "a volume in mL from 0 to 100000", *_AMOUNT,
    ),
    "distillate_g": ("distillate_kg", "mass", "g", "a mass in g from 0 to 100000", *_AMOUNT),
}  # fmt: skip
_HEADINGS = (
    "time_s, time_min or time (ISO 8601), then any of head_C, pot_C, bath_C, pressure_mbar, "
    "pressure_mmHg, distillate_mL, distillate_g, remark; or place and unit in words, such as "
    '"Time (min)", "Head (°C)"'
)
_TIMES: dict[str, float] = {"time_s": 1.0, "time_min": 60.0}
_LATEST = 31 * 86400.0  # s; no batch runs longer
LONGEST_REMARK = 2000
"""Characters of a remark that are kept as one; the line as it came keeps all."""

HEADINGS = (
    "head_C", "pot_C", "bath_C", "pressure_mbar", "pressure_mmHg", "distillate_mL", "distillate_g",
)  # fmt: skip
"""What a number of a reading may be called."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One line of the log; what was not read is not-a-number.

    Args:
        time_s: since the start of the run, of a clock that never steps [s].
        head_K: head thermometer [K].
        pot_K: liquid in the pot [K].
        bath_K: bath [K].
        pressure_Pa: [Pa].
        distillate_m3: distillate so far [m3].
        distillate_kg: distillate so far [kg].
        remark: what was written beside it.
        origin: ``file``, ``typed``, or the name of a device.
        flags: why a value of this line is not to be trusted, one phrase each.
        raw: the line as it came.
        utc_s: seconds since 1970-01-01 by the clock of the room, None where unknown [s].
        corrects: number of the stored reading that this one replaces, None for a new one.
    """

    time_s: float
    head_K: float = _NAN
    pot_K: float = _NAN
    bath_K: float = _NAN
    pressure_Pa: float = _NAN
    distillate_m3: float = _NAN
    distillate_kg: float = _NAN
    remark: str = ""
    origin: str = "file"
    flags: tuple[str, ...] = ()
    raw: str = ""
    utc_s: float | None = None
    corrects: int | None = None


@dataclass(frozen=True, slots=True)
class Readings:
    """A log in order of time.

    Args:
        rows: the readings.
        flags: cells and rows that were not used as they stand.
        columns: headings of the file; empty when the log did not come from one.
        started_utc_s: clock time of time 0, None where unknown [s].
        text: the file as it was read, for the archive.
        notes: what was taken for what in a file under headings of its own, in sentences.
    """

    rows: tuple[Reading, ...]
    flags: tuple[Flag, ...] = ()
    columns: tuple[str, ...] = ()
    started_utc_s: float | None = None
    text: str = field(default="", repr=False)
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def time_s(self) -> Floats:
        """Times of all rows [s]."""
        return np.array([row.time_s for row in self.rows], dtype=np.float64)

    def channel(self, name: str) -> Floats:
        """Return one channel along all rows [its unit], not-a-number where it was not read.

        Args:
            name: one of `CHANNELS`.
        """
        return np.array([getattr(row, name) for row in self.rows], dtype=np.float64)

    def has(self, name: str) -> bool:
        """Return whether a channel was read at least once."""
        return bool(np.isfinite(self.channel(name)).any())


def readings_of(rows: Sequence[Reading]) -> Readings:
    """Return stored or made-up readings as a log in order of time."""
    return Readings(tuple(sorted(rows, key=lambda row: row.time_s)))


def read_readings(source: str | Path | bytes, name: str = "--readings") -> Readings:
    """Read a file of readings.

    Args:
        source: a path, the text itself, or its bytes.
        name: what the file is called in messages.

    Returns:
        Every row that has a time, in order of time; the others, and every cell that cannot be
        used, are flagged.

    Raises:
        BadInput: no file, no column of time, no column of readings, or no row with a time.
    """
    table, notes = in_our_words(read_table(source, name, begins_a_log))
    timed = [column for column in (*_TIMES, "time") if column in table.columns]
    if not timed:
        raise BadInput(name, ", ".join(table.columns)[:200], f"headings {_HEADINGS}")
    if not set(table.columns) & (set(_COLUMNS) | {"remark"}):
        raise BadInput(name, ", ".join(table.columns)[:200], f"headings {_HEADINGS}")
    flags = list(table.flags)
    flags += [
        Flag(1, column, column, f"headings {_HEADINGS}")
        for column in table.columns
        if column not in {*_COLUMNS, *_TIMES, "time", "remark", ""}
    ]
    rows = [_reading(number, cells, timed[0], flags) for number, cells in table.rows]
    found = _in_order([row for row in rows if row is not None], table, timed[0], flags, name)
    return replace(found, notes=notes)


def _reading(
    number: int, cells: dict[str, str], timed: str, flags: list[Flag]
) -> tuple[int, Reading] | None:
    """Return a line and its reading; a time in ISO 8601 stands in ``utc_s`` too."""
    time = _time(number, cells[timed], timed, flags)
    raw = ";".join(cells.values())
    if time is None:
        return None
    doubts: list[str] = []
    values = dict.fromkeys(CHANNELS, _NAN)
    for column, (channel, _, _, accepted, _, _) in _COLUMNS.items():
        cell = cells.get(column, "")
        if not cell:
            continue
        value = channel_value(column, cell)[1]
        if value is None:
            flags.append(Flag(number, column, cell, accepted))
            doubts.append(f"{column} {cell[:40]}")
            continue
        values[channel] = value
    row = Reading(
        time,
        head_K=values["head_K"],
        pot_K=values["pot_K"],
        bath_K=values["bath_K"],
        pressure_Pa=values["pressure_Pa"],
        distillate_m3=values["distillate_m3"],
        distillate_kg=values["distillate_kg"],
        remark=cells.get("remark", "")[:LONGEST_REMARK],
        flags=tuple(doubts),
        raw=raw,
        utc_s=time if timed == "time" else None,
    )
    return number, row


def channel_value(heading: str, cell: str) -> tuple[str, float | None]:
    """Return the channel of a heading, and its value in SI.

    Args:
        heading: one of `HEADINGS`, in any case.
        cell: as it was written or sent.

    Returns:
        The name of the channel; its value [SI], None for what is no number of that kind.
    """
    channel, dimension, unit, _, low, high = _COLUMNS[heading.lower()]
    value = number_from(cell)
    if value is None or not low <= value <= high:
        return channel, None
    return channel, _unit(unit, dimension).to_si(value)


def _unit(text: str, dimension: str) -> Unit:
    found = find_unit(text, dimension)
    if found is None:
        raise KeyError(text)
    return found


def _time(number: int, cell: str, timed: str, flags: list[Flag]) -> float | None:
    if timed != "time":
        value = number_from(cell)
        unit = "seconds" if timed == "time_s" else "minutes"
        if value is None or not abs(value * _TIMES[timed]) <= _LATEST:
            flags.append(Flag(number, timed, cell, f"{unit} since the start"))
            return None
        return value * _TIMES[timed]
    try:
        moment = datetime.fromisoformat(cell)
    except ValueError:
        flags.append(Flag(number, timed, cell, _accepted_time(cell)))
        return None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)  # a wall clock; only differences are used
    return moment.timestamp()


def _accepted_time(cell: str) -> str:
    if number_from(cell) is not None:
        return "time_s or time_min"
    return 'ISO 8601, such as "2026-05-04T14:30:00", or a clock, such as "14:30:00"'


def _in_order(
    numbered: list[tuple[int, Reading]], table: Table, timed: str, flags: list[Flag], name: str
) -> Readings:
    if not numbered:
        shown = str(flags[0]) if flags else "no rows"
        raise BadInput(name, shown, "at least one row with a time and a reading")
    started = None
    if timed == "time":
        started = numbered[0][1].utc_s or 0.0
        numbered = [(k, replace(row, time_s=(row.utc_s or 0.0) - started)) for k, row in numbered]
    latest = -math.inf
    rows = []
    for number, row in numbered:
        kept = row
        if row.time_s < latest:
            flags.append(Flag(number, timed, f"{row.time_s:g} s", "a time after the row before"))
            kept = replace(row, flags=(*row.flags, "out of order"))
        elif row.time_s == latest:
            kept = replace(row, flags=(*row.flags, "same time as the row before"))
        latest = max(latest, row.time_s)
        rows.append(kept)
    ordered = tuple(sorted(rows, key=lambda row: row.time_s))
    return Readings(ordered, tuple(flags), table.columns, started, table.text)
