"""Heat from the bath into the pot, compiled: through the liquid, and through the wall above it.

The wall that the liquid touches shrinks while the flask empties.  The wall that it has left still
stands in the bath, and what condenses in the flask's upper part runs down over it and boils again
before it reaches the liquid: of what that part loses the bath gives so much back.
"""

from __future__ import annotations

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, void
from forerun.still.rig import RIG_TYPE, RigArrays
from forerun.still.slopes import SLOPES_TYPE, Slopes

__all__ = ["heat_from_bath"]

_TINY = 1e-12  # W2; heats are far larger wherever they matter


@kernel(void(float64, float64, float64, RIG_TYPE, SLOPES_TYPE), fast=True, inline=True)
def heat_from_bath(
    volume: float, temperature: float, bath: float, rig: RigArrays, at: Slopes
) -> None:
    """Write the heat from the bath and how it changes into `Slopes.heat`.

    Args:
        volume: of the liquid in the pot [m3].
        temperature: of the pot [K].
        bath: [K].
        rig: what does not change [SI].
        at: gets the heat [W] and its derivatives in volume [W/m3], temperature and bath [W/K].

    Validity:
        A bath that stays level with the charge as filled; vapour in the flask as hot as the pot.

    Derivation: UA w (T_bath - T) through the wetted share w of the wall, a power of the volume
        that `glassware.flasks.wetting_exponent` takes from the sphere.  The wall that is left dry
        would pass c = UA (1 - w) (T_bath - T), and there is as much condensate on it as the upper
        part loses, l; l c^2/(l^2 + c^2) of it boils again, which is smooth, never more than
        there is and never more than the wall passes.  Own reasoning, not measured.
    """
    conductance = rig.bath_conductance
    drive = bath - temperature
    wetted, d_wetted = 0.0, 0.0
    if volume > 0.0:
        there = volume / (volume + rig.dry)
        wetted = (volume / rig.fill) ** rig.wetting * there
        d_wetted = wetted / volume * (rig.wetting + rig.dry / (volume + rig.dry))
    at.heat[0] = conductance * wetted * drive
    at.heat[1] = conductance * d_wetted * drive
    at.heat[2] = -conductance * wetted
    at.heat[3] = conductance * wetted
    if wetted >= 1.0 or drive <= 0.0:
        return
    left = conductance * (1.0 - wetted)
    passes = left * drive
    lost = rig.loss[0] * (temperature - rig.room)
    both = passes * passes + lost * lost + _TINY
    by_passes = 2.0 * passes * (lost / both) * (lost * lost + _TINY) / both
    by_lost = passes * passes * (passes * passes - lost * lost + _TINY) / (both * both)
    at.heat[0] += lost * passes * passes / both
    at.heat[1] -= by_passes * conductance * d_wetted * drive
    at.heat[2] += by_lost * rig.loss[0] - by_passes * left
    at.heat[3] += by_passes * left
