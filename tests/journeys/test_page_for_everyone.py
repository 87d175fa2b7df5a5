"""Whoever looks at the page, and however: no violation of axe's rules on any view."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from journeys.browser import DESK, PHONE, TABLET, Look, opened
from journeys.served import Server

LEAST = 44  # px that a finger needs


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    found = Server()
    yield found
    found.close()


def _as_it_is(look: Look) -> None:
    look.page.get_by_text("Can these be parted?").wait_for()


def _empty(look: Look) -> None:
    look.page.get_by_role("button", name="Clear").click()


def _wrong(look: Look) -> None:
    look.page.get_by_label("Pressure", exact=True).fill("much")
    look.page.get_by_label("Pressure", exact=True).blur()
    look.page.wait_for_selector(".fault")


def _stair(look: Look) -> None:
    look.page.locator("header select").select_option("class-pair")
    look.page.get_by_role("button", name="Steps").click()


def _triangle(look: Look) -> None:
    look.page.get_by_role("button", name="Triangle").click()


def _everything_open(look: Look) -> None:
    look.page.get_by_role("button", name="Undo").click()
    look.wait()
    look.page.get_by_role("button", name="Pin this forecast").click()
    for summary in look.page.locator("summary").all():
        summary.click()
    for name in ("why?", "As a table"):
        for button in look.page.get_by_role("button", name=name).all():
            button.click()


def _vacuum(look: Look) -> None:
    look.page.locator("header select").select_option("reduced-pressure")


VIEWS: list[Callable[[Look], None]] = [
    _as_it_is, _wrong, _everything_open, _triangle, _stair, _vacuum, _empty,
]  # fmt: skip
SHADES = [  # every view once on a desk, the commonest in the dark and on smaller screens too
    (DESK, False, VIEWS),
    (DESK, True, [_as_it_is, _wrong]),
    (TABLET, False, [_as_it_is, _triangle]),
    (PHONE, True, [_as_it_is, _vacuum]),
]


@pytest.mark.parametrize(("size", "dark", "views"), SHADES, ids=["desk", "dark", "tablet", "phone"])
def test_no_violation_on_any_view(
    browser: Any,
    server: Server,
    size: tuple[int, int],
    dark: bool,
    views: list[Callable[[Look], None]],
) -> None:
    with opened(browser, server, size, dark=dark) as look:
        for view in views:
            view(look)
            look.wait()
            assert look.axe() == [], view.__name__
        assert look.said == []
        assert look.foreign() == []


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_every_target_is_large_enough(browser: Any, server: Server, size: tuple[int, int]) -> None:
    with opened(browser, server, size) as look:
        small = look.page.evaluate(
            """least => [...document.querySelectorAll('button, select, input[type=text], summary')]
               .filter(e => e.offsetParent && e.getBoundingClientRect().height < least - 0.5)
               .map(e => e.outerHTML.slice(0, 120))""",
            LEAST,
        )
        assert small == []


def test_nothing_is_said_by_colour_alone(browser: Any, server: Server) -> None:
    with opened(browser, server) as look:
        lines = look.page.evaluate(
            """() => ['head', 'pot', 'bath'].map(kind => getComputedStyle(
                 document.querySelector(`.answer .line.${kind}`)).strokeDasharray)"""
        )
        assert len(set(lines)) == 3
        words = look.page.locator(".answer svg").first.text_content()
        assert all(word in words for word in ("head", "pot", "bath", "acetone"))


def test_the_printed_page_has_no_controls(browser: Any, server: Server) -> None:
    with opened(browser, server) as look:
        look.page.emulate_media(media="print")
        shown = look.page.evaluate(
            """() => [...document.querySelectorAll('input[type=range], .tool, .plain')]
               .filter(e => e.offsetParent).length"""
        )
        assert shown == 0
        assert look.page.locator(".card").is_visible()
