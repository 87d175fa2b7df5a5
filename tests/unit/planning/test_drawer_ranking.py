"""Which way of putting a drawer together comes first, and how many runs a search may cost."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

import pytest

import forerun
from forerun.forecast import ensemble
from forerun.glassware.inventory import all_kits, combinations_of
from forerun.planning import candidates
from forerun.planning.aims import goal_of
from forerun.planning.candidates import Candidate, Outcome, planned
from forerun.planning.drawer_ranking import promise, unsure, worth_an_ensemble
from forerun.planning.policies import Policy
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.sheets.variants import variant

TODAY = date(2026, 11, 25)
BARE: dict[str, Any] = {
    "charge": [
        {"substance": "cyclohexane", "amount": "50 mL"},
        {"substance": "toluene", "amount": "50 mL"},
    ],
    "aim": {"substance": "cyclohexane", "purity": "90 mol%", "recovery": "60 %"},
}


@cache
def bare_plan(plates: float) -> Candidate:
    sheet = variant(load(BARE), rig={"column": "none", "plates": plates, "holdup": "1 mL"})
    return planned(sheet, "fractional", pressure=101325.0, reflux=3.0)


def ranked(
    probability: float, minutes: float, plates: float = 3.0, purity: float = 0.92
) -> Candidate:
    """A plan of which only what it is ranked by is known."""
    outcome = Outcome(
        Policy("distillate"), purity, 0.7, 60.0 * minutes, 3e-5, probability, 16,
        (purity, purity), (0.7, 0.7), probability,
    )  # fmt: skip
    return replace(bare_plan(plates), outcome=outcome, best_purity=purity)


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        (ranked(0.95, 200.0), ranked(0.70, 60.0)),  # the likelier, though slower
        (ranked(0.93, 60.0), ranked(0.95, 120.0)),  # as likely within 5 %: the quicker
        (ranked(0.95, 61.0, 2.0), ranked(0.95, 58.0, 8.0)),  # as quick: the simpler
        (ranked(0.10, 300.0, purity=0.89), ranked(0.10, 20.0, purity=0.60)),  # no quick failure
        (ranked(0.60, 300.0), unsure(ranked(1.0, 20.0))),  # run often before run once
    ],
)
def test_what_comes_first(better: Candidate, worse: Candidate) -> None:
    assert promise(better) > promise(worse)


def test_the_purest_is_run_many_times_though_it_is_slow_and_has_most_plates() -> None:
    quick, simple = ranked(1.0, 30.0, 5.0), ranked(1.0, 90.0, 1.0)
    purest, other = ranked(1.0, 300.0, 12.0, 0.999), ranked(1.0, 40.0, 4.0)
    missing = ranked(0.0, 10.0, 0.0)
    order = worth_an_ensemble([missing, other, purest, simple, quick], 3)
    assert [id(p) for p in order[:3]] == [id(p) for p in (quick, simple, purest)]
    assert {id(p) for p in order} == {id(p) for p in (quick, simple, purest, other, missing)}


def test_a_full_drawer_is_answered_in_few_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ways grow as a product, runs must not: what takes time is a run of the still."""
    counted: list[int] = []

    def counting(inputs: Any, **more: Any) -> Any:
        counted.append(len(inputs))
        return ensemble.run_ensemble(inputs, **more)

    monkeypatch.setattr(candidates, "run_ensemble", counting)
    found = forerun.advise(BARE, members=8, today=TODAY).advice.verdict
    assert found.drawer is not None
    assert found.drawer.combinations == len(list(combinations_of(all_kits()))) > 2000
    assert found.drawer.feasible >= 200
    assert sum(counted) <= 100


@pytest.mark.parametrize(
    ("charge", "wanted"),
    [
        ([("acetone", "50 mL"), ("water", "50 mL")], "acetone"),  # most moles are water's
        ([("toluene", "20 mL"), ("water", "200 mL")], "toluene"),
        ([("methanol", "40 mL"), ("toluene", "60 mL")], "toluene"),  # most moles are methanol's
        ([("hexane", "50 mL"), ("heptane", "50 mL")], "hexane"),  # as much: the lighter
        ([("water", "50 mL")], "water"),
    ],
)
def test_what_is_taken_for_wanted_where_nothing_is_said(
    charge: list[tuple[str, str]], wanted: str
) -> None:
    sheet: RunSheet = load({"charge": [{"substance": s, "amount": a} for s, a in charge]})
    goal = goal_of(sheet)
    assert goal.name == wanted
    assert goal.assumed[0].startswith(f"aim.substance = {wanted} (most by volume")
