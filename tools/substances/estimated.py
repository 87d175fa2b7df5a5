"""Estimates from structure, by the package itself, where no source states a value."""

from __future__ import annotations

import sys
from pathlib import Path

from constants import Entry, digits

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "src"))

from forerun.core.errors import ForerunError
from forerun.substances.estimates import (
    NORMAL_QUANTILE_90,
    Estimate,
    estimates_of,
    flash_point_of,
    lower_flammable_fraction_of,
)
from forerun.substances.smiles import molecule_from_smiles


def boiling_point_by_groups(smiles: str) -> float | None:
    """Return the boiling point [K] by the finer of the two methods, None where it ends."""
    try:
        found = estimates_of(molecule_from_smiles(smiles)).boiling_point
    except (ForerunError, KeyError):
        return None
    return found.value if "nannoolal2004" in found.sources else None


def flash_by_groups(smiles: str, tb: float, heat: Entry, tc: Entry) -> Entry | None:
    """Return an estimated flash point, or None for molecules that it was not made for."""
    molecule = molecule_from_smiles(smiles)
    return _entry(flash_point_of(molecule, tb, float(heat["value"]), float(tc["value"])), 4)


def limit_by_groups(smiles: str) -> Entry | None:
    """Return an estimated lower flammable limit, or None for such molecules."""
    return _entry(lower_flammable_fraction_of(molecule_from_smiles(smiles)), 2)


def _entry(estimate: Estimate | None, count: int) -> Entry | None:
    """Write an estimate as the other fire data: nine in ten exceed the lowest."""
    if estimate is None:
        return None
    return {
        "value": digits(estimate.value, count),
        "spread": digits(estimate.spread, 2),
        "sources": list(estimate.sources),
        "method": "estimated",
        "lowest": digits(estimate.value - NORMAL_QUANTILE_90 * estimate.spread, count),
    }
