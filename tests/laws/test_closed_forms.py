"""What the glassware and the hand do to a run, against closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from forerun.equilibrium.mixture import mixture_of
from forerun.still.inputs import BathRule, StillInput, Stop, Trap, plates_as_stages
from forerun.still.run import prepare, run_still, solve
from forerun.substances.catalogue import find
from forerun.substances.liquids import liquid_arrays
from laws.stills import WITHOUT_LOSS, still, volatility

ATMOSPHERE = 101325.0


def _pair(first: str, second: str, moles: tuple[float, float], **changes: object) -> StillInput:
    substances = [find(first), find(second)]
    base = still([340.0, 365.0], pot_loss_W_K=0.0, column_loss_W_K=0.0)
    return replace(
        base,
        names=(first, second),
        mixture=mixture_of(substances).arrays,
        liquids=liquid_arrays(substances),
        charge_mol=np.array(moles),
        bath_temperature=np.array([[0.0, 293.15], [900.0, 400.0], [9000.0, 400.0]]),
        **changes,
    )


def _pure(name: str, temperature: float) -> float:
    a, b, c, d, *_ = mixture_of([find(name), find("ethanol")]).arrays.vapour_pressure[0]
    return math.exp(a + b / temperature + c * math.log(temperature) + d * temperature)


@pytest.fixture(scope="module")
def toluene_and_water() -> StillInput:
    return _pair(
        "toluene", "water", (0.5, 2.0), two_liquids=True, stop=Stop(9000.0, residue_m3=4e-5)
    )


def test_two_liquids_boil_where_their_pressures_add_up(toluene_and_water: StillInput) -> None:
    """P_water + P_toluene = P gives 84 °C, and the vapour has their ratio (Dalton)."""
    trace = run_still(toluene_and_water).trace
    together = brentq(lambda t: _pure("toluene", t) + _pure("water", t) - ATMOSPHERE, 340.0, 370.0)
    assert together - 273.15 == pytest.approx(84.3, abs=0.6)  # the azeotrope of the handbooks
    flowing = (trace.distillate_rate_mol_s > 1e-4) & (trace.pot_mole_fraction[:, 0] > 0.05)
    head = trace.head_temperature_K[flowing]
    assert np.median(head) == pytest.approx(together, abs=0.35)
    ratio = (
        trace.distillate_mole_fraction[flowing][:, 0]
        / (trace.distillate_mole_fraction[flowing][:, 1])
    )
    expected = _pure("toluene", together) / _pure("water", together)
    assert np.median(ratio) == pytest.approx(expected, rel=0.03)
    # constant while both liquids are there
    middle = slice(len(head) // 4, len(head) // 2)
    assert np.ptp(head[middle]) < 0.05


def test_a_trap_collects_the_water_and_returns_the_rest(toluene_and_water: StillInput) -> None:
    trap = Trap(volume_m3=4e-6, returned=np.array([0.9993, 0.0008]))
    run = replace(
        toluene_and_water,
        charge_mol=np.array([1.0, 0.3]),
        trap=trap,
        stop=Stop(time_s=9000.0),
    )
    result = run_still(run)
    received = result.trace.received_mol
    assert np.all(np.diff(received[:, 1]) >= -1e-8)  # mol, between two steps
    # all water but what the wet toluene and the glass still hold
    assert received[-1, 1] == pytest.approx(0.3, abs=0.01)
    volume = result.trace.distillate_volume_m3
    # beyond the trap's own volume there is water, and the 0.07 % of toluene that it takes along
    later = volume[-1] - trap.volume_m3
    water = 18.07e-6 * (received[-1, 1] - np.interp(trap.volume_m3, volume, received[:, 1]))
    toluene = later - water
    assert later > 1e-6
    assert 0.0 <= toluene < 0.35 * later
    assert result.ledger.closure <= 1e-9


def test_steam_that_is_led_in_stands_in_the_accounts() -> None:
    run = _pair(
        "toluene",
        "water",
        (0.3, 0.2),
        two_liquids=True,
        steam=np.array([[0.0, 0.0], [1200.0, 0.0], [1200.0, 5e-4]]),
        steam_component=1,
        stop=Stop(time_s=4000.0),
    )
    result = run_still(run)
    assert result.ledger.fed_mol == pytest.approx([0.0, 5e-4 * 2800.0], rel=1e-12)
    assert result.ledger.closure <= 1e-9
    assert result.energy.closure <= 1e-9
    assert result.ledger.cuts_mol[0] > 0.28  # toluene goes over with it


def test_a_residue_raises_the_boiling_point_as_raoult_says() -> None:
    run = still(
        [340.0, 341.0],
        **WITHOUT_LOSS,
        charge_mol=np.array([1.0, 1e-9]),
        diluent_mol=0.25,
        stop=Stop(time_s=1900.0),
    )
    trace = run_still(run).trace
    plain = run_still(replace(run, diluent_mol=0.0)).trace
    moles = 1.0 - trace.received_mol[:, 0]
    factor = moles[-1] / (moles[-1] + 0.25)
    expected = 1.0 / (1.0 / 340.0 + 8.314462618 / 32e3 * math.log(factor))
    assert trace.pot_temperature_K[-1] == pytest.approx(expected, abs=0.05)
    assert plain.pot_temperature_K[-1] == pytest.approx(340.0, abs=0.05)


def test_plates_that_are_not_whole_work_between_the_whole_ones() -> None:
    """At total reflux x_(j+1) = (y_j + e x_j)/(1 + e) on every plate, exactly."""
    assert plates_as_stages(3.0) == (3, 0.0)
    assert plates_as_stages(2.5) == (3, pytest.approx(0.2))
    boiling = [340.0, 344.0]
    stages, carried = plates_as_stages(2.5)
    run = still(
        boiling,
        plates=stages,
        **WITHOUT_LOSS,
        carried=carried,
        reflux_ratio=np.array([[0.0, math.inf]]),
        bath_temperature=np.array([[0.0, 380.0]]),
        stop=Stop(time_s=40000.0),
    )
    state = solve(prepare(run)).state[: (stages + 2) * 3].reshape(stages + 2, 3)
    x = state[:, 0] / (state[:, 0] + state[:, 1])
    alpha = volatility(boiling)
    y = alpha * x / (1.0 + (alpha - 1.0) * x)
    assert x[1] == pytest.approx(y[0], rel=1e-8)  # nothing is carried out of the pot
    for j in range(1, stages):
        assert x[j + 1] == pytest.approx((y[j] + carried * x[j]) / (1.0 + carried), rel=1e-8)
    richer = y[stages] / (1.0 - y[stages]) / (x[0] / (1.0 - x[0]))
    steps = math.log(richer) / math.log(alpha)  # the pot, two whole plates and a half
    assert 3.3 < steps < 3.8


def test_pressure_drop_grows_with_the_square_of_the_vapour() -> None:
    run = still(
        [340.0, 352.0],
        plates=4,
        **WITHOUT_LOSS,
        pressure_drop_Pa=50.0,
        largest_load_m3_s=3e-7,
        reflux_ratio=np.array([[0.0, math.inf]]),
        bath_temperature=np.array([[0.0, 365.0]]),
        stop=Stop(time_s=6000.0),
    )
    trace = run_still(run).trace
    phi = trace.load[-1]
    assert 0.2 < phi < 1.0
    expected = 4 * 50.0 * (phi / 0.7) ** 2
    assert trace.pot_pressure_Pa[-1] - trace.pressure_Pa[-1] == pytest.approx(expected, rel=0.02)


def test_too_much_vapour_floods_the_column_and_says_so() -> None:
    run = still([340.0, 352.0], plates=4, pressure_drop_Pa=50.0, largest_load_m3_s=4e-8)
    calm = run_still(replace(run, largest_load_m3_s=1e-5))
    result = run_still(run)
    assert any("floods from" in sentence for sentence in result.warnings)
    assert not any("floods from" in sentence for sentence in calm.warnings)
    assert result.ledger.closure <= 1e-9
    assert result.energy.closure <= 1e-9
    # liquid stays up in the column, and the pot is at a higher pressure
    assert result.trace.pot_pressure_Pa.max() > calm.trace.pot_pressure_Pa.max() + 100.0


def test_what_passes_the_condenser_raises_the_pressure_of_a_pump() -> None:
    """n R T / S, with n what the condenser lets pass (ideal gas)."""
    run = still(
        [340.0, 365.0],
        condenser_limit_W=15.0,
        pump_speed_m3_s=5e-3,
        coolant_temperature_K=283.15,
        tolerance=1e-6,
    )
    outcome = run_still(run)
    trace = outcome.trace
    top = int(np.argmax(trace.pressure_Pa))
    rise = trace.pressure_Pa[top] - ATMOSPHERE
    assert rise > 100.0
    passed = rise * 5e-3 / (8.314462618 * 283.15)
    vented = outcome.ledger.vent_mol.sum()
    excess = np.trapezoid(trace.pressure_Pa - ATMOSPHERE, trace.time_s)
    assert excess * 5e-3 / (8.314462618 * 283.15) == pytest.approx(vented, rel=0.03)
    assert passed > 0.0


@pytest.mark.parametrize("above", ["above_pot_K", "above_head_K"])
def test_a_hand_keeps_the_bath_above_pot_or_head(above: str) -> None:
    run = still([340.0, 365.0], bath_rule=BathRule(**{above: 22.0}, fastest_K_s=0.1))
    trace = run_still(run).trace
    below = trace.pot_temperature_K if above == "above_pot_K" else trace.head_temperature_K
    late = (trace.time_s > 2500.0) & (trace.distillate_rate_mol_s > 0.0)
    assert np.count_nonzero(late) > 20
    assert (trace.bath_temperature_K - below)[late] == pytest.approx(22.0, abs=1.0)


def test_a_hand_keeps_the_drops_falling_at_one_rate() -> None:
    rate = 3e-8  # m3/s
    run = still([340.0, 365.0], bath_rule=BathRule(drop_rate_m3_s=rate, fastest_K_s=0.1))
    trace = run_still(run).trace
    late = (trace.time_s > 2500.0) & (trace.time_s < trace.time_s[-1] - 600.0)
    speed = np.gradient(trace.distillate_volume_m3[late], trace.time_s[late])
    assert np.median(speed) == pytest.approx(rate, rel=0.1)


def test_nothing_is_taken_off_until_the_column_stands_still() -> None:
    run = still(
        [340.0, 365.0],
        plates=3,
        reflux_ratio=np.array([[0.0, 2.0]]),
        steady_K_s=0.1 / 60.0,
        steady_for_s=600.0,
    )
    outcome = solve(prepare(run))
    steady = float(outcome.record.numbers[8])
    trace = run_still(run).trace
    assert 600.0 < steady < 5400.0
    assert np.all(trace.distillate_volume_m3[trace.time_s < steady] < 1e-12)
    assert trace.distillate_volume_m3[-1] > 1e-6


def test_a_thread_in_the_cold_reads_low_by_the_textbook_rule() -> None:
    """0.00016 per degree and degree of thread outside the vapour."""
    run = still([340.0, 365.0])
    low = run_still(replace(run, stem=0.00016 * 60.0)).trace.head_temperature_K
    true = run_still(run).trace.head_temperature_K
    assert low == pytest.approx(true - 0.0096 * (true - run.room_temperature_K), abs=1e-9)


def test_a_distillate_that_freezes_is_named_with_its_time() -> None:
    run = still([340.0, 341.0])
    cold = replace(
        run,
        liquids=run.liquids._replace(melting_point=np.array([286.0, 286.0])),
        charge_mol=np.array([0.95, 0.05]),
    )
    said = [w for w in run_still(cold).warnings if "freeze in the condenser" in w]
    assert len(said) == 1
    assert " min on a can freeze" in said[0]
    warm = replace(cold, coolant_temperature_K=300.0)
    assert not any("freeze" in w for w in run_still(warm).warnings)
