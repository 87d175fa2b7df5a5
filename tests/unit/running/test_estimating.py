"""The estimate of a running still: waiting, narrowing, what is where, and what it does not know."""

from __future__ import annotations

import json
from functools import cache

import numpy as np
import pytest

from forerun.records.readings import Readings
from forerun.running.estimate import Estimate, Span
from forerun.running.estimating import Drops, Estimator
from forerun.running.saying import said_of
from forerun.running.simulated import SimulatedLog, simulated_log
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from unit.small_still import SHEET


@cache
def sheet() -> RunSheet:
    return load(SHEET)


@cache
def log(seed: int = 4) -> SimulatedLog:
    return simulated_log(sheet(), seed)


@cache
def estimator() -> Estimator:
    return Estimator(sheet(), members=48, threads=2)


def until(readings: Readings, time_s: float) -> Readings:
    return Readings(tuple(r for r in readings.rows if r.time_s <= time_s))


def moment(share: float) -> float:
    """Return a moment between first drop and first switch of the truth."""
    first = log().truth.run.first_drop_s or 0.0
    return first + share * (log().truth.switches[0].time_s - first)


@cache
def estimated(share: float) -> Estimate:
    return estimator().estimate(until(log().readings, moment(share)), moment(share))


def width(span: Span | None) -> float:
    assert span is not None
    return span.high - span.low


def test_before_readings_it_says_that_it_waits() -> None:
    waiting = Estimator(sheet(), members=16, threads=2).estimate(Readings(()), 0.0)
    assert waiting.state == "waiting"
    assert "forecast of the sheet" in waiting.says
    assert waiting.readings == 0
    assert waiting.next_switch is not None
    assert waiting.next_switch.due == 0.0


def test_half_way_the_switch_is_known_to_two_minutes_and_within_its_band() -> None:
    switch = estimated(0.5).next_switch
    assert switch is not None
    assert switch.time_s is not None
    true = log().truth.switches[0].time_s - moment(0.5)
    assert abs(switch.time_s.middle - true) < 120.0
    assert switch.time_s.low - 60.0 < true < switch.time_s.high + 60.0


def test_bands_narrow_as_the_run_goes_on() -> None:
    early, late = estimated(0.2).next_switch, estimated(0.9).next_switch
    assert early is not None
    assert late is not None
    assert width(late.time_s) < width(early.time_s)


def test_after_its_moment_the_switch_is_due() -> None:
    late = estimated(1.3).next_switch
    assert late is not None
    assert late.due > 0.8


def test_what_is_where_adds_up() -> None:
    now = estimated(0.9)
    for shares in (now.dripping, now.receiver[1].mole_fraction, now.pot.mole_fraction):
        assert sum(span.middle for span in shares.values()) == pytest.approx(1.0, abs=0.05)
    held = now.receiver[1].volume_m3
    assert held is not None
    read = np.nanmax(until(log().readings, moment(0.9)).channel("distillate_m3"))
    assert held.low - 1.5e-6 < read < held.high + 1.5e-6
    charged = sheet().charge_volume_m3
    assert now.residue_m3.middle + read < 1.05 * charged
    assert now.dripping["cyclohexane"].middle > now.pot.mole_fraction["cyclohexane"].middle


def test_with_the_second_receiver_in_place_no_switch_is_left() -> None:
    then = log().truth.switches[0].time_s
    now = then + 60.0
    after = estimator().estimate(until(log().readings, now), now, receiver=2, changed_s=then)
    assert after.next_switch is None
    assert after.receiver[0] == 2
    held = after.receiver[1].volume_m3
    assert held is not None
    assert held.middle < 5e-6


def test_without_a_sensor_counted_drops_tell_the_volume() -> None:
    now = moment(0.8)
    first = log().truth.run.first_drop_s or 0.0
    trace = log().truth.run.trace
    per_m3 = 40e6
    counts = []
    for time in np.arange(first + 60.0, now, 60.0):
        before, after = np.interp([time - 20.0, time], trace.time_s, trace.distillate_volume_m3)
        counts.append(Drops(float(time), float(after - before) * per_m3, 20.0))
    told = Estimator(sheet(), members=32, threads=2).estimate(
        Readings(()), now, drops=counts, drops_per_m3=per_m3
    )
    assert told.state != "waiting"
    assert told.next_switch is not None
    assert told.next_switch.drops is not None
    true = float(np.interp(now, trace.time_s, trace.distillate_volume_m3))
    held = told.receiver[1].volume_m3
    assert held is not None
    assert held.middle == pytest.approx(true, rel=0.3)


def test_it_travels_as_plain_json() -> None:
    sent = json.loads(json.dumps(estimated(0.5).to_json(), allow_nan=False))
    assert sent["state"] in {"undecided", "decided"}
    lengths = {len(v) for v in sent["fan"]["head_temperature_K"].values()}
    assert lengths == {len(sent["fan"]["time_s"])}


@pytest.mark.parametrize(
    ("read", "misfit", "narrowed", "state"),
    [
        (False, 0.0, 1.0, "waiting"),
        (True, 0.3, 0.95, "undecided"),
        (True, 3.0, 0.1, "undecided"),
        (True, 0.3, 0.1, "decided"),
        (True, 0.3, float("nan"), "decided"),
    ],
)
def test_it_says_plainly_whether_the_readings_decide(
    read: bool, misfit: float, narrowed: float, state: str
) -> None:
    assert said_of(read, misfit, narrowed)[0] == state


def test_asked_over_and_over_until_the_end_it_always_answers() -> None:
    """Some hundred corrections in a row: none may make the next one impossible."""
    followed = Estimator(sheet(), members=24, threads=2, rounds=2)
    readings = log(6).readings
    for now in np.arange(30.0, readings.rows[-1].time_s, 30.0):
        found = followed.estimate(until(readings, float(now)), float(now))
        assert np.isfinite(found.residue_m3.middle)
        assert np.linalg.eigvalsh(followed.belief.covariance).min() > 0.009**2


def test_a_still_too_slow_for_its_sheet_is_foreseen_past_the_planned_time() -> None:
    """The switch is due all the same, and says when, before and after the time is over."""
    first = log().truth.run.first_drop_s or 0.0
    due = log().truth.switches[0].time_s
    planned = 0.5 * (first + due)
    hasty = load(SHEET.replace('time = "40 min"', f'time = "{planned:.0f} s"'))
    followed = Estimator(hasty, members=32, threads=2)
    for now in (first + 0.8 * (planned - first), planned + 0.5 * (due - planned)):
        found = followed.estimate(until(log().readings, now), now)
        switch = found.next_switch
        assert switch is not None
        assert switch.probability > 0.9
        assert switch.time_s is not None
        assert abs(now + switch.time_s.middle - due) < 180.0
        assert found.end_s.high <= planned + 0.5  # told to the second
        assert found.time_s[-1] > due
