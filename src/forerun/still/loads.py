"""What a column does under load: pressure drop, liquid carried up, liquid held back, compiled.

These follow the vapour with a short lag, and a step takes them from what the step before left:
the stages then stay independent of each other, as the integrator wants them.

Pressure drop grows with the square of the approach to flooding, phi = vapour over the most that
the column carries.  At the pressure of the room it is the liquid that limits, the same number of
moles at any pressure; in a vacuum it is the vapour's velocity, whose head goes with 1/pressure.
The two count as a sum of squares.

From half of the most on a plate carries liquid up, which costs separation; beyond it the liquid
runs down ever more slowly and the column fills.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, void
from forerun.still.boiling_type import BOILED_TYPE, ENTHALPY_UNIT, Boiled
from forerun.still.rig import RIG_TYPE, RigArrays
from forerun.still.slopes import SLOPES_TYPE, Slopes

__all__ = ["follow_load", "press", "thinness"]

Floats = npt.NDArray[np.float64]

_LAG = 5.0  # s: pressure drop and liquid carried follow the vapour; a choice of this engine
_SETTLES = 2.0  # s: vapour follows a trend of the pressure within this; a choice of this engine
_ATMOSPHERE = 101325.0  # Pa, where the largest load of a column is stated
_VELOCITY = 0.02  # share of the vapour's velocity in phi squared at 1 atm, from memory
_FASTEST = 0.02  # 1/s, of the pressure: no pressure drop changes faster
_WORKING = 0.7  # of the largest load: where a pressure drop is stated, from memory
_EASY = 0.5  # of the largest load: below it a plate carries nothing up, from memory
_STEEP = 10.0  # the pressure drop beyond flooding grows so much faster, from memory
_CARRIED = 3.0  # liquid carried up beyond flooding, mol per mol of vapour, from memory
_MOST_CARRIED = 5.0
_WORST = 1.0  # share beyond flooding that counts: more is as bad
_HELD_BACK = 0.15  # share beyond flooding at which the liquid runs down at half its rate
_GAS_CONSTANT = 8.314462618  # J/mol/K, CODATA 2018, exact


@kernel(void(float64, RIG_TYPE), fast=True)
def press(after: float, rig: RigArrays) -> None:
    """Write the pressures on the stages some time after the start of a step.

    Args:
        after: time since the start of the step [s].
        rig: its `extra_pressure` is written [Pa].

    Validity:
        Inside the step.

    Not a published model: bookkeeping of this engine.
    """
    for j in range(rig.extra_pressure.shape[0]):
        rig.extra_pressure[j] = rig.extra_start[j] + rig.extra_trend[j] * after


@kernel(float64(float64), fast=True)
def thinness(pressure: float) -> float:
    """Return by how much nearer to flooding a column is than at 1 atm with as much vapour.

    Args:
        pressure: [Pa].

    Returns:
        Factor on the load [-], 1 at 101325 Pa; valid below 2 bar.

    Derivation: squares of liquid load and of vapour velocity over the root of its density, added.
    """
    factor: float = math.sqrt((1.0 + _VELOCITY * _ATMOSPHERE / pressure) / (1.0 + _VELOCITY))
    return factor


@kernel(void(float64, float64, float64, RIG_TYPE, BOILED_TYPE, SLOPES_TYPE), fast=True)
def follow_load(  # noqa: PLR0912, PLR0915 -- one pass down the column
    before: float, ahead: float, pressure: float, rig: RigArrays, work: Boiled, at: Slopes
) -> None:
    """Take pressure drop, carried and held-back liquid on to now; write the pressure's trend.

    Args:
        before: length of the step that has ended [s].
        ahead: length of the step that is to be tried [s].
        pressure: of the programme [Pa].
        rig: its `drops`, `drain`, `carried`, `extra_start` and `extra_trend` are written [SI].
        work, at: pot and streams of the state before the last step [see `Boiled`, `Slopes`].

    Validity:
        Bench columns; below the largest load the stages are at equilibrium.

    Source:
        Pressure drop with the square of the vapour rate and its density: Ergun, Chem. Eng. Prog.
        48 (1952) 89, turbulent term (from memory); liquid carried up lowers the efficiency:
        Colburn, Ind. Eng. Chem. 28 (1936) 526, doi:10.1021/ie50317a006; the numbers: from memory.
    """
    stages, b = at.up.shape
    top = stages - 1
    components = b - 1
    follow = 1.0 - math.exp(-before / _LAG)
    quick = 1.0 / max(_LAG, ahead)
    calm = 1.0 - math.exp(-before / _SETTLES)
    beyond = 0.0  # vapour that is more than the condenser holds, negative when less [mol/s]
    if at.head[3] > 0.0:
        for i in range(components):
            beyond += at.up[top, i]
        beyond *= 1.0 - rig.condenser_limit / (at.head[3] * ENTHALPY_UNIT)
    # a rising pressure warms the pot, which takes that heat from the vapour: what the last trend
    # took is allowed for, or pressure and vapour would chase each other
    taken = 0.0
    if work.d_over[0, components] > 0.0 and at.d_temperature[0, components] > 0.0:
        taken = 1.0 / (at.d_temperature[0, components] * work.d_over[0, components])
    total, trend = 0.0, 0.0
    # drops[j] is the trend of the drop over stage j until here, drops[S + j] the drop itself
    for j in range(top, -1, -1):
        drop = rig.drops[1, j] + rig.drops[0, j] * before
        rising = 0.0
        if j == top:
            if rig.pump_speed > 0.0:
                # falling pressure boils the pot as rising pressure stills it: both pass or spare
                # the condenser, so the trend is sought that agrees with the vapour it makes
                each = _GAS_CONSTANT * rig.coolant / rig.pump_speed
                rising = -drop * quick
                without = beyond + taken * rig.drops[0, j]
                if without > taken * rising:
                    rising += each * quick * without
                    rising /= 1.0 + each * quick * taken
                rising = rig.drops[0, j] + (rising - rig.drops[0, j]) * calm
                fastest = _FASTEST * pressure
                rising = min(max(rising, -fastest), fastest)
        elif j > 0 and rig.largest_load > 0.0:
            vapour = 0.0
            for i in range(components):
                vapour += at.up[j - 1, i]
            vapour /= 1.0 + rig.carried[j - 1]  # the liquid that it carries is no load
            here = pressure + rig.extra_pressure[j]
            phi = vapour / rig.largest_load * thinness(here)
            over = min(max(phi - 1.0, 0.0), _WORST)
            seen = min(phi, 1.0 + _WORST)
            wanted = rig.drop * (seen / _WORKING) ** 2 * (1.0 + _STEEP * over)
            gain = 0.0
            if vapour > 0.0:
                gain = (2.0 * wanted / vapour) * taken * quick * (stages - 2.0)
                if over > 0.0:
                    gain *= 1.0 + _STEEP
            was = rig.drops[0, j]
            rising = was + ((wanted - drop) * quick - was) / (1.0 + gain) * calm
            fastest = _FASTEST * here / (stages - 2.0)
            rising = min(max(rising, -fastest), fastest)
            busy = max(phi - _EASY, 0.0) / (1.0 - _EASY)
            carried = rig.carried_least + rig.worse * busy * busy + _CARRIED * over
            rig.carried[j] += (min(carried, _MOST_CARRIED) - rig.carried[j]) * follow
            drain = 1.0 / (1.0 + (over / _HELD_BACK) ** 2)
            rig.drain[j] += (drain - rig.drain[j]) * follow
        rig.drops[1, j] = drop
        rig.drops[0, j] = rising
        # the pressure on a plate is that above it: its own drop counts for what lies below
        if j == top:
            total, trend = drop, rising
            rig.extra_start[j] = total
            rig.extra_trend[j] = trend
        else:
            rig.extra_start[j] = total
            rig.extra_trend[j] = trend
            total += drop
            trend += rising
    press(0.0, rig)
