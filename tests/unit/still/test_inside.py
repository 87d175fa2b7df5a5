"""What stands on the stages is the run's own: halted at moments, the engine arrives at the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.planning.aims import goal_of
from forerun.planning.comparison import Way, ways_of
from forerun.sheets.resolving import load
from forerun.still.inputs import BathRule, StillInput, Stop
from forerun.still.inside import Inside, _stretch, inside_of
from forerun.still.run import prepare, run_still
from laws.stills import still


@pytest.fixture(scope="module")
def column() -> Way:
    sheet = load("class-pair")
    return max(ways_of(sheet, goal_of(sheet)).ways, key=lambda way: way.plates)


@pytest.fixture(scope="module")
def inside(column: Way) -> Inside:
    return inside_of(column.given, column.run.trace.time_s[::9])


def test_the_pot_is_that_of_the_trace(column: Way, inside: Inside) -> None:
    told = column.run.trace.pot_mole_fraction[::9]
    assert np.abs(inside.mole_fraction[:, 0] - told).max() < 2e-3


def test_not_a_millilitre_is_lost_between_stages_and_receivers(column: Way, inside: Inside) -> None:
    over = column.run.trace.distillate_volume_m3[::9]
    whole = inside.stage_m3.sum(axis=1) + over
    assert whole == pytest.approx(np.full(whole.size, whole[0]), rel=1e-3)


def test_at_the_end_column_and_pot_hold_what_the_ledger_says(column: Way) -> None:
    end = inside_of(column.given, np.array([0.0, column.run.trace.time_s[-1]]))
    ledger = column.run.ledger
    assert end.stage_mol[-1, 0] == pytest.approx(ledger.residue_mol, rel=5e-3)
    assert end.stage_mol[-1, 1:].sum(axis=0) == pytest.approx(ledger.holdup_mol, rel=2e-2)


def test_the_lower_boiler_is_richer_on_every_higher_plate(inside: Inside) -> None:
    middle = inside.mole_fraction[inside.time_s.size // 2, :, 0]
    steps = np.diff(middle[:-1])
    assert (steps > -1e-6).all() or (steps < 1e-6).all()


def test_a_wait_for_a_steady_column_cannot_be_followed(column: Way) -> None:
    waits = replace(column.given, steady_K_s=1e-3, steady_for_s=60.0)
    with pytest.raises(BadInput, match="until steady"):
        inside_of(waits, np.array([0.0, 60.0]))


def _ramped() -> StillInput:
    return still(
        [340.0, 365.0],
        plates=2,
        holdup_m3=2e-6,
        bath_temperature=np.array([[0.0, 293.15], [1000.0, 385.0], [1000.0, 390.0]]),
        pressure=np.array([[0.0, 1e5], [2000.0, 5e4]]),
        stop=Stop(time_s=3000.0),
    )


def test_a_stretch_is_the_programme_from_its_moment_on() -> None:
    """Whatever the plan says at a time, its stretch says at that time less its beginning."""
    case = prepare(_ramped())
    for start, end in ((0.0, 500.0), (400.0, 2500.0), (1000.0, 1500.0), (2900.0, 3000.0)):
        part = _stretch(case, start, end, float("nan"))
        assert part.times[0] == 0.0
        assert part.times[-1] == end - start
        assert part.interval > end - start  # first and last line alone
        inside = [t for t in case.plan.times if start < t < end]
        assert part.times[1:-1] == pytest.approx(np.array(inside) - start)
        for time in np.linspace(start, end, 7)[:-1] + 0.5:
            whole, piece = (
                plan.start[g] + plan.slope[g] * (at - plan.times[g])
                for plan, at in ((case.plan, time), (part, time - start))
                for g in [int(np.searchsorted(plan.times, at, side="right")) - 1]
            )
            assert piece == pytest.approx(whole, rel=1e-12)


def test_a_bath_that_is_led_goes_on_from_where_it_was() -> None:
    plain = prepare(_ramped())
    assert _stretch(plain, 100.0, 200.0, 333.0).start[0, 0] != 333.0
    led = prepare(replace(_ramped(), bath_rule=BathRule(above_pot_K=20.0)))
    assert _stretch(led, 100.0, 200.0, 333.0).start[0, 0] == 333.0
    fresh = _stretch(led, 0.0, 200.0, float("nan"))
    assert fresh.start[0, 0] == pytest.approx(293.15)
    two = _stretch(led, 900.0, 1100.0, 333.0)
    assert two.start[1, 0] == pytest.approx(390.0)


@pytest.mark.parametrize("rule", [None, BathRule(above_pot_K=30.0)])
def test_halted_ten_times_or_once_it_arrives_at_the_same(rule: BathRule | None) -> None:
    run = replace(_ramped(), bath_rule=rule, tolerance=1e-6)
    often = inside_of(run, np.linspace(0.0, 3000.0, 11))
    once = inside_of(run, np.array([3000.0]))
    assert often.time_s.tolist() == np.linspace(0.0, 3000.0, 11).tolist()
    assert often.stage_mol[-1] == pytest.approx(once.stage_mol[0], rel=2e-3, abs=1e-6)
    # at the start nothing has moved
    assert often.stage_mol[0].sum(axis=0) == pytest.approx(run.charge_mol, rel=1e-12)
    end = run_still(run).ledger
    assert once.stage_mol[0, 0] == pytest.approx(end.residue_mol, rel=2e-3)
    assert once.stage_mol[0, 1:].sum(axis=0) == pytest.approx(end.holdup_mol, rel=5e-3)


def test_a_stop_is_not_looked_at() -> None:
    run = replace(_ramped(), stop=Stop(3000.0, residue_m3=1e-4, head_temperature_K=300.0))
    found = inside_of(run, np.array([0.0, 1500.0, 3000.0]))
    assert found.stage_mol[2, 0].sum() < found.stage_mol[1, 0].sum() < 1.0


def test_fractions_and_volumes_are_those_of_the_moles() -> None:
    found = inside_of(_ramped(), np.array([0.0, 2000.0]))
    assert found.mole_fraction.sum(axis=2) == pytest.approx(np.ones((2, 4)), rel=1e-12)
    room = np.array([1.1e-4, 1.2e-4])  # m3/mol at 20 °C, of the liquids of the laws
    assert found.stage_m3 == pytest.approx(found.stage_mol @ room, rel=1e-9)
    held = Inside(np.zeros(1), np.array([[[0.3, -1e-12]]]), np.zeros((1, 1)))
    assert held.mole_fraction.tolist() == [[[1.0, 0.0]]]
