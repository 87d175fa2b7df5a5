"""Boiling points under one and two liquids, and scans of them for azeotropes, compiled."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MIXTURE_TYPE, MixtureArrays
from forerun.equilibrium.kernels import bubble_pressure, ln_vapour_pressure
from forerun.equilibrium.liquid_liquid_kernels import (
    binary_gap,
    refine_gap,
    refine_split,
)
from forerun.equilibrium.liquid_liquid_splitting import find_split
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void

__all__ = [
    "boiling",
    "coldest",
    "crossing",
    "ln_relative_volatility",
    "scan_pair",
    "scan_simplex",
    "three_phase_pair",
    "two_liquid_boiling",
]

Floats = npt.NDArray[np.float64]

_TROUTON = 10.6  # L/(R T) of a normal liquid, Trouton's rule (88 J/mol/K); only starts the secant
_LN_PRESSURE = 1e-11  # agreement of ln P over one liquid
_LN_PRESSURE_SCAN = 1e-7  # while looking for the sign of ln(relative volatility)
_LN_PRESSURE_TWO = 1e-9  # over two: their activities agree to 1e-10 (3e-8 K)
_COLDEST_STEP = 0.05  # K, at which the search for the coldest heteroazeotrope is near enough
_STANDING = 1e-9  # relative change of 1/T that is no change any more (4e-7 K)


@kernel(
    float64(float64, float64[::1], float64, float64, MIXTURE_TYPE, float64[:, ::1], float64[::1])
)
def _boiling_within(
    pressure: float,
    x: Floats,
    guess: float,
    tolerance: float,
    mixture: MixtureArrays,
    scratch: Floats,
    y: Floats,
) -> float:
    """Return the boiling temperature [K] with ln P met to a tolerance [-]; see `boiling`."""
    target = math.log(pressure)
    u = 1.0 / guess
    slope = -_TROUTON * guess
    miss = math.log(bubble_pressure(guess, x, mixture, scratch, y)) - target
    for _ in range(60):
        if abs(miss) < tolerance:
            return 1.0 / u
        change = -miss / slope
        limit = 0.2 * u
        change = min(max(change, -limit), limit)
        new = u + change
        if not 1.0 / 2000.0 < new < 1.0 / 50.0:
            return math.nan
        after = math.log(bubble_pressure(1.0 / new, x, mixture, scratch, y)) - target
        secant = (after - miss) / (new - u) if new != u else slope
        if secant < -100.0:  # K; the pressure over a liquid rises with temperature
            slope = secant
        if new == u:
            return 1.0 / u
        u, miss = new, after
    return math.nan


@kernel(float64(float64, float64[::1], float64, MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def boiling(
    pressure: float,
    x: Floats,
    guess: float,
    mixture: MixtureArrays,
    scratch: Floats,
    y: Floats,
) -> float:
    """Return the boiling temperature of one liquid: secant of ln P against 1/T.

    Args:
        pressure: [Pa].
        x: (C,) liquid mole fractions [-].
        guess: a temperature to start from [K].
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        y: (C,) result: vapour mole fractions [-].

    Returns:
        Temperature [K]; NaN when the search leaves 50 to 2000 K.

    Validity:
        Boiling points between 50 and 2000 K, pressures below about 2 bar.

    Source:
        `forerun.equilibrium.kernels.bubble_pressure`; the secant in ln P against 1/T is nearly
        straight by Clausius and Clapeyron.
    """
    return _boiling_within(pressure, x, guess, _LN_PRESSURE, mixture, scratch, y)


@kernel(float64(float64, float64, MIXTURE_TYPE))
def coldest(pressure: float, start: float, mixture: MixtureArrays) -> float:
    """Return a temperature below which no two liquids of the mixture boil together.

    Args:
        pressure: [Pa].
        start: temperature to start from, e.g. the lowest boiling point [K].
        mixture: the mixture.

    Returns:
        Where the vapour pressures of the pure liquids add up to the pressure, half a per cent
        lower [K].

    Validity:
        Pressures below about 2 bar.

    Derivation:
        No activity exceeds 1, so two liquids in equilibrium never press more than that sum.
    """
    temperature = start
    for _ in range(50):
        total = 0.0
        for i in range(mixture.vapour_pressure.shape[0]):
            total += math.exp(ln_vapour_pressure(i, mixture.vapour_pressure, temperature))
        step = math.log(total / pressure) * temperature / _TROUTON
        temperature -= step
        if abs(step) < _COLDEST_STEP:
            break
    return 0.995 * temperature


@kernel(float64(float64, float64, float64, MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def ln_relative_volatility(
    pressure: float,
    logit: float,
    guess: float,
    mixture: MixtureArrays,
    scratch: Floats,
    temperature: Floats,
) -> float:
    """Return ln(relative volatility) of the first of two components at its boiling point.

    Args:
        pressure: [Pa].
        logit: ln(x1/x2) of the liquid [-].
        guess: temperature to start from [K].
        mixture: two components.
        scratch: working space from `scratch_for`.
        temperature: (1,) result: boiling temperature [K].

    Returns:
        ln(y1 x2/(y2 x1)) [-]; NaN where there is no boiling point between 50 and 2000 K.

    Source:
        `forerun.equilibrium.kernels.bubble_pressure`.
    """
    x, y = np.empty(2), np.empty(2)
    x[0] = 1.0 / (1.0 + math.exp(-logit))
    x[1] = 1.0 / (1.0 + math.exp(logit))
    temperature[0] = boiling(pressure, x, guess, mixture, scratch, y)
    return math.log(y[0] / y[1]) - logit


@kernel(void(float64, float64[::1], float64, MIXTURE_TYPE, float64[:, ::1], float64[:, ::1]))
def scan_pair(
    pressure: float,
    logits: Floats,
    guess: float,
    mixture: MixtureArrays,
    scratch: Floats,
    result: Floats,
) -> None:
    """Write ln(relative volatility) and boiling temperature along a pair.

    Args:
        pressure: [Pa].
        logits: (n,) ln(x1/x2), ascending [-].
        guess: temperature to start from [K].
        mixture: two components.
        scratch: working space from `scratch_for`.
        result: (n, 2) ln alpha [-] and temperature [K].

    Validity:
        Pressures below about 2 bar; both ends of the grid may be infinitely dilute: any ln(x1/x2).

    Source:
        `ln_relative_volatility`, along the grid; NaN where there is no boiling point.
    """
    x, y = np.empty(2), np.empty(2)
    start = guess
    for n in range(logits.shape[0]):
        x[0] = 1.0 / (1.0 + math.exp(-logits[n]))
        x[1] = 1.0 / (1.0 + math.exp(logits[n]))
        temperature = _boiling_within(pressure, x, start, _LN_PRESSURE_SCAN, mixture, scratch, y)
        result[n, 0] = math.log(y[0] / y[1]) - logits[n]
        result[n, 1] = temperature
        start = guess if math.isnan(temperature) else temperature


@kernel(float64(float64, float64, float64, float64, MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def crossing(
    pressure: float,
    low: float,
    high: float,
    guess: float,
    mixture: MixtureArrays,
    scratch: Floats,
    temperature: Floats,
) -> float:
    """Return the ln(x1/x2) between two bounds where ln(relative volatility) changes sign.

    Args:
        pressure: [Pa].
        low: lower bound of ln(x1/x2) [-].
        high: upper bound [-].
        guess: temperature to start from [K].
        mixture: two components.
        scratch: working space from `scratch_for`.
        temperature: (1,) result: boiling temperature there [K].

    Returns:
        ln(x1/x2) [-]; valid when the sign differs at the two bounds.

    Source:
        False position in its Illinois form: Dowell & Jarratt, BIT 11 (1971) 168,
        doi:10.1007/BF01934364 (from memory).
    """
    f_low = ln_relative_volatility(pressure, low, guess, mixture, scratch, temperature)
    f_high = ln_relative_volatility(pressure, high, guess, mixture, scratch, temperature)
    middle = 0.5 * (low + high)
    for _ in range(100):
        middle = (low * f_high - high * f_low) / (f_high - f_low)
        f = ln_relative_volatility(pressure, middle, guess, mixture, scratch, temperature)
        if abs(f) < 1e-13 or abs(high - low) < 1e-12:
            break
        if f * f_high < 0.0:
            low, f_low = high, f_high
        else:
            f_low *= 0.5
        high, f_high = middle, f
    return middle


@kernel(
    float64(float64, float64, float64, MIXTURE_TYPE, float64[:, ::1], float64[::1], float64[::1])
)
def three_phase_pair(
    pressure: float,
    coldest: float,
    hottest: float,
    mixture: MixtureArrays,
    scratch: Floats,
    ends: Floats,
    y: Floats,
) -> float:
    """Return the temperature at which two liquids of a pair boil together.

    Args:
        pressure: [Pa].
        coldest: where the pure vapour pressures add up to the pressure, or lower [K].
        hottest: the higher boiling point of the pair, or higher [K].
        mixture: two components.
        scratch: working space from `scratch_for`.
        ends: (2,) result: ln(x1/x2) of the liquids, ascending [-].
        y: (2,) result: vapour [-].

    Returns:
        Temperature [K]; NaN when no two liquids boil together at this pressure.

    Validity:
        Pressures below about 2 bar; the widest gap, where a pair has more than one.
        A gap that exists only between the three temperatures tried is overlooked.

    Derivation:
        At equal activities both liquids have one bubble pressure; the temperature is found where
        it meets the pressure given.  No activity exceeds 1 in a stable pair, so that temperature
        lies above the one where the pure vapour pressures add up to the pressure.
    """
    target = math.log(pressure)
    x = np.empty(2)
    for start in range(3):
        u = 1.0 / (coldest + (hottest - coldest) * 0.5 * start)
        if not binary_gap(1.0 / u, mixture, scratch, ends):
            continue
        u_good, miss_good = math.nan, math.nan
        slope = -_TROUTON / u
        for _ in range(60):
            x[0] = 1.0 / (1.0 + math.exp(-ends[0]))
            x[1] = 1.0 / (1.0 + math.exp(ends[0]))
            miss = math.log(bubble_pressure(1.0 / u, x, mixture, scratch, y)) - target
            if abs(miss) < _LN_PRESSURE_TWO:
                return 1.0 / u
            if not math.isnan(u_good):
                secant = (miss - miss_good) / (u - u_good)
                if secant < -100.0:
                    slope = secant
            u_good, miss_good = u, miss
            change = -miss / slope
            limit = 0.1 * u
            change = min(max(change, -limit), limit)
            if abs(change) < _STANDING * u:
                return 1.0 / u
            found = False
            for _ in range(12):
                if abs(change) < _STANDING * u:
                    break
                u = u_good + change
                temperature = 1.0 / u
                found = refine_gap(temperature, mixture, scratch, ends) or binary_gap(
                    temperature, mixture, scratch, ends
                )
                if found:
                    break
                change *= 0.5  # the gap closed on the way: come closer to its end
            if not found:
                break
    return math.nan


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
        float64[::1],
        float64[::1],
    )
)
def two_liquid_boiling(
    pressure: float,
    z: Floats,
    guess: float,
    mixture: MixtureArrays,
    scratch: Floats,
    ln_k: Floats,
    first: Floats,
    second: Floats,
    y: Floats,
    share: Floats,
) -> float:
    """Return the boiling temperature of an overall liquid that stands as two.

    Args:
        pressure: [Pa].
        z: (C,) overall liquid mole fractions [-].
        guess: temperature to start from [K].
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        ln_k: (C,) guess of ln(x_second/x_first), replaced by the solution [-].
        first: (C,) result: first liquid [-].
        second: (C,) result: second liquid [-].
        y: (C,) result: vapour [-].
        share: (1,) result: moles of second liquid per mole of liquid [-].

    Returns:
        Temperature [K]; NaN when the two liquids are lost on the way.

    Validity:
        Positive fractions in z; a share outside 0 to 1 means that z is one liquid.

    Derivation:
        Isothermal split (`refine_split`) inside a secant of ln P against 1/T.
    """
    target = math.log(pressure)
    u = 1.0 / guess
    slope = -_TROUTON * guess
    before, miss_before = math.nan, math.nan
    for _ in range(40):
        share[0] = refine_split(1.0 / u, z, mixture, scratch, ln_k, first, second)
        if math.isnan(share[0]):
            return math.nan
        miss = math.log(bubble_pressure(1.0 / u, first, mixture, scratch, y)) - target
        if abs(miss) < _LN_PRESSURE_TWO:
            return 1.0 / u
        if not math.isnan(before) and u != before:
            secant = (miss - miss_before) / (u - before)
            if secant < -100.0:
                slope = secant
        before, miss_before = u, miss
        change = -miss / slope
        limit = 0.05 * u
        if abs(change) < _STANDING * u:
            return 1.0 / u
        u += min(max(change, -limit), limit)
    return math.nan


@kernel(
    void(
        float64,
        float64[:, ::1],
        float64,
        int64,
        MIXTURE_TYPE,
        float64[:, ::1],
        float64[:, ::1],
        float64[:, :, ::1],
    )
)
def scan_simplex(
    pressure: float,
    points: Floats,
    guess: float,
    two_liquids: int,
    mixture: MixtureArrays,
    scratch: Floats,
    one: Floats,
    two: Floats,
) -> None:
    """Boil every composition of a grid, as one liquid and, where it splits, as two.

    Args:
        pressure: [Pa].
        points: (n, C) liquid mole fractions [-].
        guess: temperature to start from [K].
        two_liquids: 1 to look for a split as well, 0 to leave it [-].
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        one: (n, 2) result: sum of squares of ln(y/x) [-] and temperature [K] of one liquid.
        two: (n, 4, C) result: ln(y/z), first liquid, second liquid [-] and, in the last row,
            temperature [K] and share of the second liquid; NaN where one liquid is stable.

    Source:
        `boiling`, `find_split` and `two_liquid_boiling` at every point; valid for positive
        fractions.
    """
    count, components = points.shape
    y, ln_k = np.empty(components), np.empty(components)
    first, second = np.empty(components), np.empty(components)
    share = np.empty(1)
    start = guess
    for n in range(count):
        z = points[n]
        temperature = _boiling_within(pressure, z, start, _LN_PRESSURE_SCAN, mixture, scratch, y)
        start = guess if math.isnan(temperature) else temperature
        one[n, 1] = temperature
        one[n, 0] = math.nan
        two[n] = math.nan
        if math.isnan(temperature):
            continue
        one[n, 0] = 0.0
        for i in range(components):
            one[n, 0] += math.log(y[i] / z[i]) ** 2
        if two_liquids == 0:
            continue
        if math.isnan(find_split(temperature, z, -1e-9, mixture, scratch, ln_k, first, second)):
            continue
        t = two_liquid_boiling(
            pressure, z, temperature, mixture, scratch, ln_k, first, second, y, share
        )
        if math.isnan(t) or not 0.0 < share[0] < 1.0:
            continue
        for i in range(components):
            two[n, 0, i] = math.log(y[i] / z[i])
            two[n, 1, i], two[n, 2, i] = first[i], second[i]
        two[n, 3, 0], two[n, 3, 1] = t, share[0]
