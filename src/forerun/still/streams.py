"""What leaves one stage: vapour upwards, liquid downwards, from its own state alone.

A state is (n_1 … n_C, H/E): moles and enthalpy in units of E, so that all entries of a block
are of one size.  Enthalpy is zero for liquids and glass at 298.15 K; heats of mixing are left out.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void
from forerun.still.boiling import boil
from forerun.still.boiling_type import (
    BOILED_TYPE,
    BOILING_TYPE,
    ENTHALPY_UNIT,
    REFERENCE_TEMPERATURE,
    Boiled,
    BoilingArrays,
)
from forerun.still.rig import RIG_TYPE, RigArrays
from forerun.still.slopes import SLOPES_TYPE, Slopes
from forerun.substances.liquids import LIQUIDS_TYPE, LiquidArrays

__all__ = [
    "liquid_volume",
    "streams",
    "temperatures",
]

Floats = npt.NDArray[np.float64]

_VOLUME_TEMPERATURE = 293.15  # K, where molar volumes are given
_TRACE = 1e-300
_COLDEST, _HOTTEST = 50.0, 2000.0  # K: a trial step of a solver may stray, but not to infinity


@kernel(
    void(int64, int64, float64[:, ::1], float64[::1], LIQUIDS_TYPE, float64[::1]),
    fast=True,
    inline=True,
)
def temperatures(
    first: int, end: int, z: Floats, glass: Floats, liquids: LiquidArrays, out: Floats
) -> None:
    """Write the temperatures of stages from their enthalpies, in closed form.

    Args:
        first, end: stages from the first to the one before the end [-].
        z: (S, B) moles [mol] and enthalpy [`ENTHALPY_UNIT`].
        glass: (S,) heat capacity of the glass [J/K].
        liquids: heat capacities, linear in temperature.
        out: (S,) result [K].

    Validity:
        While the total heat capacity stays positive.

    Source:
        Root of H = C (T - Tr) + D (T - Tr)^2 / 2, own derivation.
    """
    components = z.shape[1] - 1
    heat = liquids.heat_capacity
    for j in range(first, end):
        linear = glass[j]
        half = 0.0
        for i in range(components):
            linear += z[j, i] * heat[i, 0]
            half += 0.5 * z[j, i] * heat[i, 1]
        enthalpy = z[j, components] * ENTHALPY_UNIT
        linear = max(linear, _TRACE)
        root = math.sqrt(max(linear * linear + 4.0 * half * enthalpy, 0.0))
        temperature = REFERENCE_TEMPERATURE + 2.0 * enthalpy / (linear + root)
        out[j] = min(max(temperature, _COLDEST), _HOTTEST)


@kernel(float64(float64[::1], float64, LIQUIDS_TYPE), fast=True, inline=True)
def liquid_volume(moles: Floats, temperature: float, liquids: LiquidArrays) -> float:
    """Return the volume of a liquid, volumes taken as additive.

    Args:
        moles: (C,) or longer, the first C count [mol].
        temperature: [K].
        liquids: molar volumes, quadratic in temperature.

    Returns:
        Volume [m3]. Valid where the quadratics are; no volume of mixing. Source: additivity.
    """
    t = temperature - _VOLUME_TEMPERATURE
    total = 0.0
    v = liquids.molar_volume
    for i in range(v.shape[0]):
        total += moles[i] * (v[i, 0] + t * (v[i, 1] + t * v[i, 2]))
    return total


@kernel(
    void(
        int64,
        int64,
        int64,
        float64[:, ::1],
        float64,
        BOILING_TYPE,
        LIQUIDS_TYPE,
        RIG_TYPE,
        BOILED_TYPE,
        SLOPES_TYPE,
    ),
    fast=True,
    inline=True,
)
def streams(  # noqa: C901, PLR0912, PLR0915 -- value and derivatives share every term
    first: int,
    end: int,
    slopes: int,
    z: Floats,
    pressure: float,
    mixture: BoilingArrays,
    liquids: LiquidArrays,
    rig: RigArrays,
    work: Boiled,
    at: Slopes,
) -> None:
    """Write what leaves some stages, and its derivatives if wanted.

    Vapour rises at a rate that grows with the pressure over the liquid above that of the stage;
    it is energy that limits it in the end, since boiling takes the heat away.  Liquid runs over
    once the stage holds its hold-up.  Both rates begin on a ramp with a continuous slope.  What the
    vapour carries up and how freely the liquid runs down stand in the rig, see `loads`.

    Args:
        first, end: stages from the first to the one before the end; stage 0 is the pot, which
            gives no liquid [-].
        slopes: 1 with derivatives, 0 without [-].
        z: (S, B) moles [mol] and enthalpy [`ENTHALPY_UNIT`] of the stages, B = C + 1.
        pressure: in the head [Pa].
        mixture, liquids, rig: what does not change [SI].
        work: working space; holds temperature and pressure over the liquid afterwards [K, Pa].
        at: result: streams, temperatures and their derivatives [see `Slopes`].

    Validity:
        The overpressure that drives the vapour shifts temperatures by about 0.03 K.

    Source:
        Own formulation; latent heat: Watson, Ind. Eng. Chem. 35 (1943) 398,
        doi:10.1021/ie50400a004.
    """
    components = z.shape[1] - 1
    last = components
    temperatures(first, end, z, rig.glass, liquids, work.temperature)
    boil(first, end, slopes, z, mixture, work)
    up, down, d_up, d_down = at.up, at.down, at.d_up, at.d_down
    d_t, d_up_pressure = at.d_temperature, at.d_up_pressure
    y, d_y, d_over, latent = work.y, work.d_y, work.d_over, work.latent
    each = work.each  # rows 4 to 7: enthalpy and heat capacity of liquids, of vapours
    heat, v = liquids.heat_capacity, liquids.molar_volume
    for j in range(first, end):
        temperature = work.temperature[j]
        at.temperature[j] = temperature
        t = temperature - REFERENCE_TEMPERATURE
        amount = 0.0
        capacity = rig.glass[j] / ENTHALPY_UNIT
        enthalpy_up, enthalpy_down = 0.0, 0.0
        for i in range(components):
            c0, c1 = heat[i, 0], heat[i, 1]
            each[4, i] = t * (c0 + 0.5 * c1 * t) / ENTHALPY_UNIT
            each[5, i] = (c0 + c1 * t) / ENTHALPY_UNIT
            each[6, i] = each[4, i] + latent[0, j, i]
            amount += z[j, i]
            capacity += z[j, i] * each[5, i]
            enthalpy_up += y[j, i] * each[6, i]
            enthalpy_down += z[j, i] * each[4, i]
        here = pressure + rig.extra_pressure[j]
        share = amount / (max(amount, 0.0) + rig.vanishing)
        beyond = (work.over[j] - here) / here + rig.centre
        ramp = rig.ramp
        if beyond <= -ramp:
            drive, d_drive = 0.0, 0.0
        elif beyond < ramp:
            drive = (beyond + ramp) ** 2 / (4.0 * ramp)
            d_drive = (beyond + ramp) / (2.0 * ramp)
        else:
            drive, d_drive = beyond, 1.0
        full = rig.vapour_rate[j] * drive
        rate = full * share
        for i in range(components):
            up[j, i] = rate * y[j, i]
        up[j, last] = rate * enthalpy_up
        # liquid that the vapour carries up, of the composition of the stage
        lifted = rig.carried[j] if amount > 0.0 else 0.0
        wet = 0.0
        if lifted > 0.0:
            wet = enthalpy_down / amount
            for i in range(components):
                up[j, i] += rate * lifted * z[j, i] / amount
            up[j, last] += rate * lifted * wet

        warmth = temperature - _VOLUME_TEMPERATURE
        per_mole, flow, d_flow, volume = 0.0, 0.0, 0.0, 0.0
        if j > 0:
            for i in range(components):
                volume += z[j, i] * (v[i, 0] + warmth * (v[i, 1] + warmth * v[i, 2]))
            wide = rig.overflow_ramp[j]
            above = volume - rig.overflow_start[j]
            if above > 0.0:
                if above < 2.0 * wide:
                    flow = above * above / (4.0 * wide)
                    d_flow = above / (2.0 * wide)
                else:
                    flow, d_flow = above - wide, 1.0
                flow *= rig.drain[j] / rig.overflow_time[j]
                d_flow *= rig.drain[j] / rig.overflow_time[j]
                per_mole = flow / volume
        for i in range(components):
            down[j, i] = per_mole * z[j, i]
        down[j, last] = per_mole * enthalpy_down
        if not slopes:
            continue

        # derivatives: first at constant temperature and in temperature, then T(n, H) is put in
        for k in range(components):
            d_t[j, k] = -each[4, k] / capacity
        d_t[j, last] = 1.0 / capacity
        strength = rig.vapour_rate[j] * d_drive * share / here
        held = max(amount, 0.0) + rig.vanishing
        d_share = full * rig.vanishing / (held * held)
        by_pressure = -strength * work.over[j] / here
        for i in range(components):
            d_up_pressure[j, i] = by_pressure * y[j, i]
            if lifted > 0.0:
                d_up_pressure[j, i] += by_pressure * lifted * z[j, i] / amount
        d_up_pressure[j, last] = by_pressure * (enthalpy_up + lifted * wet)
        in_t = 0.0
        for i in range(components):
            in_t += d_y[j, i, last] * each[6, i] + y[j, i] * (each[5, i] + latent[1, j, i])
        for k in range(components + 1):
            d_rate = strength * d_over[j, k]
            d_enthalpy = in_t
            if k < last:
                d_rate += d_share
                d_enthalpy = 0.0
                for i in range(components):
                    d_enthalpy += d_y[j, i, k] * each[6, i]
            for i in range(components):
                d_up[j, i, k] = d_rate * y[j, i] + rate * d_y[j, i, k]
            d_up[j, last, k] = d_rate * enthalpy_up + rate * d_enthalpy
            if lifted > 0.0:
                d_wet = 0.0
                for i in range(components):
                    x = z[j, i] / amount
                    change = d_rate * x
                    if k == last:
                        d_wet += x * each[5, i]
                    elif i == k:
                        change += rate * (1.0 - x) / amount
                    else:
                        change -= rate * x / amount
                    d_up[j, i, k] += lifted * change
                if k < last:
                    d_wet = (each[4, k] - wet) / amount
                d_up[j, last, k] += lifted * (d_rate * wet + rate * d_wet)
        for i in range(components + 1):
            in_t = d_up[j, i, last]
            for k in range(components):
                d_up[j, i, k] += in_t * d_t[j, k]
            d_up[j, i, last] = in_t * d_t[j, last]

        if flow == 0.0:
            for i in range(components + 1):
                for k in range(components + 1):
                    d_down[j, i, k] = 0.0
            continue
        relative = (d_flow - per_mole) / volume  # d(flow/volume)/d volume
        d_volume_t, d_enthalpy_t = 0.0, 0.0
        for i in range(components):
            d_volume_t += z[j, i] * (v[i, 1] + 2.0 * warmth * v[i, 2])
            d_enthalpy_t += z[j, i] * each[5, i]
        for k in range(components + 1):
            d_volume = d_volume_t * d_t[j, k]
            d_enthalpy = d_enthalpy_t * d_t[j, k]
            if k < last:
                d_volume += v[k, 0] + warmth * (v[k, 1] + warmth * v[k, 2])
                d_enthalpy += each[4, k]
            for i in range(components):
                d_down[j, i, k] = relative * d_volume * z[j, i]
            if k < last:
                d_down[j, k, k] += per_mole
            d_down[j, last, k] = relative * d_volume * enthalpy_down + per_mole * d_enthalpy
