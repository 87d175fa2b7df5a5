"""Every topic shows what it claims: held against the engine, not against typed figures."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.planning.aims import goal_of
from forerun.planning.comparison import Ways, ways_of
from forerun.sheets.resolving import load
from forerun.sheets.topics import topics
from forerun.still.from_sheet import prepare
from forerun.still.run import run_still
from forerun.substances.catalogue import find


@cache
def _ways(name: str) -> Ways:
    sheet = load(topics()[name].sheet)
    return ways_of(sheet, goal_of(sheet), columns=(10,))


@pytest.mark.parametrize("name", list(topics()))
def test_every_way_of_it_runs(name: str) -> None:
    ways = _ways(name)
    assert not ways.failed
    assert all(way.run.trace.distillate_volume_m3[-1] > 0.0 for way in ways.ways)
    topic = topics()[name]
    assert topic.aim
    assert topic.misconception
    assert topic.sources


def test_far_apart_one_evaporation_gives_much_and_a_mixed_receiver_between() -> None:
    simple = _ways("far-apart").ways[0]
    assert max(simple.best_share, simple.pot_share if simple.pot_purity > 0.95 else 0.0) > 0.3
    assert any(0.1 < f.purity < 0.9 for f in simple.fractions)


def test_close_together_only_plates_do_it() -> None:
    simple, column = _ways("close-together").ways[:2]
    assert simple.best_share == 0.0
    assert column.best_share > 0.5


def test_no_plates_pass_the_lowest_boiling_mixture() -> None:
    ways = _ways("lowest-boiling-mixture")
    (azeotrope,) = find_azeotropes(ways.mixture, ways.pressure_Pa).azeotropes
    assert azeotrope.kind == "minimum"
    limit = float(azeotrope.mole_fraction[ways.goal.wanted])
    assert limit < ways.goal.purity
    for way in ways.ways:
        share = way.run.trace.distillate_mole_fraction[:, ways.goal.wanted]
        assert np.nanmax(share) < limit + 0.003
        assert way.best_share == 0.0


def test_the_highest_boiling_mixture_stays_in_the_flask() -> None:
    ways = _ways("highest-boiling-mixture")
    (azeotrope,) = find_azeotropes(ways.mixture, ways.pressure_Pa).azeotropes
    assert azeotrope.kind == "maximum"
    column = ways.ways[1]
    assert column.fractions[0].purity > 0.95
    assert column.run.trace.pot_mole_fraction[-1, 0] == pytest.approx(
        float(azeotrope.mole_fraction[0]), abs=0.1
    )


def test_pressure_lowers_boiling_and_changes_how_they_part() -> None:
    ways = _ways("reduced-pressure")
    lowest = min(step.temperature_K for step in ways.stairs)
    assert lowest < find("benzaldehyde").boiling_point.value - 80.0


def test_on_a_mountain_pure_liquids_boil_lower() -> None:
    ways = _ways("altitude")
    for step in ways.stairs:
        assert 3.0 < find(step.name).boiling_point.value - step.temperature_K < 12.0


def test_in_a_small_charge_the_hold_up_is_missed() -> None:
    simple, column = _ways("small-charge").ways[:2]
    held = column.run.ledger.holdup_mol.sum() / column.run.ledger.charge_mol.sum()
    assert held > 0.1
    assert simple.run.ledger.holdup_mol.sum() < 0.1 * column.run.ledger.holdup_mol.sum()


def test_the_middle_liquid_is_mixed_at_both_ends() -> None:
    ways = _ways("three-liquids")
    simple, column = ways.ways[:2]
    assert simple.best_share == 0.0
    assert max(f.purity for f in simple.fractions) < ways.goal.purity
    middle = [f.purity for f in column.fractions]
    best = int(np.argmax(middle))
    assert 0 < best < len(middle) - 1
    assert middle[best - 1] < ways.goal.purity
    assert middle[best + 1] < middle[best]


def _plateau(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Return head and first component over, while two layers boil in the simple still."""
    trace = _ways(name).ways[0].run.trace
    use = (trace.distillate_volume_m3 > 5e-6) & (trace.distillate_volume_m3 < 55e-6)
    return trace.head_temperature_K[use], trace.distillate_mole_fraction[use, 0]


@pytest.mark.parametrize("name", ["steam", "two-liquids"])
def test_two_layers_boil_together_below_either_liquid(name: str) -> None:
    head, share = _plateau(name)
    lowest = min(step.temperature_K for step in _ways(name).stairs)
    assert head.max() < lowest - 1.0
    # from 15 mL on neither temperature nor composition moves, though the amounts in the pot do
    assert np.ptp(head[head > head.max() - 1.0]) < 1.0
    assert np.ptp(share[len(share) // 3 :]) < 0.01


def test_steam_carries_the_oil_far_below_its_own_boiling_point() -> None:
    head, share = _plateau("steam")
    assert head.max() < find("limonene").boiling_point.value - 70.0
    assert 0.0 < float(np.median(share)) < 0.2  # of the molecules; far more water than oil


def test_no_plates_part_what_parts_by_itself_on_standing() -> None:
    for way in _ways("two-liquids").ways:
        assert way.best_share == 0.0


def test_a_bulb_too_high_reads_low_and_changes_nothing_else() -> None:
    sheet = load(topics()["thermometer-placement"].sheet)
    assert sheet.special.bulb_high
    level = replace(sheet, special=replace(sheet.special, bulb_high=False))
    high, right = (run_still(prepare(s).still).trace for s in (sheet, level))
    over = right.distillate_volume_m3 > 10e-6
    reading = np.interp(right.time_s[over], high.time_s, high.head_temperature_K)
    assert (right.head_temperature_K[over] - reading).mean() > 1.0
    amount = np.interp(right.time_s, high.time_s, high.distillate_volume_m3)
    assert np.abs(amount - right.distillate_volume_m3).max() < 0.3e-6
