"""What stands on the page is whole, has its unit, and lies on nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from journeys.browser import DESK, PHONE, TABLET, Look, opened
from journeys.served import Server

_STRIP = """() => [...document.querySelectorAll('.answer svg g')]
  .filter(g => g.querySelector('text.subtext')).map(g => {
    const [text, area] = [g.querySelector('text.subtext'), g.querySelector('path')]
      .map(e => e.getBBox());
    return {name: g.textContent.trim(), text: [text.x, text.x + text.width],
            area: [area.x, area.x + area.width]};
  })"""
_SWITCHES = """() => [...document.querySelectorAll('.answer svg .handle')].map(g => {
  const box = g.querySelector('text').getBBox();
  return {line: +g.querySelector('line').getAttribute('x1'), text: [box.x, box.x + box.width]};
})"""
_TICKS = """() => [...document.querySelectorAll('.answer svg > text')]
  .map(t => t.textContent).filter(t => t.includes('°C'))"""


@pytest.fixture
def desk(browser: Any, server: Server) -> Iterator[Look]:
    with opened(browser, server) as look:
        yield look
        assert look.said == []


def _charge(look: Look, *rows: tuple[str, str]) -> None:
    look.page.get_by_role("button", name="Clear", exact=True).click()
    for n, (name, amount) in enumerate(rows):
        if n:
            look.page.get_by_role("button", name="Add a component").click()
        row = look.page.get_by_role("group", name=f"Component {n + 1}")
        row.get_by_label("Substance").fill(name)
        row.get_by_label("Amount", exact=True).fill(amount)
    look.page.keyboard.press("Tab")
    look.wait()


def _plain(text: str | None) -> str:
    return (text or "").replace("\u202f", " ")


def test_names_lie_within_their_bars_and_off_the_switches(desk: Look) -> None:
    bars = desk.page.evaluate(_STRIP)
    switches = desk.page.evaluate(_SWITCHES)
    assert {bar["name"] for bar in bars} == {"acetone", "ethanol", "toluene"}
    for bar in bars:
        assert bar["area"][0] < bar["text"][0] < bar["text"][1] < bar["area"][1], bar["name"]
        for switch in switches:
            assert not bar["text"][0] < switch["line"] < bar["text"][1], bar["name"]
    for switch in switches:
        assert not switch["text"][0] < switch["line"] < switch["text"][1]


def test_switches_close_together_keep_their_temperatures_apart(desk: Look) -> None:
    desk.page.locator("header select").select_option("three-on-eight")
    desk.wait()
    switches = desk.page.evaluate(_SWITCHES)
    assert len(switches) == 3
    assert switches[1]["line"] - switches[0]["line"] < 46.0, "an example that shows nothing"
    for of in switches:
        for other in switches:
            assert not of["text"][0] < other["line"] < of["text"][1]


def test_the_band_stays_within_the_field(desk: Look) -> None:
    desk.page.locator("header select").select_option("reduced-pressure")
    desk.wait()
    band = desk.page.locator(".answer svg path.band")
    band.wait_for(timeout=120_000)
    reach = band.evaluate("e => e.getBBox().x + e.getBBox().width")
    field = desk.page.locator(".answer svg line.grid").first.get_attribute("x2")
    assert reach <= float(field) + 0.5


def test_what_has_no_room_for_its_name_is_named_beside(desk: Look) -> None:
    _charge(desk, ("hexane", "60 mL"), ("toluene", "4 mL"))  # so with 2 mL and with 8 mL
    told = _plain(desk.page.locator(".answer svg").first.text_content())
    assert "toluene, at most" in told
    assert "hexane, at most" not in told, "it has room in its own area"


def test_the_unit_of_the_scale_stands_with_its_highest_mark(desk: Look) -> None:
    marks = [_plain(mark) for mark in desk.page.evaluate(_TICKS)]
    assert len(marks) == 1
    assert marks[0].split()[0].isdigit()


@pytest.mark.parametrize("size", [DESK, TABLET, PHONE], ids=["desk", "tablet", "phone"])
def test_a_long_title_is_read_whole(browser: Any, server: Server, size: tuple[int, int]) -> None:
    with opened(browser, server, size) as look:
        title = look.page.get_by_label("Title of the sheet")
        title.fill("What came of the third attempt to get the brush cleaner\nback " * 3)
        assert "\n" not in title.input_value()
        cut = title.evaluate("e => e.scrollHeight - e.clientHeight")
        assert cut <= 1
        wide = look.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size[0]


def test_every_content_and_volume_has_its_unit(desk: Look) -> None:
    for line in desk.page.locator(".card ul li").all_text_contents():
        assert "mL" in line
        assert "mol %" in _plain(line), line
    bars = desk.page.locator("svg[aria-label*='come over'] text.soft").all_text_contents()
    assert len(bars) >= 4
    assert all(_plain(text).endswith(" mL") for text in bars)


def test_a_cut_ends_with_its_last_drop(desk: Look) -> None:
    _charge(desk, ("ethyl acetate", "40 mL"))
    desk.page.locator("[data-field='programme.bath']").fill("100 °C")
    desk.page.keyboard.press("Tab")
    desk.wait()
    assert desk.finding().endswith("bath too cold")
    assert "drips stop:bath too cold" in desk.page.locator(".answer svg").first.text_content()
    assert "bath too cold" in desk.page.locator(".card").inner_text()
    (bar,) = desk.page.evaluate(
        "() => [...document.querySelectorAll('.answer svg path.axis')].map(p => p.getBBox())"
        ".map(b => b.x + b.width)"
    )
    middle = desk.page.evaluate("document.querySelector('.answer svg').viewBox.baseVal.width / 2")
    assert bar < 1.5 * middle, "the bracket ran on to the end of the forecast"


def test_an_azeotrope_that_may_exist_is_not_denied(desk: Look) -> None:
    _charge(desk, ("ethyl acetate", "50 mL"), ("methyl propionate", "50 mL"))
    desk.page.get_by_text("may or may not have a minimum azeotrope").first.wait_for()
    told = desk.page.locator(".section").nth(1).inner_text()
    assert "No azeotrope found" not in told
    assert len(re.findall(r"\(probability \d+ %\)", _plain(told))) == 2, (
        "in the sentence and over the diagram"
    )


def test_a_pin_names_what_was_assumed_otherwise_in_sight(desk: Look) -> None:
    _charge(desk, ("hexane", "50 mL"), ("toluene", "50 mL"))
    desk.page.get_by_role("button", name="Pin this forecast").click()
    desk.page.get_by_label("Column", exact=True).fill("Vigreux 30 cm")
    desk.page.keyboard.press("Tab")
    desk.wait()
    row = desk.page.locator(".pins li")
    told = _plain(row.inner_text())
    assert "column none (not given) → Vigreux 30 cm." in told
    assert re.search(r"bath up to 1[3-6]\d °C → 171 °C", told), told
    for what in ("heat loss", "plates none →", "hold-up none →"):
        assert what in told
    assert "So cut 1: " in told
    assert "mol % hexane" in told
    box = row.bounding_box()
    assert box["y"] + box["height"] <= DESK[1], "the comparison has to be looked for"


def test_reasons_do_not_stand_on_the_margin(desk: Look) -> None:
    reasons = desk.page.locator("ul.reasons")
    reasons.wait_for(timeout=120_000)
    assert float(reasons.evaluate("e => parseFloat(getComputedStyle(e).paddingLeft)")) >= 16.0


_HIDDEN = """() => {
  const [held, own] = [document.querySelector('.pinned-top'), document.activeElement];
  if (held.contains(own)) return '';
  const [over, box] = [held.getBoundingClientRect(), own.getBoundingClientRect()];
  const under = over.top < 1 && box.top < over.bottom - 1;
  return under || box.top > innerHeight ? own.outerHTML.slice(0, 120) : '';
}"""


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_the_answer_stays_in_view_and_hides_no_field(
    browser: Any, server: Server, size: tuple[int, int]
) -> None:
    with opened(browser, server, size) as look:
        look.page.get_by_text("8 times in 10 it stays inside").wait_for(timeout=120_000)
        look.page.get_by_text("Boiling diagram").first.wait_for()
        look.page.locator(".card").scroll_into_view_if_needed()
        box = look.page.locator(".finding").bounding_box()
        assert 0 <= box["y"] < 60, "the answer has gone out of view"
        held = look.page.locator(".pinned-top").bounding_box()
        assert held["height"] < 0.4 * size[1]
        look.page.get_by_role("button", name="Add a component").focus()
        for _ in range(40):
            look.page.keyboard.press("Tab")
            assert look.page.evaluate(_HIDDEN) == ""
