"""Lessons from the program's own page: listed, made, stopped, opened under the strict policy."""

from __future__ import annotations

from typing import Any

import pytest

from forerun.sheets.topics import topics
from journeys.browser import DESK, PHONE, TABLET, Look, opened
from journeys.served import Server

MAKE = "Make the lesson: "
CLOSE = "Close together: cyclohexane and heptane"


def _to_the_lessons(look: Look) -> None:
    look.page.get_by_role("link", name="For a class", exact=True).click()
    look.page.wait_for_selector('.lessons[data-ready="true"]')


def _make(look: Look, title: str) -> None:
    look.page.get_by_role("button", name=MAKE + title, exact=True).click()
    look.page.get_by_role("link", name=f"Open the page: {title}", exact=True).wait_for()


def test_a_lesson_is_made_and_its_page_opens_and_moves(browser: Any, server: Server) -> None:
    with opened(browser, server) as look:
        _to_the_lessons(look)
        assert look.page.locator(".list article").count() == len(topics())
        _make(look, CLOSE)
        link = look.page.get_by_role("link", name=f"Open the page: {CLOSE}", exact=True)
        with look.page.context.expect_page() as waited:
            link.click()
        lesson = waited.value
        said: list[str] = []
        lesson.on("console", lambda line: said.append(line.text))
        lesson.on("pageerror", lambda problem: said.append(str(problem)))
        # a tab that has just been opened may still change its process: first let it stand
        lesson.wait_for_selector("html[data-ready=true]")
        lesson.reload()
        lesson.wait_for_selector("html[data-ready=true]")
        before = lesson.inner_text("#says")
        lesson.focus("#when")
        lesson.keyboard.press("ArrowRight")
        assert lesson.inner_text("#says") != before
        assert said == []
        papers = look.page.locator(".papers a").all()
        asked = [
            look.page.request.get(server.address + str(a.get_attribute("href"))).status
            for a in papers
        ]
        assert asked == [200] * 4
        assert look.said == []
        assert look.foreign() == []


def test_the_sheet_that_is_being_written_is_a_lesson_too(browser: Any, server: Server) -> None:
    with opened(browser, server) as look:
        look.page.locator("header select").select_option("class-pair")
        look.wait()
        title = look.page.get_by_label("Title of the sheet").input_value()
        _to_the_lessons(look)
        _make(look, title)
        assert look.page.locator(".found").first.inner_text()
        look.page.get_by_role("link", name="Back to the sheet").click()
        look.wait()
        assert look.page.get_by_label("Title of the sheet").input_value() == title


def test_papers_are_for_the_class_that_is_set(browser: Any, server: Server) -> None:
    with opened(browser, server) as look:
        _to_the_lessons(look)
        look.page.get_by_label("Benches").fill("24")
        look.page.get_by_label("Length of the class").fill("2 h 30 min")
        _make(look, CLOSE)
        key = look.page.get_by_role("link", name=f"Key (PDF): {CLOSE}", exact=True)
        assert str(key.get_attribute("href")).endswith("key.pdf?benches=24&length=2+h+30+min")
        assert look.page.request.get(server.address + str(key.get_attribute("href"))).ok
        look.page.get_by_label("Length of the class").fill("soon")
        assert "2 h 30 min" in look.page.locator("#class-fault").inner_text()


def test_a_lesson_can_be_stopped(browser: Any, server: Server) -> None:
    with opened(browser, server) as look:
        _to_the_lessons(look)
        look.page.route("**/api/lesson", lambda _route: None)  # an answer that never comes
        look.page.get_by_role("button", name=MAKE + CLOSE, exact=True).click()
        look.page.get_by_role("button", name=f"Stop: {CLOSE}", exact=True).click()
        look.page.get_by_text("Stopped; nothing was kept.").wait_for()
        assert look.page.get_by_role("button", name=MAKE + CLOSE, exact=True).is_enabled()


@pytest.mark.parametrize("size", [DESK, TABLET, PHONE], ids=["desk", "tablet", "phone"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_nothing_hinders_anybody(
    browser: Any, server: Server, size: tuple[int, int], dark: bool
) -> None:
    with opened(browser, server, size, dark=dark) as look:
        look.page.goto(f"{server.address}/#/lessons")
        look.page.wait_for_selector('.lessons[data-ready="true"]')
        _make(look, CLOSE)
        assert look.axe() == []
        assert look.page.evaluate("document.documentElement.scrollWidth") <= size[0]
        assert look.too_small() == []
