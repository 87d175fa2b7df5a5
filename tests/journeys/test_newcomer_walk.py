"""The newcomer's walk: from an empty sheet to a bench card that says when to switch.

By mouse and by keyboard alone, at three widths. Actions are counted; the time is estimated, nobody
is timed: 1.35 s to make up one's mind before an action, 0.28 s a key, 1.1 s to point, 0.4 s for a
hand to change over (keystroke-level figures of S. K. Card, T. P. Moran, A. Newell, Commun. ACM 23
(1980) 396; from memory), 0.5 s to roll a screen on, 240 words read a minute (a judgement, no
source), and as long as the program lets one wait.
"""

from __future__ import annotations

import re
import time
from dataclasses import dataclass
from typing import Any

import pytest

from journeys.browser import DESK, PHONE, TABLET, Look, opened
from journeys.served import Server

MIND, KEY, POINT, HAND, SCREEN, WORD = 1.35, 0.28, 1.1, 0.4, 0.5, 0.25  # s, see above
LONGEST = 180.0  # s
MOST_ACTIONS = 12
_FARTHEST = 120  # presses of Tab
_FOCUS = """() => {
  const e = document.activeElement;
  const name = e.getAttribute('aria-label') || (e.labels && e.labels[0]?.textContent)
    || e.textContent || '';
  return name.trim().replace(/\\s+/g, ' ');
}"""


@dataclass
class Walk:
    """Hands and eyes of somebody who comes to the page for the first time."""

    look: Look
    actions: int = 0
    seconds: float = 0.0

    def read(self, words: int) -> None:
        self.seconds += WORD * words

    def act(self, seconds: float) -> None:
        self.actions += 1
        self.seconds += MIND + seconds

    def wait(self) -> None:
        start = time.monotonic()
        self.look.wait()
        self.seconds += time.monotonic() - start


class Mouse(Walk):
    def _to(self, thing: Any) -> None:
        page = self.look.page
        before = page.evaluate("scrollY")
        thing.scroll_into_view_if_needed()
        moved = abs(page.evaluate("scrollY") - before) / page.viewport_size["height"]
        self.seconds += SCREEN * moved

    def press(self, name: str) -> None:
        button = self.look.page.get_by_role("button", name=name, exact=True).first
        self._to(button)
        button.click()
        self.act(HAND + POINT)

    def write(self, label: str, text: str, nth: int = 0) -> None:
        field = self.look.page.get_by_label(label, exact=True).nth(nth)
        self._to(field)
        field.click()
        field.fill(text)
        self.act(POINT + 2.0 * HAND + KEY * len(text))

    def choose(self, label: str, option: str) -> None:
        field = self.look.page.get_by_label(label, exact=True)
        self._to(field)
        field.select_option(option)
        self.act(2.0 * POINT + HAND)


class Keyboard(Walk):
    def _to(self, name: str) -> None:
        keyboard = self.look.page.keyboard
        for _ in range(_FARTHEST):
            if self.look.page.evaluate(_FOCUS) == name:
                return
            keyboard.press("Tab")
            self.seconds += KEY
        raise AssertionError(f"Tab never comes to {name}")

    def press(self, name: str) -> None:
        self._to(name)
        self.look.page.keyboard.press("Enter")
        self.act(KEY)

    def write(self, label: str, text: str, nth: int = 0) -> None:
        del nth  # the next of its name is the one that is meant
        self._to(label)
        self.look.page.keyboard.press("Control+a")
        self.look.page.keyboard.type(text)
        self.act(KEY * (len(text) + 2))

    def choose(self, label: str, option: str) -> None:
        self._to(label)
        self.look.page.keyboard.type(option[:3])
        self.act(KEY * 3)


def _walked(walk: Mouse | Keyboard) -> str:
    """Return the card at the end; the words that are read are headlines, labels, and the card."""
    page = walk.look.page
    walk.read(40)
    walk.press("Clear")
    walk.wait()
    walk.read(25)
    walk.write("Substance", "ethyl acetate")
    walk.write("Amount", "60 mL")
    walk.press("Add a component")
    walk.write("Substance", "toluene", nth=1)
    walk.write("Amount", "40 mL", nth=1)
    walk.read(15)
    walk.choose("Wanted", "ethyl acetate")
    walk.write("Purity", "97 %")
    walk.read(70)
    walk.write("Column", "Vigreux 20 cm")
    walk.write("Reflux", "3")
    page.keyboard.press("Tab")
    walk.wait()
    walk.read(60)
    walk.press("Say when to change the receiver")
    walk.wait()
    walk.read(70)
    return str(page.locator(".card").inner_text()).replace("\u202f", " ")


@pytest.mark.parametrize("hands", [Mouse, Keyboard], ids=["mouse", "keyboard"])
@pytest.mark.parametrize("size", [DESK, TABLET, PHONE], ids=["desk", "tablet", "phone"])
def test_a_newcomer_is_done_in_three_minutes(
    browser: Any, server: Server, size: tuple[int, int], hands: type[Mouse] | type[Keyboard]
) -> None:
    with opened(browser, server, size) as look:
        walk = hands(look)
        card = _walked(walk)
        print(f"{hands.__name__} {size[0]} px: {walk.actions} actions, {walk.seconds:.0f} s")
        assert re.search(r"Receiver 1 off when \d+ mL have come over", card)
        assert "Aim 97.0 wt % ethyl acetate is" in card
        assert "(assumed: the sheet names no course)" in card
        assert walk.actions <= MOST_ACTIONS
        assert walk.seconds <= LONGEST
        assert look.said == []
