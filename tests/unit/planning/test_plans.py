"""Plans that were run: cuts that add up, set-points, the card, a sheet that can be used again."""

from __future__ import annotations

import json
import math
import xml.etree.ElementTree as ET
from datetime import date
from functools import cache
from typing import Any

import numpy as np
import pytest

import forerun
from forerun.core.errors import BadInput
from forerun.glassware.inventory import read_inventory
from forerun.planning.aims import chance_of, goal_of
from forerun.planning.candidates import even_points, planned, run_once, written_sheet
from forerun.planning.drawer_ranking import front_of
from forerun.planning.policies import HOUR_WORTH, Policy, policies_of, product_of, ran_of
from forerun.planning.routes import dose_for
from forerun.planning.setpoints import bath_course
from forerun.reporting.advise import Counsel
from forerun.reporting.paper import Paper
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.sheets.variants import rig_is_given, variant
from forerun.sheets.writing import course_words, table_of, toml_of

TODAY = date(2026, 11, 25)
SHEET: dict[str, Any] = {
    "title": "two for a test",
    "charge": [
        {"substance": "cyclohexane", "amount": "50 mL"},
        {"substance": "toluene", "amount": "50 mL"},
    ],
    "rig": {"column": "glass beads 30 cm", "coolant": "15 °C", "flask": "250 mL"},
    "programme": {"reflux_ratio": 3},
    "aim": {"substance": "cyclohexane", "purity": "90 mol%", "recovery": "60 %"},
}


@cache
def sheet() -> RunSheet:
    return load(SHEET)


@cache
def counsel() -> Counsel:
    return forerun.advise(SHEET, today=TODAY)


def test_cuts_hold_all_that_came_over() -> None:
    plan, cuts = counsel().advice.verdict.plan, counsel().advice.cuts
    assert plan is not None
    assert plan.run is not None
    assert cuts is not None
    over = [cut for cut in cuts.cuts if cut.name != "pot"]
    end = ran_of(plan.run).end
    assert sum(c.volume_m3 for c in over) == pytest.approx(
        float(plan.run.trace.distillate_volume_m3[end]), rel=1e-6
    )
    pot, ledger = cuts.cuts[-1], plan.run.ledger
    assert pot.name == "pot"
    held = (ledger.holdup_mol[0] + ledger.vent_mol[0]) / ledger.charge_mol[0]
    assert sum(c.recovery for c in cuts.cuts) + held == pytest.approx(1.0, abs=1e-6)
    (heart,) = [c for c in cuts.cuts if c.name == "heart"]
    assert heart.action == "keep"
    assert heart.probability == counsel().advice.verdict.probability
    assert heart.purity >= 0.90
    assert heart.drops == pytest.approx(45e6 * heart.volume_m3, rel=0.01)


def test_a_switch_by_the_head_follows_the_barometer() -> None:
    """0.037 to 0.05 K for a millimetre of mercury near the atmosphere."""
    cuts = counsel().advice.cuts
    assert cuts is not None
    assert 0.035 < cuts.head_slope_K_Pa * 133.322 < 0.055


def test_one_column_beats_distilling_again_and_again() -> None:
    cuts, plan = counsel().advice.cuts, counsel().advice.verdict.plan
    assert cuts is not None
    assert plan is not None
    assert plan.outcome is not None
    assert cuts.repeated is not None
    assert cuts.repeated.passes >= 2
    charged = sheet().charge[0].mass_kg
    assert cuts.repeated.mass_kg < plan.outcome.recovery * charged


def test_set_points_are_those_of_the_run() -> None:
    points, plan = counsel().advice.setpoints, counsel().advice.verdict.plan
    assert points is not None
    assert plan is not None
    assert plan.run is not None
    assert points.first_drop_s == plan.run.first_drop_s
    assert points.bath_first_K < points.bath_last_K <= plan.sheet.rig.bath_limit_K
    assert points.boilup_m3_s / points.takeoff_m3_s > 4.0  # reflux 3, and what the glass loses
    assert points.lagging == "column and head lagged: the forecast counts on it"
    assert points.drops_per_min == pytest.approx(60.0 * 45e6 * points.takeoff_m3_s, rel=1e-6)


def test_what_loses_much_is_lagged_in_the_plan_unless_the_sheet_says_how_it_stands() -> None:
    loss, bare = (
        planned(load({**SHEET, "rig": {**SHEET["rig"], **more}}), "fractional",
                pressure=101325.0, reflux=3.0).sheet.rig.heat_loss_W_K.value
        for more in ({}, {"lagging": "bare"})
    )  # fmt: skip
    assert loss < 0.6 * bare
    assert not any("lagging" in said for said in counsel().advice.assumed)
    assert any("lagged glass" in said for said in counsel().advice.assumed)


def test_the_card_is_in_the_order_of_work() -> None:
    text = counsel().card()
    order = ["Verdict", "Before anything else", "Charge", "Set up", "Heat", "Receivers",
             "Switching", "After"]  # fmt: skip
    places = [text.index(f"\n{title}\n") for title in order]
    assert places == sorted(places)
    assert max(map(len, text.splitlines())) <= 92
    page = ET.fromstring(counsel().card(drawn=True))
    words = " ".join(t.text or "" for t in page.iter("{http://www.w3.org/2000/svg}text"))
    assert "never dry" in words


def test_glass_out_of_a_drawer_is_named_down_to_the_pump() -> None:
    """At 20 mmHg a house vacuum does not do, and of the pumps that do the weakest is taken."""
    drawer = {
        "title": "a drawer",
        "flask": [{"volume": "250 mL", "joint": "29/32"}],
        "column": [{"item": "Vigreux 30 cm", "joint": "29/32"}],
        "head": [{"joint": "29/32", "reflux": True}],
        "condenser": [{"item": "straight jacket 15 cm", "joint": "29/32"}],
        "bath": [{"item": "silicone oil"}],
        "pump": [{"item": "house vacuum"}, {"item": "rotary vane"}, {"item": "diaphragm"}],
    }
    reduced = forerun.advise("reduced-pressure", drawer=drawer, today=TODAY)
    paper = "\n".join(reduced.printed(Paper(width=400)))
    assert "bath of silicone oil; pump: diaphragm" in paper
    assert "flask 250 mL" in paper


def test_a_stopped_card_says_stop_and_no_more() -> None:
    stopped = forerun.advise({**SHEET, "safety": {"vent": "closed"}}, today=TODAY)
    card = stopped.card()
    assert "STOP" in card
    assert "\nHeat\n" not in card


def test_the_strip_is_drawn() -> None:
    page = ET.fromstring(counsel().drawing())
    words = " ".join(t.text or "" for t in page.iter("{http://www.w3.org/2000/svg}text"))
    assert "Cyclohexane" in words
    assert "the sheet" in words


def test_the_plan_is_a_sheet_that_can_be_used_again() -> None:
    found = json.loads(json.dumps(counsel().to_json(), allow_nan=False))
    again = load(found["sheet"])
    plan = counsel().advice.verdict.plan
    assert plan is not None
    assert plan.outcome is not None
    assert again.rig == written_sheet(plan).rig
    run = forerun.foresee(found["sheet"], today=TODAY).run
    product = run.cuts[0 if plan.outcome.policy.start is None else 1]
    assert float(product.mole_fraction[0]) == pytest.approx(plan.outcome.purity, abs=0.01)


def test_a_sheet_goes_back_into_words() -> None:
    for name in ("class-pair", "workshop-blend", "reduced-pressure", "total-reflux-start"):
        first = load(name)
        for again in (load(table_of(first)), load(toml_of(first))):
            assert again.rig == first.rig
            points = np.array(again.programme.bath_K.points)
            assert points == pytest.approx(np.array(first.programme.bath_K.points))
            assert again.switches == first.switches
            assert again.aim == first.aim


def test_variants() -> None:
    other = variant(sheet(), rig={"column": "none"}, programme={"pressure": "500 mbar"})
    assert other.rig.plates.value == 0.0
    assert other.programme.pressure_Pa.points[0][1] == pytest.approx(5e4)
    assert sheet().rig.plates.value > 4.0
    assert rig_is_given(sheet())
    bare = load({"charge": SHEET["charge"]})
    assert not rig_is_given(bare)
    by_hand = RunSheet("x", bare.charge, bare.rig, bare.programme)
    with pytest.raises(BadInput):
        variant(by_hand, rig={"column": "none"})


def test_the_bath_of_a_plan_stays_below_every_limit() -> None:
    hot = variant(sheet(), rig={"bath": "water"})
    course = course_words(bath_course(hot, 101325.0, 3.0))
    assert all(value.endswith(" °C") for _, value in course)
    assert max(float(value.split()[0]) for _, value in course) <= hot.rig.bath_limit_K - 273.15


def test_a_policy_collects_what_a_hand_would() -> None:
    plan = run_once(planned(sheet(), "simple", pressure=101325.0, reflux=0.0,
                            rig={"column": "none", "plates": None}), goal_of(sheet()))  # fmt: skip
    assert plan.run is not None
    ran = ran_of(plan.run)
    all_of_it = product_of(ran, Policy("distillate"), 0, np.ones(2))
    amounts = ran.so_far[ran.end]
    assert all_of_it[0] == pytest.approx(float(amounts[0] / amounts.sum()))
    assert all_of_it[2] == plan.run.trace.time_s[ran.end]
    nothing = product_of(ran, Policy("distillate", "volume", 1.0, 2.0), 0, np.ones(2))
    assert math.isnan(nothing[0])
    assert nothing[1] == 0.0
    assert policies_of(ran, sheet(), goal_of(sheet()))


def test_nobody_waits_for_the_last_drops() -> None:
    """The bath is hardly hotter than what is left: the tail of the run is not worth its time."""
    wet = load({
        "charge": [
            {"substance": "acetone", "amount": "75 mL"},
            {"substance": "water", "amount": "45 mL"},
        ],
        "rig": {"column": "Vigreux 30 cm", "bath": "water"},
        "aim": {"substance": "acetone", "purity": "90 mol%", "recovery": "50 %"},
    })  # fmt: skip
    plan = run_once(planned(wet, "fractional", pressure=101325.0, reflux=3.0), goal_of(wet))
    assert plan.run is not None
    ran = ran_of(plan.run)
    volume, time = plan.run.trace.distillate_volume_m3, plan.run.trace.time_s
    assert ran.end < time.size - 1
    assert time[-1] - time[ran.end] > 600.0
    after = (volume[-1] - volume[ran.end]) / (time[-1] - time[ran.end])
    assert 45e6 * after * 30.0 < 1.0  # drops in half a minute
    assert plan.outcome is not None
    assert plan.outcome.time_s <= time[ran.end]
    own = ran.so_far[:, 0] / plan.run.ledger.charge_mol[0]
    hour = np.searchsorted(time, plan.outcome.time_s + 3600.0)
    done = np.searchsorted(time, plan.outcome.time_s)
    assert own[min(hour, time.size - 1)] - own[done] < HOUR_WORTH + 0.01
    for policy in policies_of(ran, wet, goal_of(wet)):
        if policy.kind == "volume" and policy.stop is not None:  # worth another receiver
            assert volume[ran.end] - policy.stop > 0.01 * wet.charge_volume_m3


def test_points_are_even() -> None:
    points = even_points(3, 16, 1)
    assert points.shape == (16, 3)
    assert (np.sort(points, axis=0)[:8] <= 0.0).all()
    assert (even_points(3, 16, 1) == points).all()


def test_a_few_runs_are_never_certain() -> None:
    assert 0.0 < chance_of(0, 6) < 0.1
    assert 0.9 < chance_of(16, 16) < 1.0
    assert chance_of(5, 10) == 0.5


@pytest.mark.parametrize(
    ("blend", "wanted", "add", "volume"),
    [(0.72, 0.80, "hexane", 0.4), (0.72, 0.60, "ethyl acetate", 0.2), (0.5, 0.5, "hexane", 0.0)],
)
def test_dosing(blend: float, wanted: float, add: str, volume: float) -> None:
    """72 parts in 100, 40 more: 112 in 140 are 80 %.  72 in 120 are 60 %."""
    dose = dose_for(("hexane", "ethyl acetate"), blend, wanted)
    assert dose.add == add
    assert dose.volume_per_volume == pytest.approx(volume)


def test_a_drawer_is_searched() -> None:
    drawer = {
        "title": "Mine",
        "flask": [{"volume": "100 mL"}, {"volume": "250 mL"}],
        "column": [{"item": "Vigreux 20 cm"}, {"item": "glass beads 30 cm", "plates": 5}],
        "head": [{"reflux": True}],
        "condenser": [{"item": "straight jacket 30 cm"}],
        "bath": [{"item": "silicone oil"}, {"item": "water"}],
    }
    found = forerun.advise(SHEET, drawer=drawer, today=TODAY).advice.verdict
    search = found.drawer
    assert search is not None
    assert search.combinations == 2 * 3 * 2
    assert 0 < search.feasible < search.combinations
    assert search.refused["flask too small"] > 0
    assert found.method == "fractional"
    assert found.plan is not None
    assert found.plan.sheet.rig.column.startswith("glass beads")
    assert found.plan.sheet.rig.plates.value == 5
    labels = [plan.label for plan in search.plans]
    assert search.front
    assert all(plan.label in labels for plan in search.front)
    assert [p.label for p in front_of(search.plans)] == [p.label for p in search.front]
    assert read_inventory(drawer).title == search.title


def test_what_the_plan_leaves_out_is_printed() -> None:
    lines = counsel().printed(Paper(width=400))
    begun = lines.index("Not reckoned with")
    plan = counsel().advice.verdict.plan
    assert plan is not None
    assert plan.run is not None
    said = [line.removeprefix("  - ") for line in lines[begun + 1 :]]
    assert said[: len(plan.run.unmodelled)] == list(plan.run.unmodelled)
    assert len(plan.run.unmodelled) >= 4


def test_what_is_printed_fits_the_paper() -> None:
    lines = counsel().printed(Paper(width=100))
    assert max(map(len, lines)) <= 100
    assert lines[0].startswith("Take a column")


@cache
def hurried() -> Counsel:
    aim = {**SHEET["aim"], "time": "20 min"}
    return forerun.advise({**SHEET, "aim": aim}, today=TODAY)


def test_too_little_time_is_called_that_and_not_a_want_of_plates() -> None:
    verdict, patient = hurried().advice.verdict, counsel().advice.verdict
    assert patient.needs_s is None
    assert verdict.method == patient.method == "fractional"
    assert verdict.probability < 0.5 < patient.probability
    assert verdict.plan is not None
    assert verdict.plan.outcome is not None
    assert verdict.needs_s == verdict.plan.outcome.time_s
    assert verdict.plan.outcome.unhurried > 0.5
    assert verdict.needs_s > 20.0 * 60.0
    assert "is too little for it" in verdict.reasons[0]
    assert "plates at the least" not in verdict.reasons[0]
    assert "but in" in hurried().finding
    assert "; in 20" in hurried().finding


def test_without_a_limit_the_time_is_no_part_of_the_chance() -> None:
    plans = counsel().advice.verdict.plans
    ran = [plan.outcome for plan in plans if plan.outcome is not None]
    assert ran
    assert all(outcome.unhurried == outcome.probability for outcome in ran)
    for plan in hurried().advice.verdict.plans:
        assert plan.outcome is None or plan.outcome.unhurried >= plan.outcome.probability


def test_a_card_does_not_boil_away_a_product_that_stays_in_the_pot() -> None:
    found = forerun.advise("workshop-blend", today=TODAY)
    plan = found.advice.verdict.plan
    assert plan is not None
    assert plan.outcome is not None
    assert plan.outcome.policy.product == "residue"
    assert "in the pot are the product" in found.card()
    assert "Stop with" not in found.card()
    assert "Stop with" in counsel().card()
    assert "never dry" in found.card()
