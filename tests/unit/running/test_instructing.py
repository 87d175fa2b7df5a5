"""One instruction at a time: what is urgent first, numbers computed, answers heeded."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.reviewing.findings import Cause, Finding
from forerun.running.alarm_limits import AlarmLimits
from forerun.running.alarms import Alarm
from forerun.running.estimate import Course, Estimate, NextSwitch, Portion, Span
from forerun.running.instructing import Moment, instructed
from forerun.running.instruction import Answer, Instruction

NOW = 3000.0
LIMITS = AlarmLimits(
    charge_m3=100e-6,
    charge_kg=0.08,
    holdup_m3=5e-6,
    residue_doubt_m3=3e-6,
    floor_m3=10e-6,
    formers=(),
    bath_K=420.0,
    bath_why="autoignition",
    freezing=(),
    coolant_K=288.0,
    pressure_Pa=((0.0, 101325.0),),
)


def span(low: float, middle: float, high: float, unit: float = 1.0) -> Span:
    return Span(low * unit, middle * unit, high * unit)


SWITCH = NextSwitch(
    receiver=1,
    probability=1.0,
    due=0.0,
    time_s=span(12.0, 15.0, 18.0, 60.0),
    volume_m3=span(9.0, 11.0, 14.0, 1e-6),
    drops=None,
    within=0.0,
    mole_fraction={"ethanol": span(0.93, 0.95, 0.97), "water": span(0.03, 0.05, 0.07)},
)
NO_FAN = Course(np.zeros(0), np.zeros(0), np.zeros(0))
CALM = Estimate(
    now_s=NOW,
    readings=100,
    took_s=1.0,
    state="decided",
    says="The readings have corrected the forecast.",
    time_s=np.zeros(0),
    head_K=NO_FAN,
    distillate_m3=NO_FAN,
    first_drop_s=span(1000.0, 1000.0, 1000.0),
    next_switch=SWITCH,
    dripping={},
    receiver=(1, Portion(span(20.0, 20.0, 21.0, 1e-6), {})),
    pot=Portion(None, {}),
    residue_m3=span(58.0, 60.0, 62.0, 1e-6),
    end_s=span(6000.0, 6600.0, 7200.0),
    rate_m3_s=span(0.4, 0.5, 0.6, 1e-6 / 60.0),
    load=span(0.4, 0.5, 0.6),
    misfit=0.3,
)
LEAK = Finding(
    "leak",
    0.8,
    (Cause("leak", "a leak", 0.8), Cause("light_exhausted", "end of the fraction", 0.2)),
    "The pressure has risen by 4 mbar.",
    "Do not change the receiver.",
    "Isolate from the pump: does the pressure rise?",
    "Find the leak.",
    2900.0,
)


def moment(**changes: object) -> Moment:
    given = {
        "now_s": NOW,
        "estimate": CALM,
        "limits": LIMITS,
        "bath_K": 390.0,
        "pot_K": 360.0,
        "planned_bath_K": 390.0,
        "planned_rate_m3_s": 0.5e-6 / 60.0,
    }
    return Moment(**{**given, **changes})  # type: ignore[arg-type]


def estimate(**changes: object) -> Estimate:
    return replace(CALM, **changes)  # type: ignore[arg-type]


def test_when_all_is_calm_it_says_how_long_to_hold() -> None:
    one = instructed(moment())
    assert one.action == "hold"
    assert one.text == "Hold: 12–18\N{NARROW NO-BREAK SPACE}min to the switch."
    assert "ethanol" in one.why
    assert one.in_s == SWITCH.time_s


def test_a_switch_after_the_end_of_the_sheet_is_said_to_be_so() -> None:
    early = estimate(end_s=span(NOW + 500.0, NOW + 600.0, NOW + 700.0))
    one = instructed(moment(estimate=early))
    assert "to the switch" in one.text
    assert "ends the run before" in one.why
    assert "ends the run before" not in instructed(moment()).why


def test_forecasts_that_never_come_to_the_switch_are_told() -> None:
    some = estimate(next_switch=replace(SWITCH, probability=0.7))
    assert "30\N{NARROW NO-BREAK SPACE}% of the forecasts never come to it." in (
        instructed(moment(estimate=some)).why
    )
    every = estimate(next_switch=replace(SWITCH, probability=1.0))
    assert "never come" not in instructed(moment(estimate=every)).why


@pytest.mark.parametrize("due", [0.0, 0.7])
def test_a_head_that_creeps_through_the_mark_is_told(due: float) -> None:
    slow, quick = (
        instructed(moment(estimate=estimate(next_switch=replace(SWITCH, due=due, creep_s=s)))).why
        for s in (420.0, 30.0)
    )
    shown = "0.2\N{NARROW NO-BREAK SPACE}K on its thermometer is 7\N{NARROW NO-BREAK SPACE}min"
    assert shown in slow
    assert "creeps" not in quick


def test_before_the_first_drop_it_waits() -> None:
    soon = estimate(first_drop_s=span(3300.0, 3400.0, 3500.0))
    one = instructed(moment(estimate=soon))
    assert one.action == "wait"
    assert "first drop" in one.text
    assert one.in_s == Span(300.0, 400.0, 500.0)


def test_without_an_estimate_it_waits_for_one() -> None:
    assert instructed(moment(estimate=None)).action == "wait"


def test_the_switch_is_announced_then_called_and_not_taken_back() -> None:
    near = replace(SWITCH, within=0.9, volume_m3=span(0.5, 1.0, 1.8, 1e-6))
    ready = instructed(moment(estimate=estimate(next_switch=near)))
    assert ready.text.startswith("Be ready: switch within 2 mL")
    assert ready.probability == 0.9
    due = replace(near, due=0.6)
    called = instructed(moment(estimate=estimate(next_switch=due)), ready)
    assert called.action == "switch"
    assert called.probability == 0.6
    wavering = replace(near, due=0.4)
    again = instructed(moment(estimate=estimate(next_switch=wavering)), called)
    assert again.id == called.id
    fresh = instructed(moment(estimate=estimate(next_switch=wavering)))
    assert fresh.action == "hold"


def test_the_residue_floor_comes_before_the_switch() -> None:
    low = estimate(residue_m3=span(11.0, 12.0, 13.0, 1e-6), next_switch=replace(SWITCH, due=1.0))
    one = instructed(moment(estimate=low))
    assert one.action == "stop"
    assert one.in_s is not None
    assert one.in_s.low == pytest.approx(120.0)  # 1 mL at 0.5 mL/min
    assert "2 min" in one.text.replace("\N{NARROW NO-BREAK SPACE}", " ")


def test_an_alarm_comes_before_everything_and_cannot_be_silenced() -> None:
    alarm = Alarm(
        "dryness-stop-1", "dryness", "stop", "Take the heat away now.", "2 mL left.", NOW, NOW
    )
    one = instructed(moment(alarms=(alarm,)))
    assert (one.action, one.text) == ("stop", "Take the heat away now.")
    answered = moment(alarms=(alarm,), answers={one.id: Answer("no", NOW)})
    assert instructed(answered).id.startswith("stop-dryness")


def test_a_bath_that_is_too_hot_is_lowered_not_the_run_stopped() -> None:
    alarm = Alarm("bath-stop-1", "bath", "stop", "Lower the bath now.", "430 °C", NOW, NOW)
    assert instructed(moment(alarms=(alarm,))).action == "heat_less"


def test_a_flooding_column_is_calmed_by_a_computed_turn() -> None:
    """Boil-up goes with bath less pot: from 100 % to 80 % of flooding 30 K become 24 K."""
    loaded = estimate(load=span(0.9, 1.0, 1.1))
    one = instructed(moment(estimate=loaded))
    assert one.action == "heat_less"
    assert "5 °C" in one.text


def test_a_done_turn_of_the_dial_is_given_time() -> None:
    loaded = estimate(load=span(0.9, 1.0, 1.1))
    one = instructed(moment(estimate=loaded))
    quiet = moment(estimate=loaded, answers={one.id: Answer("done", NOW)})
    assert instructed(quiet, one).action == "hold"
    later = replace(quiet, now_s=NOW + 400.0)
    assert instructed(later).action == "heat_less"


@pytest.mark.parametrize(("said", "silent_s"), [("not_now", 120.0), ("no", 900.0)])
def test_other_answers_silence_for_a_while(said: str, silent_s: float) -> None:
    loaded = estimate(load=span(0.9, 1.0, 1.1))
    one = instructed(moment(estimate=loaded))
    answers = {one.id: Answer(said, NOW)}
    before = moment(estimate=loaded, answers=answers, now_s=NOW + silent_s - 1.0)
    after = replace(before, now_s=NOW + silent_s + 1.0)
    assert instructed(before).action == "hold"
    assert instructed(after).action == "heat_less"


def test_a_finding_is_tested_then_remedied_then_dropped() -> None:
    asked = instructed(moment(findings=(LEAK,)))
    assert asked.action == "answer_test"
    assert asked.text.startswith(LEAK.caution)
    assert instructed(moment(findings=(LEAK,), tested={"leak": "yes"})).text == LEAK.remedy
    assert instructed(moment(findings=(LEAK,), tested={"leak": "no"})).action == "hold"


def test_an_unlikely_finding_is_left_alone() -> None:
    assert instructed(moment(findings=(replace(LEAK, probability=0.3),))).action == "hold"


def test_a_bath_behind_its_plan_is_raised_but_never_past_its_limit() -> None:
    one = instructed(moment(bath_K=370.0))
    assert one.action == "heat_more"
    assert "20 °C" in one.text
    near_limit = replace(LIMITS, bath_K=376.0)
    assert instructed(moment(bath_K=370.0, limits=near_limit)).action == "hold"


def test_a_still_that_hardly_drips_gets_more_heat() -> None:
    slow = estimate(rate_m3_s=span(0.05, 0.06, 0.1, 1e-6 / 60.0))
    one = instructed(moment(estimate=slow))
    assert one.action == "heat_more"
    assert "quarter" in one.why


def test_readings_that_are_not_those_of_the_sheet_make_it_look() -> None:
    odd = estimate(state="undecided", misfit=3.0, says="The readings miss the forecast.")
    assert instructed(moment(estimate=odd)).action == "look"


def test_past_its_end_the_run_is_ended() -> None:
    over = estimate(end_s=span(2500.0, 2600.0, 2700.0))
    assert instructed(moment(estimate=over)).text.startswith("End the run")


def test_it_keeps_its_name_while_what_to_do_is_the_same() -> None:
    first = instructed(moment())
    later = instructed(moment(now_s=NOW + 10.0), first)
    assert (later.id, later.since_s) == (first.id, NOW)


def test_it_travels_with_the_contract_keys() -> None:
    sent = instructed(moment()).to_json()
    assert set(sent) == {
        "id",
        "action",
        "text",
        "why",
        "probability",
        "in_s",
        "in_m3",
        "since_s",
    }
    assert isinstance(instructed(moment()), Instruction)


@pytest.mark.parametrize(
    ("low", "high", "shown"),
    [(20.0, 170.0, "0–3 min"), (45.0, 100.0, "45–100 s"), (3600.0, 7200.0, "1–2 h")],
)
def test_a_band_of_times_has_one_unit(low: float, high: float, shown: str) -> None:
    switch = replace(SWITCH, time_s=Span(low, 0.5 * (low + high), high))
    text = instructed(moment(estimate=estimate(next_switch=switch))).text
    assert shown in text.replace("\N{NARROW NO-BREAK SPACE}", " ")


FAN_S = np.array([0.0, 2000.0, 3000.0, 4000.0, 4600.0, 6000.0])
COLD_THEN_HOT = np.array([294.0, 294.0, 295.0, 297.0, 340.0, 342.0])
HEATING = replace(
    CALM,
    time_s=FAN_S,
    head_K=Course(COLD_THEN_HOT - 1.0, COLD_THEN_HOT, COLD_THEN_HOT + 1.0),
    first_drop_s=span(4200.0, 4600.0, 5000.0),
)


def test_a_head_that_is_hot_long_before_the_first_drop_is_asked_about() -> None:
    """The head climbs from 294 K to 341 K by the first drop: four tenths of that are 312.8 K."""
    one = instructed(moment(estimate=HEATING, head_K=329.0))
    assert one.action == "look"
    assert one.text == "Look: vapour at the head already? Check bulb and clock."
    for part in ("55.9 °C", "20–33 min"):
        assert part in one.why.replace("\N{NARROW NO-BREAK SPACE}", " "), one.why
    answered = moment(estimate=HEATING, head_K=329.0, answers={one.id: Answer("no", NOW)})
    assert instructed(answered, one).action != "look"


@pytest.mark.parametrize("head_K", [None, 295.0, 312.0])
def test_a_head_that_is_still_cold_waits(head_K: float | None) -> None:
    assert instructed(moment(estimate=HEATING, head_K=head_K)).action == "wait"


def test_a_hot_head_shortly_before_the_first_drop_is_as_it_should_be() -> None:
    soon = replace(HEATING, first_drop_s=span(NOW + 290.0, NOW + 400.0, NOW + 600.0))
    assert instructed(moment(estimate=soon, head_K=341.0)).action == "wait"


def test_where_the_head_hardly_climbs_nothing_can_be_told_from_it() -> None:
    flat = np.full(FAN_S.size, 330.0)
    warm = replace(HEATING, head_K=Course(flat, flat, flat + 2.0))
    assert instructed(moment(estimate=warm, head_K=331.5)).action == "wait"
