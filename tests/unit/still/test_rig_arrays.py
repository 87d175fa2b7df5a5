"""The rig as the kernels see it: nothing of glass, loss or liquid is lost in the arrangement."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from forerun.still.boiling_type import ENTHALPY_UNIT
from forerun.still.inputs import StillInput, Trap
from forerun.still.rig import RigArrays, rig_arrays, volumes_at
from forerun.still.run import prepare, run_still, start_state
from laws.stills import liquids, still

BOILING = [340.0, 365.0]


def _column(**changes: object) -> StillInput:
    base = still(BOILING, plates=4, holdup_m3=6e-6, reflux_ratio=np.array([[0.0, 3.0]]))
    return replace(base, **changes)  # type: ignore[arg-type]  # any field


def _charge_m3(run: StillInput) -> float:
    # the liquids of the laws are 1.1e-4 and 1.2e-4 m3/mol at 20 °C
    return float(run.charge_mol @ np.array([1.1e-4, 1.2e-4]))


def test_volumes_are_the_quadratic_about_20_C() -> None:
    v = np.array([[1e-4, 2e-7, 3e-9], [2e-4, 0.0, 0.0]])
    assert volumes_at(293.15, v) == pytest.approx([1e-4, 2e-4], rel=1e-12)
    assert volumes_at(303.15, v) == pytest.approx([1e-4 + 2e-6 + 3e-7, 2e-4], rel=1e-12)
    assert volumes_at(283.15, v)[0] == pytest.approx(1e-4 - 2e-6 + 3e-7, rel=1e-12)


def test_all_glass_and_all_loss_is_shared_out() -> None:
    run = _column(column_loss_W_K=0.4, pot_loss_W_K=0.2, head_loss_W_K=0.1, diluent_J_K=11.0)
    rig = rig_arrays(run)
    assert rig.glass == pytest.approx([71.0, 15.0, 15.0, 15.0, 15.0, 20.0])
    assert rig.loss == pytest.approx([0.2, 0.1, 0.1, 0.1, 0.1, 0.1])
    bare = rig_arrays(replace(run, plates=0))
    assert bare.glass == pytest.approx([71.0, 80.0])
    assert bare.loss == pytest.approx([0.2, 0.5])


def _runs_down(rig: RigArrays, volume: float) -> float:
    """Return liquid that runs off a plate [m3/s]: a straight line beyond a short ramp."""
    return (volume - rig.overflow_start[1] - rig.overflow_ramp[1]) / rig.overflow_time[1]


@pytest.mark.parametrize("reflux", [0.0, 0.02, 1.0, 3.0, math.inf])
def test_a_plate_holds_what_was_asked_at_the_usual_rate(reflux: float) -> None:
    """25 K of bath over pot, 35 kJ/mol (both from memory, as the rig says); a reflux of 0 as 0.1.

    The ramp is centred on where overflow begins, so the straight line is met half a ramp later.
    """
    run = _column(reflux_ratio=np.array([[0.0, reflux]]))
    rig = rig_arrays(run)
    share = 1.0 if math.isinf(reflux) else max(reflux / (1.0 + reflux), 0.1)
    usual = run.bath_conductance_W_K * 25.0 / 35e3 * share * _charge_m3(run) / run.charge_mol.sum()
    each = run.holdup_m3 / run.plates
    # what stands there beyond the start of the ramp has run down in the time of overflow
    assert _runs_down(rig, each) == pytest.approx(usual, rel=1e-9)
    # and a change of the rate by all of it moves the hold-up by no more than a fifth
    assert usual * rig.overflow_time[1] <= 0.2 * each * (1.0 + 1e-12)
    assert 0.2 <= rig.overflow_time[1] <= 5.0


def test_the_time_of_overflow_has_bounds() -> None:
    slow = rig_arrays(_column(bath_conductance_W_K=1e-6))
    assert slow.overflow_time[1:-1].tolist() == [5.0] * 4
    quick = rig_arrays(_column(bath_conductance_W_K=50.0))
    assert quick.overflow_time[1:-1].tolist() == [0.2] * 4
    # never emptied of more than a fifth by it
    floor = 0.75 * 6e-6 / 4
    assert floor * 0.99 <= quick.overflow_start[1] < 6e-6 / 4
    none = rig_arrays(_column(bath_conductance_W_K=0.0))
    assert none.overflow_time[1:-1].tolist() == [5.0] * 4
    assert none.overflow_time[[0, -1]].tolist() == [1.0, 1.0]  # the pot's is not read


def test_the_pot_never_overflows_and_the_head_holds_nothing() -> None:
    rig = rig_arrays(_column())
    assert rig.overflow_start[[0, -1]].tolist() == [0.0, 0.0]
    assert rig.carried[[0, -1]].tolist() == [0.0, 0.0]
    assert rig.drain.tolist() == [1.0] * 6
    wet = rig.overflow_ramp[-1]
    assert 0.0 < wet < 1e-3 * _charge_m3(_column())


def test_without_hold_up_a_plate_still_holds_a_trace() -> None:
    rig = rig_arrays(_column(holdup_m3=0.0))
    each = 2e-4 * _charge_m3(_column())
    assert 0.7 * each < rig.overflow_start[1] < each


def test_everything_in_proportion_to_the_charge() -> None:
    """Seven times the amounts are seven times the still; what is relative does not change."""
    run, s = _column(), 7.0
    more = replace(
        run,
        charge_mol=run.charge_mol * s,
        holdup_m3=run.holdup_m3 * s,
        bath_conductance_W_K=run.bath_conductance_W_K * s,
    )
    a, b = rig_arrays(run), rig_arrays(more)
    for name in ("vapour_rate", "overflow_start", "overflow_ramp"):
        one, other = getattr(a, name)[1:], getattr(b, name)[1:]
        assert other == pytest.approx(s * one, rel=1e-12), name
    for name in ("vanishing", "film", "fill", "dry"):
        assert getattr(b, name) == pytest.approx(s * getattr(a, name), rel=1e-12), name
    for name in ("ramp", "centre", "condenser_ramp", "overflow_time"):
        assert getattr(b, name) == pytest.approx(getattr(a, name), rel=1e-12), name


def test_the_conductance_holds_at_the_fill_that_is_named() -> None:
    assert rig_arrays(_column()).fill == pytest.approx(_charge_m3(_column()), rel=1e-12)
    assert rig_arrays(_column(bath_reference_m3=5e-5)).fill == 5e-5


def test_a_load_in_volume_is_one_in_moles() -> None:
    run = _column(largest_load_m3_s=1e-6, pressure_drop_Pa=30.0)
    rig = rig_arrays(run)
    molar = _charge_m3(run) / run.charge_mol.sum()
    assert rig.largest_load * molar == pytest.approx(1e-6, rel=1e-12)
    assert rig.extra_pressure.tolist() == [0.0] * 6  # no vapour yet
    free = rig_arrays(_column(pressure_drop_Pa=30.0))
    assert free.largest_load == 0.0
    assert free.extra_pressure.tolist() == [120.0, 90.0, 60.0, 30.0, 0.0, 0.0]
    assert free.drops[0].tolist() == [0.0] * 6


def test_a_thermometer_is_never_at_once() -> None:
    assert rig_arrays(_column(thermometer_lag_s=3.0)).lag == 3.0
    assert 0.0 < rig_arrays(_column(thermometer_lag_s=0.0)).lag < 0.1


def test_a_trap_is_there_and_empty() -> None:
    back = np.array([0.9, 0.2])
    with_trap = rig_arrays(_column(trap=Trap(1e-5, back)))
    assert with_trap.trap.tolist() == [1.0, 0.0]
    assert with_trap.returned is back
    without = rig_arrays(_column())
    assert without.trap.tolist() == [0.0, 0.0]
    assert without.returned.tolist() == [0.0, 0.0]


@pytest.mark.parametrize("temperature", [320.0, 373.15, 410.0])
def test_steam_brings_its_heat(temperature: float) -> None:
    """Liquid heated from 25 °C, then evaporated; Watson (1943) for the latent heat."""
    run = _column(steam_component=1, steam_temperature_K=temperature)
    cp0, cp1 = run.liquids.heat_capacity[1]
    value, reference, critical, exponent = run.liquids.latent_heat[1]
    warm, _ = quad(lambda t: cp0 + cp1 * (t - 298.15), 298.15, temperature)
    latent = value * ((critical - temperature) / (critical - reference)) ** exponent
    found = rig_arrays(run).steam_enthalpy * ENTHALPY_UNIT
    assert found == pytest.approx(warm + latent, rel=1e-12)
    assert rig_arrays(run).steam == 1.0


def test_the_run_starts_with_all_of_the_charge_at_its_temperature() -> None:
    run = _column(charge_temperature_K=301.0, charge_mol=np.array([0.3, 0.9]))
    rig = rig_arrays(run)
    state = start_state(run, rig)
    assert state.size == 6 * 3 + 2 * 2 + 5  # stages, then what was received, vented and the rest
    z = state[: 6 * 3].reshape(6, 3)
    assert z[:, :2].sum(axis=0) == pytest.approx(run.charge_mol, rel=1e-12)
    assert z[1:, 0] / z[1:, 1] == pytest.approx(1.0 / 3.0, rel=1e-12)
    assert z[1:, :2].sum(axis=1) == pytest.approx(rig.film, rel=1e-12)
    for moles, heat, glass in zip(z[:, :2], z[:, 2], rig.glass, strict=True):
        stored = glass * (301.0 - 298.15)
        for n, (c0, c1) in zip(moles, run.liquids.heat_capacity, strict=True):
            stored += n * quad(lambda t, a=c0, b=c1: a + b * (t - 298.15), 298.15, 301.0)[0]
        assert heat * ENTHALPY_UNIT == pytest.approx(stored, rel=1e-9)
    accounts = state[6 * 3 :]
    assert accounts.tolist().count(0.0) == accounts.size - 1
    assert accounts.max() == 301.0  # what the thermometer reads


def test_a_prepared_run_is_not_changed_by_running_it() -> None:
    case = prepare(_column(largest_load_m3_s=1e-7, pressure_drop_Pa=30.0))
    before = [np.array(part).copy() for part in case.rig]
    run_still(case.given)
    assert liquids(2).molar_mass.tolist() == case.given.liquids.molar_mass.tolist()
    for old, new in zip(before, case.rig, strict=True):
        assert np.array_equal(old, new)


FORMULATION = ("_VAPOUR_RATE", "_OVERPRESSURE", "_CENTRE", "_EASY", "_VANISHING", "_FILM")
FORMULATION += ("_LEAST_HOLDUP", "_HOLDUP_RAMP", "_HEAD_DRAIN", "_CONDENSER_RAMP")


@pytest.mark.parametrize("name", FORMULATION)
def test_numbers_of_the_formulation_do_not_matter(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """They let equations be solved and stand for nothing at the bench: a tenth more is the same."""
    from forerun.still import rig  # noqa: PLC0415 -- to change one of its numbers

    run = _column(condenser_limit_W=40.0, tolerance=1e-6)
    times = np.arange(0.0, 5000.0, 20.0)
    plain = run_still(run)
    monkeypatch.setattr(rig, name, 1.1 * getattr(rig, name))
    other = run_still(run)
    heads = [np.interp(times, r.trace.time_s, r.trace.head_temperature_K) for r in (plain, other)]
    assert np.sqrt(np.mean((heads[1] - heads[0]) ** 2)) < 0.05
    assert other.ledger.cuts_mol == pytest.approx(plain.ledger.cuts_mol, rel=3e-3)
