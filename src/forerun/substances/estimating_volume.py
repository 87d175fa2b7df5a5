"""Molar volume of a liquid from its structure."""

from __future__ import annotations

from forerun.core.errors import NotCovered
from forerun.substances.molecules import Molecule
from forerun.substances.patterns import matches, pattern

__all__ = [
    "boiling_volume_schroeder1949",
    "density_girolami1994",
    "volume_ratio_rackett1970",
]

# cm3/mol at the boiling point
_SCHROEDER = {
    "C": 7.0,
    "H": 7.0,
    "O": 7.0,
    "N": 7.0,
    "F": 10.5,
    "S": 21.0,
    "Cl": 24.5,
    "Br": 31.5,
    "I": 38.5,
}
_SCHROEDER_BOND = {2: 7.0, 3: 14.0}
_SCHROEDER_RING = -7.0

# relative volumes by row of the periodic table
_GIROLAMI = {"H": 1.0, "B": 2.0, "C": 2.0, "N": 2.0, "O": 2.0, "F": 2.0, "Si": 4.0, "P": 4.0}
_GIROLAMI |= {"S": 4.0, "Cl": 4.0, "Se": 5.0, "Br": 5.0, "I": 7.5}
_GIROLAMI_TENTHS = (
    "[OX2H]",
    "[CX3](=O)[OX2H]",
    "[NX3;H1,H2;!$(NC=O)]",
    "[NX3;H1,H2;$(NC=O)]",
    "[SX3]=O",
)
_MOST_INCREASE = 0.3


def density_girolami1994(molecule: Molecule) -> float:
    """Return the density of the liquid at room temperature.

    Args:
        molecule: of H, B, C, N, O, halogens, Si, P, S, Se.

    Returns:
        density [kg/m3]; valid near 20 degC.

    Source:
        Girolami, J. Chem. Educ. 71 (1994) 962, doi:10.1021/ed071p962.
    """
    volume = sum(_GIROLAMI[e] * n for e, n in molecule.counts.items())
    density = molecule.molar_mass * 1e3 / (5.0 * volume)
    tenths = sum(len(matches(pattern(text), molecule)) for text in _GIROLAMI_TENTHS)
    fused = sum(
        any(len(set(r) & set(o)) > 1 for o in molecule.rings if o != r) for r in molecule.rings
    )
    increase = 0.1 * (tenths + len(molecule.rings) - fused) + 0.075 * fused
    return 1e3 * density * (1.0 + min(increase, _MOST_INCREASE))


def boiling_volume_schroeder1949(molecule: Molecule) -> float:
    """Return the molar volume of the liquid at its boiling point.

    Args:
        molecule: of C, H, O, N, S, halogens.

    Returns:
        molar volume [m3/mol] at 101325 Pa.

    Raises:
        NotCovered: another element.

    Source:
        Schroeder's additive rule as given by Partington, An Advanced Treatise on Physical
        Chemistry, vol. 2 (1949); Poling, Prausnitz & O'Connell, The Properties of Gases and
        Liquids, 5th ed. (2001), section 4-10 (values from memory).
    """
    other = set(molecule.counts) - set(_SCHROEDER)
    if other:
        raise NotCovered(
            "the molar volume", f"no contribution for {', '.join(sorted(other))}", "Measure it."
        )
    total = sum(_SCHROEDER[e] * n for e, n in molecule.counts.items())
    total += sum(_SCHROEDER_BOND.get(b.order, 0.0) for b in molecule.bonds)
    total += _SCHROEDER_RING * len(molecule.rings)
    return total * 1e-6


def volume_ratio_rackett1970(
    temperature: float, reference_temperature: float, critical_temperature: float, factor: float
) -> float:
    """Return the molar volume over that at another temperature.

    Args:
        temperature: [K], below the critical one.
        reference_temperature: temperature of the known volume [K].
        critical_temperature: [K].
        factor: Z of the equation, 0.23 to 0.29 [-].

    Returns:
        ratio of molar volumes [-]; valid below about 0.9 of the critical temperature.

    Source:
        Rackett, J. Chem. Eng. Data 15 (1970) 514, doi:10.1021/je60047a012; with a known volume:
        Yamada & Gunn, J. Chem. Eng. Data 18 (1973) 234, doi:10.1021/je60057a006.
    """
    here = (1.0 - min(temperature / critical_temperature, 1.0)) ** (2.0 / 7.0)
    there = (1.0 - min(reference_temperature / critical_temperature, 1.0)) ** (2.0 / 7.0)
    return float(factor ** (here - there))
