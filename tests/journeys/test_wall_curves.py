"""All curves of a class together in a real browser: who stands apart, the table, taking one out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from journeys.browser import DESK, PHONE, TABLET
from journeys.hood_bench import Bench, together
from journeys.test_hood import LEAST, at_hood, press, text, until

VIEW = "wall/curves"


@pytest.fixture
def bench() -> Iterator[Bench]:
    found = Bench()
    found.classes = [together()]
    yield found
    found.stop()


def test_all_curves_lie_on_one_axis_and_the_odd_one_is_named(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench, TABLET, view="wall") as look:
        look.page.get_by_role("link", name="All curves together").click()
        look.page.locator(".classcurves").wait_for()
        assert look.page.locator(".classcurves .curve:not(.middle)").count() == 7
        assert look.page.locator(".classcurves .apart").count() == 1
        assert look.page.locator(".classcurves .band").count() == 1
        assert look.page.locator(".apartname").text_content() == "TTTTTT"
        assert "four of five heads lie within 1.6 K" in text(look, ".classtold")
        row = text(look, "tr.odd")
        for part in ("TTTTTT", "31 mL", "2.1 (1.7–2.6)", "bulb too high, 82 %"):
            assert part in row
        assert "being fitted" in text(look, ".together tbody")
        table = look.page.get_by_role("link", name="Table (CSV)")
        assert table.get_attribute("href") == "/api/pooled.csv?class=0"


def test_a_bench_is_taken_out_and_put_back_by_an_instructor(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench, TABLET, view=VIEW) as look:
        press(look, "Take out TTTTTT")
        until(lambda: len(bench.taken_out) == 1)
        press(look, "put back WWWWWW")
        until(lambda: len(bench.taken_out) == 2)
        assert bench.taken_out == [
            {"code": "TTTTTT", "out": True},
            {"code": "WWWWWW", "out": False},
        ]
        bench.instructor = False
        press(look, "Take out TTTTTT")
        look.page.get_by_text("Only an instructor may do that.").wait_for()


def test_a_bench_is_erased_only_when_asked_twice(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench, TABLET, view=VIEW) as look:
        press(look, "Erase WWWWWW for good …")
        look.page.get_by_text("Nothing brings WWWWWW back").wait_for()
        press(look, "Keep it")
        assert bench.erased == []
        press(look, "Erase WWWWWW for good …")
        look.page.get_by_label("Why, if you like to say").fill(" their wish ")
        assert look.axe() == []
        press(look, "Erase WWWWWW for good")
        said = {"code": "WWWWWW", "sure": True, "reason": "their wish"}
        until(lambda: bench.erased == [said])
        look.page.get_by_text("Nothing brings WWWWWW back").wait_for(state="detached")


def test_a_class_without_distillate_and_one_of_two(browser: Any, bench: Bench) -> None:
    bench.classes = []
    with at_hood(browser, bench, TABLET, view=VIEW) as look:
        look.page.get_by_text("Nothing has come over yet on any bench.").wait_for()
    other = {**together(), "substances": ["ethanol", "water"], "finding": "The others."}
    bench.classes = [together(), other]
    with at_hood(browser, bench, TABLET, view=VIEW) as look:
        press(look, "ethanol, water")
        look.page.get_by_text("The others.").wait_for()
        table = look.page.get_by_role("link", name="Table (CSV)")
        assert table.get_attribute("href") == "/api/pooled.csv?class=1"


@pytest.mark.parametrize(("size", "dark"), [(DESK, False), (TABLET, True), (PHONE, False)])
def test_everyone_can_use_it(browser: Any, bench: Bench, size: tuple[int, int], dark: bool) -> None:
    with at_hood(browser, bench, size, dark=dark, view=VIEW) as look:
        look.page.locator(".classcurves").wait_for()
        assert look.axe() == []
        small = look.page.evaluate(
            """least => [...document.querySelectorAll('button, a')]
               .filter(e => e.offsetParent && e.getBoundingClientRect().height < least - 0.5)
               .map(e => e.outerHTML.slice(0, 120))""",
            LEAST,
        )
        assert small == []
        assert look.page.evaluate("document.documentElement.scrollWidth") <= size[0]
