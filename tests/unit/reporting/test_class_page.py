"""The class page is one closed file, and its sentences say what the runs say."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace

import pytest

from forerun.app.cli_lesson import lesson as lesson_command
from forerun.app.lesson import lesson, write_folder
from forerun.core.errors import BadInput
from forerun.planning.aims import aimed_at_lightest
from forerun.reporting import class_words
from forerun.reporting.class_data import class_data
from forerun.reporting.class_words import verdict_words, why_words
from forerun.reporting.lesson import Lesson
from forerun.sheets.resolving import load
from forerun.sheets.topics import topics


@pytest.fixture(scope="module")
def made() -> Lesson:
    return lesson("class-pair")


@pytest.fixture(scope="module")
def page(made: Lesson) -> str:
    return made.page()


def test_nothing_runs_or_loads_but_what_is_in_the_file(page: str) -> None:
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]+)"', page)
    assert policy is not None
    assert policy[1].startswith("default-src 'none'")
    assert "unsafe" not in policy[1]
    for tag in ("script", "style"):
        (inside,) = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.S)
        digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy[1]
    assert not re.search(r'\b(src|href|action|style|onclick)="', page)
    assert "fetch(" not in page
    assert "XMLHttpRequest" not in page


def test_words_of_the_sheet_stay_words() -> None:
    evil = '</script><img src=x onerror="alert(1)">@DATA@'
    made = lesson(
        {
            "title": evil,
            "charge": [
                {"substance": "pentane", "amount": "20 mL"},
                {"substance": "octane", "amount": "20 mL"},
            ],
        }
    )
    page = made.page()
    assert "<img" not in page
    assert page.count("</script>") == 2


def test_the_data_hold_every_way_with_the_same_number_of_moments(page: str, made: Lesson) -> None:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.S)
    assert found is not None
    data = json.loads(found[1])
    assert [w["label"] for w in data["ways"]] == [w.label for w in made.ways.ways]
    for way in data["ways"]:
        lengths = {len(v) for v in way.values() if isinstance(v, list)}
        assert len(lengths) == 1
        assert any(s is not None and len(s) == way["plates"] + 1 for s in way["stages"])


def test_the_drawn_pot_and_plates_are_those_of_the_run(page: str, made: Lesson) -> None:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.S)
    assert found is not None
    data = json.loads(found[1])
    for drawn, way in zip(data["ways"], made.ways.ways, strict=True):
        left, holds = 1e6 * way.run.residue.volume_m3, sum(drawn["held"][-1])
        assert drawn["left"][-1] == pytest.approx(left, abs=0.05)
        assert drawn["left"][0] + sum(drawn["held"][0]) == pytest.approx(data["charge"], rel=1e-3)
        if way.plates:
            known = way.run.ledger.holdup_mol.sum() * 1e6 * way.run.residue.volume_m3
            assert holds == pytest.approx(known / way.run.residue.amount_mol, rel=0.2)


def test_figures_in_sentences_are_those_of_the_runs(made: Lesson) -> None:
    ways = made.ways
    best = max(ways.ways, key=lambda way: (round(way.best_share, 2), -way.plates))
    assert best.label in made.finding
    assert f"{100.0 * best.best_share:.0f}" in made.finding
    end = ways.rounds[-1]
    assert any(f"{100.0 * end.purity:.1f}" in said for said in made.why)
    assert made.advice.rule.says in made.page().replace("&#x27;", "'")


def test_the_object_holds_what_the_page_shows(made: Lesson) -> None:
    told = made.to_json()
    assert told["finding"] == made.finding
    assert len(told["ways"]) == len(made.ways.ways)
    assert told["repeated"]["rounds"][0]["recovery"] == made.ways.rounds[0].share
    json.dumps(told, allow_nan=False)


def test_an_azeotrope_is_named_as_what_no_column_passes() -> None:
    made = lesson(
        {
            "charge": [
                {"substance": "ethanol", "amount": "40 mL"},
                {"substance": "water", "amount": "40 mL"},
            ]
        }
    )
    (said,) = [s for s in made.why if "no number of plates" in s]
    azeotrope = made.advice.analysis.azeotropes[0]
    assert f"{100.0 * float(azeotrope.mole_fraction[0]):.1f}" in said


def test_a_ready_topic_says_its_aim_and_what_it_corrects() -> None:
    made = lesson("altitude")
    page = made.page()
    assert made.topic is not None
    assert made.topic.aim in page
    assert made.topic.misconception in page.replace("&#x27;", "'")


def test_the_command_names_every_topic() -> None:
    told = " ".join((lesson_command.help or "").split())
    assert all(name in told for name in topics())


def test_two_layers_are_not_drawn_as_one_liquid() -> None:
    made = lesson(
        {
            "charge": [
                {"substance": "toluene", "amount": "40 mL"},
                {"substance": "water", "amount": "40 mL"},
            ]
        }
    )
    assert made.ways.layered
    data = class_data(made.ways, made.finding)
    assert data["diagram"] is None
    assert all("rise" not in way for way in data["ways"])
    assert all((way["held"] is None) == (way["plates"] > 0) for way in data["ways"])
    assert any("layers" in said for said in made.why)


def test_one_substance_cannot_be_parted() -> None:
    with pytest.raises(BadInput, match="at least two"):
        lesson({"charge": [{"substance": "toluene", "amount": "40 mL"}]})


def test_a_folder_that_cannot_be_made_is_said(made: Lesson, tmp_path: object) -> None:
    blocked = f"{tmp_path}/file"
    with open(blocked, "w", encoding="utf-8") as file:
        file.write("here already")
    with pytest.raises(BadInput, match="a folder that can be written"):
        write_folder(made, blocked)


def test_without_an_aim_the_lightest_is_wanted_and_nothing_is_said_twice() -> None:
    made = lesson(
        {
            "charge": [
                {"substance": "acetone", "amount": "20 mL"},
                {"substance": "water", "amount": "60 mL"},
            ]
        }
    )
    assert made.ways.goal.name == "acetone"
    assert "acetone" in made.finding
    assert "water from the head" not in made.finding
    page = made.page()
    assert "aim.substance = acetone (it boils lowest)" in page
    calculated = verdict_words(made.advice)
    assert calculated in page.replace("&#x27;", "'").replace("&gt;", ">")
    assert calculated.lower().count("simple still") <= 1
    assert made.asked["sheet"].count("[aim]") == 0


def test_an_aim_that_is_named_is_kept() -> None:
    sheet = load(
        'aim = { substance = "water" }\n[[charge]]\nsubstance = "acetone"\namount = "20 mL"\n'
        '[[charge]]\nsubstance = "water"\namount = "60 mL"\n'
    )
    assert aimed_at_lightest(sheet) is sheet


def test_a_verdict_names_the_still_once() -> None:
    advice = lesson("far-apart").advice
    assert advice.verdict.plan is not None
    said = {"simple": f"{advice.verdict.plan.label}: 83 % of it.", "fractional": "column: 83 %."}
    told = [
        verdict_words(
            replace(advice, verdict=replace(advice.verdict, method=method, reasons=(first,)))
        )
        for method, first in said.items()
    ]
    assert told == ["A simple still does it: 83 % of it.", "Take a column. Column: 83 %."]


@pytest.mark.parametrize(("climb", "shown"), [(-0.04, "0.0 K"), (-0.26, "-0.3 K"), (2.0, "2.0 K")])
def test_no_climb_is_a_negative_nothing(
    climb: float, shown: str, made: Lesson, monkeypatch: pytest.MonkeyPatch
) -> None:
    climbs = iter((climb, 5.0))
    monkeypatch.setattr(class_words, "_head_climb", lambda _way, _half: next(climbs))
    assert any(f"climbs {shown} in a simple" in said for said in why_words(made.ways))
