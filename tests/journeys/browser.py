"""A real browser for the tests of the page; without one they are skipped, and say so."""

from __future__ import annotations

import gzip
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from journeys.served import Server

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
DESK, TABLET, PHONE = (1280, 860), (820, 1180), (390, 844)
_AXE = Path(__file__).parent / "assets" / "axe.min.js.gz"
_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@contextmanager
def started_browser() -> Iterator[Any]:
    """Start a browser that can resolve no name at all: what works in it works offline."""
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    if found is None:
        pytest.skip("no Chromium on this machine: the tests of the page need one (apt: chromium)")
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415 -- a browser comes first
    except ImportError:
        pytest.skip("playwright is not installed here: the tests of the page need it")
    offline = "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"
    root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    with sync_playwright() as tool:
        browser = tool.chromium.launch(executable_path=found, args=[offline, *root])
        yield browser
        browser.close()


@dataclass
class Look:
    """A page that is looked at, and what went on behind it."""

    page: Any
    server: Server
    asked: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    weight: int = 0

    def wait(self) -> None:
        """Wait until the sheet has its answer."""
        self.page.wait_for_selector('[data-ready="true"][data-busy="false"]', timeout=60_000)

    def finding(self) -> str:
        """Return the sentence that the answer begins with."""
        return str(self.page.locator(".finding").inner_text()).replace("\u202f", " ")

    def axe(self) -> list[str]:
        """Return what is wrong for people who read or steer otherwise."""
        self.page.evaluate(gzip.decompress(_AXE.read_bytes()).decode())
        run = "tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})"
        found = self.page.evaluate(run, _RULES)
        return [
            f"{v['id']}: {node['html'][:160]} -- {node['failureSummary'][:200]}"
            for v in found["violations"]
            for node in v["nodes"]
        ]

    def too_small(self, which: str = "button, a") -> list[str]:
        """Return the words of what is in sight and lower than a finger is wide.

        Args:
            which: a CSS selector.
        """
        found: list[str] = self.page.evaluate(
            "which => [...document.querySelectorAll(which)]"
            ".filter(e => e.offsetHeight && e.getBoundingClientRect().height < 44)"
            ".map(e => e.textContent || e.id)",
            which,
        )
        return found

    def foreign(self) -> list[str]:
        """Return requests that were not to our own server."""
        own = ("blob:", f"{self.server.address}/")
        return [address for address in self.asked if not address.startswith(own)]


@contextmanager
def opened(
    browser: Any,
    server: Server,
    size: tuple[int, int] = DESK,
    *,
    dark: bool = False,
    fragment: str = "",
) -> Iterator[Look]:
    """Open the page in a browser that has never seen it."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if dark else "light",
        accept_downloads=True,
    )
    # scripts of the tests themselves (axe) need an exemption that only the tool can give
    page = context.new_page()
    look = Look(page, server)
    page.on("request", lambda request: look.asked.append(request.url))
    page.on("pageerror", lambda problem: look.said.append(f"error: {problem}"))
    page.on("console", lambda line: _note(look, line))
    page.goto(f"{server.address}/{fragment}")
    look.wait()
    yield look
    context.close()


def _note(look: Look, line: Any) -> None:
    refused = "Failed to load resource" in line.text  # the server's 422 is no fault of the page
    if line.type in {"error", "warning"} and not refused:
        look.said.append(line.text)
