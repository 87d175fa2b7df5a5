"""One look at a boiling column: what each stream is, that nothing is lost, and all derivatives."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from forerun.glassware.flasks import boiled_again
from forerun.still.balances import (
    CONDENSED,
    LOST,
    SUPPLIED,
    THERMOMETER,
    VENTED_ENTHALPY,
    assemble,
    balances,
    linearise,
    slope_of_accounts,
)
from forerun.still.boiling_type import ENTHALPY_UNIT
from forerun.still.crosscheck import Equations
from forerun.still.inputs import Stop
from forerun.still.run import Case, prepare
from forerun.still.space import working_space
from laws.stills import GAS_CONSTANT, still

BOILING = [340.0, 365.0]
C, PLATES = 2, 2
STAGES = PLATES + 2
PRESSURE, BATH, REFLUX, FED = 101325.0, 395.0, 0.6, 3e-4


def _pressure(x: np.ndarray, temperature: float) -> float:
    """Return the bubble pressure of the made-up liquids: 32 kJ/mol, Raoult [Pa]."""
    slope = 32e3 / GAS_CONSTANT
    pure = [PRESSURE * math.exp(slope / b - slope / temperature) for b in BOILING]
    return float(x @ np.array(pure))


def _boiling(x: np.ndarray, pressure: float) -> float:
    low, high = 300.0, 400.0
    while high - low > 1e-10:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _pressure(x, middle) < pressure else (low, middle)
    return low


def _liquid_heat(case: Case, moles: np.ndarray, temperature: float) -> float:
    t, heat = temperature - 298.15, case.given.liquids.heat_capacity
    return float(moles @ (t * (heat[:, 0] + 0.5 * heat[:, 1] * t)))


class Column:
    """A column of two plates in the middle of its work, and one call of the balances.

    Args:
        over: relative overpressure of each stage [-].
        changes: of the run.
    """

    def __init__(
        self, over: tuple[float, ...] = (4e-3, 3e-3, 2.5e-3, 1e-3), **changes: Any
    ) -> None:
        given = still(
            BOILING,
            plates=PLATES,
            holdup_m3=1e-6,
            pressure_drop_Pa=40.0,
            steam_component=1,
            carried=changes.pop("carried", 0.25),
            stop=Stop(time_s=100.0),
            **changes,
        )
        self.case = prepare(given)
        rig = self.case.rig
        self.moles = np.array([[0.3, 0.45], [4e-3, 3e-3], [5e-3, 2e-3], [2e-5, 1e-5]])
        x = self.moles / self.moles.sum(axis=1, keepdims=True)
        pressures = PRESSURE + rig.extra_pressure
        self.temperature = np.array(
            [_boiling(x[j], pressures[j] * (1.0 + over[j] - rig.centre)) for j in range(STAGES)]
        )
        self.z = np.empty((STAGES, C + 1))
        self.z[:, :C] = self.moles
        for j in range(STAGES):
            heat = _liquid_heat(self.case, self.moles[j], self.temperature[j])
            heat += rig.glass[j] * (self.temperature[j] - 298.15)
            self.z[j, C] = heat / ENTHALPY_UNIT
        self.accounts = np.zeros(2 * C + 5)
        self.accounts[2 * C + THERMOMETER] = 330.0
        self.conditions = np.array([BATH, PRESSURE, REFLUX, FED])
        self.work, self.slopes, self.space, _ = working_space(self.case)
        self.dz, self.rates = np.zeros_like(self.z), np.zeros_like(self.accounts)
        self.look(self.z)

    def look(self, z: np.ndarray) -> np.ndarray:
        """Return the rates of the accounts in a state [mol/s, E/s, K/s]."""
        case = self.case
        balances(z, self.accounts, self.conditions, case.mixture, case.given.liquids, case.rig,
                 self.work, self.space, self.dz, self.rates)  # fmt: skip
        return self.rates.copy()

    @property
    def over(self) -> np.ndarray:
        """Vapour of the head, (C,) [mol/s]."""
        return self.space.up[-1, :C].copy()


@pytest.fixture(scope="module")
def column() -> Column:
    return Column()


def test_temperatures_are_those_of_the_heat_that_is_there(column: Column) -> None:
    assert column.space.temperature == pytest.approx(column.temperature, abs=1e-8)


def test_vapour_follows_the_overpressure_and_raoult(column: Column) -> None:
    rig, slope = column.case.rig, 32e3 / GAS_CONSTANT
    for j in range(STAGES):
        x = column.moles[j] / column.moles[j].sum()
        t = column.temperature[j]
        y = x * [math.exp(slope / b - slope / t) for b in BOILING]
        y /= y.sum()
        here = PRESSURE + rig.extra_pressure[j]
        beyond = (_pressure(x, t) - here) / here + rig.centre
        drive = beyond if beyond > rig.ramp else (beyond + rig.ramp) ** 2 / (4.0 * rig.ramp)
        amount = column.moles[j].sum()
        rate = rig.vapour_rate[j] * drive * amount / (amount + rig.vanishing)
        expected = rate * (y + rig.carried[j] * x)
        assert column.space.up[j, :C] == pytest.approx(expected, rel=1e-5), j
        latent = 32e3 * ((np.array([540.0, 550.0]) - t) / np.array([190.0, 200.0])) ** 0.38
        heat = _liquid_heat(column.case, column.space.up[j, :C], t) + rate * float(y @ latent)
        assert column.space.up[j, C] * ENTHALPY_UNIT == pytest.approx(heat, rel=1e-5), j


def test_liquid_runs_over_what_stands_above_its_start(column: Column) -> None:
    rig = column.case.rig
    assert column.space.down[0].tolist() == [0.0] * (C + 1)
    for j in range(1, STAGES):
        t = column.temperature[j] - 293.15
        molar = np.array([1.1e-4, 1.2e-4]) + 1.3e-7 * t + 1e-10 * t * t
        volume = float(column.moles[j] @ molar)
        above, wide = volume - rig.overflow_start[j], rig.overflow_ramp[j]
        flow = above - wide if above > 2.0 * wide else above * above / (4.0 * wide)
        expected = flow / rig.overflow_time[j] / volume * column.moles[j]
        assert column.space.down[j, :C] == pytest.approx(expected, rel=1e-9), j
        heat = _liquid_heat(column.case, column.space.down[j, :C], column.temperature[j])
        assert column.space.down[j, C] * ENTHALPY_UNIT == pytest.approx(heat, rel=1e-9)


def test_moles_and_heat_that_leave_one_place_arrive_in_another(column: Column) -> None:
    received, vented = column.rates[:C], column.rates[C : 2 * C]
    fed = np.array([0.0, FED])
    assert column.dz[:, :C].sum(axis=0) + received + vented == pytest.approx(fed, abs=1e-15)
    heat = column.rates[2 * C :] * ENTHALPY_UNIT
    stored = column.dz[:, C].sum() * ENTHALPY_UNIT
    dripping = float(received @ column.space.cold) * ENTHALPY_UNIT
    steam = FED * column.case.rig.steam_enthalpy * ENTHALPY_UNIT
    assert stored + dripping == pytest.approx(
        heat[SUPPLIED] + steam - heat[LOST] - heat[CONDENSED] - heat[VENTED_ENTHALPY], rel=1e-9
    )


def test_every_account_is_what_its_name_says(column: Column) -> None:
    rig, heat = column.case.rig, column.rates[2 * C :]
    lost = float(rig.loss @ (column.temperature - rig.room))
    assert heat[LOST] * ENTHALPY_UNIT == pytest.approx(lost, rel=1e-9)
    t = column.temperature[0] - 293.15
    molar = np.array([1.1e-4, 1.2e-4]) + 1.3e-7 * t + 1e-10 * t * t
    volume = float(column.moles[0] @ molar)
    wetted = (volume / rig.fill) ** rig.wetting * volume / (volume + rig.dry)
    through = rig.bath_conductance * (BATH - column.temperature[0])
    upper = rig.loss[0] * (column.temperature[0] - rig.room)
    supplied = wetted * through + boiled_again((1.0 - wetted) * through, upper)
    assert heat[SUPPLIED] * ENTHALPY_UNIT == pytest.approx(supplied, rel=1e-9)
    assert heat[THERMOMETER] == pytest.approx((column.temperature[-1] - 330.0) / rig.lag)
    assert column.rates[C : 2 * C].tolist() == [0.0, 0.0]
    assert heat[VENTED_ENTHALPY] == 0.0
    cold = _liquid_heat(column.case, column.over, column.case.given.coolant_temperature_K)
    taken = column.space.up[-1, C] * ENTHALPY_UNIT - cold
    assert heat[CONDENSED] * ENTHALPY_UNIT == pytest.approx(taken, rel=1e-9)


def test_reflux_is_shared_out_as_the_fraction_says(column: Column) -> None:
    assert column.rates[:C] == pytest.approx((1.0 - REFLUX) * column.over, rel=1e-12)
    # plate below the head: its own streams, those of its neighbours and the cold reflux
    up, down, j = column.space.up, column.space.down, PLATES
    moles = up[j - 1, :C] - up[j, :C] - down[j, :C] + down[j + 1, :C] + REFLUX * column.over
    assert column.dz[j, :C] == pytest.approx(moles, rel=1e-9)


@pytest.mark.parametrize("share", [0.4, 0.985, 0.995, 1.0, 1.005, 1.015, 1.3])
def test_a_condenser_takes_what_it_can(share: float) -> None:
    """Below its duty all, beyond it the duty, with a parabola between that joins both."""
    plain = Column()
    asked = float(plain.rates[2 * C + CONDENSED]) * ENTHALPY_UNIT
    column = Column(condenser_limit_W=asked / share)
    width = column.case.rig.condenser_ramp
    if share <= 1.0 - width:
        held = share
    elif share >= 1.0 + width:
        held = 1.0
    else:
        held = share - (share - 1.0 + width) ** 2 / (4.0 * width)
    passes = 1.0 - held / share
    assert column.rates[C : 2 * C] == pytest.approx(passes * column.over, rel=1e-9, abs=1e-15)
    taken = column.rates[2 * C + CONDENSED] * ENTHALPY_UNIT
    assert taken == pytest.approx(held / share * asked, rel=1e-9)
    vented = column.rates[2 * C + VENTED_ENTHALPY]
    assert vented == pytest.approx(passes * column.space.up[-1, C], rel=1e-9, abs=1e-15)


def test_a_cold_still_does_nothing_but_warm() -> None:
    column = Column(over=(-0.5, -0.5, -0.5, -0.5))
    assert np.all(column.space.up == 0.0)
    assert column.rates[:C].tolist() == [0.0, 0.0]
    assert column.rates[2 * C + CONDENSED] == 0.0


@pytest.mark.parametrize("limit", [math.inf, 5.0])
@pytest.mark.parametrize("carried", [0.0, 0.25])
@pytest.mark.parametrize("over", [(4e-3, 3e-3, 2.5e-3, 1e-3), (5e-4, -2e-4, 3e-4, 2e-4)])
def test_derivatives_are_those_of_differences(
    limit: float, carried: float, over: tuple[float, ...]
) -> None:
    column = Column(over=over, carried=carried, condenser_limit_W=limit)
    given = replace(column.case.given, steam=np.array([[0.0, FED]]))
    case = column.case
    plan = case.plan._replace(start=column.conditions.reshape(1, 4), slope=np.zeros((1, 4)))
    equations = Equations(replace(case, given=given, plan=plan))
    y = np.concatenate([column.z.ravel(), np.zeros(C), [330.0]])
    exact = equations.dense(0.0, y, 0).copy()
    for k in range(y.size):
        step = 1e-7 * max(abs(y[k]), 1e-5)
        up, down = y.copy(), y.copy()
        up[k] += step
        down[k] -= step
        slope = (equations.rates(0.0, up, 0) - equations.rates(0.0, down, 0)) / (2.0 * step)
        scale = np.abs(exact[:, k]).max() + 1e-9
        assert slope / scale == pytest.approx(exact[:, k] / scale, abs=2e-4), k


@pytest.mark.parametrize("limit", [math.inf, 5.0])
def test_accounts_of_a_step_follow_the_states(limit: float) -> None:
    """b (before) + the change of the account's rate along u, times the step; by differences.

    The thermometer also reads itself: (1/step + 1/lag) b = b (before) + the head's warming/lag.
    """
    column = Column(condenser_limit_W=limit)
    case, step = column.case, 0.7
    linearise(column.z, column.conditions, np.zeros(4), case.mixture, case.given.liquids, case.rig,
              column.work, column.slopes, np.zeros_like(column.z), np.zeros(2 * C + 5))  # fmt: skip
    dice = np.random.default_rng(5)
    u = dice.normal(size=column.z.shape) * np.maximum(np.abs(column.z), 1e-6) * 1e-3
    before = dice.normal(size=2 * C + 5)
    found = before.copy()
    slope_of_accounts(step, u, column.slopes, case.rig, found)
    small = 1e-4
    along = (column.look(column.z + small * u) - column.look(column.z - small * u)) / (2.0 * small)
    expected = step * (before + along)
    lag = case.rig.lag
    head = (before + along)[2 * C + THERMOMETER]
    expected[2 * C + THERMOMETER] = head / (1.0 / step + 1.0 / lag)
    changed, wanted = found - step * before, expected - step * before
    assert changed == pytest.approx(wanted, rel=1e-4, abs=1e-7 * np.abs(wanted).max())


@pytest.mark.parametrize("share", [0.15, 0.6, 1.0])
def test_heat_from_the_bath_follows_the_state_of_the_pot(share: float) -> None:
    """By differences of its account: moles wet the wall, and so does liquid that grows warm."""
    column = Column()
    column.z[0] *= share
    case = column.case
    linearise(column.z, column.conditions, np.zeros(4), case.mixture, case.given.liquids, case.rig,
              column.work, column.slopes, np.zeros_like(column.z), np.zeros(2 * C + 5))  # fmt: skip
    for k in range(C + 1):
        step = 1e-5 * column.z[0, k]
        ends = []
        for sign in (1.0, -1.0):
            moved = column.z.copy()
            moved[0, k] += sign * step
            ends.append(column.look(moved)[2 * C + SUPPLIED])
        slope = (ends[0] - ends[1]) / (2.0 * step)
        assert column.slopes.d_supplied[k] == pytest.approx(slope, rel=3e-6), k


@pytest.mark.parametrize("limit", [math.inf, 5.0])
def test_what_the_programme_changes_by_itself_is_that_of_differences(limit: float) -> None:
    """Bath, pressure, reflux and steam on a slope, and pressure drops that grow."""
    column = Column(condenser_limit_W=limit)
    case = column.case
    trend = np.array([0.05, -30.0, 2e-4, 1e-6])
    growing = np.array([3.0, 2.0, 1.0, 0.5])
    start = case.rig.extra_pressure.copy()
    case.rig.extra_trend[:] = growing
    dz_t, accounts_t = np.zeros_like(column.z), np.zeros(2 * C + 5)
    linearise(column.z, column.conditions, trend, case.mixture, case.given.liquids, case.rig,
              column.work, column.slopes, dz_t, accounts_t)  # fmt: skip
    now, ends = column.conditions.copy(), []
    for sign in (1e-4, -1e-4):
        column.conditions[:] = now + sign * trend
        case.rig.extra_pressure[:] = start + sign * growing
        ends.append((column.look(column.z), column.dz.copy()))
    accounts, states = ((a - b) / 2e-4 for a, b in zip(*ends, strict=True))
    assert dz_t == pytest.approx(states, rel=1e-5, abs=1e-6 * np.abs(states).max())
    assert accounts_t == pytest.approx(accounts, rel=1e-5, abs=1e-6 * np.abs(accounts).max())


def test_blocks_of_a_step_are_one_over_it_less_the_derivatives() -> None:
    column = Column()
    linearise(column.z, column.conditions, np.zeros(4), column.case.mixture,
              column.case.given.liquids, column.case.rig, column.work, column.slopes,
              np.zeros_like(column.z), np.zeros(2 * C + 5))  # fmt: skip
    none, some = ([np.full((STAGES, C + 1, C + 1), np.nan) for _ in range(3)] for _ in range(2))
    for inverse, blocks in ((0.0, none), (7.0, some)):
        assemble(inverse, column.slopes, column.case.rig, *blocks)
    assert some[1] - none[1] == pytest.approx(np.tile(7.0 * np.eye(C + 1), (STAGES, 1, 1)))
    assert np.array_equal(some[0][1:], none[0][1:])
    assert np.array_equal(some[2][:-1], none[2][:-1])
