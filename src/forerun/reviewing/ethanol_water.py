"""Density of ethanol + water by the general formula of the alcoholometric tables."""

from __future__ import annotations

from forerun.core.errors import BadInput
from forerun.core.references import Reference
from forerun.reviewing.solving import bracketed_root

__all__ = [
    "OIML_R22",
    "density_oiml_r22",
    "mass_fraction_from_density_oiml_r22",
    "mass_fraction_from_strength_oiml_r22",
    "strength_oiml_r22",
]

OIML_R22 = Reference(
    "oiml_r22",
    "OIML R 22, International alcoholometric tables (1973, edition 1975), general formula and "
    "its coefficients; after H. Wagenbreth, W. Blanke, PTB-Mitteilungen 81 (1971) 412",
    provenance="copy of the source seen; two transcriptions of the coefficients agree",
)

_A = (
    998.20123, -192.9769495, 389.1238958, -1668.103923, 13522.15441, -88292.78388,
    306287.4042, -613838.1234, 747017.2998, -547846.1354, 223446.0334, -39032.85426,
)  # fmt: skip
_B = (-0.20618513, -5.2682542e-3, 3.6130013e-5, -3.8957702e-7, 7.169354e-9, -9.9739231e-11)
_C = (
    (
        0.1693443461530087, -10.46914743455169, 71.96353469546523, -704.7478054272792,
        3924.090430035045, -12101.64659068747, 22486.46550400788, -26055.62982188164,
        18523.73922069467, -7420.201433430137, 1285.617841998974,
    ),
    (
        -0.01193013005057010, 0.2517399633803461, -2.170575700536993, 13.53034988843029,
        -50.29988758547014, 109.6355666577570, -142.2753946421155, 108.0435942856230,
        -44.14153236817392, 7.442971530188783,
    ),
    (
        -6.802995733503803e-4, 1.876837790289664e-2, -0.2002561813734156, 1.022992966719220,
        -2.895696483903638, 4.810060584300675, -4.672147440794683, 2.458043105903461,
        -0.5411227621436812,
    ),
    (4.075376675622027e-6, -8.763058573471110e-6, 6.515031360099368e-6, -1.515784836987210e-6),
    (-2.788074354782409e-8, 1.345612883493354e-8),
)  # fmt: skip
_COLDEST, _HOTTEST = 253.15, 313.15  # K
_REFERENCE = 293.15  # K


def density_oiml_r22(mass_fraction: float, temperature: float = _REFERENCE) -> float:
    """Return the density of ethanol + water.

    Args:
        mass_fraction: of ethanol [-], from 0 to 1.
        temperature: [K], valid from 253.15 to 313.15 where the mixture is liquid.

    Returns:
        density [kg/m3].

    Raises:
        BadInput: outside those ranges.

    Source:
        `OIML_R22`, general formula (p. 5) and table of coefficients (p. 13).
    """
    if not 0.0 <= mass_fraction <= 1.0:
        raise BadInput("mass fraction", mass_fraction, "a mass fraction of ethanol from 0 to 1")
    if not _COLDEST <= temperature <= _HOTTEST:
        raise BadInput("temperature", f"{temperature - 273.15:g} °C", "from -20 to 40 °C")
    t = temperature - _REFERENCE
    density = sum(a * mass_fraction**k for k, a in enumerate(_A))
    density += sum(b * t**k for k, b in enumerate(_B, 1))
    for i, row in enumerate(_C, 1):
        density += sum(c * mass_fraction**k for k, c in enumerate(row, 1)) * t**i
    return density


def mass_fraction_from_density_oiml_r22(density: float, temperature: float = _REFERENCE) -> float:
    """Return how much ethanol a mixture of this density holds.

    Args:
        density: [kg/m3], between that of ethanol and that of water at this temperature.
        temperature: [K], valid from 283.15 to 313.15, where the density falls throughout.

    Returns:
        mass fraction of ethanol [-].

    Raises:
        BadInput: a density that no mixture has at this temperature.

    Derivation:
        `density_oiml_r22` solved for the mass fraction.
    """
    heaviest, lightest = density_oiml_r22(0.0, temperature), density_oiml_r22(1.0, temperature)
    if not lightest <= density <= heaviest:
        accepted = f"a density from {lightest:.2f} to {heaviest:.2f} kg/m3 at this temperature"
        raise BadInput("density", f"{density:.2f} kg/m3", accepted)
    return bracketed_root(lambda w: density_oiml_r22(w, temperature) - density, 0.0, 1.0)


def strength_oiml_r22(mass_fraction: float) -> float:
    """Return the alcoholic strength by volume at 20 degC.

    Args:
        mass_fraction: of ethanol [-], from 0 to 1.

    Returns:
        volume of ethanol over volume of the mixture [-].

    Source:
        `OIML_R22`, p. 5: q = p rho(p) / rho(ethanol). The recommendation rounds the last to
        789.24 kg/m3; here it is that of the formula, so that pure ethanol has a strength of 1.
    """
    return mass_fraction * density_oiml_r22(mass_fraction) / density_oiml_r22(1.0)


def mass_fraction_from_strength_oiml_r22(strength: float) -> float:
    """Return the mass fraction of ethanol of a mixture of this strength by volume at 20 degC.

    Args:
        strength: volume of ethanol over volume of the mixture [-], from 0 to 1.

    Returns:
        mass fraction of ethanol [-].

    Raises:
        BadInput: outside that range.

    Derivation:
        `strength_oiml_r22` solved for the mass fraction.
    """
    if not 0.0 <= strength <= 1.0:
        raise BadInput("strength", strength, "a strength by volume from 0 to 1")
    return bracketed_root(lambda w: strength_oiml_r22(w) - strength, 0.0, 1.0)
