"""What the tests of pure components share: one published row becomes one comparison."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from forerun.core.errors import BadInput
from forerun.substances.catalogue import find
from forerun.substances.correlations import (
    boiling_temperature,
    density,
    latent_heat_watson1943,
)
from forerun.substances.model import Sourced, Substance
from validation._rows import ValidationRow

DATA = Path(__file__).parent / "data"
ZERO_C = 273.15
MMHG = 133.322387415  # Pa, conventional millimetre of mercury (ISO 80000-4)
Row = dict[str, Any]


def compare(file: str) -> list[ValidationRow]:
    """Return every row of a data file beside our value."""
    with (DATA / file).open(encoding="utf-8") as text:
        return [_compared(row) for row in json.load(text)]


def judge(rows: list[ValidationRow], known: dict[str, str]) -> list[str]:
    """Return what differs from the list of known misses: new misses, and misses that went."""
    missed = {row.id for row in rows if row.met is False}
    new = [
        f"{r.id} {r.system}, {r.quantity}: {r.published} against {r.ours} {r.unit}"
        for r in rows
        if r.id in missed - known.keys()
    ]
    gone = [f"{key} is met now: strike it from the list" for key in known.keys() - missed]
    return new + gone


def _compared(row: Row) -> ValidationRow:
    try:
        ours = MEASURES[row["quantity"]](find(row["system"]), row)
    except BadInput:
        ours = None  # not in the file: shown as not covered
    miss = None if ours is None else ours - row["value"]
    return ValidationRow(
        id=row["id"],
        system=row["system"],
        quantity=row["quantity"],
        source=row["source"],
        provenance=row["provenance"],
        published=row["value"],
        ours=ours,
        unit=row["unit"],
        tolerance=row["tolerance"],
        miss=miss,
        met=None if miss is None else abs(miss) <= row["tolerance"] + 1e-12,
    )


def _boiling(s: Substance, row: Row) -> float:
    return boiling_temperature(s, row["pressure_mmHg"] * MMHG).temperature - ZERO_C


def _rise(s: Substance, row: Row) -> float:
    ends = (row["pressure_mmHg"], row["from_pressure_mmHg"])
    high, low = (boiling_temperature(s, p * MMHG).temperature for p in ends)
    return high - low


def _heat(s: Substance, row: Row) -> float:
    t = boiling_temperature(s, row["pressure_mmHg"] * MMHG).temperature
    return 1e-3 * latent_heat_watson1943(t, s.latent_heat, s.critical_temperature.value)


def _value(constant: Sourced | None, offset: float = 0.0, factor: float = 1.0) -> float | None:
    return None if constant is None else (constant.value - offset) * factor


MEASURES: dict[str, Callable[[Substance, Row], float | None]] = {
    "boiling point": _boiling,
    "rise of the boiling point": _rise,
    "heat of vaporisation": _heat,
    "density": lambda s, row: 1e-3 * density(row["temperature_C"] + ZERO_C, s),
    "refractive index": lambda s, row: _value(s.refractive_index),
    "flash point": lambda s, row: _value(s.flash_point, ZERO_C),
    "autoignition temperature": lambda s, row: _value(s.autoignition, ZERO_C),
    "lower flammable limit": lambda s, row: _value(s.lower_flammable_fraction, factor=100.0),
}
