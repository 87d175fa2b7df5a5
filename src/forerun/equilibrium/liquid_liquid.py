"""Does a liquid stand as one or as two, and of what are the two made?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.liquid_liquid_kernels import binary_gap, tangent_plane
from forerun.equilibrium.liquid_liquid_splitting import find_split

__all__ = ["LiquidSplit", "Stability", "miscibility_gap", "split_liquid", "stability"]

Floats = npt.NDArray[np.float64]

_UNSTABLE = -1e-9  # tangent-plane distance over RT; nearer to zero is rounding


@dataclass(frozen=True, slots=True)
class Stability:
    """Whether one liquid is stable.

    Args:
        stable: no second liquid lowers the Gibbs energy.
        distance: lowest tangent-plane distance over RT that was met [-].
        trial: (C,) the composition there [-].
    """

    stable: bool
    distance: float
    trial: Floats


@dataclass(frozen=True, slots=True)
class LiquidSplit:
    """Two liquids in equilibrium.

    Args:
        temperature_K: [K].
        first: (C,) mole fractions of one liquid [-].
        second: (C,) mole fractions of the other [-].
        second_share: moles of the second per mole of both [-]; NaN for a gap without a feed.
    """

    temperature_K: float
    first: Floats
    second: Floats
    second_share: float


def _checked(x: npt.ArrayLike, components: int) -> Floats:
    values = np.ascontiguousarray(x, dtype=np.float64)
    if values.shape != (components,):
        raise BadInput("composition", x, f"{components} mole fractions, one for each component")
    if not np.all(np.isfinite(values)) or np.any(values < 0.0) or not values.sum() > 0.0:
        raise BadInput("composition", x, "mole fractions from 0 to 1 that add up to 1")
    normalised: Floats = values / values.sum()
    return normalised


def _from_logit(logit: float) -> Floats:
    return np.array([1.0 / (1.0 + math.exp(-logit)), 1.0 / (1.0 + math.exp(logit))])


def miscibility_gap(temperature_K: float, mixture: MixtureArrays) -> LiquidSplit | None:
    """Return the two liquids of a pair at a temperature, or None when it mixes fully.

    Args:
        temperature_K: [K].
        mixture: arrays of two components.

    Returns:
        The widest gap, `first` poor in the first component; None when there is none.  Mutual
        solubilities below 1e-10 are followed by Newton's method beyond the scan.

    Raises:
        BadInput: not two components.

    Source:
        Gibbs's common tangent, found as the lower hull of g/RT; see
        `forerun.equilibrium.liquid_liquid_kernels.binary_gap`.
    """
    components = mixture.vapour_pressure.shape[0]
    if components != 2:
        raise BadInput("mixture", components, "a mixture of two components")
    ends = np.empty(2)
    if not binary_gap(temperature_K, mixture, scratch_for(mixture), ends):
        return None
    return LiquidSplit(temperature_K, _from_logit(ends[0]), _from_logit(ends[1]), math.nan)


def stability(x: npt.ArrayLike, temperature_K: float, mixture: MixtureArrays) -> Stability:
    """Test whether one liquid is stable against splitting in two.

    Args:
        x: (C,) mole fractions [-]; normalised.
        temperature_K: [K].
        mixture: arrays of one to five components.

    Returns:
        The verdict.  A pair is scanned in full; more components are tried from two starts for
        each of them, so a very narrow gap could be overlooked.

    Raises:
        BadInput: composition of the wrong length, negative or not finite.

    Source:
        Michelsen, Fluid Phase Equilib. 9 (1982) 1, doi:10.1016/0378-3812(82)85001-2.
    """
    z = _checked(x, mixture.vapour_pressure.shape[0])
    scratch = scratch_for(mixture)
    trial = np.empty_like(z)
    distance = tangent_plane(temperature_K, z, mixture, scratch, trial)
    if z.size == 2 and np.all(z > 0.0):
        ends = np.empty(2)
        logit = math.log(z[0] / z[1])
        inside = binary_gap(temperature_K, mixture, scratch, ends) and ends[0] < logit < ends[1]
        return Stability(not inside, distance, _from_logit(ends[0]) if inside else trial)
    return Stability(distance > _UNSTABLE, distance, trial)


def split_liquid(
    z: npt.ArrayLike, temperature_K: float, mixture: MixtureArrays
) -> LiquidSplit | None:
    """Return the two liquids in which an overall composition stands, or None when it is one.

    Args:
        z: (C,) overall mole fractions [-]; normalised.
        temperature_K: [K].
        mixture: arrays of up to five components.

    Returns:
        The split with its shares; None when one liquid is stable (as far as `stability` sees).

    Raises:
        BadInput: composition of the wrong length, negative or not finite.

    Source:
        Stability and successive substitution: Michelsen, Fluid Phase Equilib. 9 (1982) 1 and 21,
        doi:10.1016/0378-3812(82)85001-2, doi:10.1016/0378-3812(82)85002-4; finished by Newton.
    """
    feed = _checked(z, mixture.vapour_pressure.shape[0])
    scratch = scratch_for(mixture)
    if feed.size == 2:
        gap = miscibility_gap(temperature_K, mixture)
        if gap is None or not gap.first[0] < feed[0] < gap.second[0]:
            return None
        share = (feed[0] - gap.first[0]) / (gap.second[0] - gap.first[0])
        return LiquidSplit(temperature_K, gap.first, gap.second, float(share))
    ln_k, first, second = np.empty_like(feed), np.empty_like(feed), np.empty_like(feed)
    share = find_split(temperature_K, feed, _UNSTABLE, mixture, scratch, ln_k, first, second)
    if not 0.0 < share < 1.0:
        return None
    return LiquidSplit(temperature_K, first, second, float(share))
