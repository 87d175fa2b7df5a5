"""The balances of all stages and accounts, and their linear form, compiled.

Stages j = 0 (pot), 1 … N (plates), N + 1 (head).  Vapour of a stage goes to the one above, its
liquid to the one below; the head's vapour goes to the condenser, whose condensate is split
between the highest stage below the head and the receiver.  Behind the states of the stages stand
accounts that nothing depends on (but the thermometer on itself): C moles received, C moles
vented, heat supplied, lost and condensed, enthalpy vented, the head thermometer's temperature.
Every loss of one is the gain of another in the same words, so moles and energy close to rounding.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void
from forerun.still.boiling_type import (
    BOILED_TYPE,
    BOILING_TYPE,
    ENTHALPY_UNIT,
    Boiled,
    BoilingArrays,
)
from forerun.still.pot_heat import heat_from_bath
from forerun.still.rig import RIG_TYPE, RigArrays
from forerun.still.slopes import SLOPES_TYPE, Slopes
from forerun.still.streams import liquid_volume, streams
from forerun.substances.liquids import LIQUIDS_TYPE, LiquidArrays

__all__ = [
    "CONDENSED",
    "LOST",
    "SUPPLIED",
    "THERMOMETER",
    "VENTED_ENTHALPY",
    "assemble",
    "balances",
    "linearise",
    "slope_of_accounts",
    "sum_up",
]

Floats = npt.NDArray[np.float64]

# places in the account vector behind the 2 C moles
SUPPLIED, LOST, CONDENSED, VENTED_ENTHALPY, THERMOMETER = 0, 1, 2, 3, 4


@kernel(void(RIG_TYPE, SLOPES_TYPE), fast=True, inline=True)
def _condense(rig: RigArrays, at: Slopes) -> None:
    """Write which share of the head's vapour the condenser holds, and how that changes.

    All of it while the heat asked for is below the limit, the limit's worth beyond it, with a
    short ramp between.
    """
    last = at.up.shape[0] - 1
    components = at.cold.shape[0]
    asked = at.up[last, components]
    for i in range(components):
        asked -= at.up[last, i] * at.cold[i]
    at.head[0] = 1.0
    at.head[1] = 0.0
    at.head[3] = asked
    load = asked * ENTHALPY_UNIT / rig.condenser_limit
    w = rig.condenser_ramp
    if load <= 1.0 - w:
        return
    held, d_held = 1.0, 0.0
    if load < 1.0 + w:
        held = load - (load - 1.0 + w) ** 2 / (4.0 * w)
        d_held = 1.0 - (load - 1.0 + w) / (2.0 * w)
    at.head[0] = held / load
    at.head[1] = (d_held - held / load) / load * ENTHALPY_UNIT / rig.condenser_limit


@kernel(void(float64, RIG_TYPE, SLOPES_TYPE), fast=True, inline=True)
def _return(fraction: float, rig: RigArrays, at: Slopes) -> None:
    """Write which share of each component of the condensate runs back."""
    for i in range(at.back.shape[0]):
        at.back[i] = fraction
        if rig.trap[0] > 0.0:
            at.back[i] = rig.trap[1] * rig.returned[i]


@kernel(
    void(
        int64,
        float64[:, ::1],
        float64[::1],
        float64[::1],
        LIQUIDS_TYPE,
        RIG_TYPE,
        SLOPES_TYPE,
        float64[:, ::1],
        float64[::1],
    ),
    fast=True,
    inline=True,
)
def sum_up(
    linearised: int,
    z: Floats,
    accounts: Floats,
    conditions: Floats,
    liquids: LiquidArrays,
    rig: RigArrays,
    space: Slopes,
    dz: Floats,
    d_accounts: Floats,
) -> None:
    """Write the balances from streams and temperatures that stand in `space` already.

    Args:
        linearised: 1 after `linearise` of the same state and conditions, when heat and condenser
            stand in `space` as well; 0 otherwise [-].
        z, accounts, conditions, liquids, rig, dz, d_accounts: as in `balances` [mol, E, K, Pa, s].
        space: with `up`, `down` and `temperature` of this state [mol/s, E/s, K].

    Validity:
        As `balances`.

    Source:
        Conservation of moles and energy.
    """
    stages, b = z.shape
    components = b - 1
    up, down = space.up, space.down
    lost = 0.0
    for j in range(stages):
        for i in range(b):
            dz[j, i] = -up[j, i] - down[j, i]
        loss = rig.loss[j] * (space.temperature[j] - rig.room) / ENTHALPY_UNIT
        dz[j, components] -= loss
        lost += loss
    for j in range(1, stages):
        for i in range(b):
            dz[j, i] += up[j - 1, i]
            dz[j - 1, i] += down[j, i]
    if not linearised:
        _return(conditions[2], rig, space)
        _condense(rig, space)
        volume = max(liquid_volume(z[0], space.temperature[0], liquids), 0.0) + rig.diluent_volume
        heat_from_bath(volume, space.temperature[0], conditions[0], rig, space)
    supplied = space.heat[0] / ENTHALPY_UNIT
    dz[0, components] += supplied + conditions[3] * rig.steam_enthalpy
    dz[0, int(rig.steam)] += conditions[3]

    share = space.head[0]
    top = stages - 1
    a = 2 * components
    for i in range(components):
        condensed = share * up[top, i]
        back = space.back[i] * condensed
        dz[top - 1, i] += back
        dz[top - 1, components] += back * space.cold[i]
        d_accounts[i] = condensed - back
        d_accounts[components + i] = (1.0 - share) * up[top, i]
    d_accounts[a + SUPPLIED] = supplied
    d_accounts[a + LOST] = lost
    d_accounts[a + CONDENSED] = share * space.head[3]
    d_accounts[a + VENTED_ENTHALPY] = (1.0 - share) * up[top, components]
    d_accounts[a + THERMOMETER] = (space.temperature[top] - accounts[a + THERMOMETER]) / rig.lag


@kernel(
    void(
        float64[:, ::1],
        float64[::1],
        float64[::1],
        BOILING_TYPE,
        LIQUIDS_TYPE,
        RIG_TYPE,
        BOILED_TYPE,
        SLOPES_TYPE,
        float64[:, ::1],
        float64[::1],
    ),
    fast=True,
    inline=True,
)
def balances(
    z: Floats,
    accounts: Floats,
    conditions: Floats,
    mixture: BoilingArrays,
    liquids: LiquidArrays,
    rig: RigArrays,
    work: Boiled,
    space: Slopes,
    dz: Floats,
    d_accounts: Floats,
) -> None:
    """Write the rate of change of every stage and every account.

    Args:
        z: (S, B) moles [mol] and enthalpy [`ENTHALPY_UNIT`] of the stages.
        accounts: (2 C + 5,) accounts [mol, E, K]; only the thermometer is read.
        conditions: (4,) bath [K], pressure in the head [Pa], reflux fraction [-], vapour fed
            [mol/s].
        mixture, liquids, rig: what does not change [SI].
        work, space: working space [any].
        dz: (S, B) result [mol/s, E/s].
        d_accounts: (2 C + 5,) result [mol/s, E/s, K/s].

    Validity:
        As the streams of a stage; heats of mixing and the vapour's own hold-up are left out.

    Source:
        Conservation of moles and energy; own formulation.
    """
    streams(0, z.shape[0], 0, z, conditions[1], mixture, liquids, rig, work, space)
    sum_up(0, z, accounts, conditions, liquids, rig, space, dz, d_accounts)


@kernel(
    void(
        float64[:, ::1],
        float64[::1],
        float64[::1],
        BOILING_TYPE,
        LIQUIDS_TYPE,
        RIG_TYPE,
        BOILED_TYPE,
        SLOPES_TYPE,
        float64[:, ::1],
        float64[::1],
    ),
    fast=True,
    inline=True,
)
def linearise(  # noqa: PLR0912, PLR0915 -- each stream's part follows the other
    z: Floats,
    conditions: Floats,
    trend: Floats,
    mixture: BoilingArrays,
    liquids: LiquidArrays,
    rig: RigArrays,
    work: Boiled,
    at: Slopes,
    dz_t: Floats,
    d_accounts_t: Floats,
) -> None:
    """Write the derivatives of `balances` in the state (as `Slopes`) and in time alone.

    Args:
        z: (S, B) state [mol, E].
        conditions: (4,) bath [K], pressure [Pa], reflux fraction [-], vapour fed [mol/s].
        trend: (4,) their rates of change [1/s].
        mixture, liquids, rig, work: as in `balances` [SI].
        at: result [see `Slopes`].
        dz_t: (S, B) result: derivative of dz in time at a fixed state [mol/s2, E/s2].
        d_accounts_t: (2 C + 5,) result [mol/s2, E/s2, K/s2].

    Validity:
        As `balances`.

    Source:
        Own differentiation of `balances`, tested against differences.
    """
    stages, b = z.shape
    c = b - 1
    top = stages - 1
    bath, pressure = conditions[0], conditions[1]
    _return(conditions[2], rig, at)
    streams(0, stages, 1, z, pressure, mixture, liquids, rig, work, at)

    # heat from the bath
    t = at.temperature[0] - 293.15
    volume = max(liquid_volume(z[0], at.temperature[0], liquids), 0.0) + rig.diluent_volume
    heat_from_bath(volume, at.temperature[0], bath, rig, at)
    d_volume_t = 0.0
    v = liquids.molar_volume
    for i in range(c):
        d_volume_t += z[0, i] * (v[i, 1] + 2.0 * t * v[i, 2])
    for k in range(b):
        d_volume = d_volume_t * at.d_temperature[0, k]
        if k < c:
            d_volume += v[k, 0] + t * (v[k, 1] + t * v[k, 2])
        by_state = at.heat[1] * d_volume + at.heat[2] * at.d_temperature[0, k]
        at.d_supplied[k] = by_state / ENTHALPY_UNIT

    _condense(rig, at)
    at.head[4] = at.heat[3] / ENTHALPY_UNIT
    share, d_share = at.head[0], at.head[1]
    for k in range(b):
        asked = at.d_up[top, c, k]
        for i in range(c):
            asked -= at.d_up[top, i, k] * at.cold[i]
        total = 0.0
        for i in range(c):
            value = at.back[i] * (share * at.d_up[top, i, k] + d_share * asked * at.up[top, i])
            at.reflux[i, k] = value
            total += value * at.cold[i]
        at.reflux[c, k] = total

    # what changes by itself: bath, pressure and reflux follow their programmes
    bath_t, fraction_t = trend[0], trend[2]
    if rig.trap[0] > 0.0:
        fraction_t = 0.0
    for j in range(stages):
        here_t = trend[1] + rig.extra_trend[j]
        below_t = trend[1] + rig.extra_trend[max(j - 1, 0)]
        for i in range(b):
            dz_t[j, i] = -at.d_up_pressure[j, i] * here_t
            if j > 0:
                dz_t[j, i] += at.d_up_pressure[j - 1, i] * below_t
    dz_t[0, c] += at.head[4] * bath_t + trend[3] * rig.steam_enthalpy
    dz_t[0, int(rig.steam)] += trend[3]
    for i in range(b):
        at.response[i] = at.d_up_pressure[top, i] * (trend[1] + rig.extra_trend[top])
    asked = at.response[c]
    for i in range(c):
        asked -= at.response[i] * at.cold[i]
    for i in range(c):
        condensed = share * at.up[top, i]
        d_condensed = share * at.response[i] + d_share * asked * at.up[top, i]
        back = at.back[i] * d_condensed + fraction_t * condensed
        dz_t[top - 1, i] += back
        dz_t[top - 1, c] += back * at.cold[i]
        d_accounts_t[i] = (1.0 - at.back[i]) * d_condensed - fraction_t * condensed
        d_accounts_t[c + i] = at.response[i] - d_condensed
    a = 2 * c
    d_accounts_t[a + SUPPLIED] = at.head[4] * bath_t
    d_accounts_t[a + LOST] = 0.0
    d_accounts_t[a + CONDENSED] = (share + d_share * at.head[3]) * asked
    d_accounts_t[a + VENTED_ENTHALPY] = (1.0 - share) * at.response[c] - d_share * asked * at.up[
        top, c
    ]
    d_accounts_t[a + THERMOMETER] = 0.0


@kernel(
    void(
        float64, SLOPES_TYPE, RIG_TYPE, float64[:, :, ::1], float64[:, :, ::1], float64[:, :, ::1]
    ),
    fast=True,
    inline=True,
)
def assemble(
    inverse: float, at: Slopes, rig: RigArrays, lower: Floats, diagonal: Floats, upper: Floats
) -> None:
    """Write the blocks of `inverse` I - J.

    Args:
        inverse: 1/(h gamma) [1/s].
        at: from `linearise` [see `Slopes`].
        rig: for the heat losses [W/K].
        lower, diagonal, upper: (S, B, B) results, as `numerics.blocks` wants them [1/s].

    Validity:
        As `balances`.

    Derivation: the derivatives of the streams, each in the rows that it leaves and enters.
    """
    stages, b = at.up.shape
    c = b - 1
    for j in range(stages):
        for i in range(b):
            for k in range(b):
                diagonal[j, i, k] = at.d_up[j, i, k] + at.d_down[j, i, k]
                if j > 0:
                    lower[j, i, k] = -at.d_up[j - 1, i, k]
                    upper[j - 1, i, k] = -at.d_down[j, i, k]
            diagonal[j, i, i] += inverse
        for k in range(b):
            diagonal[j, c, k] += rig.loss[j] / ENTHALPY_UNIT * at.d_temperature[j, k]
    for k in range(b):
        diagonal[0, c, k] -= at.d_supplied[k]
        for i in range(b):
            upper[stages - 2, i, k] -= at.reflux[i, k]


@kernel(void(float64, float64[:, ::1], SLOPES_TYPE, RIG_TYPE, float64[::1]), fast=True, inline=True)
def slope_of_accounts(step: float, u: Floats, at: Slopes, rig: RigArrays, b: Floats) -> None:
    """Solve the equations of the accounts of one stage of the method; overwrites b.

    Args:
        step: h gamma [s].
        u: (S, B) solution of the same stage of the method for the states [mol, E].
        at: from `linearise` [see `Slopes`].
        rig: for losses and the thermometer's lag [W/K, s].
        b: (2 C + 5,) right-hand side, overwritten by the solution [mol, E, K].

    Validity:
        As `balances`.

    Derivation: rows of the accounts, which nothing else depends on, solved last.
    """
    stages, size = u.shape
    c = size - 1
    top = stages - 1
    w = at.response
    for i in range(size):
        w[i] = 0.0
        for k in range(size):
            w[i] += at.d_up[top, i, k] * u[top, k]
    asked = w[c]
    for i in range(c):
        asked -= w[i] * at.cold[i]
    share, d_share = at.head[0], at.head[1]
    for i in range(c):
        condensed = share * w[i] + d_share * asked * at.up[top, i]
        b[i] = step * (b[i] + (1.0 - at.back[i]) * condensed)
        b[c + i] = step * (b[c + i] + w[i] - condensed)
    supplied = 0.0
    lost = 0.0
    warmer = 0.0
    for k in range(size):
        supplied += at.d_supplied[k] * u[0, k]
        warmer += at.d_temperature[top, k] * u[top, k]
    for j in range(stages):
        change = 0.0
        for k in range(size):
            change += at.d_temperature[j, k] * u[j, k]
        lost += rig.loss[j] / ENTHALPY_UNIT * change
    a = 2 * c
    b[a + SUPPLIED] = step * (b[a + SUPPLIED] + supplied)
    b[a + LOST] = step * (b[a + LOST] + lost)
    b[a + CONDENSED] = step * (b[a + CONDENSED] + (share + d_share * at.head[3]) * asked)
    b[a + VENTED_ENTHALPY] = step * (
        b[a + VENTED_ENTHALPY] + (1.0 - share) * w[c] - d_share * asked * at.up[top, c]
    )
    b[a + THERMOMETER] = (b[a + THERMOMETER] + warmer / rig.lag) / (1.0 / step + 1.0 / rig.lag)
