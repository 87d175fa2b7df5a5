"""A hand on the bath: how a chemist leads it by what the still does, compiled."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64
from forerun.still.balances import THERMOMETER
from forerun.still.noting import PLAN_TYPE, Plan, event
from forerun.still.slopes import SLOPES_TYPE, Slopes

__all__ = ["DROP_RATE", "OVER_HEAD", "OVER_POT", "lead_bath"]

Floats = npt.NDArray[np.float64]

DROP_RATE, OVER_HEAD, OVER_POT = 1, 2, 3
_FOLLOWS = 30.0  # s: a hand brings the bath to where it should be in this time, common practice
_FIRM = 4.0  # a rate that is a quarter too small has the bath change as fast as it can
_NEVER_COLDER = 0.2  # the bath is let cool so much more slowly than it heats, from memory


@kernel(float64(float64, float64, float64[::1], int64, PLAN_TYPE, SLOPES_TYPE), fast=True)
def lead_bath(bath: float, ahead: float, y: Floats, stages: int, plan: Plan, at: Slopes) -> float:
    """Return how fast the bath is to change now.

    Args:
        bath: its temperature [K].
        ahead: length of the step that is to be tried [s].
        y: (n,) state with its accounts [mol, E, K].
        stages: S [-].
        plan: what is kept [SI].
        at: streams of the state before the last step [see `Slopes`].

    Returns:
        Rate of change [K/s].

    Validity:
        Steps of half a minute at most, as a hand would act.

    Not a published model: proportional control within what the bath can do.
    """
    components = plan.room_volume.shape[0]
    top = stages - 1
    follow = max(_FOLLOWS, ahead)
    if plan.rule == DROP_RATE:
        rate = 0.0
        for i in range(components):
            rate += (1.0 - at.back[i]) * at.head[0] * at.up[top, i] * plan.room_volume[i]
        missing = (plan.rule_value - rate) / plan.rule_value
        slope = _FIRM * plan.bath_fastest * missing
    else:
        below = at.temperature[0]
        if plan.rule == OVER_HEAD and event(1, plan.first_drop, y, stages, plan) >= 0.0:
            below = y[stages * (components + 1) + 2 * components + THERMOMETER]
        slope = 0.0
        if below > 0.0:  # nothing is known before the first step
            slope = (below + plan.rule_value - bath) / follow
    slope = min(max(slope, -_NEVER_COLDER * plan.bath_fastest), plan.bath_fastest)
    return min(slope, (plan.bath_highest - bath) / follow)
