"""One charge in several ways: laws that every comparison has to obey."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.equilibrium.mixture import mixture_of
from forerun.planning.aims import aimed_at_lightest, goal_of
from forerun.planning.comparison import Ways, ways_of
from forerun.planning.plate_by_plate import plates_above
from forerun.planning.shortcut import top_of_column
from forerun.sheets.resolving import load
from forerun.sheets.topics import topics
from forerun.substances.catalogue import find


@pytest.fixture(scope="module")
def ways() -> Ways:
    sheet = load("class-pair")
    return ways_of(sheet, goal_of(sheet), columns=(2, 5))


def test_the_staircase_holds_the_whole_charge_in_order_of_boiling(ways: Ways) -> None:
    temperatures = [step.temperature_K for step in ways.stairs]
    assert temperatures == sorted(temperatures)
    assert ways.stairs[-1].end_m3 == pytest.approx(ways.sheet.charge_volume_m3)
    assert ways.stairs[0].end_m3 == ways.stairs[1].start_m3


def test_every_way_accounts_for_every_mole(ways: Ways) -> None:
    assert [way.key for way in ways.ways] == ["simple", "plates2", "plates5", "held"]
    assert not ways.failed
    for way in ways.ways:
        assert way.run.ledger.closure < 1e-4
        charged = way.run.ledger.charge_mol
        over = way.so_far[-1] / charged
        held = way.run.ledger.holdup_mol / charged
        lost = way.run.ledger.vent_mol / charged
        wanted = ways.goal.wanted
        assert over[wanted] + held[wanted] + lost[wanted] + way.pot_share == pytest.approx(1.0)
        assert sum(f.share for f in way.fractions) == pytest.approx(over[wanted])
        volume = way.run.trace.distillate_volume_m3[-1]
        assert sum(f.volume_m3 for f in way.fractions) == pytest.approx(volume)


def test_a_cut_is_as_pure_as_asked_or_there_is_none(ways: Ways) -> None:
    for way in ways.ways:
        if way.best_share > 0.0:
            assert way.best_purity >= ways.goal.purity - 1e-9
            assert way.best_start_m3 < way.best_end_m3
        else:
            assert np.isnan(way.best_purity)


def test_plates_make_the_first_receiver_purer(ways: Ways) -> None:
    simple, two, five = (way.fractions[0].purity for way in ways.ways[:3])
    assert simple < two < five


def test_each_repetition_is_purer_and_costs_something(ways: Ways) -> None:
    purity = [r.purity for r in ways.rounds]
    share = [r.share for r in ways.rounds]
    assert len(purity) >= 3
    assert purity == sorted(purity)
    assert share == sorted(share, reverse=True)
    kept = 1.0
    for one in ways.rounds:
        kept *= 1.0 - one.lost
        assert kept == pytest.approx(one.share)


def test_a_half_is_a_half_every_time_however_little_is_left() -> None:
    sheet = aimed_at_lightest(load(topics()["steam"].sheet))  # 100 mL in a flask of 500 mL
    found = ways_of(sheet, goal_of(sheet), columns=()).rounds
    assert [one.number for one in found] == [1, 2, 3, 4, 5]
    for one in found:
        assert 1e6 * one.volume_m3 == pytest.approx(100.0 / 2.0**one.number, rel=0.01)
        assert one.purity == pytest.approx(found[0].purity, abs=0.001)  # two layers, one vapour


def test_plates_at_total_reflux_end_where_the_column_does() -> None:
    mixture = mixture_of([find("cyclohexane"), find("toluene")])
    pot, nothing = np.array([0.4, 0.6]), np.full(2, np.nan)
    liquids, vapours, temperatures = plates_above(pot, nothing, 0.0, 4, 1e5, mixture.arrays)
    assert liquids.shape == vapours.shape == (5, 2)
    assert vapours[-1] == pytest.approx(top_of_column(mixture.arrays, 1e5, 4)(pot), abs=1e-9)
    assert (np.diff(temperatures) < 0.0).all()


def test_taking_off_makes_each_plate_poorer_and_keeps_the_balance() -> None:
    mixture = mixture_of([find("cyclohexane"), find("toluene")])
    pot, top, taken = np.array([0.4, 0.6]), np.array([0.9, 0.1]), 0.25
    still, _, _ = plates_above(pot, top, 0.0, 1, 1e5, mixture.arrays)
    liquids, vapours, _ = plates_above(pot, top, taken, 1, 1e5, mixture.arrays)
    assert liquids[1, 0] < still[1, 0]
    # vapour from the pot = liquid that returns + what is taken off
    assert vapours[0] == pytest.approx((1.0 - taken) * liquids[1] + taken * top)
