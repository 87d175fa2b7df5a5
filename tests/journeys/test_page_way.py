"""The way that was found is one press away from the sheet, and so is what stood there before."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from journeys.browser import Look, opened
from journeys.served import Server

PATIENCE = 90_000  # ms, for a whole drawer on a busy machine


@pytest.fixture
def desk(browser: Any, server: Server) -> Iterator[Look]:
    with opened(browser, server) as look:
        yield look
        assert look.said == []


def _written(look: Look) -> dict[str, Any]:
    found: dict[str, Any] = look.page.evaluate("JSON.parse(localStorage['forerun.sheet'])")
    return found


def _button(look: Look, name: str) -> Any:
    return look.page.get_by_role("button", name=name, exact=True).first


def test_the_way_that_was_found_is_put_into_the_sheet_and_taken_back(desk: Look) -> None:
    _button(desk, "Clear").click()
    desk.wait()
    for n, (name, amount) in enumerate((("cyclohexane", "30 mL"), ("toluene", "30 mL"))):
        if n:
            _button(desk, "Add a component").click()
        row = desk.page.get_by_role("group", name=f"Component {n + 1}")
        row.get_by_label("Substance").fill(name)
        row.get_by_label("Amount", exact=True).fill(amount)
    desk.page.get_by_label("Wanted").select_option("cyclohexane")
    desk.page.get_by_label("Purity", exact=True).fill("95 mol%")
    desk.page.get_by_label("Recovery", exact=True).fill("60 %")
    desk.page.locator(".card").get_by_text("is not reached").wait_for(timeout=PATIENCE)

    take = _button(desk, "Put this way into the sheet")
    take.wait_for(timeout=PATIENCE)
    take.focus()
    desk.page.keyboard.press("Enter")
    desk.page.get_by_text("Undo brings back what you wrote").wait_for()
    assert desk.page.evaluate("document.activeElement.textContent") == "Undo"
    desk.page.locator(".card").get_by_text("is reached").wait_for(timeout=PATIENCE)
    taken = _written(desk)
    assert str(taken["rig"]["column"]).startswith("Vigreux")
    assert taken["switch"]
    assert all(value.endswith("°C") for _, value in taken["programme"]["bath"])

    desk.page.keyboard.press("Enter")
    desk.page.locator(".card").get_by_text("is not reached").wait_for(timeout=PATIENCE)
    assert "column" not in _written(desk)["rig"]
