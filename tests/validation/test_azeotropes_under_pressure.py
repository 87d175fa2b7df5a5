"""Azeotropes that move, and vanish, with pressure.

data/azeotrope_shifts.json holds by how much the mole fraction of the first substance changes from
the lower pressure to the higher, and where an azeotrope ends.  Each stands twice, as in
`test_azeotropes`: by the fit without any print of the pair, and as it ships.  `rows()` also feeds
docs/validation.md.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.mixture import mixture_of
from forerun.equilibrium.pressure_shift import shifts_between
from forerun.substances.catalogue import find
from validation._data import changed_misses, compared, published_rows
from validation._rows import ValidationRow
from validation._unprinted import without_print
from validation.test_azeotropes import SHIPPED

PUBLISHED = published_rows("azeotrope_shifts.json")

# Rows that miss, with our reading of the cause.
MISSES: dict[str, str] = {
    "azs-3": "our azeotrope at 1 atm holds too little water: no measured table of the pair ships",
    "azs-4": "as azs-3",
}


@cache
def rows() -> list[ValidationRow]:
    """Return every comparison of this file, misses included."""
    with without_print():
        tests = [_compared(row) for row in PUBLISHED.values()]
    shipped = [_compared(row) for row in PUBLISHED.values()]
    return tests + [
        replace(r, id=f"{r.id}-shipped", quantity=r.quantity + SHIPPED) for r in shipped
    ]


def _compared(row: dict[str, Any]) -> ValidationRow:
    mixture = mixture_of([find(name) for name in row["components"]])
    if "shift" in row:
        low, high = (find_azeotropes(mixture, p).azeotropes[0] for p in row["pressures_Pa"])
        ours = float(high.mole_fraction[0] - low.mole_fraction[0])
        at = " to ".join(f"{p / 1e3:.4g}" for p in row["pressures_Pa"])
        quantity = f"shift of the azeotrope from {at} kPa"
        return compared(row, "", quantity, "-", row["shift"], ours, row["tolerance"])
    (shift,) = shifts_between(mixture, *row["between_Pa"])
    ends = shift.appears_Pa
    assert ends is not None
    quantity = "pressure below which the azeotrope is gone"
    return compared(row, "", quantity, "Pa", row["vanishes_Pa"], ends, row["tolerance"])


def test_only_the_listed_rows_miss():
    assert changed_misses(rows(), MISSES) == []


def test_the_azeotropes_move_the_way_they_are_said_to():
    shifts = [r for r in rows() if r.quantity.startswith("shift")]
    assert len(shifts) == 8
    for row in shifts:
        assert isinstance(row.ours, float)
        assert isinstance(row.published, float)
        assert row.ours * row.published > 0.0


def test_ethanol_and_water_have_none_in_a_good_vacuum_and_one_in_a_poor_one():
    mixture = mixture_of([find("ethanol"), find("water")])
    assert find_azeotropes(mixture, 6000.0).azeotropes == ()
    assert len(find_azeotropes(mixture, 20000.0).azeotropes) == 1
