"""From the planning page to the hood with the real server: begun, joined, read, told what to do."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from journeys.browser import DESK, opened
from journeys.served import Server, served_in

PATIENCE = 90_000  # ms: the first estimate of a server starts a process and runs the ensemble


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with served_in(tmp_path_factory.mktemp("mine")) as found:
        yield found


def test_a_run_goes_from_the_page_to_the_hood(browser: Any, server: Server) -> None:
    with opened(browser, server, DESK) as look:
        page = look.page
        page.get_by_role("button", name="Take it to the hood", exact=True).click()
        assert "type the code" not in page.locator(".take").inner_text(), "there is none yet"
        page.get_by_role("button", name="Begin the run now").click()
        code = page.locator(".takecode").inner_text()
        assert re.fullmatch(r"[A-Z0-9]{6}", code)
        # an address that nobody else can open is no picture to scan: it says what to do instead
        assert page.locator(".takeqr").count() == 0
        said = page.locator(".take").inner_text()
        assert "forerun serve --open NAME" in said
        assert "type the code" not in said
        assert page.locator(".takecode").get_attribute("href").endswith(f"/#/hood/{code}")
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


def test_an_address_that_others_can_open_is_drawn_and_told(browser: Any, server: Server) -> None:
    named = "http://lab-pc.example"

    def from_the_lab(route: Any) -> None:
        asked = route.request
        headers = {**asked.headers, "origin": server.address, "referer": f"{server.address}/"}
        headers.pop("host", None)
        route.fulfill(
            response=route.fetch(
                url=asked.url.replace(named, server.address), headers=headers, max_redirects=0
            )
        )

    context = browser.new_context(viewport={"width": DESK[0], "height": DESK[1]})
    context.route(f"{named}/**", from_the_lab)
    page = context.new_page()
    page.goto(f"{named}/")
    page.wait_for_selector('[data-ready="true"][data-busy="false"]', timeout=PATIENCE)
    page.get_by_role("button", name="Take it to the hood", exact=True).click()
    page.get_by_role("button", name="Begin the run now").click()
    drawn = page.locator(".takeqr").evaluate("e => e.decode().then(() => e.naturalWidth)")
    assert drawn > 0
    said = page.locator(".take").inner_text()
    assert f"{named}/#/hood and type the code" in said
    assert "--open" not in said
    context.unroute_all(behavior="ignoreErrors")
    context.close()


def test_an_ended_run_is_reviewed_with_its_own_sheet_and_log(browser: Any, server: Server) -> None:
    """From the hood back to the planning page: the sheet of the run, its log, one press more."""
    sheet = {
        "title": "the run that ended",
        "charge": [
            {"substance": "acetone", "amount": "30 mL"},
            {"substance": "water", "amount": "30 mL"},
        ],
        "programme": {
            "bath": [["0 min", "25 °C"], ["20 min", "130 °C"]],
            "stop": {"time": "2 h", "residue": "10 mL"},
        },
    }
    run = server.post("/api/runs", {"sheet": sheet, "title": "the run that ended"}).json
    rows = [
        {"time_s": 0.2 * k, "head_C": 22 + min(k, 34), "distillate_mL": max(0, k - 34) / 4}
        for k in range(60)
    ]
    at = f"/api/runs/{run['id']}"
    assert server.post(f"{at}/readings", {"readings": rows, "origin": "t", "sequence": 1}).json
    server.post(f"{at}/entries", {"kind": "note", "data": {"text": "ice renewed"}})
    server.post(f"{at}/end", {})
    with opened(browser, server, DESK) as look:
        page = look.page
        before = page.get_by_label("Title of the sheet").input_value()
        page.goto(f"{server.address}/#/hood/{run['code']}")
        page.locator(".instruct.ended").wait_for()
        page.get_by_role("button", name="Review").click()
        look.wait()
        title = page.get_by_label("Title of the sheet")
        assert title.input_value() == "the run that ended"
        assert page.get_by_text(f"log of {run['code']}").is_visible()
        bath = page.locator("#sheet").inner_text()
        assert "403" not in bath, "temperatures as they were written, not in kelvin"
        go = page.get_by_role("button", name="Review this run")
        assert go.evaluate("e => document.activeElement === e")
        page.get_by_label("Also find plates and losses").uncheck()
        go.click()
        page.locator("#reviewed").wait_for(timeout=PATIENCE)

        page.get_by_role("button", name="Undo").click()
        assert title.input_value() == before
        assert look.said == []
