"""An instructor marks real runs on the page: folder or files, errors beside what they are about."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from forerun.running.simulated import simulated_log
from forerun.sheets.resolving import load
from journeys.browser import DESK, PHONE, TABLET, Look, opened
from journeys.served import Server
from unit.app.test_mark_runs import _assays, _bench


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two benches: one whole, one whose assays were forgotten."""
    place = tmp_path_factory.mktemp("class") / "ran"
    made = simulated_log(load("class-pair"), 31)
    for code in ("B01", "B02"):
        _bench(place / code, made.readings, _assays(made))
    (place / "B02" / "assays.csv").rename(place.parent / "B02-assays.csv")
    (place / "notes.txt").write_text("nothing for a machine", "utf-8")
    return place


def _open(look: Look) -> None:
    look.page.locator("header select").select_option("class-pair")
    look.wait()
    look.page.get_by_role("link", name="For a class", exact=True).click()
    look.page.wait_for_selector('.lessons[data-ready="true"]')


def _mark(look: Look) -> None:
    look.page.get_by_role("button", name="Mark the runs").click()
    look.page.wait_for_selector("#marked")


def test_a_folder_is_marked_and_what_was_forgotten_is_said_in_its_row(
    browser: Any, server: Server, ran: Path
) -> None:
    with opened(browser, server) as look:
        _open(look)
        folder, several = look.page.locator('.lessons input[type="file"]').all()
        folder.set_input_files(str(ran))
        look.page.wait_for_selector("text=B02")
        assert "notes.txt" in look.page.locator("#refused").inner_text()
        _mark(look)
        assert "1 marked" in look.page.locator("#marked").inner_text()
        row = look.page.locator("tbody tr", has_text="B02")
        assert "B02/assays.csv" in row.locator(".fault").inner_text()
        several.set_input_files(str(ran.parent / "B02-assays.csv"))
        _mark(look)
        assert "2 marked" in look.page.locator("#marked").inner_text()
        assert look.page.locator("tbody .fault").count() == 0
        look.page.get_by_text("B01:", exact=False).first.click()
        assert "Receiver" in look.page.locator("details[open]").inner_text()
        with look.page.expect_download() as saved:
            look.page.get_by_role("button", name="Marks (CSV)").click()
        lines = Path(saved.value.path()).read_text("utf-8").splitlines()
        assert [line.split(",")[0] for line in lines] == ["student", "B01", "B02"]
        assert look.said == []
        assert look.foreign() == []


def test_weights_that_cannot_be_used_are_said_beside_them(
    browser: Any, server: Server, ran: Path
) -> None:
    with opened(browser, server) as look:
        _open(look)
        look.page.locator('.lessons input[type="file"]').first.set_input_files(str(ran))
        look.page.get_by_label("Data").fill("-1")
        look.page.get_by_role("button", name="Mark the runs").click()
        fault = look.page.locator(".weights-fault .fault")
        fault.wait_for()
        assert "none below zero" in fault.inner_text()
        look.page.get_by_label("Data").fill("")
        assert "Data" in fault.inner_text()
        assert look.page.get_by_role("button", name="Mark the runs").is_disabled()


@pytest.mark.parametrize("size", [DESK, TABLET, PHONE], ids=["desk", "tablet", "phone"])
def test_nothing_hinders_anybody(
    browser: Any, server: Server, ran: Path, size: tuple[int, int]
) -> None:
    with opened(browser, server, size) as look:
        look.page.locator("header select").select_option("class-pair")
        look.wait()
        look.page.goto(f"{server.address}/#/lessons")
        look.page.wait_for_selector('.lessons[data-ready="true"]')
        look.page.locator('.lessons input[type="file"]').first.set_input_files(str(ran))
        _mark(look)
        assert look.axe() == []
        assert look.page.evaluate("document.documentElement.scrollWidth") <= size[0]
        assert look.too_small("button, a, summary, .weights input") == []
