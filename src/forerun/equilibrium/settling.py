"""What stands in a separating funnel: layers, their amounts, and which one floats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.liquid_liquid import split_liquid
from forerun.equilibrium.mixture import Mixture

__all__ = ["Layer", "settled"]

Floats = npt.NDArray[np.float64]

_REFERENCE_K = 293.15  # K, of the molar volumes


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """One liquid layer.

    Args:
        mole_fraction: (C,) [-].
        mass_fraction: (C,) [-].
        mole_share: of all moles [-].
        mass_share: of all mass [-].
        volume_share: of all volume [-].
        density_kg_m3: [kg/m3]; volumes are added up, which contraction makes 1 to 3 % low at most
            for water with alcohols.
    """

    mole_fraction: Floats
    mass_fraction: Floats
    mole_share: float
    mass_share: float
    volume_share: float
    density_kg_m3: float


def settled(z: npt.ArrayLike, temperature_K: float, mixture: Mixture) -> tuple[Layer, ...]:
    """Return the layers in which a liquid stands, the upper one first.

    Args:
        z: (C,) overall mole fractions [-].
        temperature_K: of the funnel [K].
        mixture: up to five components.

    Returns:
        One layer or two.

    Raises:
        BadInput: composition of the wrong length, negative or not finite.

    Source:
        `forerun.equilibrium.liquid_liquid.split_liquid`; layers by density, volumes added up
        (common practice, no source).
    """
    split = split_liquid(z, temperature_K, mixture.arrays)
    whole = np.array(z, dtype=np.float64)
    if split is None:
        liquids = [(whole / whole.sum(), 1.0)]
    else:
        liquids = [(split.first, 1.0 - split.second_share), (split.second, split.second_share)]
    masses = np.array([s.molar_mass for s in mixture.substances])
    volumes = _molar_volumes(mixture, temperature_K)
    mass = np.array([share * float(x @ masses) for x, share in liquids])
    volume = np.array([share * float(x @ volumes) for x, share in liquids])
    layers = [
        Layer(x, x * masses / (x @ masses), share, m / mass.sum(), v / volume.sum(), m / v)
        for (x, share), m, v in zip(liquids, mass, volume, strict=True)
    ]
    return tuple(sorted(layers, key=lambda layer: layer.density_kg_m3))


def _molar_volumes(mixture: Mixture, temperature: float) -> Floats:
    t = temperature - _REFERENCE_K
    return np.array(
        [
            s.molar_volume.v0 + s.molar_volume.v1 * t + s.molar_volume.v2 * t * t
            for s in mixture.substances
        ]
    )
