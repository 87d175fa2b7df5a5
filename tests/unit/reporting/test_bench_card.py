"""The bench card: the same steps as text, as a drawing and on one page of paper."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from forerun.app.advise import advise
from forerun.app.cli import cli
from forerun.app.sheet import sheet_from_words
from forerun.reporting.advise import Counsel


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
