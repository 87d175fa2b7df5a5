"""Flash point and lower flammable limit of a liquid of C, H, O, N and S."""

from __future__ import annotations

from forerun.substances.molecules import Molecule

__all__ = ["burns_as_its_elements", "flash_point_catoire2004", "lower_flammable_fraction_jones1938"]

_BURNING = {"C", "H", "O", "N", "S"}
_LEAST_HYDROGEN = 0.5  # atoms of hydrogen for each of carbon, below which a rule is not tried


def burns_as_its_elements(molecule: Molecule) -> bool:
    """Tell whether the rules of this file were made for such a molecule.

    Args:
        molecule: the molecule; with halogens, silicon or phosphorus the rules fail.
    """
    counts = molecule.counts
    enough = counts["H"] >= _LEAST_HYDROGEN * counts["C"]
    return "C" in counts and set(counts) <= _BURNING and enough


def flash_point_catoire2004(boiling_point: float, latent_heat: float, carbons: int) -> float:
    """Return the flash point, closed cup.

    Args:
        boiling_point: at 101325 Pa [K].
        latent_heat: at 298.15 K [J/mol].
        carbons: number of carbon atoms [-].

    Returns:
        flash point [K]; valid from 250 to 570 K for organic liquids without halogens.

    Source:
        Catoire & Naudet, J. Phys. Chem. Ref. Data 33 (2004) 1083, doi:10.1063/1.1835321
        (equation from memory, compared with the measured flash points on file).
    """
    return float(
        1.477 * boiling_point**0.79686 * (latent_heat * 1e-3) ** 0.16845 * carbons**-0.05948
    )


def lower_flammable_fraction_jones1938(molecule: Molecule) -> float:
    """Return the lower flammable limit in air at room temperature.

    Args:
        molecule: of C, H, O, N, S.

    Returns:
        volume fraction [-]; valid for molecules for which `burns_as_its_elements` holds.

    Source:
        Jones, Chem. Rev. 22 (1938) 1, doi:10.1021/cr60071a001: 0.55 of the fraction at which fuel
        and oxygen of the air just match.
    """
    n = molecule.counts
    oxygen = n["C"] + n["S"] + 0.25 * n["H"] - 0.5 * n["O"]
    return float(0.55 / (1.0 + oxygen / 0.2095))
