"""At the hood in a real browser: what is confirmed, what is asked first, where an end leads."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from forerun.records.readings import read_readings
from journeys.browser import PHONE, TABLET, Look
from journeys.hood_bench import CODE, DRYNESS, RUN, Bench, estimate, instruction
from journeys.test_hood import CELSIUS, LANDSCAPE, at_hood, press, under_way, until

SIZES = pytest.mark.parametrize("size", [LANDSCAPE, TABLET, PHONE], ids=["wide", "tablet", "phone"])


@pytest.fixture
def bench() -> Iterator[Bench]:
    found = Bench()
    yield found
    found.stop()


def places(look: Look) -> dict[str, float]:
    """Return where every large button of the taps stands."""
    found: dict[str, float] = look.page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll('.taps > .big')]
           .map(e => [e.querySelector('b').textContent, e.getBoundingClientRect().top]))"""
    )
    return found


def say(bench: Bench, kind: str, **data: Any) -> None:
    """Another device of the same bench writes something down."""
    sequence = len(bench.entries) + 1
    bench.take("entries", {"kind": kind, "data": data, "origin": "other", "sequence": sequence})


def summary(**changes: Any) -> dict[str, Any]:
    """Return an invented bench of the wall."""
    return {
        "id": RUN, "code": CODE, "title": "Acetone from toluene", "now_s": 1900.0,
        "state": "ended", "head_K": 329.6, "bath_K": 371.0, "distillate_m3": 2e-5,
        "rate_m3_s": None, "residue_m3": [8e-5, 8.4e-5, 9e-5],
        "instruction": "Wait: first drop in 12–27 min.", "alarm": None, "last_reading_s": 1890.0,
        **changes,
    }  # fmt: skip


def test_what_was_written_down_is_said(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench) as look:
        press(look, re.compile("^Note"))
        look.page.get_by_label("What you want to keep").fill("ice renewed")
        press(look, "Write it down")
        look.page.get_by_text("✓ Written down: ice renewed").wait_for()
        press(look, re.compile("^Type a number"))
        for key in ("7", "8"):
            look.page.get_by_role("button", name=key, exact=True).click()
        press(look, "Write it down")
        look.page.get_by_text("✓ Written down: Head 78 °C").wait_for()
        bench.stop()
        look.page.get_by_text("△ no connection", exact=True).wait_for()
        press(look, "Something odd")
        press(look, "foams")
        look.page.get_by_text("△ Kept here, sent later: foams").wait_for()
        assert look.page.get_by_text("✓ Written down: foams").count() == 0
        bench.start()
        look.page.get_by_text("✓ Written down: foams").wait_for()


def test_what_was_refused_is_not_called_written_down(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench) as look:
        bench.ended = 1.0  # the server has ended the run, the page has not heard of it
        press(look, re.compile("^Note"))
        look.page.get_by_label("What you want to keep").fill("too late")
        press(look, "Write it down")
        look.page.get_by_text("Not taken: too late.").wait_for()
        assert look.page.get_by_text("Written down").count() == 0


@SIZES
def test_nothing_moves_when_a_bottle_goes_away(
    browser: Any, bench: Bench, size: tuple[int, int]
) -> None:
    under_way(bench)
    with at_hood(browser, bench, size) as look:
        before = places(look)
        press(look, re.compile("^Bottle off"))
        back = look.page.get_by_role("button", name=re.compile("^Take it back"))
        back.wait_for()
        assert "bottle 1 off" in back.inner_text()
        assert places(look) == before
        until(lambda: bool(bench.entries), 8.0)
        back.wait_for(state="detached")
        look.page.get_by_text("✓ Written down: bottle 1 off").wait_for()
        assert places(look) == before


def test_notes_and_bottles_stand_in_the_table(browser: Any, bench: Bench) -> None:
    under_way(bench)
    with at_hood(browser, bench) as look:
        now = bench.seconds()
        say(bench, "switched", receiver=1, time_s=now - 90.0)
        say(bench, "note", text="ice renewed", time_s=now - 10.0)
        say(bench, "drops", count=10, over_s=9.0, time_s=now - 5.0)
        before = places(look)
        press(look, "As a table")
        look.page.locator(".saidrow").nth(1).wait_for()
        assert places(look) == before
        rows = [" ".join(row.split()) for row in look.page.locator("tbody tr").all_inner_texts()]
        assert rows[0].endswith("ice renewed")
        assert "bottle 1 off" in rows[2] or "bottle 1 off" in rows[3]
        assert not any("10 drops" in row for row in rows)


@pytest.mark.parametrize(
    ("action", "asks"),
    [("wait", 0), ("hold", 0), ("switch", 3), ("heat_less", 3), ("stop", 3), ("look", 3)],
)
def test_an_answer_is_asked_only_where_something_is_to_be_done(
    browser: Any, bench: Bench, action: str, asks: int
) -> None:
    bench.tell("instruction", instruction(f"{action}-1", action, "Invented words"))
    with at_hood(browser, bench) as look:
        look.page.get_by_text("Invented words").wait_for()
        assert look.page.locator(".instruct .answers button").count() == asks


def test_a_bottle_off_before_anything_came_over_is_asked_about(browser: Any, bench: Bench) -> None:
    told = estimate(bench.seconds())
    told["fan"].pop("distillate_volume_m3")
    bench.tell("estimate", told)
    bench.read(bench.seconds() - 5.0, head_K=CELSIUS + 25.0, distillate_m3=0.0)
    with at_hood(browser, bench) as look:
        press(look, re.compile("^Bottle off"))
        look.page.get_by_text("Nothing has come over yet").wait_for()
        press(look, "No, leave it")
        assert look.page.get_by_text("Nothing has come over yet").count() == 0
        press(look, re.compile("^Bottle off"))
        press(look, "Yes, bottle 1 is off")
        until(lambda: bool(bench.entries), 8.0)
        assert bench.entries[0]["data"]["receiver"] == 1
        assert len(bench.entries) == 1
        press(look, re.compile("^Bottle off"))
        look.page.get_by_text("Is bottle 2 off?").wait_for()
        press(look, "No, leave it")
        bench.read(bench.seconds(), head_K=CELSIUS + 56.0, distillate_m3=3e-6)
        look.page.locator(".four .value", has_text="3.0").wait_for()
        press(look, re.compile("^Bottle off"))
        look.page.get_by_role("button", name=re.compile("^Take it back")).wait_for()


@SIZES
def test_an_end_is_seen_and_leads_on(
    browser: Any, bench: Bench, size: tuple[int, int], tmp_path: Path
) -> None:
    under_way(bench)
    with at_hood(browser, bench, size) as look:
        press(look, "End of the run")
        press(look, "End it")
        ended = look.page.locator(".told", has_text="Ended")
        ended.wait_for()
        until(lambda: bool(look.page.evaluate("scrollY") == 0))
        box = ended.bounding_box()
        assert 0 <= box["y"] <= box["y"] + box["height"] <= size[1]
        assert look.page.get_by_text("Hold: 12").count() == 0
        assert look.axe() == []
        with look.page.expect_download() as waited:
            press(look, "Log (CSV)")
        waited.value.save_as(tmp_path / "log.csv")
        read = read_readings(tmp_path / "log.csv")
        assert len(read) == len(bench.readings)
        assert read.flags == ()
        assert read.channel("head_K")[-1] == pytest.approx(bench.readings[-1]["head_K"], abs=0.01)
        assert read.channel("distillate_m3")[-1] == pytest.approx(33e-6)


def test_the_log_holds_notes_and_bottles_where_they_fell(
    browser: Any, bench: Bench, tmp_path: Path
) -> None:
    under_way(bench)
    now = bench.seconds()
    say(bench, "odd", text='foams, says\n"A"', time_s=now - 600.0)
    say(bench, "switched", receiver=1, time_s=now - 300.0)
    bench.ended = 1.0
    with at_hood(browser, bench) as look:
        with look.page.expect_download() as waited:
            press(look, "Log (CSV)")
        waited.value.save_as(tmp_path / "log.csv")
        rows = read_readings(tmp_path / "log.csv").rows
        said = [(row.time_s, row.remark) for row in rows if row.remark]
        assert [remark for _, remark in said] == ['foams, says "A"', "bottle 1 off"]
        assert [time for time, _ in said] == pytest.approx([now - 600.0, now - 300.0], abs=0.1)


def test_all_benches_show_who_has_ended_and_what_is_next(browser: Any, bench: Bench) -> None:
    under_way(bench)
    bench.wall = [summary(), summary(id="other", code="BBBBBB", state="waiting", title="runs")]
    with at_hood(browser, bench, view="wall") as look:
        tile = look.page.locator(".bench.ended")
        assert tile.locator(".benchstate").inner_text() == "✓ Ended"
        assert "Wait: first drop" not in tile.inner_text()
        assert tile.get_by_role("button").all_inner_texts() == ["Log (CSV)", "Review", "Sheet"]
        assert look.page.locator(".bench", has_text="runs").get_by_role("button").count() == 0
        drawn = tile.evaluate("e => parseFloat(getComputedStyle(e).borderBottomWidth)")
        assert drawn >= 1, "a tile has four edges"
        assert look.axe() == []
        with look.page.expect_download() as waited:
            tile.get_by_role("button", name="Log (CSV)").click()
        assert waited.value.suggested_filename == "acetone-from-toluene-k7m2qx.csv"


def test_the_code_leads_to_the_run_and_all_benches_are_named(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench) as look:
        assert look.page.get_by_role("link", name=CODE).get_attribute("href") == f"#/hood/{CODE}"
        look.page.get_by_role("link", name="All benches").click()
        look.page.locator(".wall").wait_for()


def test_a_phone_has_a_slim_header_and_the_taps_in_sight(browser: Any, bench: Bench) -> None:
    under_way(bench)
    with at_hood(browser, bench, PHONE) as look:
        assert look.page.locator(".hoodtop").bounding_box()["height"] <= 150
        box = look.page.locator(".taps .drop").bounding_box()
        assert box["y"] + box["height"] <= PHONE[1]


@pytest.mark.parametrize("high", [800, 720])
def test_a_tablet_that_lies_shows_every_button_whole(browser: Any, bench: Bench, high: int) -> None:
    under_way(bench)
    with at_hood(browser, bench, (1280, high)) as look:
        for name in ("Note", "End of the run"):
            box = look.page.get_by_role("button", name=name).first.bounding_box()
            assert box["y"] + box["height"] <= high, name
        look.page.get_by_text("Acetone from toluene").wait_for()
        title = look.page.locator(".hoodtop h1")
        assert title.evaluate("e => e.scrollWidth <= e.clientWidth")
        bench.tell("alarm", [{**DRYNESS, "state": "warn"}])
        look.page.locator(".alarmline").wait_for()
        assert look.page.evaluate("document.documentElement.scrollWidth") <= 1280
