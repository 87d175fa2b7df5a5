"""What is told of a run agrees with itself: every figure from two sides."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from forerun.still.balances import CONDENSED, LOST, SUPPLIED, VENTED_ENTHALPY
from forerun.still.boiling_type import ENTHALPY_UNIT
from forerun.still.inputs import StillInput, Stop, Switch, Trap
from forerun.still.reading import UNMODELLED, read_run
from forerun.still.results import Run
from forerun.still.run import Outcome, prepare, run_still, solve
from laws.stills import WITHOUT_LOSS, still

BOILING = [340.0, 365.0]
MOLAR_MASS = np.array([0.08, 0.09])  # kg/mol, of the liquids of the laws


@pytest.fixture(scope="module")
def column() -> StillInput:
    return still(
        BOILING,
        plates=3,
        charge_mol=np.array([0.75, 0.75]),
        holdup_m3=3e-6,
        reflux_ratio=np.array([[0.0, 1.0]]),
        condenser_limit_W=25.0,
        pressure_drop_Pa=40.0,
        room_temperature_K=291.0,
        switches=(Switch(time_s=2000.0), Switch(volume_m3=3e-5)),
        tolerance=1e-6,
    )


@pytest.fixture(scope="module")
def outcome(column: StillInput) -> Outcome:
    return solve(prepare(column))


@pytest.fixture(scope="module")
def run(outcome: Outcome) -> Run:
    return read_run(outcome)


def _volumes() -> np.ndarray:
    t = 291.0 - 293.15
    return np.array([1.1e-4, 1.2e-4]) + 1.3e-7 * t + 1e-10 * t * t


def test_volume_is_that_of_the_moles_received(run: Run) -> None:
    trace = run.trace
    assert trace.distillate_volume_m3 == pytest.approx(
        trace.received_mol @ _volumes(), rel=1e-9, abs=1e-15
    )
    assert trace.received_mol[-1] == pytest.approx(run.ledger.cuts_mol, rel=1e-9)


def test_what_drips_is_the_slope_of_what_was_received(run: Run) -> None:
    trace = run.trace
    over = np.trapezoid(trace.distillate_rate_mol_s, trace.time_s)
    assert over == pytest.approx(float(run.ledger.cuts_mol.sum()), rel=4e-3)
    each = trace.distillate_rate_mol_s[:, None] * np.nan_to_num(trace.distillate_mole_fraction)
    assert np.trapezoid(each, trace.time_s, axis=0) == pytest.approx(run.ledger.cuts_mol, rel=5e-3)


def test_the_pot_at_the_end_is_the_residue(run: Run) -> None:
    trace, left = run.trace, run.ledger.residue_mol
    assert trace.pot_mole_fraction[-1] == pytest.approx(left / left.sum(), rel=1e-9)
    assert run.residue.mole_fraction == pytest.approx(left / left.sum(), rel=1e-12)
    assert run.residue.number == 0
    assert (run.residue.start_s, run.residue.end_s) == (trace.time_s[0], trace.time_s[-1])
    assert run.residue.start_head_K == trace.head_temperature_K[0]
    assert run.residue.end_head_K == trace.head_temperature_K[-1]
    assert run.residue.amount_mol == pytest.approx(left.sum(), rel=1e-12)


def test_pressure_over_the_pot_is_that_of_the_head_and_its_plates(run: Run) -> None:
    assert run.trace.pressure_Pa.tolist() == [101325.0] * run.trace.time_s.size
    assert run.trace.pot_pressure_Pa == pytest.approx(run.trace.pressure_Pa + 120.0)
    assert run.trace.load.tolist() == [0.0] * run.trace.time_s.size


def test_the_bath_is_that_of_the_programme(column: StillInput, run: Run) -> None:
    times, bath = column.bath_temperature.T
    expected = np.interp(run.trace.time_s, times, bath)
    assert run.trace.bath_temperature_K == pytest.approx(expected, abs=1e-6)


def test_receivers_add_up_and_weigh_what_their_moles_weigh(run: Run) -> None:
    assert [cut.number for cut in run.cuts] == [1, 2, 3]
    moles = [cut.amount_mol * cut.mole_fraction for cut in run.cuts]
    assert np.sum(moles, axis=0) == pytest.approx(run.ledger.cuts_mol, rel=1e-9)
    trace = run.trace
    for cut, held in zip(run.cuts, moles, strict=True):
        assert cut.mole_fraction.sum() == pytest.approx(1.0, rel=1e-12)
        assert cut.mass_fraction.sum() == pytest.approx(1.0, rel=1e-12)
        assert cut.mass_kg == pytest.approx(float(held @ MOLAR_MASS), rel=1e-12)
        assert cut.mass_kg * cut.mass_fraction == pytest.approx(held * MOLAR_MASS, rel=1e-12)
        assert cut.volume_m3 == pytest.approx(float(held @ _volumes()), rel=1e-9)
        ends = np.interp([cut.start_s, cut.end_s], trace.time_s, trace.distillate_volume_m3)
        assert cut.volume_m3 == pytest.approx(ends[1] - ends[0], rel=2e-3)
        at_end = np.interp(cut.end_s, trace.time_s, trace.head_temperature_K)
        assert cut.end_head_K == pytest.approx(at_end, abs=0.05)
    assert run.cuts[0].start_s == 0.0
    # at the first drop into it: the first later than the start, the others where the one ended
    assert run.first_drop_s is not None
    after = int(np.searchsorted(trace.time_s, run.first_drop_s))
    low, high = trace.head_temperature_K[after - 1 : after + 1]
    assert low < run.cuts[0].start_head_K < high
    for before, after in zip(run.cuts[:-1], run.cuts[1:], strict=True):
        assert after.start_head_K == pytest.approx(before.end_head_K, abs=0.5)


def test_an_empty_receiver_starts_where_the_one_before_ended() -> None:
    hot = np.array([[0.0, 293.15], [1200.0, 385.0], [1210.0, 300.0]])
    switches = (Switch(time_s=1230.0), Switch(time_s=3000.0))
    cut = run_still(
        still(BOILING, bath_temperature=hot, switches=switches, stop=Stop(time_s=4000.0))
    ).cuts
    assert cut[0].volume_m3 > 0.0
    assert cut[2].volume_m3 == pytest.approx(0.0, abs=1e-12)
    if math.isnan(float(cut[2].mole_fraction[0])):
        assert cut[2].amount_mol == 0.0
    early = run_still(still(BOILING, switches=(Switch(time_s=5.0), Switch(time_s=10.0)))).cuts
    assert early[0].start_head_K == 293.15  # of the charge
    assert early[1].start_head_K == early[0].end_head_K
    assert np.isnan(early[0].mass_fraction).all()
    assert (early[0].mass_kg, early[0].amount_mol, early[0].volume_m3) == (0.0, 0.0, 0.0)


def test_heat_from_the_bath_is_its_conductance_times_the_difference(column: StillInput) -> None:
    """In a pot that only warms up the fill is the charge, but for what the warmth adds to it."""
    cold = replace(
        column,
        bath_temperature=np.array([[0.0, 320.0]]),
        charge_temperature_K=291.0,  # of the room, so that the column loses nothing
        stop=Stop(time_s=1500.0),
    )
    found = run_still(cold)
    trace = found.trace
    drive = trace.bath_temperature_K - trace.pot_temperature_K
    expected = column.bath_conductance_W_K * np.trapezoid(drive, trace.time_s)
    assert found.energy.supplied_J == pytest.approx(expected, rel=0.02)
    warm = np.trapezoid(trace.pot_temperature_K - 291.0, trace.time_s)
    assert found.energy.lost_J == pytest.approx(column.pot_loss_W_K * warm, rel=0.02)
    assert found.energy.condenser_J == pytest.approx(0.0, abs=1e-6)
    assert found.energy.stored_J == pytest.approx(
        found.energy.supplied_J - found.energy.lost_J, rel=1e-9
    )


def test_what_is_stored_stands_in_glass_liquid_products_and_vent(
    column: StillInput, outcome: Outcome, run: Run
) -> None:
    """Reckoned from the state alone, by heat capacities from 25 °C; all that moved is in it."""
    stages, c = 5, 2
    before, after = (s[: stages * 3].reshape(stages, 3)[:, -1].sum() for s in _states(outcome))
    heat = column.liquids.heat_capacity
    coolant = column.coolant_temperature_K
    cold = [quad(lambda t, a=a, b=b: a + b * (t - 298.15), 298.15, coolant)[0] for a, b in heat]
    accounts = outcome.state[stages * 3 :]
    stored = (after - before + accounts[2 * c + VENTED_ENTHALPY]) * ENTHALPY_UNIT
    stored += float(run.ledger.cuts_mol @ np.array(cold))
    assert run.energy.stored_J == pytest.approx(stored, rel=1e-9)
    assert run.energy.supplied_J == pytest.approx(accounts[2 * c + SUPPLIED] * ENTHALPY_UNIT)
    assert run.energy.lost_J == pytest.approx(accounts[2 * c + LOST] * ENTHALPY_UNIT)
    assert run.energy.condenser_J == pytest.approx(accounts[2 * c + CONDENSED] * ENTHALPY_UNIT)
    assert run.ledger.vent_mol.sum() > 0.0
    assert run.energy.closure < 1e-9


def _states(outcome: Outcome) -> tuple[np.ndarray, np.ndarray]:
    return outcome.case.state, outcome.state


@pytest.mark.parametrize(
    ("entry", "name"),
    [(SUPPLIED, "supplied_J"), (LOST, "lost_J"), (CONDENSED, "condenser_J")],
)
def test_an_account_of_heat_that_is_out_is_told(outcome: Outcome, entry: int, name: str) -> None:
    fair = read_run(outcome).energy
    state = outcome.state.copy()
    wrong = 0.01 * abs(getattr(fair, name)) + 1.0
    state[5 * 3 + 4 + entry] += wrong / ENTHALPY_UNIT
    told = read_run(replace(outcome, state=state)).energy
    assert getattr(told, name) == pytest.approx(getattr(fair, name) + wrong, rel=1e-9)
    stages = state[: 5 * 3].reshape(5, 3)[:, -1].sum() * ENTHALPY_UNIT
    largest = max(
        *(abs(v) for v in (told.supplied_J, told.lost_J, told.condenser_J, told.stored_J)),
        abs(stages),
    )
    assert told.closure * largest == pytest.approx(wrong, rel=1e-6)


@pytest.mark.parametrize("where", ["received", "vented", "pot", "column"])
def test_a_mole_that_is_missing_is_told(outcome: Outcome, where: str) -> None:
    state = outcome.state.copy()
    entry = {"received": 5 * 3 + 1, "vented": 5 * 3 + 2 + 1, "pot": 1, "column": 2 * 3 + 1}[where]
    state[entry] += 0.01
    told = read_run(replace(outcome, state=state)).ledger
    assert told.closure == pytest.approx(
        0.01 / 0.75, rel=1e-6
    )  # of all that there was of the second


def test_what_there_is_none_of_is_judged_by_all() -> None:
    """A component that was not charged has no share of its own to be out by."""
    outcome = solve(prepare(still(BOILING, charge_mol=np.array([1.0, 0.0]))))
    state = outcome.state.copy()
    state[1] += 0.02
    assert read_run(replace(outcome, state=state)).ledger.closure == pytest.approx(0.02, rel=1e-6)


def test_a_ramp_of_steam_is_its_own_integral() -> None:
    """From 600 s on 0 to 6e-4 mol/s in 1200 s, then constant; what is after the end does not count.

    The closed form of a straight line: half its end times its time.
    """
    steam = np.array([[0.0, 0.0], [600.0, 0.0], [1800.0, 6e-4], [9000.0, 6e-4]])
    for end, fed in ((600.0, 0.0), (1200.0, 0.5 * 600.0 * 3e-4), (2400.0, 0.36 + 600.0 * 6e-4)):
        given = still(BOILING, steam=steam, steam_component=1, stop=Stop(time_s=end))
        found = run_still(given)
        assert found.ledger.fed_mol == pytest.approx([0.0, fed], rel=1e-12, abs=1e-15)
        assert found.ledger.closure < 1e-9
        assert found.energy.closure < 1e-9
    # a run that ends by itself, in the middle of a stretch
    given = still(BOILING, steam=steam, steam_component=1, stop=Stop(9000.0, residue_m3=5e-5))
    found = run_still(given)
    t = float(found.trace.time_s[-1])
    assert 1800.0 < t < 9000.0
    assert found.ledger.fed_mol[1] == pytest.approx(0.36 + (t - 1800.0) * 6e-4, rel=1e-9)


def test_what_a_run_leaves_out_is_said_where_it_applies() -> None:
    plain = run_still(still(BOILING, stop=Stop(time_s=60.0)))
    assert plain.unmodelled[: len(UNMODELLED)] == UNMODELLED
    assert len(plain.unmodelled) == len(UNMODELLED) + 1
    assert "two layers in the pot are not looked for" in plain.unmodelled[-1]
    with_residue = run_still(still(BOILING, diluent_mol=0.1, stop=Stop(time_s=60.0)))
    assert "ideal diluent" in with_residue.unmodelled[-1]
    trap = Trap(1e-5, np.array([0.9, 0.1]))
    with_trap = run_still(still(BOILING, trap=trap, stop=Stop(time_s=60.0)))
    assert "The trap keeps its layers apart" in with_trap.unmodelled[-1]
    layers = run_still(still(BOILING, two_liquids=True, stop=Stop(time_s=60.0)))
    assert layers.unmodelled == UNMODELLED


def test_warnings_tell_the_figures_of_the_run(run: Run) -> None:
    share = 100.0 * run.ledger.vent_mol.sum() / run.ledger.charge_mol.sum()
    assert any(f"{share:.1f} mol% of the charge" in said for said in run.warnings)
    dry = run_still(
        still(
            BOILING,
            **WITHOUT_LOSS,
            bath_temperature=np.array([[0.0, 430.0]]),
            stop=Stop(time_s=20000.0),
        )
    )
    minutes = f"runs dry after {dry.trace.time_s[-1] / 60.0:.0f} min"
    assert any(minutes in said for said in dry.warnings)
    cold = run_still(still(BOILING, bath_temperature=np.array([[0.0, 330.0]])))
    hottest = cold.trace.pot_temperature_K.max() - 273.15
    assert f"Nothing comes over: the pot reaches {hottest:.0f} °C." in cold.warnings
    assert not any("mol% of the charge" in said for said in (*cold.warnings, *dry.warnings))


def test_a_vent_of_less_than_a_thousandth_is_not_worth_a_word(outcome: Outcome) -> None:
    for share, told in ((0.9e-3, False), (1.1e-3, True)):
        state = outcome.state.copy()
        state[5 * 3 + 2 : 5 * 3 + 4] = [1.5 * share, 0.0]
        said = read_run(replace(outcome, state=state)).warnings
        assert any("condenser cannot hold" in one for one in said) is told


def test_a_column_that_is_never_steady_says_so() -> None:
    given = still(
        BOILING,
        plates=3,
        reflux_ratio=np.array([[0.0, 2.0]]),
        steady_K_s=1e-9,
        steady_for_s=3600.0,
        stop=Stop(time_s=2500.0),
    )
    assert any("never became steady" in said for said in run_still(given).warnings)
    calm = replace(given, steady_K_s=1.0 / 60.0, steady_for_s=60.0)
    assert not any("never became steady" in said for said in run_still(calm).warnings)


def test_sources_of_the_data_come_first_then_those_of_the_method(run: Run) -> None:
    assert [one.key for one in run.references] == ["watson1943", "hairer1996"]
