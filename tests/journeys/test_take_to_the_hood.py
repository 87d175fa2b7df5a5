"""From the planning page to the hood with the real server: begun, joined, read, told what to do."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from journeys.browser import DESK, opened, started_browser
from journeys.served import Server

PATIENCE = 90_000  # ms: the first estimate of a server starts a process and runs the ensemble


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with started_browser() as found:
        yield found


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FORERUN_DATA", str(tmp_path_factory.mktemp("mine")))
        found = Server()
        yield found
        assert "Traceback" not in found.close()


def test_a_run_goes_from_the_page_to_the_hood(browser: Any, server: Server) -> None:
    with opened(browser, server, DESK) as look:
        page = look.page
        page.get_by_role("button", name="Take it to the hood", exact=True).click()
        page.get_by_role("button", name="Begin the run now").click()
        code = page.locator(".takecode").inner_text()
        assert re.fullmatch(r"[A-Z0-9]{6}", code)
        drawn = page.locator(".takeqr").evaluate("e => e.decode().then(() => e.naturalWidth)")
        assert drawn > 0
        assert look.axe() == []
        page.get_by_role("link", name="Open it here").click()
        page.locator(".hood").wait_for()
        assert code in page.locator(".hood").inner_text()
        page.get_by_role("button", name=re.compile("^Type a number")).click()
        page.get_by_role("dialog").get_by_role("button", name="2", exact=True).click()
        page.get_by_role("dialog").get_by_role("button", name="1", exact=True).click()
        page.get_by_role("dialog").get_by_role("button", name="Write it down").click()
        page.locator(".told").filter(has_text=re.compile(r"\w+: .*|Look.*")).wait_for(
            timeout=PATIENCE
        )
        told = page.locator(".told").inner_text()
        assert re.search(r"(Wait|Hold|Look|Raise|Lower)", told), told
        page.goto(f"{look.page.url.partition('#')[0]}#/wall")
        page.locator(".bench").filter(has_text=code).wait_for()
