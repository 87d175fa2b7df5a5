"""A hidden run from the page: an instructor hides, two students hand in, marks come back."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from forerun.app.cli import main
from journeys.browser import DESK, PHONE, TABLET, Look, opened
from journeys.served import Server, served_in
from journeys.test_keyboard_only import _push, _type

_SECRET = "chalk and cheese"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with served_in(tmp_path_factory.mktemp("mine"), _SECRET) as found:
        yield found


def _class_page(look: Look) -> None:
    look.page.locator("header select").select_option("class-pair")
    look.wait()
    look.page.get_by_role("link", name="For a class", exact=True).click()
    look.page.wait_for_selector('.lessons[data-ready="true"]')
    look.page.get_by_label("Students", exact=True).wait_for()


def _hide(look: Look, students: str = "3") -> list[str]:
    """Hide something in the runs of a class; returns what stands on the slips."""
    look.page.get_by_label("Students", exact=True).fill(students)
    for label in ("barometer or altitude", "water in the charge"):
        look.page.get_by_label(label, exact=True).uncheck()
    look.page.get_by_label("Words of your own").fill(_SECRET)
    look.page.get_by_role("button", name="Hide it").click()
    look.page.wait_for_selector("td.ticket")
    return [str(text) for text in look.page.locator("td.ticket").all_inner_texts()]


def _open_slip(look: Look, ticket: str) -> None:
    look.page.goto(f"{look.server.address}/#/slip")
    look.page.get_by_label("From the slip").fill(ticket.lower())
    look.page.get_by_role("button", name="Open my run").click()
    look.page.wait_for_selector("#log-moment")


def _handed_in(look: Look) -> None:
    look.page.wait_for_selector("#handed:has-text('Handed in')")


def _first_student(browser: Any, server: Server, ticket: str) -> None:
    """Somebody with a finger reads the log, mistypes once, and decides by volumes."""
    with opened(browser, server, TABLET) as look:
        _open_slip(look, ticket)
        moment = look.page.get_by_label("Moment of the run")
        moment.fill("150")
        look.page.get_by_role("button", name="Receiver put in place here").click()
        last = int(moment.get_attribute("max") or 0)
        moment.fill(str(last))
        look.page.get_by_role("button", name="Receiver taken away here").click()
        assert look.page.get_by_label("Receiver taken away at").input_value().endswith(" mL")
        look.page.get_by_label("What goes wrong").select_option(label="nothing")
        look.page.get_by_label("cyclohexane in the flask").fill("50 g")
        look.page.get_by_role("button", name="Hand in", exact=True).click()
        fault = look.page.locator("#said-share-fault")
        fault.wait_for()
        assert "mol%" in fault.inner_text()
        look.page.reload()  # what was typed stands again
        look.page.wait_for_selector("#log-moment")
        assert look.page.get_by_label("cyclohexane in the flask").input_value() == "50 g"
        look.page.get_by_label("cyclohexane in the flask").fill("50 mol%")
        look.page.get_by_label("Why").fill('"flat", then it rises')
        look.page.get_by_role("button", name="Hand in", exact=True).click()
        _handed_in(look)
        assert look.said == []
        assert look.foreign() == []
        assert not any(part in url for url in look.asked for part in (ticket, ticket.lower()))


def _second_student(browser: Any, server: Server, ticket: str) -> None:
    """Somebody without a pointer plans on the sheet, drives the bench, decides by a temperature."""
    with opened(browser, server, DESK) as look:
        look.page.goto(f"{server.address}/#/slip")
        look.page.wait_for_selector("#slip")
        _type(look, "From the slip", ticket)
        look.page.keyboard.press("Enter")
        look.page.wait_for_selector("#log-moment")
        dealt = look.page.locator(".figure figcaption").inner_text()
        _push(look, "Take the sheet to plan")
        look.wait()
        _type(look, "Reflux", "0.5")
        look.wait()
        look.page.goto(f"{server.address}/#/slip")
        look.page.wait_for_selector("#log-moment")
        _push(look, "Run the bench by the open sheet")
        look.page.wait_for_selector("text=of your own programme")
        assert look.page.locator(".figure figcaption").inner_text() != dealt
        _type(look, "Receiver put in place at", "0 mL")
        _type(look, "Receiver taken away at", "90 °C")
        _push(look, "Hand in")
        _handed_in(look)
        assert look.said == []


def _totals(look: Look) -> dict[str, str]:
    rows = look.page.locator("tr", has=look.page.locator("td.ticket"))
    return {row.split("\t")[0]: row.split("\t")[3] for row in rows.all_inner_texts()}


def _mark(look: Look) -> None:
    look.page.get_by_role("button", name="Mark what is handed in").click()
    look.page.wait_for_selector(".found:has-text('marked')")


def _by_command(look: Look, place: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    """Return what the command says of the files that the page gives."""
    with look.page.expect_download() as saved:
        look.page.get_by_role("button", name="All files, with the key").click()
    with zipfile.ZipFile(saved.value.path()) as archive:
        archive.extractall(place)
    (folder,) = place.iterdir()
    capsys.readouterr()
    assert main(["mark", str(folder / "key.toml"), str(folder / "handed-in"), "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_hidden_tried_handed_in_and_marked_as_the_command_marks(
    browser: Any, server: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with opened(browser, server, TABLET) as look:
        _class_page(look)
        tickets = _hide(look)
        assert [ticket[:3] for ticket in tickets] == ["S01", "S02", "S03"]
        assert not any(word in url for url in look.asked for word in ("chalk", *tickets))
        with look.page.expect_download() as saved:
            look.page.get_by_role("button", name="Slips (PDF)").click()
        assert Path(saved.value.path()).read_bytes().startswith(b"%PDF")
        look.page.get_by_role("button", name="Mark what is handed in").click()
        look.page.wait_for_selector("text=somebody has handed something in")
        _first_student(browser, server, tickets[0])
        _second_student(browser, server, tickets[1])
        look.page.get_by_role("button", name="Look again").click()
        look.page.wait_for_selector("text=driven otherwise")
        _mark(look)
        told = _by_command(look, tmp_path / "first", capsys)
        before = _totals(look)
        expected = {one["code"]: f"{one['total']:.0f}" for one in told["marks"]}
        assert before == {**expected, "S03": "–"}
        look.page.get_by_text("S01:", exact=False).first.click()
        assert "Hidden was" in look.page.locator("details[open]").inner_text()
        for part, weight in (("Data", "0"), ("Reasoning", "0"), ("Purity", "90")):
            look.page.get_by_label(part, exact=True).first.fill(weight)
        _mark(look)
        again = _by_command(look, tmp_path / "second", capsys)
        assert again["weights"] == {"data": 0, "reasoning": 0, "recovery": 25, "purity": 90}
        assert _totals(look) != before
        with look.page.expect_download() as saved:
            look.page.get_by_role("button", name="Marks (CSV)").first.click()
        rows = list(csv.DictReader(io.StringIO(Path(saved.value.path()).read_text("utf-8"))))
        by_page = {row["student"]: float(row["total"]) for row in rows}
        assert by_page == {one["code"]: one["total"] for one in again["marks"]}
        look.page.get_by_role("button", name="Let the students see").click()
        look.page.wait_for_selector("text=The students see their marks")
        assert look.said == []
        assert look.foreign() == []
    with opened(browser, server, TABLET) as look:
        _open_slip(look, tickets[0])
        assert f"{by_page['S01']:.0f} of 100" in look.page.locator("#my-marks").inner_text()
        assert "Hidden was" in look.page.locator("main").inner_text()
        assert look.page.get_by_role("button", name="Hand in again").is_disabled()


def test_what_cannot_be_hidden_is_said_and_a_class_is_erased(browser: Any, server: Server) -> None:
    with opened(browser, server) as look:
        _class_page(look)
        look.page.get_by_label("Students", exact=True).fill("many")
        look.page.get_by_role("button", name="Hide it").click()
        look.page.wait_for_selector('[role="status"] .fault:has-text("students")')
        _hide(look, "1")
        count = look.page.get_by_role("button", name="Close Cyclohexane").count()
        assert count == 1
        (ticket,) = look.page.locator("td.ticket").all_inner_texts()
        look.page.get_by_role("button", name="Erase this class").click()
        look.page.get_by_role("button", name="Keep it").click()
        look.page.get_by_role("button", name="Erase this class").click()
        look.page.get_by_role("button", name="Erase for good").click()
        look.page.wait_for_selector("td.ticket", state="detached")
        look.page.goto(f"{server.address}/#/slip")
        look.page.get_by_label("From the slip").fill(ticket)
        look.page.get_by_role("button", name="Open my run").click()
        look.page.wait_for_selector("#slip-fault .fault")


@pytest.mark.parametrize("size", [DESK, TABLET, PHONE], ids=["desk", "tablet", "phone"])
def test_nothing_hinders_anybody(browser: Any, server: Server, size: tuple[int, int]) -> None:
    with opened(browser, server, size) as look:
        _class_page(look)
        (ticket,) = _hide(look, "1")
        for number in range(2):
            if number:
                _open_slip(look, ticket)
            assert look.axe() == []
            assert look.page.evaluate("document.documentElement.scrollWidth") <= size[0]
            assert look.too_small("button, a, summary, .tick, .entry input") == []
