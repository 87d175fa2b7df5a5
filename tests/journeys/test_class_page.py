"""The class page in a real browser: offline from a file, by keyboard, for everyone."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import Any

import pytest

from forerun.app.lesson import lesson, write_folder

_AXE = Path(__file__).parent / "assets" / "axe.min.js.gz"
_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("class")
    write_folder(lesson("class-pair"), str(folder))
    return (folder / "page.html").as_uri()


def _opened(browser: Any, address: str, width: int, **more: Any) -> tuple[Any, list[str]]:
    page = browser.new_context(viewport={"width": width, "height": 1000}, **more).new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda problem: said.append(str(problem)))
    page.goto(address)
    page.wait_for_selector("html[data-ready=true]", timeout=30_000)
    return page, said


def test_it_opens_alone_and_moves_by_keyboard(browser: Any, address: str) -> None:
    page, said = _opened(browser, address, 1280)
    page.check('input[name="way"][value="2"]')
    before, circle = page.inner_text("#says"), page.get_attribute("#sideatdot", "cx")
    page.focus("#when")
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    assert page.inner_text("#says") != before
    assert page.get_attribute("#sideatdot", "cx") != circle
    page.focus("#less")
    page.keyboard.press("Enter")
    assert "4 plates" in page.inner_text("#stepsaid")
    page.check('input[name="axis"][value="t"]')
    assert "minutes" in page.inner_html("#side")
    page.focus("#views")
    page.keyboard.press("End")
    last = page.inner_text("#says")
    page.keyboard.press("Home")
    assert page.inner_text("#says") != last
    assert ", 0 min:" in page.inner_text("#says")
    assert not said


def _numbers(page: Any) -> list[str]:
    """Return what every picture says of the pot at this moment."""
    still = str(page.text_content("#potis")).removesuffix(" mol %")
    diagram = str(page.text_content("#bmoment text >> nth=0")).removeprefix("pot ")
    return [still, diagram, page.inner_text("#stepsaid").split("from ")[1].split(" ")[0]]


def test_one_moment_stands_in_all_pictures(browser: Any, address: str) -> None:
    page, said = _opened(browser, address, 1280)
    page.check('input[name="way"][value="2"]')
    box = page.locator("#strip").bounding_box()
    at = box["y"] + 0.5 * box["height"]
    page.mouse.move(box["x"] + 0.5 * box["width"], at)
    page.mouse.down()
    seen = []
    for share in (0.5, 0.6, 0.7):
        page.mouse.move(box["x"] + share * box["width"], at)
        numbers = _numbers(page)
        assert len(set(numbers)) == 1, numbers
        seen.append(page.inner_text("#says"))
    page.mouse.up()
    assert len(set(seen)) == 3
    page.mouse.move(box["x"] + 0.9 * box["width"], at)  # pointing, without a press
    assert page.inner_text("#says") == seen[-1]
    assert "pointed at" in str(page.text_content("#bghost"))
    assert not said


def test_it_runs_holds_and_builds_the_steps(browser: Any, address: str) -> None:
    page, said = _opened(browser, address, 1280)
    page.check('input[name="way"][value="2"]')
    before = page.inner_text("#says")
    page.focus("#views")
    page.keyboard.press("Space")
    page.locator("html[data-frames]").wait_for(state="attached", timeout=20_000)
    assert page.inner_text("#play") == "Hold"
    page.keyboard.press("Space")
    assert page.inner_text("#play") == "Run"
    held = page.inner_text("#says")
    assert held != before
    page.wait_for_timeout(300)
    assert page.inner_text("#says") == held
    said_first = page.evaluate("build.click(), stepsaid.textContent")  # before a plate is built
    assert "Pot alone" in said_first
    page.locator("#stepsaid", has_text="5 plates").wait_for(timeout=20_000)
    assert not said


@pytest.mark.parametrize("width", [1280, 820, 390])
def test_nothing_hinders_anybody(browser: Any, address: str, width: int) -> None:
    page, said = _opened(browser, address, width, bypass_csp=True)
    page.evaluate(gzip.decompress(_AXE.read_bytes()).decode())
    found = page.evaluate(
        f"axe.run(document, {{runOnly: {_RULES}}}).then(r => r.violations.map(v => v.id))"
    )
    assert found == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert not said


def test_nothing_moves_where_motion_is_not_wanted(browser: Any, address: str) -> None:
    page, _ = _opened(browser, address, 820, reduced_motion="reduce")
    assert not page.is_visible("#play")
    assert page.is_visible("#still-says")
    places = set()
    for _ in range(4):
        places.add((page.get_attribute("#drop", "cy"), page.get_attribute("#drop", "visibility")))
        page.wait_for_timeout(100)
    assert len(places) == 1
    page.focus("#views")
    before = page.inner_text("#says")
    page.keyboard.press("Space")
    page.wait_for_timeout(300)
    assert page.inner_text("#says") == before
    page.keyboard.press("ArrowRight")
    assert page.inner_text("#says") != before


def test_a_slow_machine_gets_steps_and_is_told(browser: Any, address: str) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 1000})
    page.add_init_script(  # ten pictures a second
        "window.requestAnimationFrame = (f) => setTimeout(() => f(performance.now()), 100)"
    )
    page.goto(address)
    page.wait_for_selector("html[data-ready=true]", timeout=30_000)
    assert not page.is_visible("#slowly")
    page.click("#play")
    page.locator("#slowly").wait_for(state="visible", timeout=20_000)
    page.close()
