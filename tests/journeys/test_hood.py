"""At the hood in a real browser: what is read there, what is tapped there, and nothing lost."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from journeys.browser import PHONE, Look
from journeys.hood_bench import CODE, DRYNESS, Bench, estimate, instruction

LANDSCAPE, UPRIGHT = (1280, 800), (800, 1280)
LEAST = 56  # px that a gloved finger needs
CELSIUS = 273.15


@pytest.fixture
def bench() -> Iterator[Bench]:
    found = Bench()
    yield found
    found.stop()


@contextmanager
def at_hood(
    browser: Any,
    bench: Bench,
    size: tuple[int, int] = LANDSCAPE,
    *,
    dark: bool = False,
    view: str = f"hood/{CODE}",
) -> Iterator[Look]:
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if dark else "light",
        has_touch=True,
    )
    look = Look(context.new_page(), bench)  # type: ignore[arg-type]
    look.page.on("request", lambda request: look.asked.append(request.url))
    look.page.on("pageerror", lambda problem: look.said.append(str(problem)))
    look.page.goto(f"{bench.address}/#/{view}")
    look.page.wait_for_selector('[data-ready="true"]')
    yield look
    assert look.said == []
    assert look.foreign() == []
    context.close()


def under_way(bench: Bench) -> None:
    """Half an hour of readings, a forecast and an instruction."""
    now = bench.seconds()
    for k in range(30):
        head = 25 if k < 6 else 56.2 + 0.1 * (k % 3)
        bench.read(
            now - 60 * (30 - k) + 30, head_K=CELSIUS + head, bath_K=CELSIUS + 90 + k / 2,
            pressure_Pa=99300.0, distillate_m3=max(0, k - 7) * 1.5e-6,
        )  # fmt: skip
    bench.tell("estimate", estimate(now))
    bench.tell("instruction", instruction())


def press(look: Look, name: str | re.Pattern[str]) -> None:
    look.page.get_by_role("button", name=name).first.click()


def until(true: Callable[[], bool], within: float = 10.0) -> float:
    """Wait until something holds; return how long it took (s)."""
    begun = time.monotonic()
    while not true():
        assert time.monotonic() - begun < within, "it did not come in time"
        time.sleep(0.02)
    return time.monotonic() - begun


def text(look: Look, selector: str) -> str:
    found = str(look.page.locator(selector).first.inner_text())
    return re.sub(r"\s+", " ", re.sub("[\u00a0\u202f]", " ", found).replace("\u2060", ""))


def test_it_says_what_to_do_when_and_how_it_stands(browser: Any, bench: Bench) -> None:
    under_way(bench)
    with at_hood(browser, bench) as look:
        assert "Hold: 12–18 min to the switch" in text(look, ".told")
        assert "92 % sure" in text(look, ".whytold")
        following = text(look, ".nextline")
        for part in ("Bottle 1 off in", "12–18 min", "9–13 mL", "290–430 drops", "92 % sure"):
            assert part in following
        four = text(look, ".four")
        # 56.4 °C at 99.3 kPa (744.8 mmHg) is 0.00012 x 15.2 x 329.6 = 0.6 K more at 760 mmHg
        assert "56.4°C" in four.replace(" ", "")
        assert "57.0 °C at 760 mmHg" in four
        assert "48K" in four.replace(" ", "")
        assert "33.0mL" in four.replace(" ", "")
        assert "84 mL (80–88 mL) ▲ stop at 20 mL" in four
        axis = str(look.page.locator(".hoodcurve svg").first.text_content())
        assert re.search(r"now, 3\d\u202fmin", axis)
        assert look.page.locator(".hoodcurve .dot").count() == len(bench.readings)
        assert look.page.locator(".hoodcurve .band").count() == 1


def test_it_is_never_surer_than_its_guesses_and_says_when_it_is_due(
    browser: Any, bench: Bench
) -> None:
    under_way(bench)
    with at_hood(browser, bench) as look:
        now = bench.seconds()
        told = estimate(now)
        told["next_switch"] |= {"probability": 1.0, "time_s": [-90.0, -30.0, 10.0]}
        bench.tell("estimate", told)
        look.page.get_by_text("Bottle 1 off: due now").wait_for()
        assert "> 98 % sure" in text(look, ".nextline")
        assert "0 min" not in text(look, ".nextline")


def test_the_answer_to_an_instruction_is_written_down(browser: Any, bench: Bench) -> None:
    under_way(bench)
    bench.tell("instruction", instruction("hold-1", "heat_more", "Raise the bath by 10 °C"))
    with at_hood(browser, bench) as look:
        press(look, "Not now")
        until(lambda: bool(bench.entries))
        assert bench.entries[0]["kind"] == "answer"
        assert bench.entries[0]["data"] == {"instruction": "hold-1", "answer": "not_now"}
        pressed = look.page.get_by_role("button", name="Not now")
        assert pressed.get_attribute("aria-pressed") == "true"
        bench.tell("instruction", instruction("switch-1", "switch", "Switch within 2 mL"))
        look.page.get_by_text("Switch within").wait_for()
        assert pressed.get_attribute("aria-pressed") == "false"


def test_without_any_sensor_taps_and_typed_numbers_do(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench) as look:
        assert "Type a head temperature" in text(look, ".instruct")
        press(look, re.compile("^Type a number"))
        for key in ("7", "8", "Decimal point", "2"):
            look.page.get_by_role("button", name=key, exact=True).click()
        press(look, "Write it down")
        look.page.locator(".four .value", has_text="78.2").wait_for()
        sent = bench.posts[0]["readings"][0]
        assert sent["head_C"] == 78.2
        assert sent["time_s"] == pytest.approx(bench.seconds(), abs=10)
        for name in ("Something odd", "foams"):
            press(look, name)
        press(look, "Note")
        look.page.get_by_label("What you want to keep").fill("ice renewed")
        press(look, "Write it down")
        press(look, re.compile("^Bottle off"))
        until(lambda: len(bench.entries) == 3)
        assert [(one["kind"], one["data"].get("text")) for one in bench.entries[:2]] == [
            ("odd", "foams"),
            ("note", "ice renewed"),
        ]
        assert bench.entries[2]["kind"] == "switched"
        assert bench.entries[2]["data"]["receiver"] == 1
        look.page.get_by_text("bottle 2").wait_for()


def test_drops_are_counted_by_taps(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench) as look:
        drop = look.page.get_by_role("button", name=re.compile("^Drop"))
        begun = bench.seconds()
        for _ in range(11):
            drop.tap()
        until(lambda: bool(bench.entries))
        over = bench.seconds() - begun
        told = bench.entries[0]["data"]
        assert told["count"] == 10
        assert 0 < told["over_s"] <= over
        rate = ".four .one:nth-child(4) .value"
        assert text(look, rate).endswith("/min")
        until(lambda: text(look, rate) != "–/min")
        assert float(text(look, rate).removesuffix("/min")) > 0
        press(look, re.compile("^10 drops"))
        time.sleep(0.2)
        press(look, re.compile("^10 drops"))
        until(lambda: len(bench.entries) > 1)
        ten = bench.entries[1]["data"]
        assert ten["count"] == 10
        assert ten["over_s"] == pytest.approx(0.3, abs=0.25)


def test_a_bottle_off_can_be_taken_back(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench) as look:
        press(look, re.compile("^Bottle off"))
        press(look, "Take it back")
        time.sleep(5.5)
        assert bench.entries == []


def test_what_is_tapped_without_a_server_is_sent_later_in_order_and_once(
    browser: Any, bench: Bench
) -> None:
    with at_hood(browser, bench) as look:
        bench.stop()
        for word in ("foams", "bumps", "leak"):
            press(look, "Something odd")
            press(look, word)
        look.page.get_by_text("3 not yet sent").wait_for()
        look.page.get_by_text("△ no connection", exact=True).wait_for()
        bench.lose_answers = 2  # the server has it, the page never hears so
        bench.start()
        until(lambda: look.page.get_by_text("not yet sent").count() == 0)
        assert [one["data"]["text"] for one in bench.entries] == ["foams", "bumps", "leak"]
        assert len(bench.posts) == 5
        look.page.get_by_text("● connected").wait_for()


def test_a_closed_page_loses_nothing(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench) as look:
        bench.stop()
        press(look, "Something odd")
        press(look, "foams")
        look.page.get_by_text("1 not yet sent").wait_for()
        for _ in range(3):
            look.page.get_by_role("button", name=re.compile("^Drop")).tap()
        look.page.close()
        bench.start()
        again = look.page.context.new_page()
        again.goto(f"{bench.address}/#/hood/{CODE}")
        until(lambda: len(bench.entries) == 2)
        assert [one["kind"] for one in bench.entries] == ["odd", "drops"]
        assert bench.entries[1]["data"]["count"] == 2


def test_what_was_missed_is_filled_in_and_nothing_is_made_up(browser: Any, bench: Bench) -> None:
    under_way(bench)
    with at_hood(browser, bench) as look:
        bench.stop()
        look.page.get_by_text("△ no connection", exact=True).wait_for()
        for k in range(5):
            bench.read(bench.seconds() + 300 + k, head_K=CELSIUS + 56.5)
        bench.tell("instruction", instruction("stop-1", "stop", "Stop: 20 mL left"))
        bench.start()
        look.page.get_by_text("● connected").wait_for()
        came = until(lambda: look.page.locator(".hoodcurve .dot").count() == 35)
        assert came < 2.0
        assert "Stop: 20 mL left" in text(look, ".told")
        assert look.page.locator(".hoodcurve .silence").count() == 1
        assert "no reading for" in (look.page.locator(".hoodcurve svg").first.text_content() or "")


def test_doubtful_readings_are_shown_and_steer_nothing(browser: Any, bench: Bench) -> None:
    under_way(bench)
    with at_hood(browser, bench) as look:
        bench.read(bench.seconds(), head_K=900.0, flags=["jump"])
        look.page.locator(".hoodcurve .doubt").wait_for()
        assert text(look, ".four .one:nth-child(1) .value").startswith("56.4")


def test_a_stop_cannot_be_missed(browser: Any, bench: Bench) -> None:
    under_way(bench)
    with at_hood(browser, bench) as look:
        press(look, re.compile("Sound not armed"))
        look.page.get_by_text("● sound armed").wait_for()
        bench.tell("alarm", [DRYNESS])
        over = look.page.get_by_role("dialog", name="STOP")
        came = until(over.is_visible)
        assert came < 1.0
        said = text(look, ".alarmover")
        assert said.index("Take the bath away now.") < said.index("The flask holds less")
        look.page.keyboard.press("Escape")
        look.page.keyboard.press("Escape")
        assert over.is_visible(), "only seeing it takes it away"
        press(look, "I have seen it")
        until(lambda: bool(bench.entries))
        assert bench.entries[0]["data"] == {"alarm": "dryness-1"}
        assert "■ STOP Take the bath away now." in text(look, ".alarmline"), "while it lasts"
        bench.tell("alarm", [])
        look.page.locator(".alarmline").wait_for(state="detached")


def test_an_unarmed_page_says_so(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench) as look:
        assert look.page.get_by_role("button", name=re.compile("Sound not armed")).count() == 1
        assert "screen may sleep" in text(look, ".badges")
        bench.tell("alarm", [DRYNESS])
        look.page.get_by_text("only seen, not heard").wait_for()


def test_what_it_may_be_and_the_one_test(browser: Any, bench: Bench) -> None:
    under_way(bench)
    with at_hood(browser, bench) as look:
        causes = [
            {"name": "leak", "label": "a leak", "probability": 0.71},
            {"name": "end_of_cut", "label": "the end of the fraction", "probability": 0.22},
        ]
        found = {
            "name": "leak", "probability": 0.7, "causes": causes, "seen": "Head falls.",
            "caution": None, "test": "Close the tap to the pump: does the pressure rise?",
            "remedy": "Grease the joints.", "since_s": 1500.0,
        }  # fmt: skip
        bench.tell("findings", [found])
        look.page.locator(".maybeit").wait_for()
        assert "a leak 71 % or the end of the fraction 22 %" in text(look, ".maybeit")
        press(look, "Yes")
        until(lambda: bool(bench.entries))
        assert bench.entries[0]["data"]["answer"] == "yes"
        assert bench.entries[0]["data"]["finding"] == "leak"


def test_after_the_end_nothing_more_is_taken(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench) as look:
        press(look, "End of the run")
        press(look, "End it")
        look.page.get_by_text("This run has ended").wait_for()
        assert look.page.get_by_role("button", name=re.compile("^Drop")).is_disabled()
        assert text(look, ".told") == "✓Ended"


def test_joining_by_code(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench, view="hood") as look:
        look.page.get_by_label("Code of the run").fill("zzzzzz")
        look.page.keyboard.press("Enter")
        look.page.get_by_text("No open run has the code ZZZZZZ").wait_for()
        look.page.get_by_role("link", name="Join this run").click()
        look.page.get_by_label("Code of the run").fill(CODE.lower())
        press(look, "Join this run")
        look.page.locator(".hood").wait_for()
        assert look.page.url.endswith(f"#/hood/{CODE}")


def test_the_wall_shows_the_most_urgent_first(browser: Any, bench: Bench) -> None:
    calm = {
        "id": "a", "code": "AAAAAA", "title": "calm", "now_s": 900.0, "state": "decided",
        "head_K": 329.6, "bath_K": 371.0, "distillate_m3": 2e-5, "rate_m3_s": 1e-8,
        "residue_m3": [8e-5, 8.4e-5, 9e-5], "instruction": "Hold", "alarm": None,
        "last_reading_s": 890.0,
    }  # fmt: skip
    bench.wall = [
        calm,
        {**calm, "id": "b", "code": "BBBBBB", "title": "silent", "last_reading_s": 300.0},
        {**calm, "id": "c", "code": "CCCCCC", "title": "<b>dry</b>", "alarm": DRYNESS},
    ]
    with at_hood(browser, bench, view="wall") as look:
        names = look.page.locator(".bench h2 a").all_inner_texts()
        assert names == ["<b>dry</b> CCCCCC", "silent BBBBBB", "calm AAAAAA"]
        states = look.page.locator(".benchstate").all_inner_texts()
        assert states[0] == "■ STOP: near dryness"
        assert states[1].replace("\u202f", " ") == "… no reading for 10 min"
        assert states[2] == "● drips"
        look.page.get_by_text("● connected").wait_for()
        bench.tell("summary", {**calm, "alarm": {**DRYNESS, "state": "warn", "gate": "bath"}})
        look.page.get_by_text("△ LOOK: bath too hot").wait_for()


def test_by_keyboard_alone(browser: Any, bench: Bench) -> None:
    under_way(bench)
    with at_hood(browser, bench) as look:
        keyboard = look.page.keyboard
        for _ in range(30):
            keyboard.press("Tab")
            if look.page.evaluate("document.activeElement.textContent").startswith("Type a"):
                break
        keyboard.press("Enter")
        keyboard.type("81,5")
        look.page.get_by_role("button", name="Write it down").focus()
        keyboard.press("Enter")
        look.page.locator(".four .value", has_text="81.5").wait_for()
        assert bench.readings[-1]["head_K"] == pytest.approx(CELSIUS + 81.5)


def _keypad(look: Look) -> None:
    press(look, re.compile("^Type a number"))


def _odd(look: Look) -> None:
    press(look, "Something odd")


def _as_it_is(_look: Look) -> None:
    """The view itself."""


VIEWS: list[tuple[tuple[int, int], bool, Callable[[Look], None]]] = [
    (LANDSCAPE, False, _as_it_is),
    (LANDSCAPE, True, _keypad),
    (UPRIGHT, True, _as_it_is),
    (UPRIGHT, False, _odd),
    (PHONE, False, _as_it_is),
]


@pytest.mark.parametrize(("size", "dark", "view"), VIEWS)
def test_everyone_can_use_it(
    browser: Any, bench: Bench, size: tuple[int, int], dark: bool, view: Callable[[Look], None]
) -> None:
    under_way(bench)
    bench.tell("alarm", [{**DRYNESS, "state": "warn"}])
    with at_hood(browser, bench, size, dark=dark) as look:
        view(look)
        assert look.axe() == []
        small = look.page.evaluate(
            """least => [...document.querySelectorAll('button, a, textarea')]
               .filter(e => e.offsetParent && (e.getBoundingClientRect().height < least - 0.5
                        || e.getBoundingClientRect().width < least - 0.5))
               .map(e => e.outerHTML.slice(0, 120))""",
            LEAST,
        )
        assert small == []
        assert look.page.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_everyone_can_use_alarm_wall_and_code(browser: Any, bench: Bench) -> None:
    with at_hood(browser, bench) as look:
        bench.tell("alarm", [DRYNESS])
        look.page.get_by_role("dialog", name="STOP").wait_for()
        assert look.axe() == []
        look.page.goto(f"{bench.address}/#/wall")
        look.page.locator(".wall").wait_for()
        assert look.axe() == []
        look.page.goto(f"{bench.address}/#/hood")
        look.page.get_by_label("Code of the run").wait_for()
        assert look.axe() == []


@pytest.mark.parametrize("size", [LANDSCAPE, UPRIGHT], ids=["landscape", "upright"])
def test_it_is_read_from_one_and_a_half_metres(
    browser: Any, bench: Bench, size: tuple[int, int]
) -> None:
    """Capitals of the instruction and of the numbers subtend 16' at 1.5 m, on a 10.1-inch tablet.

    Its screen of 1280 by 800 pixels is 217 mm wide (0.17 mm each); 16' at 1.5 m are 7.0 mm. DejaVu
    and most faces have capitals of 0.72 of the type's size.
    """
    under_way(bench)
    with at_hood(browser, bench, size) as look:
        for selector in (".told", ".four .value"):
            drawn = look.page.locator(selector).first.evaluate(
                "e => parseFloat(getComputedStyle(e).fontSize)"
            )
            assert drawn * 0.72 * 0.17 >= 7.0, selector
        bottom = look.page.evaluate("document.documentElement.scrollHeight")
        assert bottom <= size[1], "all of it is in view without scrolling"


def test_an_old_forecast_says_its_age(browser: Any, bench: Bench) -> None:
    under_way(bench)
    with at_hood(browser, bench) as look:
        assert look.page.locator(".oldforecast").count() == 0
        bench.tell("estimate", estimate(bench.seconds() - 600.0))
        look.page.locator(".oldforecast").wait_for()
        assert "10 min ago" in text(look, ".oldforecast")
