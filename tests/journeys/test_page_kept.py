"""Sheets of one's own, a review and a search that can be stopped, in a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from journeys.browser import DESK, PHONE, TABLET, Look, opened
from journeys.served import Server, served_in
from journeys.test_page_for_everyone import LEAST

NASTY = "<img src=x onerror='window.hacked=1'>"
LOG = "time_min,head_C,distillate_mL\n0,20,0\n20,58,0\n24,60,2\n40,64,20\n45,80,25\n70,110,50\n"
ASSAYS = "cut,method,substance,value,unit\n1,mass,,20.1,g\n"
SIZES = pytest.mark.parametrize("size", [DESK, TABLET, PHONE], ids=["desk", "tablet", "phone"])


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with served_in(tmp_path_factory.mktemp("mine")) as found:
        yield found


def _press(look: Look, name: str) -> None:
    look.page.get_by_role("button", name=name, exact=True).first.click()


def _amount(look: Look) -> Any:
    row = look.page.get_by_role("group", name="Component 1", exact=True)
    return row.get_by_label("Amount", exact=True)


def _show_mine(look: Look) -> Any:
    if look.page.get_by_role("button", name="My sheets", exact=True).count() == 0:
        _press(look, "Save, open, share")
    _press(look, "My sheets")
    return look.page.get_by_role("region", name="My sheets", exact=True)


@SIZES
def test_sheets_are_kept_by_name(browser: Any, server: Server, size: tuple[int, int]) -> None:
    with opened(browser, server, size) as look:
        _amount(look).fill("71 mL")
        mine = _show_mine(look)
        mine.get_by_label("Name").fill(NASTY)
        _press(look, "Keep under this name")
        mine.get_by_role("button", name=f"Duplicate: {NASTY}", exact=True).click()
        mine.get_by_role("button", name=f"Delete: {NASTY} (copy)", exact=True).wait_for()
        assert look.axe() == []
        _amount(look).fill("72 mL")
        _press(look, "Keep under this name")
        mine.get_by_text("is kept").wait_for()
        mine.get_by_role("button", name=f"Open: {NASTY} (copy)", exact=True).click()
        for _ in range(600):  # the page forbids the tool's own way of waiting for a value
            if _amount(look).input_value() == "71 mL":
                break
            look.page.wait_for_timeout(50)
        look.wait()
        assert _amount(look).input_value() == "71 mL"
        mine.get_by_role("button", name=f"Copy its link: {NASTY}", exact=True).click()
        mine.get_by_text("Link copied").or_(mine.get_by_text("The link stands")).wait_for()
        assert "#my-sheet=" in look.page.url
        address = look.page.url
        look.page.goto("about:blank")
        look.page.goto(address)
        look.wait()
        assert _amount(look).input_value() == "72 mL"
        mine = _show_mine(look)
        for name in (NASTY, f"{NASTY} (copy)"):
            mine.get_by_role("button", name=f"Delete: {name}", exact=True).click()
            mine.get_by_text("is deleted").wait_for()
            _press(look, "Bring it back")
            mine.get_by_role("button", name=f"Open: {name}", exact=True).wait_for()
            mine.get_by_role("button", name=f"Delete: {name}", exact=True).click()
            mine.get_by_role("button", name=f"Open: {name}", exact=True).wait_for(state="detached")
        assert mine.get_by_text("None yet.").is_visible()
        assert look.page.evaluate("window.hacked === undefined")
        wide = look.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size[0], "something sticks out at the side"
        assert look.said == []
        assert look.foreign() == []


def test_a_link_to_nothing_is_said(browser: Any, server: Server) -> None:
    with opened(browser, server, fragment="#my-sheet=987654") as look:
        assert look.page.get_by_text("No sheet is kept under this link").is_visible()
        assert _amount(look).input_value()


@SIZES
def test_a_run_is_reviewed(
    browser: Any, server: Server, size: tuple[int, int], tmp_path: Path
) -> None:
    (tmp_path / "log.csv").write_text(LOG, "utf-8")
    (tmp_path / "weighed.csv").write_text(ASSAYS, "utf-8")
    (tmp_path / "wrong.csv").write_text("colour\nred\n", "utf-8")
    with opened(browser, server, size) as look:
        part = look.page.get_by_role("group", name="What it gave", exact=True)
        go = look.page.get_by_role("button", name="Review this run", exact=True)
        look.page.get_by_label("Also find plates and losses").uncheck()
        assert go.is_disabled()
        files = part.locator("input[type=file]")
        files.nth(0).set_input_files(tmp_path / "wrong.csv")
        part.get_by_text("wrong.csv").wait_for()
        go.click()
        fault = look.page.locator(".section .fault[role=alert]")
        fault.wait_for(timeout=60_000)
        assert "accepted" in fault.inner_text()
        files.nth(0).set_input_files(tmp_path / "log.csv")
        files.nth(1).set_input_files(tmp_path / "weighed.csv")
        part.get_by_text("weighed.csv").wait_for()
        go.click()
        look.page.locator("#reviewed").wait_for(timeout=120_000)
        picture = look.page.locator("img.drawn")
        assert picture.evaluate("image => image.decode().then(() => image.naturalWidth)") > 0
        account = look.page.get_by_role("region", name="Where every gram is")
        assert "receiver 1" in account.inner_text()
        first = look.page.get_by_role("region", name="Receivers and pot").locator("tbody tr").first
        assert "20.1" in first.inner_text()
        assert "measured" in first.inner_text()
        assert look.axe() == []
        look.page.get_by_text("On paper", exact=True).click()
        heights = look.page.locator(
            "details:has(#note-paper) :is(input, select, button)"
        ).evaluate_all("all => all.map(one => one.getBoundingClientRect().height)")
        assert len(heights) > 8
        assert min(heights) >= LEAST - 0.5
        look.page.get_by_label("Owner of the bottles").fill("Group 3")
        with look.page.expect_download(timeout=60_000) as told:
            look.page.get_by_role("button", name="Save labels (PDF)").click()
        assert Path(told.value.path()).read_bytes().startswith(b"%PDF")
        assert look.axe() == []
        _amount(look).fill("73 mL")
        look.page.get_by_text("The sheet or the files have changed since.").wait_for()
        wide = look.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size[0], "something sticks out at the side"
        assert look.said == []


def test_what_is_run_again_becomes_a_sheet(browser: Any, server: Server, tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text(LOG, "utf-8")
    (tmp_path / "weighed.csv").write_text(ASSAYS, "utf-8")
    with opened(browser, server) as look:
        part = look.page.get_by_role("group", name="What it gave", exact=True)
        look.page.get_by_label("Also find plates and losses").uncheck()
        files = part.locator("input[type=file]")
        files.nth(0).set_input_files(tmp_path / "log.csv")
        files.nth(1).set_input_files(tmp_path / "weighed.csv")
        part.get_by_text("weighed.csv").wait_for()
        look.page.get_by_role("button", name="Review this run", exact=True).click()
        begin = look.page.get_by_role("button", name="Begin a sheet with")
        begin.wait_for(timeout=120_000)
        before = _amount(look).input_value()
        begin.click()
        assert " g" in _amount(look).input_value()
        assert _amount(look).input_value() != before


def test_the_search_for_glass_tells_how_far_it_is_and_stops(browser: Any, server: Server) -> None:
    told = (
        'event: progress\ndata: {"done": 3, "total": 8}\n\n'
        'event: progress\ndata: {"done": 4, "total": 8}\n\n'
    )
    script = """told => {
        const real = window.fetch;
        window.ended = 0;
        window.fetch = (path, options) => {
            if (!String(path).endsWith('/api/advise')) return real(path, options);
            const body = new ReadableStream({ start(out) {
                out.enqueue(new TextEncoder().encode(told));
                options.signal.addEventListener('abort', () => {
                    window.ended += 1;
                    out.error(new DOMException('stopped', 'AbortError'));
                });
            } });
            const headers = { 'content-type': 'text/event-stream' };
            return Promise.resolve(new Response(body, { headers }));
        };
    }"""
    with opened(browser, server) as look:
        look.page.evaluate(script, told)
        _amount(look).fill("74 mL")
        look.page.get_by_text("4 of 8").first.wait_for(timeout=120_000)
        _press(look, "Stop looking")
        look.page.get_by_text("Stopped before there was a verdict").wait_for()
        assert look.page.evaluate("window.ended") >= 1
        assert look.axe() == []
        _press(look, "Look again")
        look.page.get_by_text("4 of 8").first.wait_for(timeout=120_000)


_LOGGER = "Device: TC-200\nSerial: 11842\n\nDate;Time;Temp (°C)\n" + "".join(
    f"2026-11-26;{9 + m // 60:02d}:{m % 60:02d};{c:.1f}\n".replace(".", ",")
    for m, c in ((0, 20), (20, 40), (25, 56), (40, 58), (60, 62), (80, 80), (100, 100), (120, 110))
)
_WEIGHED = "cut,method,substance,value,unit\n1,mass,,30.2,g\n2,mass,,12.1,g\npot,mass,,20.0,g\n"


def test_a_log_as_a_logger_wrote_it_and_three_weighed_bottles(
    browser: Any, server: Server, tmp_path: Path
) -> None:
    """In Windows-1252, with lines above the headings; what was not analysed is said to be so."""
    (tmp_path / "logger.csv").write_bytes(_LOGGER.encode("cp1252"))
    (tmp_path / "weighed.csv").write_text(_WEIGHED, "utf-8")
    with opened(browser, server) as look:
        part = look.page.get_by_role("group", name="What it gave", exact=True)
        look.page.get_by_label("Also find plates and losses").uncheck()
        files = part.locator("input[type=file]")
        files.nth(0).set_input_files(tmp_path / "logger.csv")
        files.nth(1).set_input_files(tmp_path / "weighed.csv")
        part.get_by_text("weighed.csv").wait_for()
        look.page.get_by_role("button", name="Review this run", exact=True).click()
        notes = look.page.locator("#cut-notes")
        notes.wait_for(timeout=60_000)
        assert "Not analysed: cut 1, cut 2 and the pot." in notes.inner_text()
        assert "was taken as head_C, as it is the only temperature" in (
            look.page.locator(".lookout").last.inner_text()
        )
        assert look.said == []
