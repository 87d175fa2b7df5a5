"""Refractive index from atomic refractions and the molar volume."""

from __future__ import annotations

from collections import Counter

from forerun.substances.claiming import claimed_groups, group_table
from forerun.substances.molecules import Molecule

__all__ = ["molar_refraction_eisenlohr1911", "refractive_index_lorentz_lorenz"]

_TABLE = "refractions.tsv"
_HYDROGEN, _DOUBLE, _TRIPLE = 1.100, 1.733, 2.398  # cm3/mol


def molar_refraction_eisenlohr1911(molecule: Molecule) -> tuple[float | None, tuple[int, ...]]:
    """Return the molar refraction at the sodium D line.

    Args:
        molecule: the molecule.

    Returns:
        refraction [m3/mol], None where atoms are left over, and the positions of those; valid
        where no rings or multiple bonds are conjugated, low by up to 5 % elsewhere.

    Source:
        Atomic refractions of Eisenlohr, Z. phys. Chem. 75 (1911) 585, doi:10.1515/zpch-1911-7539,
        as handbooks reprint them (values from memory).
    """
    counts, left = claimed_groups(molecule, group_table(_TABLE))
    if left:
        return None, left
    values = group_table(_TABLE).values
    total = sum((values[g]["refraction"] or 0.0) * n for g, n in counts.items())
    total += _HYDROGEN * molecule.counts["H"]
    orders = Counter(b.order for b in molecule.bonds)
    doubles = orders[2] - counts["nitro"]
    triples = orders[3] - counts["nitrile"]
    return (total + _DOUBLE * doubles + _TRIPLE * triples) * 1e-6, ()


def refractive_index_lorentz_lorenz(refraction: float, volume: float) -> float:
    """Return the refractive index.

    Args:
        refraction: molar refraction [m3/mol].
        volume: molar volume of the liquid [m3/mol], larger than the refraction.

    Returns:
        refractive index [-]; valid for any refraction below the volume.

    Source:
        Lorentz, Ann. Phys. 245 (1880) 641, doi:10.1002/andp.18802450406; Lorenz, Ann. Phys. 247
        (1880) 70, doi:10.1002/andp.18802470905.
    """
    ratio = refraction / volume
    return float(((1.0 + 2.0 * ratio) / (1.0 - ratio)) ** 0.5)
