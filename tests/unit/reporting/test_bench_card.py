"""The bench card: the same steps as text, as a drawing and on one page of paper."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from forerun.app.advise import advise
from forerun.app.cli import cli
from forerun.app.sheet import sheet_from_words
from forerun.reporting.advise import Counsel
from forerun.reporting.aim_met import aim_met_by_plan
from forerun.reporting.bench_card import card_lines
from forerun.sheets.resolving import load


@cache
def counsel(name: str) -> Counsel:
    return advise(sheet_from_words(name), members=4)


@pytest.mark.parametrize("name", ["class-pair", "reduced-pressure", "wet-ethyl-acetate"])
@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("us-letter", (612, 792))])
def test_on_paper_it_is_one_tagged_page(name: str, paper: str, size: tuple[int, int]) -> None:
    made = counsel(name).card_on_paper(paper)
    assert made.startswith(b"%PDF")
    assert b"/MarkInfo" in made
    assert len(re.findall(rb"/Type\s*/Page\b", made)) == 1
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", made)
    assert box is not None
    assert tuple(round(float(side)) for side in box.groups()) == size


def test_what_was_left_out_is_to_read_and_not_to_tick() -> None:
    found = counsel("class-pair")
    said = found.card()
    assert "\nNot reckoned with\n  - " in said
    aside = found.card(drawn=True).split(">Not reckoned with</text>")[1]
    assert "<text" in aside
    assert "<rect" not in aside


def test_a_bath_that_hardly_climbs_is_held() -> None:
    advice = counsel("class-pair").advice
    assert advice.setpoints is not None
    level = replace(advice.setpoints, bath_last_K=advice.setpoints.bath_first_K + 1.0)
    steps = dict(card_lines(replace(advice, setpoints=level), "so it is"))
    assert "then held there" in steps["Heat"][0]
    assert "then slowly to" in _step(counsel("class-pair"), "Heat")


def test_the_drawing_and_the_text_hold_the_same_steps() -> None:
    found = counsel("class-pair")
    for title in ("Verdict", "Charge", "Heat", "Receivers", "After"):
        assert f"\n{title}\n" in found.card()
        assert f">{title}</text>" in found.card(drawn=True)


def test_the_command_writes_what_the_name_ends_in(tmp_path: Path) -> None:
    name = tmp_path / "card.PDF"
    said = CliRunner().invoke(cli, ["advise", "class-pair", "--members", "4", "--card", str(name)])
    assert said.exit_code == 0, said.output
    assert name.read_bytes().startswith(b"%PDF")
    assert str(name) in said.output


def _step(found: Counsel, title: str) -> str:
    return " ".join(dict(card_lines(found.advice, found.finding))[title]).replace("\u202f", " ")


def test_it_says_whether_the_aim_is_met_and_whose_bath_it_is() -> None:
    verdict = _step(counsel("class-pair"), "Verdict")
    assert re.search(r"Aim 85\.0 mol % cyclohexane is reached: the heart cut holds 8\d", verdict)
    assert "in place of the sheet's own" in _step(counsel("class-pair"), "Heat")


def test_what_the_sheet_leaves_open_is_said_to_be_assumed() -> None:
    sheet = load(
        """
        [[charge]]
        substance = "hexane"
        amount = "50 mL"
        [[charge]]
        substance = "toluene"
        amount = "50 mL"
        """
    )
    found = advise(sheet, members=4)
    assert "(assumed: the sheet names no purity)" in _step(found, "Verdict")
    assert "(assumed: the sheet names no course)" in _step(found, "Heat")


def test_an_aim_that_the_plan_misses_is_said_to_be_missed() -> None:
    advice = counsel("class-pair").advice
    plan = advice.verdict.plan
    assert plan is not None
    assert plan.outcome is not None
    poor = replace(plan.outcome, recovery=0.1)
    for outcome, says in ((poor, "of what was charged where 60"), (None, "is not reached")):
        verdict = replace(advice.verdict, plan=replace(plan, outcome=outcome))
        met = aim_met_by_plan(replace(advice, verdict=verdict))
        assert met is not None
        assert not met.met
        assert says in met.says
