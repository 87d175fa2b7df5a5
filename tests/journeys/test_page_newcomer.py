"""What a newcomer stumbled over: each thing that was mended stays so."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from journeys.browser import Look, opened
from journeys.served import Server

NO_FIELD = """
[[charge]]
substance = "acetone"
amount = "60 mL"
[[charge]]
substance = "water"
amount = "60 mL"
[involatile]
mass = "2 g"
[rig]
flask = "250 mL"
column = "Vigreux 20 cm"
leak = "0.5 mbar L/s"
emergent_stem = "60 K"
[programme]
reflux_ratio = 2
settle = "10 min"
stop = { residue = "40 mL", time = "2 h" }
"""


@pytest.fixture
def desk(browser: Any, server: Server) -> Iterator[Look]:
    with opened(browser, server) as look:
        yield look
        assert look.said == []


def _press(look: Look, name: str) -> None:
    look.page.get_by_role("button", name=name, exact=True).first.click()


def test_a_half_written_component_is_asked_for_in_words(desk: Look) -> None:
    _press(desk, "Clear")
    desk.wait()
    desk.page.get_by_label("Substance").first.fill("ethyl acetate")
    desk.page.get_by_text("Amount of ethyl acetate?").wait_for()
    assert "charge[1]" not in desk.page.locator(".pinned-top").inner_text()
    assert desk.page.locator(".fault").count() == 0


def test_the_aim_is_judged_in_its_own_unit_and_a_bare_share_is_weight(desk: Look) -> None:
    desk.page.get_by_label("Wanted").select_option("acetone")
    purity = desk.page.get_by_label("Purity", exact=True)
    purity.fill("99.9 %")
    assert purity.input_value() == "99.9 wt%"
    purity.blur()
    card = desk.page.locator(".card")
    card.get_by_text("Aim 99.9").wait_for(timeout=30_000)
    told = "".join(card.inner_text().split())
    assert "Aim99.9wt%acetoneisnotreached" in told
    assert "mol%" in told


def _charge(look: Look, **amounts: str) -> None:
    """Write a charge into an empty sheet; an underscore stands for a space."""
    for n, (name, amount) in enumerate(amounts.items()):
        if n:
            _press(look, "Add a component")
        row = look.page.get_by_role("group", name=f"Component {n + 1}")
        row.get_by_label("Substance").fill(name.replace("_", " "))
        row.get_by_label("Amount", exact=True).fill(amount)
    look.page.keyboard.press("Tab")
    look.wait()


def test_what_is_assumed_stands_in_the_field_and_the_bath_on_the_card(desk: Look) -> None:
    _press(desk, "Clear")
    _charge(desk, hexane="50 mL", toluene="50 mL")
    residue = desk.page.get_by_label("at a residue of", exact=True)
    assert "mL" in (residue.get_attribute("placeholder") or "")
    card = desk.page.locator(".card").inner_text()
    assert "Bath: " in card
    assert "(assumed" in card


def test_a_safety_check_leads_to_its_field(desk: Look) -> None:
    link = desk.page.get_by_role("button", name="Settle it with").first
    link.wait_for(timeout=30_000)
    link.click()
    field = desk.page.evaluate("document.activeElement.dataset.field")
    assert field.startswith(("safety.", "rig."))


def test_a_pin_shows_that_it_is_pinned(desk: Look) -> None:
    _press(desk, "Pin this forecast")
    desk.page.get_by_text("Pinned as 1").wait_for()
    assert desk.page.locator(".pins li").count() == 1


def test_what_has_no_field_on_the_page_goes_through_it(desk: Look, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(NO_FIELD, encoding="utf-8")
    desk.page.locator(".top input[type=file]").set_input_files(sheet)
    desk.page.get_by_label("Plates", exact=True).fill("4")
    desk.wait()
    _press(desk, "Save, open, share")
    with desk.page.expect_download() as waiting:
        _press(desk, "Save as a file")
    kept = tmp_path / "kept.toml"
    waiting.value.save_as(kept)
    found, given = tomllib.loads(kept.read_text("utf-8")), tomllib.loads(NO_FIELD)
    assert found["involatile"] == given["involatile"]
    assert found["programme"]["settle"] == "10 min"
    for key in ("leak", "emergent_stem"):
        assert found["rig"][key] == given["rig"][key]


@pytest.mark.parametrize(
    ("amounts", "wanted", "residue", "bath"),
    [
        (("50 mL", "50 mL"), "hexane", "30 mL", "140 °C"),
        (("20 mL", "80 mL"), "toluene", "12 mL", "170 °C"),
    ],
    ids=["first bottle", "second bottle"],
)
def test_the_card_says_when_to_switch_so_that_the_aim_is_met(
    desk: Look, amounts: tuple[str, str], wanted: str, residue: str, bath: str
) -> None:
    _press(desk, "Clear")
    _charge(desk, hexane=amounts[0], toluene=amounts[1])
    desk.page.get_by_label("Wanted").select_option(wanted)
    desk.page.get_by_label("Purity", exact=True).fill("95 mol%")
    desk.page.get_by_label("Column", exact=True).fill("Vigreux 40 cm")
    desk.page.locator("[data-field='programme.bath']").fill(bath)
    desk.page.get_by_label("Reflux", exact=True).fill("2")
    desk.page.get_by_label("at a residue of", exact=True).fill(residue)
    desk.page.keyboard.press("Tab")
    desk.wait()
    card = desk.page.locator(".card")
    assert "Receiver 1 off" not in card.inner_text()
    _press(desk, "Say when to change the receiver")
    desk.wait()
    told = card.inner_text().replace("\u202f", " ")
    assert "Receiver 1 off when" in told
    assert f"✓ Aim 95.0 mol % {wanted} is reached" in told, told
    assert desk.page.get_by_role("button", name="Say when to change the receiver").count() == 0
