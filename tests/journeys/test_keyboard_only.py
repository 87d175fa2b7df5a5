"""The whole planning journey with Tab, Enter, letters and arrows; no pointer is ever used."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from journeys.browser import Look, opened
from journeys.served import Server, served_in

_MOST_TABS = 150
_NAME = """() => {
  const e = document.activeElement;
  const name = e.getAttribute('aria-label') || (e.labels && e.labels[0]?.textContent)
    || e.textContent || '';
  return name.trim().replace(/\\s+/g, ' ');
}"""
_RING = """() => {
  const grip = document.activeElement.querySelector('.grip');
  if (grip) return parseFloat(getComputedStyle(grip).strokeWidth) >= 4;
  const style = getComputedStyle(document.activeElement);
  return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
}"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with served_in(tmp_path_factory.mktemp("mine")) as found:
        yield found


def _tab_to(look: Look, name: str, key: str = "Tab") -> None:
    """Press Tab until a thing of this name has the focus, which must be seen to have it."""
    passed = []
    for _ in range(_MOST_TABS):
        look.page.keyboard.press(key)
        now = str(look.page.evaluate(_NAME))
        if now == name:
            assert look.page.evaluate(_RING), f"{name}: the focus is not seen"
            return
        passed.append(now)
    raise AssertionError(f"Tab never comes to {name}; it came past {passed}")


def _push(look: Look, name: str, key: str = "Tab") -> None:
    _tab_to(look, name, key)
    look.page.keyboard.press("Enter")


def _type(look: Look, name: str, text: str) -> None:
    _tab_to(look, name)
    look.page.keyboard.press("Control+a")
    look.page.keyboard.type(text)


def test_from_a_mixture_to_a_saved_sheet(browser: Any, server: Server, tmp_path: Path) -> None:
    with opened(browser, server) as look:
        keyboard = look.page.keyboard
        _push(look, "Clear")
        look.wait()
        _type(look, "Substance", "hexane")
        _type(look, "Amount", "40 mL")
        look.wait()
        _push(look, "Add a component")
        assert look.page.evaluate(_NAME) == "Substance", "the new row has the focus"
        keyboard.type("toluene")
        _type(look, "Amount", "60 mL")
        look.wait()
        _tab_to(look, "Wanted")
        keyboard.press("ArrowDown")
        _type(look, "Plates", "3")
        _type(look, "at a residue of", "15 mL")
        look.wait()
        assert "hexane" in look.finding()
        look.page.locator(".verdict").wait_for(timeout=120_000)
        _push(look, "Add a change of receiver")
        look.wait()
        switch = look.page.get_by_role("slider", name=re.compile("Switch 1"))
        before = switch.get_attribute("aria-valuetext")
        _tab_to(look, str(switch.get_attribute("aria-label")), "Shift+Tab")
        keyboard.press("ArrowRight")
        look.wait()
        assert switch.get_attribute("aria-valuetext") != before
        assert "Receiver 1 off when" in look.page.locator(".card").inner_text()
        with look.page.expect_download() as waiting:
            _saved_as_a_file(look)
        file = tmp_path / "kept.toml"
        waiting.value.save_as(file)
        assert 'substance = "toluene"' in file.read_text(encoding="utf-8")
        _push(look, "My sheets", "Shift+Tab")
        _type(look, "Name", "By hand")
        _push(look, "Keep under this name")
        look.page.get_by_role("button", name=re.compile("By hand")).first.wait_for()
        assert look.said == []


def _saved_as_a_file(look: Look) -> None:
    more = look.page.get_by_role("button", name="Save, open, share", exact=True)
    if more.is_visible():
        _push(look, "Save, open, share", "Shift+Tab")
        _push(look, "Save as a file")
    else:
        _push(look, "Save as a file", "Shift+Tab")
