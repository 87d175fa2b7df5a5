"""Boiling temperature of one liquid, compiled."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MIXTURE_TYPE, MixtureArrays
from forerun.equilibrium.kernels import bubble_pressure
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64

__all__ = ["bubble_temperature_from"]

Floats = npt.NDArray[np.float64]

_TROUTON = 10.6  # L/(R T) of a normal liquid, Trouton's rule (88 J/mol/K); only the first step
_COLDEST, _HOTTEST = 50.0, 2000.0  # K, ends of the search
_AGREEMENT = 1e-12  # of ln P
_MOST_STEPS = 80


@kernel(float64(float64[::1], float64, float64, MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def bubble_temperature_from(
    x: Floats,
    pressure: float,
    guess: float,
    mixture: MixtureArrays,
    scratch: Floats,
    y: Floats,
) -> float:
    """Return the boiling temperature of a liquid: secant of ln P on 1/T inside a bracket.

    ln P is nearly a straight line in 1/T, so three or four pressures suffice from a fair guess;
    a step that leaves the bracket is replaced by its middle.

    Args:
        x: (C,) liquid mole fractions [-], summing to 1.
        pressure: [Pa], > 0.
        guess: temperature to start from [K].
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        y: (C,) result: vapour mole fractions [-].

    Returns:
        Temperature [K]; NaN when no temperature between 50 and 2000 K gives the pressure.

    Derivation:
        The root of ln P(1/T) = ln P, bracketed; no published model. Valid where `bubble_pressure`
        rises with temperature.
    """
    target = math.log(pressure)
    hot, cold = 1.0 / _HOTTEST, 1.0 / _COLDEST
    u = 1.0 / guess
    slope = -_TROUTON / u
    u_before, miss_before = 0.0, 0.0
    for step in range(_MOST_STEPS):
        miss = math.log(bubble_pressure(1.0 / u, x, mixture, scratch, y)) - target
        if abs(miss) < _AGREEMENT:
            return 1.0 / u
        if miss > 0.0:
            hot = u
        else:
            cold = u
        if step > 0 and u != u_before:
            secant = (miss - miss_before) / (u - u_before)
            if secant < 0.0:
                slope = secant
        u_before, miss_before = u, miss
        u -= miss / slope
        if not hot < u < cold:
            u = 0.5 * (hot + cold)
        if cold - hot < 1e-15 * cold:
            break
        if abs(u - u_before) < 1e-16 * u:  # the last digit is reached
            return 1.0 / u
    if cold - hot < 1e-12 * cold and hot > 1.0 / _HOTTEST and cold < 1.0 / _COLDEST:
        return 1.0 / u
    return math.nan
