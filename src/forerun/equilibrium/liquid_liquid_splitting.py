"""The two liquids of a composition, found without a guess, compiled."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MIXTURE_TYPE, MixtureArrays
from forerun.equilibrium.kernels import ln_activity
from forerun.equilibrium.liquid_liquid_kernels import (
    ln_activities,
    refine_split,
    tangent_plane,
)
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64

__all__ = ["find_split"]

Floats = npt.NDArray[np.float64]

_LEAST = 1e-30  # keeps logarithms of absent components finite
_APART = 0.05  # mole fraction by which two trial liquids have to differ


@kernel(
    float64(
        float64,
        float64[::1],
        float64,
        MIXTURE_TYPE,
        float64[:, ::1],
        float64[::1],
        float64[::1],
        float64[::1],
    )
)
def find_split(  # noqa: C901, PLR0912 -- starts, their deepest two and what is tried with them
    temperature: float,
    z: Floats,
    unstable: float,
    mixture: MixtureArrays,
    scratch: Floats,
    ln_k: Floats,
    first: Floats,
    second: Floats,
) -> float:
    """Return the split of an overall liquid, found without a guess.

    The trial that proves instability starts the iteration in most cases; where that fails, all
    stationary trials are found and the two deepest are taken for the two liquids.

    Args:
        temperature: [K].
        z: (C,) overall mole fractions [-].
        unstable: tangent-plane distance over RT below which it counts as unstable, e.g. -1e-9 [-].
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        ln_k: (C,) result: ln(x_second/x_first) [-].
        first: (C,) result: one liquid [-].
        second: (C,) result: the other [-].

    Returns:
        Moles of second liquid per mole [-]; NaN where one liquid is stable or no split was found.

    Validity:
        As `tangent_plane`: a gap narrower than its starts can tell may be overlooked.

    Source:
        Michelsen, Fluid Phase Equilib. 9 (1982) 1 and 21, doi:10.1016/0378-3812(82)85001-2,
        doi:10.1016/0378-3812(82)85002-4.
    """
    components = z.shape[0]
    trial = np.empty(components)
    if tangent_plane(temperature, z, mixture, scratch, trial) > unstable:
        return math.nan
    for i in range(components):
        ln_k[i] = math.log(max(trial[i], _LEAST) / z[i]) if z[i] > 0.0 else 0.0
    share = refine_split(temperature, z, mixture, scratch, ln_k, first, second)
    if 0.0 <= share <= 1.0:
        return share
    plane, gamma = np.empty(components), np.empty(components)
    found, depth = np.empty((2 * components, components)), np.empty(2 * components)
    ln_activities(temperature, z, mixture, scratch, plane)
    for start in range(2 * components):
        rich = start % components
        depth[start] = 1.0
        if z[rich] <= 0.0:
            continue
        purity = 0.99 if start < components else 0.6
        w = found[start]
        for i in range(components):
            w[i] = (1.0 - purity) * z[i]
        w[rich] += purity
        for _ in range(300):
            ln_activity(temperature, w, mixture, scratch, gamma)
            total, change, distance = 0.0, 0.0, 0.0
            for i in range(components):
                trial[i] = math.exp(plane[i] - gamma[i]) if z[i] > 0.0 else 0.0
                total += trial[i]
                if w[i] > 0.0:
                    distance += w[i] * (math.log(w[i]) + gamma[i] - plane[i])
            for i in range(components):
                change = max(change, abs(trial[i] / total - w[i]))
                w[i] = trial[i] / total
            depth[start] = distance
            if change < 1e-7:
                break
    deepest = 0
    for start in range(2 * components):
        if depth[start] < depth[deepest]:
            deepest = start
    other = -1
    for start in range(2 * components):
        apart = 0.0
        for i in range(components):
            apart = max(apart, abs(found[start, i] - found[deepest, i]))
        deeper = other < 0 or depth[start] < depth[other]
        if deeper and depth[start] < 0.0 and apart > _APART:
            other = start
    for attempt in range(2):
        if attempt == 0 and other < 0:
            continue
        for i in range(components):
            beside = found[other, i] if attempt == 0 else z[i]
            ln_k[i] = 0.0
            if z[i] > 0.0:
                ln_k[i] = math.log(max(found[deepest, i], _LEAST) / max(beside, _LEAST))
        share = refine_split(temperature, z, mixture, scratch, ln_k, first, second)
        if 0.0 <= share <= 1.0:
            return share
    return math.nan
