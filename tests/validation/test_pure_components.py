"""Constants of pure liquids in handbooks and standards.

Boiling points, densities, refractive indices and heats of vaporisation (CRC Handbook), vapour
pressures (Stull 1947), fire data (IEC 60079-20-1), densities of Cui et al. (2009).
"""

from __future__ import annotations

from functools import cache

import pytest

from validation._pure import compare, judge
from validation._rows import ValidationRow

FILES = ("pure_crc.json", "pure_stull1947.json", "pure_iec60079.json", "pure_cui2009.json")

# Misses that stand, with our reading of the cause; a miss that goes, or a new one, fails.
SOLID = "printed for the solid; ours is the supercooled liquid, reported as solid"
LOW = "the table of 1947 reads high below 10 mmHg; later sources agree with one another"
APART = "sources of this liquid differ by kelvins; ours follows the majority of later ones"
KNOWN_MISSES: dict[str, str] = {
    "G1-095": "Riddick, Bunger & Sakano (1986) give 1.4072, as we do (from memory)",
    "G1-111": "carried from 25 to 20 degC with the slope typical of organic liquids",
    "G1-138-1": LOW,
    "G1-138-5": LOW,
    "G1-139-1": LOW,
    "G1-139-5": LOW,
    "G1-139-10": LOW,
    "G1-145-1": LOW,
    "G1-145-5": LOW,
    "G1-147-1": SOLID,
    "G1-151-1": SOLID,
    "G1-151-5": SOLID,
    "G1-151-10": SOLID,
    "G1-151-20": SOLID,
    "G1-154-1": SOLID,
    "G1-154-5": SOLID,
    "G1-154-10": SOLID,
    "G1-158-1": APART,
    "G1-160-1": APART,
    "G1-166-1": SOLID,
    "G1-166-5": SOLID,
    "G1-166-10": SOLID,
    "G1-166-20": "at the melting point, where the printed table turns to the solid",
    "G1-166-40": APART,
    "G1-168-1": APART,
    "G1-168-60": APART,
    "G1-168-100": APART,
    "G1-169-100": APART,
    "G1-169-200": APART,
    "G1-169-400": APART,
    "G1-175-760": "two handbooks give 176 to 178 degC",
    "G1-176-1": APART,
    "G1-176-5": APART,
    "G1-176-10": APART,
    "G1-180-isopropenyl-acetate-density": "the handbook's density at 20 degC is 2 % lower",
}


@cache
def _compared(file: str) -> list[ValidationRow]:
    return compare(file)


def rows() -> list[ValidationRow]:
    """Return every comparison."""
    return [row for file in FILES for row in _compared(file)]


@pytest.mark.parametrize("file", FILES)
def test_every_row_is_met_or_a_known_miss(file: str) -> None:
    found = _compared(file)
    here = {row.id for row in found}
    changed = judge(found, {k: v for k, v in KNOWN_MISSES.items() if k in here})
    assert not changed, "\n".join(changed)


def test_known_misses_are_rows() -> None:
    assert KNOWN_MISSES.keys() <= {row.id for row in rows()}


def test_every_substance_is_covered() -> None:
    assert not [row.id for row in rows() if row.met is None]
