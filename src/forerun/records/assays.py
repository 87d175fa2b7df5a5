"""Assays: what was weighed, measured out or analysed of each cut, and files of them.

A file has headings ``cut, method, substance, value, unit`` and, where they are known,
``response`` (area of a mass of this substance over that of the same mass of the reference),
``temperature_C`` (of a density or refractive index) and ``sigma`` (one standard deviation, in the
unit of the value).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from forerun.core.errors import BadInput
from forerun.records.tables import Flag, number_from, read_table

__all__ = ["METHODS", "PLACES", "AssayRow", "Assays", "read_assays"]

METHODS: Mapping[str, str] = {
    "gc_area": "share of the area of a gas chromatogram",
    "gc_mass": "mass fraction by gas chromatography with a standard",
    "refractive_index": "refractive index, sodium D line",
    "density": "density",
    "titration": "mass fraction of water by titration",
    "mass": "mass, tare taken off",
    "volume": "volume",
}
"""What a row may hold, by its ``method``."""

PLACES: Mapping[str, str] = {
    "pot": "what stayed in the pot",
    "column": "what was drained or washed from column and head",
    "trap": "what a cold trap held",
    "head": "a sample drawn from the head at total reflux",
}
"""Where something was found, beside the numbered receivers."""

_SYNONYMS = {"residue": "pot", "still": "pot", "flask": "pot", "0": "pot", "hold-up": "column"}
_PER_CENT = {"%": 0.01, "wt%": 0.01, "w/w%": 0.01, "": 0.01, "g/g": 1.0, "mg/g": 1e-3, "ppm": 1e-6}
# unit in small letters: factor to SI; then what is accepted, lowest and highest [SI]
_UNITS: dict[str, tuple[dict[str, float], str, float, float]] = {
    "gc_area": ({"%": 0.01, "area%": 0.01, "": 0.01}, "a share of the area in %", 0.0, 1.0),
    "gc_mass": (_PER_CENT, "a mass fraction in wt% (or mg/g, ppm)", 0.0, 1.0),
    "titration": (_PER_CENT, "a mass fraction in wt% (or mg/g, ppm)", 0.0, 1.0),
    "refractive_index": ({"": 1.0, "-": 1.0, "nd": 1.0, "1": 1.0}, "from 1.2 to 1.8", 1.2, 1.8),
    "density": (
        {"g/ml": 1e3, "g/cm3": 1e3, "g/cm³": 1e3, "kg/m3": 1.0, "kg/m³": 1.0, "kg/l": 1e3},
        "a density in g/mL or kg/m3 from 0.4 to 3.5 g/mL", 400.0, 3500.0,
    ),
    "mass": ({"g": 1e-3, "kg": 1.0, "mg": 1e-6}, "a mass in g, kg or mg", 0.0, 1e3),
    "volume": ({"ml": 1e-6, "l": 1e-3, "µl": 1e-9, "ul": 1e-9}, "a volume in mL or L", 0.0, 1.0),
}  # fmt: skip
_NEEDED = ("cut", "method", "value")
_ROOM = 293.15  # K, where no temperature is stated


@dataclass(frozen=True, slots=True)
class AssayRow:
    """One result of one cut.

    Args:
        row: line of the file [-].
        cut: number of the receiver as text, or one of `PLACES`.
        method: one of `METHODS`.
        substance: what the value belongs to, as written; empty for a property of the whole.
        value: [SI]: fraction [-], mass [kg], volume [m3], density [kg/m3] or index [-].
        sigma: one standard deviation in the unit of the value [SI]; None where none was stated.
        response: relative response factor, area per mass [-]; None where none was stated.
        temperature_K: of the sample [K].
        text: value and unit as written.
    """

    row: int
    cut: str
    method: str
    substance: str
    value: float
    sigma: float | None = None
    response: float | None = None
    temperature_K: float = _ROOM
    text: str = ""


@dataclass(frozen=True, slots=True)
class Assays:
    """All results of a run, in the order of the file.

    Args:
        rows: the results.
        flags: rows that were not used, and why.
        text: the file as it was read, for the archive.
    """

    rows: tuple[AssayRow, ...] = ()
    flags: tuple[Flag, ...] = ()
    text: str = field(default="", repr=False)

    @property
    def cuts(self) -> tuple[str, ...]:
        """Receivers and places that any result speaks of, receivers first, in order."""
        seen = dict.fromkeys(row.cut for row in self.rows)
        return tuple(sorted(seen, key=lambda cut: (not cut.isdecimal(), cut.zfill(4))))

    def of(self, cut: str, method: str) -> tuple[AssayRow, ...]:
        """Return the results of one method for one receiver or place."""
        return tuple(row for row in self.rows if row.cut == cut and row.method == method)


def read_assays(source: str | Path | bytes, name: str = "--assays") -> Assays:
    """Read a file of assays.

    Args:
        source: a path, the text itself, or its bytes.
        name: what the file is called in messages.

    Returns:
        Every row that can be used; the others are flagged.

    Raises:
        BadInput: no file, or headings missing.
    """
    table = read_table(source, name)
    missing = [column for column in _NEEDED if column not in table.columns]
    if missing:
        headings = "headings cut, method, substance, value, unit"
        raise BadInput(name, ", ".join(table.columns)[:200], headings)
    flags = list(table.flags)
    rows = [_row(number, cells, flags) for number, cells in table.rows]
    return Assays(tuple(row for row in rows if row is not None), tuple(flags), table.text)


def _row(number: int, cells: dict[str, str], flags: list[Flag]) -> AssayRow | None:
    cut = _place(cells["cut"])
    if cut is None:
        accepted = f"the number of a receiver, or {', '.join(PLACES)}"
        flags.append(Flag(number, "cut", cells["cut"], accepted))
        return None
    method = cells["method"].casefold().replace(" ", "_").replace("-", "_")
    if method not in METHODS:
        flags.append(Flag(number, "method", cells["method"], ", ".join(METHODS)))
        return None
    factors, accepted, low, high = _UNITS[method]
    factor = factors.get(cells.get("unit", "").casefold().replace(" ", ""))
    if factor is None:
        flags.append(Flag(number, "unit", cells.get("unit", ""), accepted))
        return None
    number_found = number_from(cells["value"])
    if number_found is None or not low <= number_found * factor <= high:
        flags.append(Flag(number, "value", cells["value"], accepted))
        return None
    sigma = _optional(number, cells, "sigma", flags, 0.0)
    temperature = _optional(number, cells, "temperature_c", flags, -50.0)
    return AssayRow(
        row=number,
        cut=cut,
        method=method,
        substance=cells.get("substance", ""),
        value=number_found * factor,
        sigma=None if sigma is None else sigma * factor,
        response=_optional(number, cells, "response", flags, math.ulp(0.0)),
        temperature_K=_ROOM if temperature is None else temperature + 273.15,
        text=f"{cells['value']} {cells.get('unit', '')}".strip(),
    )


def _place(text: str) -> str | None:
    word = text.casefold().removeprefix("cut").strip()
    word = _SYNONYMS.get(word, word)
    if word in PLACES:
        return word
    return str(int(word)) if word.isdecimal() and 0 < int(word) < 1000 else None


def _optional(
    number: int, cells: dict[str, str], column: str, flags: list[Flag], low: float
) -> float | None:
    cell = cells.get(column, "")
    if not cell:
        return None
    value = number_from(cell)
    if value is None or not low <= value <= 1e6:
        flags.append(Flag(number, column, cell, f"a number not below {low:g}"))
        return None
    return value
