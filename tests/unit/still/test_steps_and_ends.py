"""Steps are counted, runs end on what ends them, and each line of a trace is of its own moment."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.core.errors import CalculationFailed
from forerun.still.engine import ENDED_HEAD, ENDED_TIME
from forerun.still.inputs import Stop, Switch, Trap
from forerun.still.run import prepare, run_still, solve
from laws.stills import still

BOILING = [340.0, 365.0]
ENDS_ON = 2e-5  # m3/m3; a tolerance of a step would be five times that, a step ten thousand times


@pytest.mark.parametrize(("tolerance", "beside_the_first"), [(1e-4, 2), (1e-6, 5)])
def test_what_was_evaluated_is_what_the_stages_of_all_steps_ask_for(
    tolerance: float, beside_the_first: int
) -> None:
    """RODAS3 has four stages of which two share one evaluation, RODAS six of their own."""
    # no event asks for a step
    run = still(BOILING, plates=2, holdup_m3=2e-6, tolerance=tolerance, stop=Stop(3000.0))
    numbers = solve(prepare(run)).record.numbers
    steps, refused, evaluations = (int(numbers[k]) for k in (3, 4, 7))
    assert steps > 100
    assert refused > 10
    assert evaluations == steps + beside_the_first * (steps + refused)


@pytest.mark.parametrize(
    ("stop", "ended"),
    [(Stop(600.0), ENDED_TIME), (Stop(9000.0, head_temperature_K=350.0), ENDED_HEAD)],
)
def test_how_it_ended_is_said_twice(stop: Stop, ended: int) -> None:
    outcome = solve(prepare(still(BOILING, stop=stop)))
    assert outcome.ended == int(outcome.record.numbers[2]) == ended


def test_a_run_ends_on_the_reading_that_ends_it() -> None:
    ended = run_still(still(BOILING, stop=Stop(9000.0, head_temperature_K=355.0)))
    assert ended.trace.head_temperature_K[-1] == pytest.approx(355.0, abs=1e-4)
    switched = run_still(
        still(BOILING, switches=(Switch(head_temperature_K=350.0),), stop=Stop(3000.0))
    )
    assert switched.cuts[0].end_head_K == pytest.approx(350.0, abs=1e-4)


def test_a_residue_is_left_as_asked_also_with_what_does_not_distil() -> None:
    hot = {"bath_temperature": np.array([[0.0, 293.15], [1200.0, 385.0], [5400.0, 480.0]])}
    alone = run_still(still(BOILING, stop=Stop(20000.0, residue_m3=3e-5), **hot))
    assert alone.residue.volume_m3 == pytest.approx(3e-5, rel=ENDS_ON)
    run = still(BOILING, stop=Stop(20000.0, residue_m3=3e-5), **hot)
    salted = replace(run, diluent_mol=0.01, diluent_m3=1e-5, diluent_J_K=20.0)
    assert run_still(salted).residue.volume_m3 == pytest.approx(2e-5, rel=ENDS_ON)


def test_the_line_at_a_switch_is_of_the_moment_of_the_switch() -> None:
    programme = np.array([[0.0, 293.15], [1200.0, 385.0], [5400.0, 410.0]])
    run = still(
        BOILING,
        bath_temperature=programme,
        switches=(Switch(volume_m3=3e-5),),
        stop=Stop(time_s=3000.0),
    )
    result = run_still(run)
    (line,) = np.flatnonzero(result.trace.time_s == result.cuts[0].end_s)
    due = np.interp(result.cuts[0].end_s, *programme.T)
    assert result.trace.bath_temperature_K[line] == pytest.approx(due, abs=1e-9)


def test_a_head_that_no_vapour_has_reached_is_not_a_column_that_stands_still() -> None:
    """It is as still as can be for a quarter of an hour while the pot warms up."""
    run = still(
        BOILING,
        plates=3,
        reflux_ratio=np.array([[0.0, 2.0]]),
        steady_K_s=0.1 / 60.0,
        steady_for_s=120.0,
    )
    steady = float(solve(prepare(run)).record.numbers[8])
    trace = run_still(run).trace
    warm = float(trace.time_s[np.argmax(trace.head_temperature_K > 330.0)])
    assert warm > 600.0
    assert warm + 120.0 < steady < warm + 1200.0
    last = (trace.time_s > steady - 120.0) & (trace.time_s < steady)
    assert np.ptp(trace.head_temperature_K[last]) < 120.0 * 0.1 / 60.0


def test_a_run_whose_every_step_is_refused_fails_soon() -> None:
    run = still(BOILING)
    nowhere = run.mixture._replace(vapour_pressure=np.full((2, 6), np.nan))
    with pytest.raises(CalculationFailed, match="stopped at 0 s after 0 steps"):
        solve(prepare(replace(run, mixture=nowhere)))


def test_a_trap_begins_to_give_back_when_it_is_full_and_not_a_step_later() -> None:
    run = still(BOILING, trap=Trap(1e-5, np.ones(2)), stop=Stop(4000.0))  # then all of it
    result = run_still(run)
    assert result.trace.distillate_rate_mol_s[-1] == 0.0
    assert result.trace.distillate_volume_m3[-1] == pytest.approx(1e-5, rel=ENDS_ON)


def test_a_receiver_begins_with_a_drop_of_its_own() -> None:
    pause = [[0.0, 1.0], [2000.0, 1.0], [2000.0, np.inf], [2900.0, np.inf], [2900.0, 1.0]]
    run = still(
        BOILING,
        plates=2,
        holdup_m3=2e-6,
        reflux_ratio=np.array(pause),
        switches=(Switch(time_s=2000.0),),
        stop=Stop(4000.0),
    )
    result = run_still(run)
    trace, (first, second) = result.trace, result.cuts
    over = trace.distillate_volume_m3 - np.interp(2000.0, trace.time_s, trace.distillate_volume_m3)
    own = int(np.argmax(over > run.first_drop_m3))
    assert trace.time_s[own] > 2900.0
    near = trace.head_temperature_K[own - 1 : own + 1]
    assert near.min() - 0.02 < second.start_head_K < near.max() + 0.02
    assert abs(second.start_head_K - first.end_head_K) > 0.2
