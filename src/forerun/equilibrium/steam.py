"""Distilling with steam: where it boils and how much water comes with the product."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.azeotropes_kernels import three_phase_pair
from forerun.equilibrium.azeotropes_search import boiling_points
from forerun.equilibrium.mixture import Mixture

__all__ = ["Steam", "residue_limit", "steam_distillation", "with_residue"]

Floats = npt.NDArray[np.float64]

WATER = "XLYOFNOQVPJJNP-UHFFFAOYSA-N"
residue_limit = 0.2
"""Mole fraction of dissolved particles above which an ideal diluent is no longer claimed [-]."""


@dataclass(frozen=True, slots=True, eq=False)
class Steam:
    """Two liquids, one of them water, that boil together.

    Args:
        product: index of the component that is not water.
        pressure_Pa: [Pa].
        temperature_K: of the boiling pair of layers [K].
        vapour_mole_fraction: (2,) in the order of the mixture [-].
        water_per_product: mass of water that comes over with one of product [kg/kg].
        dissolved: mass fractions of product in the water layer and of water in the product layer
            at that temperature [-].
    """

    product: int
    pressure_Pa: float
    temperature_K: float
    vapour_mole_fraction: Floats
    water_per_product: float
    dissolved: tuple[float, float]


def steam_distillation(mixture: Mixture, pressure_Pa: float) -> Steam | None:
    """Return how a substance comes over with steam, None where it boils as one liquid with water.

    Args:
        mixture: two components, one of them water.
        pressure_Pa: [Pa], below about 2 bar.

    Returns:
        Temperature and ratio while both layers are in the pot, the steam saturated.

    Raises:
        BadInput: not two components, or none of them water.

    Source:
        Two liquids in equilibrium and their vapour: `azeotropes_kernels.three_phase_pair`; for
        liquids that do not dissolve in each other this is the sum of the vapour pressures.
    """
    keys = [s.inchikey for s in mixture.substances]
    if len(keys) != 2 or WATER not in keys:
        raise BadInput("mixture", ", ".join(mixture.names), "a substance and water")
    arrays, ends, vapour = mixture.arrays, np.empty(2), np.empty(2)
    pure = boiling_points(arrays, pressure_Pa)
    if not np.isfinite(pure).all():
        return None
    temperature = three_phase_pair(
        pressure_Pa,
        0.7 * float(pure.min()),
        float(pure.max()),
        arrays,
        scratch_for(arrays),
        ends,
        vapour,
    )
    if not np.isfinite(temperature):
        return None
    water = keys.index(WATER)
    product = 1 - water
    masses = np.array([s.molar_mass for s in mixture.substances])
    over = vapour * masses
    layers = [np.array([1 / (1 + np.exp(-t)), 1 / (1 + np.exp(t))]) for t in ends]
    layers.sort(key=lambda x: -float(x[water]))
    dissolved = [
        float(x[k] * masses[k] / (x @ masses))
        for x, k in zip(layers, (product, water), strict=True)
    ]
    return Steam(
        product,
        pressure_Pa,
        float(temperature),
        vapour,
        float(over[water] / over[product]),
        (dissolved[0], dissolved[1]),
    )


def with_residue(x: npt.ArrayLike, particles: float) -> tuple[Floats, float]:
    """Return a liquid thinned by something dissolved that does not boil.

    The dissolved particles (an ion each for a salt) only thin the liquid: every vapour pressure
    falls by the factor 1 - s, so the liquid boils as at the pressure P/(1 - s).

    Args:
        x: (C,) mole fractions of the volatile part [-].
        particles: moles of dissolved particles per mole of all, from 0 to 0.2 [-].

    Returns:
        (C,) mole fractions of the volatile substances in the whole liquid [-], and the factor on
        the outer pressure at which the volatile part alone has the same boiling point [-].

    Raises:
        BadInput: more particles than 0.2, where salting out and hydration are felt.

    Source:
        Raoult's law for an ideal diluent (common practice, no source); no salting out.
    """
    if not 0.0 <= particles <= residue_limit:
        raise BadInput(
            "dissolved", particles, f"a mole fraction of particles from 0 to {residue_limit:g}"
        )
    liquid = np.array(x, dtype=np.float64)
    thinned: Floats = liquid / liquid.sum() * (1.0 - particles)
    return thinned, 1.0 / (1.0 - particles)
