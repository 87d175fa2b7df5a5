"""One's own glass on the page: known, put into the sheet, measured, and taught by a kept run."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from journeys.browser import DESK, PHONE, TABLET, Look, opened
from journeys.own_glass import NAME, calibration_files, keep_two_states
from journeys.served import Server

SIZES = pytest.mark.parametrize("size", [DESK, TABLET, PHONE], ids=["desk", "tablet", "phone"])
SMALL = (
    "[...document.querySelectorAll('.glass :is(button, a, input, select, summary)')].filter(e => "
    "e.offsetHeight && e.getBoundingClientRect().height < 44).map(e => e.textContent || e.id)"
)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FORERUN_DATA", str(tmp_path / "mine"))
        keep_two_states(tmp_path / "mine")
        found = Server()
        yield found
        assert "Traceback" not in found.close()


def _to_the_glass(look: Look) -> Any:
    look.page.get_by_role("link", name="My glass", exact=True).first.click()
    look.page.wait_for_selector('.glass[data-ready="true"]')
    return look.page.get_by_role("article", name=NAME, exact=True)


def _rig(look: Look) -> dict[str, str]:
    text = look.page.evaluate("localStorage.getItem('forerun.sheet')")
    rig: dict[str, str] = json.loads(text)["rig"]
    return rig


def _hinders_nobody(look: Look, size: tuple[int, int]) -> None:
    assert look.axe() == []
    assert look.page.evaluate("document.documentElement.scrollWidth") <= size[0]
    assert look.page.evaluate(SMALL) == []


@SIZES
def test_what_is_known_is_shown_and_put_into_the_sheet(
    browser: Any, server: Server, size: tuple[int, int]
) -> None:
    with opened(browser, server, size) as look:
        look.page.locator("header select").select_option("class-pair")
        look.wait()
        title = look.page.get_by_label("Title of the sheet").input_value()
        row = _to_the_glass(look)
        known = server.get("/api/passports").json["passports"][0]["known"]["plates"]
        assert f"{known['value']:.1f}" in row.locator("dl").inner_text()
        assert "2 runs" in row.locator("dl").inner_text()
        row.get_by_role("button", name=f"Every run that taught it: {NAME}").click()
        picture = row.locator("img.drawn")
        picture.wait_for()
        assert picture.evaluate("image => image.decode().then(() => image.naturalWidth)") > 0
        assert row.locator("tbody tr").count() == 2
        row.get_by_role("button", name=f"why?: {NAME}").click()
        row.get_by_text("weighed by its own band").wait_for()
        _hinders_nobody(look, size)
        row.get_by_role("button", name=f"Use in this sheet: {NAME}").click()
        row.get_by_text("now takes what is known").wait_for()
        assert (_rig(look)["passport"], _rig(look)["column"]) == (NAME, "Vigreux 30 cm")
        row.get_by_role("link", name="Open the sheet").click()
        look.wait()
        assert look.page.get_by_label("Title of the sheet").input_value() == title
        assert look.page.get_by_label("My name for this column", exact=True).input_value() == NAME
        look.page.get_by_role("button", name="why? Plates", exact=True).click()
        look.page.get_by_text(f'passport "{NAME}", 2 runs').first.wait_for()
        _hinders_nobody(look, size)
        look.page.get_by_role("button", name="Undo", exact=True).click()
        look.wait()
        assert look.page.get_by_label("My name for this column", exact=True).input_value() == ""
        assert look.said == []
        assert look.foreign() == []


def test_what_the_sheet_states_goes_before_and_is_said(browser: Any, server: Server) -> None:
    with opened(browser, server) as look:
        look.page.get_by_label("Plates", exact=True).fill("5")
        look.wait()
        row = _to_the_glass(look)
        row.get_by_role("button", name=f"Use in this sheet: {NAME}").click()
        row.get_by_text("But plates stands in the sheet itself").wait_for()
        assert _rig(look)["plates"] == "5"
        row.get_by_role("button", name="Leave out what the sheet states").click()
        row.get_by_text("stands in the sheet itself").wait_for(state="detached")
        assert "plates" not in _rig(look)


@SIZES
def test_a_column_is_measured_and_the_run_teaches_it(
    browser: Any, server: Server, size: tuple[int, int], tmp_path: Path
) -> None:
    with opened(browser, server, size) as look:
        _to_the_glass(look)
        go = look.page.get_by_role("button", name="Plan the run", exact=True)
        look.page.get_by_label("Which column").select_option("Vigreux 30 cm")
        look.page.get_by_label("Your name for it").fill("")
        go.click()
        look.page.get_by_text("a name, such as my Vigreux").wait_for()
        look.page.get_by_label("Your name for it").fill(NAME)
        with look.page.expect_response("**/api/calibrate") as answered:
            go.click()
        look.page.locator("#measured").wait_for(timeout=120_000)
        steps = look.page.locator(".steps li").all_inner_texts()
        assert steps[0].startswith("Charge ")
        assert not any(step.startswith("forerun ") for step in steps)
        _hinders_nobody(look, size)
        sent = json.loads(answered.value.request.post_data)
        guide = server.post("/api/calibrate", sent).json
        assert look.page.locator("#measured").inner_text() == guide["finding"]
        look.page.get_by_role("button", name="Begin this sheet", exact=True).click()
        look.wait()
        assert look.page.get_by_label("Title of the sheet").input_value().endswith(NAME)
        held = look.page.get_by_label("Bath kept over the pot by", exact=True)
        assert held.input_value() == guide["shown"]["sheet"]["programme"]["keep"]["above_pot"]
        look.page.wait_for_function("!document.querySelector('.sheet .fault')", timeout=60_000)
        log, samples = calibration_files(guide)
        (tmp_path / "log.csv").write_text(log, "utf-8")
        (tmp_path / "samples.csv").write_text(samples, "utf-8")
        part = look.page.get_by_role("group", name="What it gave", exact=True)
        look.page.get_by_label("Also find plates and losses").uncheck()
        part.locator("input[type=file]").nth(0).set_input_files(tmp_path / "log.csv")
        part.locator("input[type=file]").nth(1).set_input_files(tmp_path / "samples.csv")
        part.get_by_text("samples.csv").wait_for()
        look.page.get_by_role("button", name="Review this run", exact=True).click()
        keep = look.page.get_by_role("button", name="Keep this run", exact=True)
        keep.wait_for(timeout=120_000)
        keep.click()
        look.page.get_by_text("Now known: my Vigreux").wait_for(timeout=120_000)
        assert keep.count() == 0, "it would be kept twice"
        _hinders_nobody(look, size)
        row = _to_the_glass(look)
        assert "3 runs" in row.locator("dl").inner_text()
        assert look.said == []


def test_a_plan_can_be_stopped(browser: Any, server: Server) -> None:
    with opened(browser, server) as look:
        _to_the_glass(look)
        look.page.route("**/api/calibrate", lambda _route: None)  # an answer that never comes
        look.page.get_by_label("Which column").select_option("Vigreux 30 cm")
        look.page.get_by_label("Your name for it").fill("another")
        look.page.get_by_role("button", name="Plan the run", exact=True).click()
        look.page.get_by_role("button", name="Stop", exact=True).click()
        look.page.get_by_text("Stopped; nothing was kept.").wait_for()
        assert look.page.get_by_role("button", name="Plan the run", exact=True).is_enabled()
