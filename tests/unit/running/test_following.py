"""A run followed: entries heeded, findings answered, one instruction kept while it holds."""

from __future__ import annotations

import json
from functools import cache

import pytest

from forerun.records.interface import Entry
from forerun.records.readings import Reading, Readings, readings_of
from forerun.reviewing.findings import Cause, Finding
from forerun.running.answered import answered
from forerun.running.following import Follower
from forerun.running.simulated import SimulatedLog, simulated_log
from forerun.sheets.resolving import load
from unit.small_still import SHEET


@cache
def log() -> SimulatedLog:
    return simulated_log(load(SHEET), 4)


@pytest.fixture(scope="module")
def follower() -> Follower:
    return Follower(load(SHEET), members=32, threads=2)


def until(time_s: float) -> Readings:
    return Readings(tuple(r for r in log().readings.rows if r.time_s <= time_s))


def entry(number: int, kind: str, **data: object) -> Entry:
    return Entry(number, kind, data, 0.0)


def test_it_waits_holds_and_calls_in_turn(follower: Follower) -> None:
    first = log().truth.run.first_drop_s or 0.0
    true = log().truth.switches[0].time_s
    assert follower.follow(Readings(()), 0.0).instruction.action == "wait"
    seen = [
        follower.follow(until(now), now).instruction
        for now in (first + 0.3 * (true - first), true + 30.0, true + 40.0)
    ]
    assert [one.action for one in seen][1:] == ["switch", "switch"]
    assert seen[0].action in {"hold", "look"}
    assert seen[1].id == seen[2].id


def test_after_the_bottle_was_changed_the_next_thing_comes(follower: Follower) -> None:
    true = log().truth.switches[0].time_s
    found = follower.follow(
        until(true + 60.0), true + 60.0, [entry(1, "switched", receiver=1, time_s=true)]
    )
    assert found.instruction.action != "switch"
    assert found.estimate.receiver[0] == 2
    json.dumps(found.estimate.to_json(), allow_nan=False)


def test_drops_alone_tell_the_volume(follower: Follower) -> None:
    first = log().truth.run.first_drop_s or 0.0
    entries = [entry(1, "drops_per_mL", value=40.0, time_s=0.0)]
    entries += [
        entry(k, "drops", count=20, over_s=30.0, time_s=first + 60.0 * k) for k in range(2, 6)
    ]
    follower.follow(Readings(()), first + 300.0, entries)
    found = follower.follow(Readings(()), first + 300.0, entries)  # goes on where it was
    held = found.estimate.receiver[1].volume_m3
    assert held is not None
    assert 1e-6 < held.middle < 6e-6


def _finding() -> Finding:
    causes = (
        Cause("leak", "a leak", 0.6),
        Cause("light_exhausted", "the light fraction has ended", 0.4),
    )
    return Finding("leak", 0.54, causes, "seen", "", "test", "remedy", 10.0)


def test_a_test_that_says_yes_makes_the_cause_surer() -> None:
    [found] = answered([_finding()], {"leak": "yes"})
    assert found.name == "leak"
    assert found.probability > 0.8


def test_a_test_that_says_no_puts_the_other_cause_first() -> None:
    [found] = answered([_finding()], {"leak": "no"})
    assert found.name == "light_exhausted"
    assert found.causes[0].probability > 0.85
    assert found.probability < found.causes[0].probability
    assert sum(cause.probability for cause in found.causes) == pytest.approx(1.0)


def test_other_findings_stay_as_they_are() -> None:
    assert answered([_finding()], {"flooding": "yes"}) == (_finding(),)


def test_a_head_that_is_typed_hot_in_the_first_minutes_is_asked_about() -> None:
    """56 °C at 1.2 min, when the first drop is a quarter of an hour away: the bulb or the clock."""
    slow = SHEET.replace('["5 min", "140 °C"]', '["30 min", "140 °C"]')
    follower = Follower(load(slow), members=32, threads=2)
    found = follower.follow(readings_of([Reading(72.0, head_K=329.15, origin="typed")]), 72.0)
    assert found.estimate.first_drop_s is not None
    assert found.estimate.first_drop_s.low > 600.0
    assert (found.instruction.action, found.instruction.key) == ("look", "look-early")
    cold = follower.follow(readings_of([Reading(72.0, head_K=295.0, origin="typed")]), 72.0)
    assert cold.instruction.action == "wait"
