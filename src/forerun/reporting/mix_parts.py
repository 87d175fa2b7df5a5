"""The parts of an answer about a mixture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from forerun.equilibrium.mixture import PairBasis

__all__ = ["BoilingDiagram", "BubblePoint", "PairVolatility"]

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PairVolatility:
    """How far boiling parts two of the components, as a pair of their own.

    Args:
        basis: which models or measurements the pair rests on.
        low: least relative volatility of the first over the second, over all compositions [-].
        high: largest [-].
    """

    basis: PairBasis
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class BubblePoint:
    """Where one liquid boils.

    Args:
        mole_fraction: (C,) of the liquid [-].
        temperature_K: [K].
        vapour_mole_fraction: (C,) [-].
        temperature_band_K: lower and upper end of the 80 % band [K].
        vapour_band: (C,) lower and (C,) upper end of the 80 % band of the vapour [-].
        band_origin: what the band rests on.
        dissolved: moles of particles that do not boil per mole of the whole liquid, whose volatile
            part the mole fractions describe [-].
    """

    mole_fraction: Floats
    temperature_K: float
    vapour_mole_fraction: Floats
    temperature_band_K: tuple[float, float]
    vapour_band: tuple[Floats, Floats]
    band_origin: str
    dissolved: float = 0.0


@dataclass(frozen=True, slots=True)
class BoilingDiagram:
    """Two substances from one end to the other, in the first: (n,) x, y [-] and temperature [K]."""

    x: Floats
    y: Floats
    temperature_K: Floats
