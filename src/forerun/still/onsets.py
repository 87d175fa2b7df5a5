"""When a stage will begin to boil or to run over: a step that ends there meets its stiffness.

Before it boils, a stage sends no vapour and its slope is nothing, so that a method that is
linear in its steps cannot see what is to come, jumps far beyond and has to come back.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64
from forerun.still.boiling_type import BOILED_TYPE, Boiled
from forerun.still.rig import RIG_TYPE, RigArrays
from forerun.still.slopes import SLOPES_TYPE, Slopes
from forerun.substances.liquids import LIQUIDS_TYPE, LiquidArrays

__all__ = ["next_onset"]

Floats = npt.NDArray[np.float64]

_INTO = 0.4  # a step may end this share of a ramp beyond its beginning
_LEAST_INTO = 1e-3  # of half its width: less is not told from none
_VOLUME_TEMPERATURE = 293.15  # K, where molar volumes are given


@kernel(
    float64(int64, float64, float64[:, ::1], RIG_TYPE, BOILED_TYPE, SLOPES_TYPE),
    fast=True,
    inline=True,
)
def _into(j: int, rise: float, z: Floats, rig: RigArrays, work: Boiled, at: Slopes) -> float:
    """Return how far into the ramp of its boiling a step to the onset may end [-].

    No further than where the vapour carries off what comes in: a stage that sends next to
    nothing would lose there in a moment what it gathers in seconds, fall off the ramp and come
    to the same onset again, without end.
    """
    c = z.shape[1] - 1
    falls, amount = 0.0, 0.0  # of ln P for every mole of vapour; liquid of the stage
    warms = work.d_over[j, c] * at.d_temperature[j, c]
    for k in range(c):
        falls += (work.d_over[j, k] + warms * work.latent[0, j, k]) * work.y[j, k]
        amount += max(z[j, k], 0.0)
    furthest: float = 2.0 * _INTO * rig.ramp
    fastest = rig.vapour_rate[j] * amount / (amount + rig.vanishing) * falls / work.over[j]
    if rise <= 0.0 or 4.0 * rig.ramp * rise >= furthest * furthest * fastest:
        return furthest
    return max(math.sqrt(4.0 * rig.ramp * rise / fastest), _LEAST_INTO * rig.ramp)


@kernel(
    float64(
        float64[:, ::1],
        float64[:, ::1],
        float64,
        LIQUIDS_TYPE,
        RIG_TYPE,
        BOILED_TYPE,
        SLOPES_TYPE,
    ),
    fast=True,
    inline=True,
)
def next_onset(
    z: Floats,
    dz: Floats,
    pressure: float,
    liquids: LiquidArrays,
    rig: RigArrays,
    work: Boiled,
    at: Slopes,
) -> float:
    """Return the time until the next stage begins to boil or to run over, straight on from now.

    Args:
        z, dz: (S, B) state and its rate of change [mol, E; mol/s, E/s].
        pressure: in the head [Pa].
        liquids, rig: what does not change [SI].
        work, at: from `linearise` at this state.

    Returns:
        Time [s]; infinity when nothing is under way.

    Validity:
        A guess that only chooses a step; the error of the step is judged as ever.

    Not a published model: bookkeeping of this engine.
    """
    stages, b = z.shape
    c = b - 1
    v = liquids.molar_volume
    soonest = math.inf
    for j in range(stages):
        warmer = 0.0
        for k in range(b):
            warmer += at.d_temperature[j, k] * dz[j, k]
        here = pressure + rig.extra_pressure[j]
        missing = -(work.over[j] - here) / here - rig.centre - rig.ramp
        if missing > 0.0 and work.over[j] > 0.0:
            rise = work.d_over[j, c] * warmer
            for k in range(c):
                rise += work.d_over[j, k] * dz[j, k]
            # ln P goes straighter than P
            rise /= work.over[j]
            left = math.log1p((here - work.over[j]) / work.over[j])
            left += _into(j, rise, z, rig, work, at) - rig.ramp - rig.centre
            if rise * soonest > left > 0.0:
                soonest = left / rise
        if j > 0:
            t = at.temperature[j] - _VOLUME_TEMPERATURE
            volume, rise = 0.0, 0.0
            for i in range(c):
                molar = v[i, 0] + t * (v[i, 1] + t * v[i, 2])
                volume += z[j, i] * molar
                rise += dz[j, i] * molar
            left = rig.overflow_start[j] + 2.0 * _INTO * rig.overflow_ramp[j] - volume
            if volume < rig.overflow_start[j] and rise * soonest > left:
                soonest = left / rise
    return soonest
