"""What leaves one stage: vapour upwards, liquid downwards, from its own state alone.

A state is (n_1 … n_C, H/E): moles and enthalpy in units of E, so that all entries of a block
are of one size.  Enthalpy is zero for liquids and glass at 298.15 K; heats of mixing are left out.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, record, void
from forerun.still.boiling import BOILING_TYPE, BoilingArrays, boil, boiling_scratch
from forerun.still.rig import RIG_TYPE, RigArrays
from forerun.substances.liquids import LIQUIDS_TYPE, LiquidArrays

__all__ = [
    "ENTHALPY_UNIT",
    "REFERENCE_TEMPERATURE",
    "WORK_TYPE",
    "Work",
    "liquid_volume",
    "stage_streams",
    "stage_temperature",
    "work_for",
]

Floats = npt.NDArray[np.float64]

ENTHALPY_UNIT = 4e4  # J/mol, the size of a latent heat
REFERENCE_TEMPERATURE = 298.15  # K, where heat capacities are given and enthalpy is zero
_VOLUME_TEMPERATURE = 293.15  # K, where molar volumes are given
_NEAR_CRITICAL = 1.0  # K: the latent heat is held below the critical point by this much
_TRACE = 1e-300
_COLDEST, _HOTTEST = 50.0, 2000.0  # K: a trial step of a solver may stray, but not to infinity


class Work(NamedTuple):
    """Working space of one caller of the stage kernels; C components, B = C + 1.

    Args:
        boiling: from `boiling_scratch` [any].
        y: (C,) vapour mole fractions [-].
        d_pressure: (B,) as in `boil` [Pa/mol, Pa/K].
        d_y: (C, B) as in `boil` [1/mol, 1/K].
        flow: (C,) [any].
        d_x: (C, C) [-].
        none: (0, C) no derivatives wanted [-].
        liquid: (2, C) enthalpy and heat capacity of the liquids [E/mol, E/mol/K].
        vapour: (2, C) the same of the vapours [E/mol, E/mol/K].
        d_temperature: (B,) derivative of the temperature in the state [K/mol, K/E].
        d_rate: (B,) [any].
    """

    boiling: Floats
    y: Floats
    d_pressure: Floats
    d_y: Floats
    flow: Floats
    d_x: Floats
    none: Floats
    liquid: Floats
    vapour: Floats
    d_temperature: Floats
    d_rate: Floats


WORK_TYPE = record(Work, 2, 1, 1, 2, 1, 2, 2, 2, 2, 1, 1)


def work_for(mixture: BoilingArrays) -> Work:
    """Return working space for one caller."""
    c = mixture.vapour_pressure.shape[0]
    return Work(
        boiling=boiling_scratch(mixture),
        y=np.zeros(c),
        d_pressure=np.zeros(c + 1),
        d_y=np.zeros((c, c + 1)),
        flow=np.zeros(c),
        d_x=np.zeros((c, c)),
        none=np.zeros((0, c)),
        liquid=np.zeros((2, c)),
        vapour=np.zeros((2, c)),
        d_temperature=np.zeros(c + 1),
        d_rate=np.zeros(c + 1),
    )


@kernel(float64(float64[::1], float64, LIQUIDS_TYPE))
def stage_temperature(state: Floats, glass: float, liquids: LiquidArrays) -> float:
    """Return the temperature of a stage from its enthalpy, in closed form.

    Args:
        state: (C + 1,) moles [mol] and enthalpy [`ENTHALPY_UNIT`].
        glass: heat capacity of the glass [J/K].
        liquids: heat capacities, linear in temperature.

    Returns:
        Temperature [K]. Valid while the total heat capacity stays positive.

    Source:
        Root of H = C (T - Tr) + D (T - Tr)^2 / 2, own derivation.
    """
    components = state.shape[0] - 1
    linear = glass
    half = 0.0
    for i in range(components):
        linear += state[i] * liquids.heat_capacity[i, 0]
        half += 0.5 * state[i] * liquids.heat_capacity[i, 1]
    enthalpy = state[components] * ENTHALPY_UNIT
    linear = max(linear, _TRACE)
    root = math.sqrt(max(linear * linear + 4.0 * half * enthalpy, 0.0))
    temperature: float = REFERENCE_TEMPERATURE + 2.0 * enthalpy / (linear + root)
    return min(max(temperature, _COLDEST), _HOTTEST)


@kernel(float64(float64[::1], float64, LIQUIDS_TYPE))
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


@kernel(void(float64, LIQUIDS_TYPE, float64[:, ::1], float64[:, ::1]))
def _enthalpies(temperature: float, liquids: LiquidArrays, liquid: Floats, vapour: Floats) -> None:
    """Write molar enthalpies [E] and heat capacities [E/K] of liquid and vapour; Watson (1943)."""
    t = temperature - REFERENCE_TEMPERATURE
    for i in range(liquids.molar_mass.shape[0]):
        c0, c1 = liquids.heat_capacity[i, 0], liquids.heat_capacity[i, 1]
        liquid[0, i] = t * (c0 + 0.5 * c1 * t) / ENTHALPY_UNIT
        liquid[1, i] = (c0 + c1 * t) / ENTHALPY_UNIT
        value, reference = liquids.latent_heat[i, 0], liquids.latent_heat[i, 1]
        critical, exponent = liquids.latent_heat[i, 2], liquids.latent_heat[i, 3]
        below = critical - temperature
        slope = -exponent / max(below, _NEAR_CRITICAL)
        if below < _NEAR_CRITICAL:
            below, slope = _NEAR_CRITICAL, 0.0
        latent = value * (below / (critical - reference)) ** exponent / ENTHALPY_UNIT
        vapour[0, i] = liquid[0, i] + latent
        vapour[1, i] = liquid[1, i] + latent * slope


@kernel(
    float64(
        float64[::1],
        int64,
        float64,
        BOILING_TYPE,
        LIQUIDS_TYPE,
        RIG_TYPE,
        WORK_TYPE,
        float64[::1],
        float64[::1],
        float64[:, ::1],
        float64[:, ::1],
        float64[::1],
    )
)
def stage_streams(  # noqa: C901, PLR0912, PLR0915 -- value and derivatives share every term
    state: Floats,
    stage: int,
    pressure: float,
    mixture: BoilingArrays,
    liquids: LiquidArrays,
    rig: RigArrays,
    work: Work,
    up: Floats,
    down: Floats,
    d_up: Floats,
    d_down: Floats,
    d_up_pressure: Floats,
) -> float:
    """Write what leaves a stage, and its derivatives if there is room for them.

    Vapour rises at a rate that grows with the pressure over the liquid above that of the stage;
    it is energy that limits it in the end, since boiling takes the heat away.  Liquid runs over
    once the stage holds its hold-up.  Both rates begin on a ramp with a continuous slope.

    Args:
        state: (B,) moles [mol] and enthalpy [`ENTHALPY_UNIT`] of the stage, B = C + 1.
        stage: its number, 0 for the pot, which gives no liquid [-].
        pressure: on the stage [Pa].
        mixture, liquids, rig, work: what does not change [SI].
        up: (B,) result: vapour [mol/s, E/s].
        down: (B,) result: liquid [mol/s, E/s].
        d_up: (B, B) result: derivatives of `up` [1/s, E/mol/s, mol/E/s]; no rows: none wanted.
        d_down: (B, B) result: derivatives of `down` [1/s, E/mol/s, mol/E/s].
        d_up_pressure: (B,) result: derivative of `up` in the pressure [mol/s/Pa, E/s/Pa].

    Returns:
        Temperature of the stage [K]; its derivatives stand in `work.d_temperature`.

    Validity:
        The overpressure that drives the vapour shifts temperatures by about 0.03 K.

    Source:
        Own formulation; latent heat: Watson, Ind. Eng. Chem. 35 (1943) 398,
        doi:10.1021/ie50400a004.
    """
    components = state.shape[0] - 1
    slopes = d_up.shape[0] > 0
    temperature = stage_temperature(state, rig.glass[stage], liquids)
    over = boil(
        temperature,
        state[:components],
        mixture,
        work.boiling,
        work.y,
        work.d_pressure,
        work.d_y,
        work.flow,
        work.d_x if slopes else work.none,
    )
    _enthalpies(temperature, liquids, work.liquid, work.vapour)
    h_l, h_v = work.liquid[0], work.vapour[0]
    y = work.y

    amount = 0.0
    capacity = rig.glass[stage] / ENTHALPY_UNIT
    for i in range(components):
        amount += state[i]
        capacity += state[i] * work.liquid[1, i]
    present = max(amount, 0.0)
    share = present / (present + rig.vanishing)
    z = (over - pressure) / pressure + rig.centre
    if z <= -rig.ramp:
        drive, d_drive = 0.0, 0.0
    elif z < rig.ramp:
        drive = (z + rig.ramp) ** 2 / (4.0 * rig.ramp)
        d_drive = (z + rig.ramp) / (2.0 * rig.ramp)
    else:
        drive, d_drive = z, 1.0
    rate = rig.vapour_rate[stage] * drive * share
    enthalpy_up = 0.0
    for i in range(components):
        up[i] = rate * y[i]
        enthalpy_up += y[i] * h_v[i]
    up[components] = rate * enthalpy_up

    t = temperature - _VOLUME_TEMPERATURE
    v = liquids.molar_volume
    per_mole = 0.0
    flow, d_flow, volume = 0.0, 0.0, 0.0
    if stage > 0:
        for i in range(components):
            volume += state[i] * (v[i, 0] + t * (v[i, 1] + t * v[i, 2]))
        ramp = rig.overflow_ramp[stage]
        beyond = volume - rig.overflow_start[stage]
        if beyond > 0.0:
            if beyond < 2.0 * ramp:
                flow = beyond * beyond / (4.0 * ramp)
                d_flow = beyond / (2.0 * ramp)
            else:
                flow, d_flow = beyond - ramp, 1.0
            flow /= rig.overflow_time[stage]
            d_flow /= rig.overflow_time[stage]
            per_mole = flow / volume
    enthalpy_down = 0.0
    for i in range(components):
        down[i] = per_mole * state[i]
        enthalpy_down += state[i] * h_l[i]
    down[components] = per_mole * enthalpy_down
    if not slopes:
        return temperature

    # derivatives: first at constant temperature and in temperature, then T(n, H) is put in
    d_t = work.d_temperature
    for k in range(components):
        d_t[k] = -h_l[k] / capacity
    d_t[components] = 1.0 / capacity
    strength = rig.vapour_rate[stage] * d_drive * share / pressure
    d_share = 0.0
    if amount > 0.0:
        d_share = rate * rig.vanishing / (present * (present + rig.vanishing))
    for i in range(components):
        d_up_pressure[i] = -strength * over / pressure * y[i]
    d_up_pressure[components] = -strength * over / pressure * enthalpy_up
    last = components
    d_enthalpy_t = 0.0
    for i in range(components):
        d_enthalpy_t += work.d_y[i, last] * h_v[i] + y[i] * work.vapour[1, i]
    for k in range(components + 1):
        d_rate = strength * work.d_pressure[k]
        d_enthalpy = d_enthalpy_t
        if k < last:
            d_rate += d_share
            d_enthalpy = 0.0
            for i in range(components):
                d_enthalpy += work.d_y[i, k] * h_v[i]
        for i in range(components):
            d_up[i, k] = d_rate * y[i] + rate * work.d_y[i, k]
        d_up[last, k] = d_rate * enthalpy_up + rate * d_enthalpy
    for i in range(components + 1):
        in_t = d_up[i, last]
        for k in range(components):
            d_up[i, k] += in_t * d_t[k]
        d_up[i, last] = in_t * d_t[last]

    if stage == 0:
        return temperature
    if flow == 0.0:
        for i in range(components + 1):
            for k in range(components + 1):
                d_down[i, k] = 0.0
        return temperature
    relative = (d_flow - per_mole) / volume  # d(flow/volume)/d volume
    d_volume_t = 0.0
    d_enthalpy_t = 0.0
    for i in range(components):
        d_volume_t += state[i] * (v[i, 1] + 2.0 * t * v[i, 2])
        d_enthalpy_t += state[i] * work.liquid[1, i]
    for k in range(components + 1):
        if k < last:
            d_volume = v[k, 0] + t * (v[k, 1] + t * v[k, 2]) + d_volume_t * d_t[k]
            d_enthalpy = h_l[k] + d_enthalpy_t * d_t[k]
        else:
            d_volume = d_volume_t * d_t[k]
            d_enthalpy = d_enthalpy_t * d_t[k]
        for i in range(components):
            d_down[i, k] = relative * d_volume * state[i]
        if k < last:
            d_down[k, k] += per_mole
        d_down[last, k] = relative * d_volume * enthalpy_down + per_mole * d_enthalpy
    return temperature
