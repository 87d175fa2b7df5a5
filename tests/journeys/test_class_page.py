"""The class page in a real browser: offline from a file, by keyboard, for everyone."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import Any

import pytest

from forerun.app.lesson import lesson, write_folder
from journeys.browser import started_browser

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


def test_it_opens_alone_and_moves_by_keyboard(address: str) -> None:
    with started_browser() as browser:
        page, said = _opened(browser, address, 1280)
        page.check('input[name="way"][value="2"]')
        before = page.inner_text("#says")
        circle = page.get_attribute("#side circle", "cx")
        page.focus("#when")
        for _ in range(5):
            page.keyboard.press("ArrowRight")
        assert page.inner_text("#says") != before
        assert page.get_attribute("#side circle", "cx") != circle
        page.focus("#less")
        page.keyboard.press("Enter")
        assert "4 plates" in page.inner_text("#stepsaid")
        page.check('input[name="axis"][value="t"]')
        assert "minutes" in page.inner_html("#side")
        assert not said


@pytest.mark.parametrize("width", [1280, 820, 390])
def test_nothing_hinders_anybody(address: str, width: int) -> None:
    with started_browser() as browser:
        page, said = _opened(browser, address, width, bypass_csp=True)
        page.evaluate(gzip.decompress(_AXE.read_bytes()).decode())
        found = page.evaluate(
            f"axe.run(document, {{runOnly: {_RULES}}}).then(r => r.violations.map(v => v.id))"
        )
        assert found == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert not said


def test_drops_rest_where_motion_is_not_wanted(address: str) -> None:
    with started_browser() as browser:
        page, _ = _opened(browser, address, 820, reduced_motion="reduce")
        places = set()
        for _ in range(4):
            places.add(page.get_attribute("#drop", "cy"))
            page.wait_for_timeout(150)
        assert len(places) == 1
