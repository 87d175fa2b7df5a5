"""The page in a real browser, from an empty sheet to the bench card, without a network."""

from __future__ import annotations

import re
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from journeys.browser import DESK, PHONE, TABLET, Look, opened
from journeys.served import Server


@pytest.fixture
def desk(browser: Any, server: Server) -> Iterator[Look]:
    with opened(browser, server) as look:
        yield look
        assert look.said == []
        assert look.foreign() == []


def _row(look: Look, n: int) -> Any:
    return look.page.get_by_role("group", name=f"Component {n}", exact=True)


def _write(look: Look, n: int, substance: str, amount: str) -> None:
    _row(look, n).get_by_label("Substance").fill(substance)
    _row(look, n).get_by_label("Amount", exact=True).fill(amount)


def _press(look: Look, name: str) -> None:
    look.page.get_by_role("button", name=name, exact=True).first.click()


def test_it_opens_on_a_worked_example(desk: Look) -> None:
    assert "toluene" in desk.finding()
    assert _row(desk, 1).get_by_label("Substance").input_value() == "acetone"
    for title in ("In the flask", "Can these be parted?", "The glass", "Bench card"):
        assert desk.page.get_by_role("heading", name=title).count() == 1


@pytest.mark.parametrize("size", [DESK, TABLET, PHONE], ids=["desk", "tablet", "phone"])
def test_from_an_empty_sheet_to_the_bench_card(
    browser: Any, server: Server, size: tuple[int, int]
) -> None:
    with opened(browser, server, size) as look:
        _press(look, "Clear")
        look.wait()
        assert look.finding() == "Write down what is in the flask."
        _write(look, 1, "hexane", "0,5 mol")
        _press(look, "Add a component")
        _write(look, 2, "toluene", "60 ± 1 mL")
        look.wait()
        look.page.get_by_label("Plates", exact=True).fill("3")
        look.page.get_by_label("at a residue of", exact=True).fill("15 mL")
        look.wait()
        _press(look, "Add a change of receiver")
        look.page.get_by_label("Wanted").select_option("hexane")
        look.wait()
        assert "hexane" in look.finding()
        card = look.page.locator(".card")
        assert "hexane 0,5 mol" in card.inner_text()
        assert "15 mL left in the pot" in card.inner_text().replace("\u202f", " ")
        assert "Receiver 1 off when" in card.inner_text()
        wide = look.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size[0], "something sticks out at the side"
        if size[0] >= 820:  # a phone may scroll a table; where there is room nothing is cut off
            fits = (
                "[...document.querySelectorAll('.wide')].every(e => e.scrollWidth <= e.clientWidth)"
            )
            assert look.page.evaluate(fits)
        assert look.said == []
        assert look.foreign() == []


def test_by_keyboard_alone(desk: Look) -> None:
    page = desk.page
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Go to the sheet"
    page.keyboard.press("Enter")
    for _ in range(3):  # past the fold of the first section and the first name, to its amount
        page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.value") == "55 ± 2 mL"
    page.keyboard.press("Control+a")
    page.keyboard.type("80 mL")
    page.keyboard.press("Tab")
    desk.wait()
    before = page.evaluate("document.activeElement.getAttribute('aria-valuetext')")
    assert before == "80 mL"
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    desk.wait()
    after = page.evaluate("document.activeElement.getAttribute('aria-valuetext')")
    assert after != before
    assert after.endswith(" mL")


BAD = [
    ("charge[1].substance", "Substance", "unobtainium", "name, synonym"),
    ("charge[1].amount", "Amount", "60", 'such as "60 mL"'),
    ("charge[1].amount", "Amount", "1,000 mL", 'write "1000"'),
    ("rig.flask", "Flask", "5 mL", "more than the charge"),
    ("rig.column", "Column", "Vigreu", 'did you mean "Vigreux"'),
    ("rig.plates", "Plates", "many", "theoretical plates"),
    ("rig.heat_loss", "Heat loss", "0.4", "W/K"),
    ("rig.coolant", "Coolant", "cold", "a temperature"),
    ("programme.pressure", "Pressure", "12 furlong", "a pressure"),
    ("programme.reflux_ratio", "Reflux", "-1", "a reflux ratio"),
    ("programme.stop.residue", "at a residue of", "5", "a volume"),
    ("aim.purity", "Purity", "98", "a strength"),
    ("programme.bath", "Bath, Value 2", "hot", "a temperature"),
]


def _with_bands(desk: Look) -> str:
    """Return the headline once its bands are there."""
    until = time.monotonic() + 60.0
    while "(" not in desk.finding() and time.monotonic() < until:
        desk.page.wait_for_timeout(100)
    return desk.finding()


@pytest.mark.parametrize(("field", "label", "typed", "says"), BAD, ids=[b[0] + b[2] for b in BAD])
def test_a_bad_input_is_answered_beside_its_field(
    desk: Look, field: str, label: str, typed: str, says: str
) -> None:
    entry = desk.page.get_by_label(label, exact=True).first
    before = _with_bands(desk)  # which come a while after the first answer
    entry.fill(typed)
    desk.page.wait_for_timeout(600)
    assert desk.page.locator(".fault").count() == 0, "no red while it is being written"
    entry.blur()
    desk.page.wait_for_selector(".fault")
    told = desk.page.locator(f"#{entry.get_attribute('aria-describedby')}")
    assert says in told.inner_text()
    assert not told.inner_text().strip().endswith(("?.", "..")), "one mark ends a sentence"
    assert entry.get_attribute("aria-invalid") == "true"
    assert entry.input_value() == typed, "what was typed is kept"
    assert desk.finding() == before, "the last answer stays, marked as that of the sheet before"
    assert "sheet before" in desk.page.locator(".pinned-top").inner_text()


def test_undo_brings_back_what_was_there(desk: Look) -> None:
    before = desk.finding()
    _press(desk, "Clear")
    desk.wait()
    _press(desk, "Undo")
    desk.wait()
    assert desk.finding().split(",")[0].split(":")[0] == before.split(",")[0].split(":")[0]
    assert _row(desk, 3).get_by_label("Substance").input_value() == "toluene"
    _press(desk, "Redo")
    desk.wait()
    assert desk.finding() == "Write down what is in the flask."


def test_a_switch_is_dragged_and_purity_moves_with_it(desk: Look) -> None:
    handle = desk.page.get_by_role("slider", name=re.compile("Switch 1"))
    before = handle.get_attribute("aria-valuetext")
    box = handle.bounding_box()
    desk.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 120)
    desk.page.mouse.down()
    desk.page.mouse.move(box["x"] + box["width"] / 2 + 40, box["y"] + 120, steps=4)
    told = desk.page.locator(".answer figure svg").text_content().replace("\u202f", " ")
    assert re.search(r"cut 1: [\d.]+ mol % acetone, [\d.]+ % of it", told)
    desk.page.mouse.up()
    desk.wait()
    assert handle.get_attribute("aria-valuetext") != before
    handle.press("ArrowLeft")
    desk.wait()
    assert desk.page.get_by_label("reaches").first.input_value() != "62 °C"


def test_pinned_forecasts_are_compared_in_words(desk: Look) -> None:
    _press(desk, "Pin this forecast")
    desk.page.get_by_label("Reflux", exact=True).fill("6")
    desk.wait()
    desk.page.locator(".pins", has_text="→").wait_for()
    told = desk.page.locator(".pins").inner_text()
    assert "reflux 2 → 6" in told
    assert "cut 1" in told
    for _ in range(3):
        _press(desk, "Pin this forecast")
    assert desk.page.get_by_role("button", name=re.compile("Four are pinned")).is_disabled()
    _press(desk, "Unpin 1")
    assert desk.page.locator(".pins li").count() == 3


def test_bands_come_after_the_line_and_can_be_stopped(desk: Look) -> None:
    desk.page.get_by_text(re.compile(r"Bands: \d+ of")).wait_for(timeout=60_000)
    _press(desk, "Stop reckoning")
    desk.page.get_by_text("No bands: stopped.").wait_for()
    _press(desk, "Draw them")
    desk.page.get_by_text("8 times in 10 it stays inside").wait_for(timeout=120_000)
    assert "±" in desk.page.locator(".answer table").first.inner_text()


def test_a_saved_sheet_is_opened_again(desk: Look, tmp_path: Path) -> None:
    desk.page.get_by_label("Title of the sheet").fill('A "quoted" title')
    desk.wait()
    _press(desk, "Save, open, share")
    with desk.page.expect_download() as waiting:
        _press(desk, "Save as a file")
    kept = tmp_path / waiting.value.suggested_filename
    waiting.value.save_as(kept)
    sheet = tomllib.loads(kept.read_text(encoding="utf-8"))
    assert sheet["title"] == 'A "quoted" title'
    assert sheet["programme"]["bath"][1] == ["20 min", "105 °C"]
    _press(desk, "Clear")
    desk.page.locator(".top input[type=file]").set_input_files(kept)
    _row(desk, 2).wait_for()
    desk.wait()
    assert "quoted" in desk.page.get_by_label("Title of the sheet").input_value()
    assert _row(desk, 2).get_by_label("Amount", exact=True).input_value() == "25 ± 2 mL"


def test_a_link_reopens_the_sheet(browser: Any, server: Server, desk: Look) -> None:
    _row(desk, 1).get_by_label("Amount", exact=True).fill("44 mL")
    desk.wait()
    _press(desk, "Save, open, share")
    _press(desk, "Copy a link")
    desk.page.wait_for_url(re.compile("#sheet=.{20}"))
    with opened(browser, server, fragment=desk.page.evaluate("location.hash")) as other:
        assert _row(other, 1).get_by_label("Amount", exact=True).input_value() == "44 mL"
    with opened(browser, server, fragment="#sheet=broken") as other:
        assert "no sheet that can be read" in other.page.locator(".notice").inner_text()


def test_pictures_and_tables_are_saved(desk: Look) -> None:
    figure = desk.page.locator(".answer figure")
    for kind, starts in (("SVG", "<svg"), ("CSV", "min,mL"), ("PNG", "\x89PNG")):
        with desk.page.expect_download() as waiting:
            figure.get_by_role("button", name=re.compile(f"as {kind}$")).click()
        raw = Path(waiting.value.path()).read_bytes()
        assert raw.decode("latin-1").startswith(starts)
    figure.get_by_role("button", name="As a table").click()
    assert figure.get_by_role("row").count() > 20


NASTY = '<img src=x onerror="window.hacked=1">'


def test_a_name_that_is_a_script_is_shown_as_text(desk: Look) -> None:
    _row(desk, 1).get_by_label("Substance").fill(NASTY)
    desk.page.get_by_label("Title of the sheet").fill(f"<script>window.hacked=1</script>{NASTY}")
    desk.page.wait_for_selector(".fault")
    assert NASTY[:20] in desk.page.locator(".pinned-top").inner_text()
    desk.page.wait_for_timeout(200)
    assert desk.page.evaluate("window.hacked === undefined")
    assert desk.page.locator("img").count() == 0


def test_the_server_may_die_in_the_middle(browser: Any) -> None:
    first = Server()
    with opened(browser, first) as look:
        _row(look, 1).get_by_label("Amount", exact=True).fill("77 mL")
        first.close()
        _row(look, 2).get_by_label("Amount", exact=True).fill("33 mL")
        look.page.get_by_text("does not answer").wait_for(timeout=30_000)
        second = Server(first.port)
        try:
            look.page.get_by_text("does not answer").wait_for(state="detached", timeout=30_000)
            look.wait()
            assert "ethanol 33 mL" in look.page.locator("p.sub").inner_text()
            look.page.reload()
            look.wait()
            assert _row(look, 1).get_by_label("Amount", exact=True).input_value() == "77 mL"
        finally:
            second.close()


def test_it_is_light_on_the_wire(browser: Any, server: Server) -> None:
    context = browser.new_context()
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    weights: list[float] = []
    session.on("Network.loadingFinished", lambda found: weights.append(found["encodedDataLength"]))
    page.goto(server.address)
    page.wait_for_selector('[data-ready="true"]')
    context.close()
    assert 10_000 < sum(weights) <= 200_000
