"""Assays: density of ethanol + water against strength, refractive indices.

The rows of refractive index are from memory, and additive refraction is known to miss mixtures of
alcohol and water; `forerun review` therefore never turns such an index into a composition.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.records.assays import read_assays
from forerun.reviewing.assays import statements_of
from forerun.reviewing.ethanol_water import (
    density_oiml_r22,
    mass_fraction_from_density_oiml_r22,
    mass_fraction_from_strength_oiml_r22,
)
from forerun.reviewing.mixture_curves import index_lorentz_lorenz
from forerun.substances.catalogue import find
from validation._data import changed_misses, compared, published_rows
from validation._rows import ValidationRow

KNOWN_MISSES = {
    f"G7-0{n}-nD": "additive refraction reads high where alcohol and water contract"
    for n in (21, 22, 24, 25, 26)
}


@cache
def _rows() -> list[ValidationRow]:
    found: list[ValidationRow] = []
    for row in published_rows("assay.json").values():
        inputs, value = row["inputs"] or {}, row["value"]
        if "abv_pct" in inputs:
            found += _by_strength(row)
        elif "mass_fraction" in inputs:
            ours = density_oiml_r22(inputs["mass_fraction"], inputs["t_C"] + 273.15)
            found.append(compared(row, "", "density", "kg/m3", value, ours, row["tolerance"]))
        elif isinstance(value, dict) and "nD" in value:
            found += _by_mass(row)
    return found


def _by_strength(row: dict[str, Any]) -> list[ValidationRow]:
    share = mass_fraction_from_strength_oiml_r22(row["inputs"]["abv_pct"] / 100.0)
    said, allowed = row["value"], row["tolerance"]
    ours = {"density_kg_m3": density_oiml_r22(share), "mass_pct": 100.0 * share}
    units = {"density_kg_m3": ("density", "kg/m3"), "mass_pct": ("mass fraction", "wt%")}
    return [compared(row, f"-{k}", *units[k], said[k], v, allowed[k]) for k, v in ours.items()]


def _by_mass(row: dict[str, Any]) -> list[ValidationRow]:
    share = row["inputs"]["mass_pct"] / 100.0
    density = density_oiml_r22(share)
    pair = [find("ethanol"), find("water")]
    indices = np.array([s.refractive_index.value for s in pair if s.refractive_index])
    pure = np.array([density_oiml_r22(1.0), density_oiml_r22(0.0)])
    index = index_lorentz_lorenz(np.array([share, 1.0 - share]), pure, indices, density)
    said, allowed = row["value"], row["tolerance"]
    return [
        compared(row, "-nD", "refractive index", "", said["nD"], index, allowed["nD"]),
        compared(row, "-d", "density", "g/mL", said["density"], density / 1e3, allowed["density"]),
    ]


def rows() -> list[ValidationRow]:
    """Return every comparison."""
    return list(_rows())


def test_every_row_is_met_or_a_known_miss() -> None:
    changed = changed_misses(_rows(), KNOWN_MISSES)
    assert not changed, "\n".join(changed)


def test_the_alcoholometric_rows_agree_to_their_last_printed_digit() -> None:
    for row in _rows():
        if row.unit in {"kg/m3", "wt%"}:
            assert isinstance(row.published, float | int)
            decimals = max(len(str(float(row.published)).partition(".")[2]), 2)
            assert row.miss is not None
            assert abs(row.miss) <= 0.51 * 10.0 ** -min(decimals, 3 if row.unit == "wt%" else 2)


def test_the_coefficients_are_those_of_the_published_structure() -> None:
    said = published_rows("assay.json")["G7-020"]["value"]
    assert density_oiml_r22(0.0) == pytest.approx(said["A1"], abs=1e-9)
    step = 1e-7
    slope = (density_oiml_r22(step) - density_oiml_r22(0.0)) / step
    assert slope == pytest.approx(said["A2"], abs=1e-3)
    cooler, warmer = (density_oiml_r22(0.0, 293.15 + d) for d in (-0.01, 0.01))
    assert (warmer - cooler) / 0.02 == pytest.approx(said["B1"], abs=1e-6)


@pytest.mark.parametrize("celsius", [10.0, 20.0, 25.0, 40.0])
@pytest.mark.parametrize("share", [0.0, 0.03, 0.4, 0.9, 0.999])
def test_density_and_back(share: float, celsius: float) -> None:
    density = density_oiml_r22(share, celsius + 273.15)
    found = mass_fraction_from_density_oiml_r22(density, celsius + 273.15)
    assert found == pytest.approx(share, abs=1e-9)


def test_outside_the_tables_is_refused() -> None:
    for wrong in ((1.2, 293.15), (0.5, 330.0), (-0.1, 293.15)):
        with pytest.raises(BadInput):
            density_oiml_r22(*wrong)
    with pytest.raises(BadInput, match="density"):
        mass_fraction_from_density_oiml_r22(700.0)


def test_a_two_valued_index_is_never_turned_into_a_composition() -> None:
    row = published_rows("assay.json")["G7-031"]
    assert "two-valued" in row["note"]
    file = read_assays("cut,method,substance,value,unit\n1,refractive_index,,1.3630,\n")
    found = statements_of(file, [find("ethanol"), find("water")])
    assert found.rows == ()
    assert "share a refractive index" in found.not_used[0]
