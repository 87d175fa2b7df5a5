"""Handout and key: empty where a student draws, computed where an instructor reads."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from forerun.app.lesson import lesson, write_folder
from forerun.core.errors import BadInput
from forerun.reporting.cautions import cautions_for_class
from forerun.reporting.class_axes import class_axes, lowest_temperature
from forerun.reporting.class_sheet import kit_words, questions_of, time_words, waste_words
from forerun.reporting.lesson import Lesson
from forerun.sheets.topics import topics


@pytest.fixture(scope="module")
def made() -> Lesson:
    return lesson("class-pair")


def test_the_axis_begins_5_K_below_what_boils_first(made: Lesson) -> None:
    pure = min(step.temperature_K for step in made.ways.stairs)
    assert lowest_temperature(made.ways) <= pure - 5.0
    assert lowest_temperature(made.ways) > pure - 10.0


def test_empty_axes_give_nothing_away(made: Lesson) -> None:
    empty, drawn = (class_axes(made.ways, drawn=d) for d in (False, True))
    assert "<path" not in empty
    assert drawn.count("<path") == len(made.ways.ways)
    assert "plates" not in empty


def test_answers_carry_the_figures_of_the_runs(made: Lesson) -> None:
    answers = " ".join(answer for _, answer in questions_of(made))
    questions = " ".join(question for question, _ in questions_of(made))
    for one in made.ways.rounds:
        assert f"{100.0 * one.purity:.1f}" in answers
    assert (
        f"{100.0 * max(f.purity for f in made.ways.ways[0].fractions):.1f}\u202fmol\u202f%"
        in answers
    )
    assert made.advice.rule.says in answers
    assert made.advice.rule.says not in questions


def test_times_are_held_against_the_class(made: Lesson) -> None:
    short, long = time_words(made, 60.0), time_words(made, 1e6)
    assert all("too long" in said for said in short[1:])
    assert all("fits" in said for said in long[1:])


def test_kit_and_waste_grow_with_the_benches(made: Lesson) -> None:
    assert "60 receivers" in kit_words(made, 12)[1]
    assert "360\u202fmL" in kit_words(made, 12)[2]
    assert "720\u202fmL" in waste_words(made, 12)[0]


def test_two_layers_are_said_to_be_parted_where_there_are_two() -> None:
    steam, pair = lesson("steam"), lesson("class-pair")
    (told,) = [answer for question, answer in questions_of(steam) if "two layers" in question]
    assert "the water below" in told
    assert "separating funnel" in told
    assert "common practice, no source" in told
    assert told in steam.why
    assert any("12 separating funnels" in line for line in kit_words(steam, 12))
    assert not any("layers" in question for question, _ in questions_of(pair))
    assert not any("funnel" in line for line in kit_words(pair, 12))


def test_what_is_impure_is_never_printed_as_100_nor_a_trace_as_0(made: Lesson) -> None:
    seen = set()
    for found in (lesson("far-apart"), made):
        for way, row in zip(found.ways.ways, found.cuts()[1], strict=True):
            known = [f.purity for f in way.fractions]
            told = [*zip(known, row[1:], strict=False), (way.pot_purity, row[-1])]
            for purity, cell in told:
                shown = cell.partition(" (")[0]
                assert shown not in {"100", "0"} or not np.isfinite(purity), cell
                seen.add(shown)
    assert {">99.99", "<0.01"} <= seen  # there were such cells


def test_a_class_is_told_of_fire_of_hazards_and_when_to_stop(made: Lesson) -> None:
    told = " ".join(cautions_for_class(made.ways.sheet, made.ways.ways[0].run))
    assert "The bath is hotter than the flash points (cyclohexane" in told
    assert "no flame or spark" in told
    acid = lesson("highest-boiling-mixture")
    assert any("Formic acid burns" in said for said in acid.warnings)


def test_no_ready_lesson_is_one_that_a_gate_stops() -> None:
    for name in topics():
        stops = [g.name for g in lesson(name).advice.gates if g.state == "stop"]
        assert stops == [], name


def test_the_folder_holds_all_four(made: Lesson, tmp_path: Path) -> None:
    write_folder(made, str(tmp_path), length="2 h")
    assert {path.name for path in tmp_path.iterdir()} == {
        "page.html", "handout.pdf", "key.pdf", "results.json",
    }  # fmt: skip
    for name in ("handout.pdf", "key.pdf"):
        assert (tmp_path / name).read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("words", [{"paper": "a5"}, {"length": "3 mL"}])
def test_what_is_no_paper_or_no_time_is_said(
    made: Lesson, tmp_path: Path, words: dict[str, str]
) -> None:
    with pytest.raises(BadInput):
        write_folder(made, str(tmp_path), **words)


def test_no_cell_of_the_ways_is_broken_inside_a_number(made: Lesson) -> None:
    _, rows = made.cuts()
    for row in rows:
        for cell in row[1:6]:
            assert all(len(line) < 14 for line in cell.split("\n")), cell
            assert " °C" not in cell  # narrow and unbreakable, or it stands alone in a line
