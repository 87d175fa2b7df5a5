"""`forerun look`: one substance and where it boils."""

from __future__ import annotations

from forerun.core.quantities import parse_quantity
from forerun.reporting.look import Look
from forerun.substances.catalogue import find, references_of
from forerun.substances.correlations import boiling_temperature

__all__ = ["look"]


def look(substance: str, *, pressure: str = "760 mmHg") -> Look:
    """Return what is known of a substance, and where it boils.

    Args:
        substance: name, synonym, CAS number, InChIKey or SMILES.
        pressure: as people write it, e.g. ``12 mmHg``.

    Returns:
        Constants with sources and spread, and the boiling point with its band.

    Raises:
        BadInput: the substance is not on file or the pressure cannot be read.
    """
    found = find(substance)
    at = parse_quantity(pressure, "pressure", "pressure", low_excluded=True)
    boiling = boiling_temperature(found, at.value)
    return Look(found, at.value, boiling, references_of(found))
