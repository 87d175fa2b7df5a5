"""Doubtful readings are found, left out of what is computed, and nothing else is."""

from __future__ import annotations

import math

import pytest

from forerun.records.readings import Reading, readings_of
from forerun.running.case import case_of
from forerun.running.checks import check_readings
from forerun.running.diagnosing import diagnose_case
from unit.running.logs import PAIR, case, courses, log_of, ran, readings


def _steady(count: int = 20, every: float = 10.0) -> list[Reading]:
    return [Reading(every * k, head_K=350.0, utc_s=1.78e9 + every * k) for k in range(count)]


def _reasons(rows: list[Reading]) -> list[str]:
    return [doubt.reason for doubt in check_readings(readings_of(rows)).doubts]


def test_honest_readings_stay_as_they_are() -> None:
    log = readings(log_of())
    found = check_readings(log)
    assert found.readings.rows == log.rows
    assert found.doubts == ()


@pytest.mark.parametrize("value", [math.inf, -math.inf, 1e9, -1.0])
def test_impossible_values_become_unread(value: float) -> None:
    rows = _steady()
    rows[5] = Reading(50.0, head_K=value, pot_K=360.0)
    found = check_readings(readings_of(rows))
    assert [d.channel for d in found.doubts] == ["head_K"]
    assert math.isnan(found.readings.rows[5].head_K)
    assert found.readings.rows[5].pot_K == 360.0


def test_a_lone_jump_is_left_out_and_a_lasting_one_stays() -> None:
    rows = _steady()
    rows[5] = Reading(50.0, head_K=395.0)
    assert _reasons(rows) == ["a lone jump of head_K"]
    rows[6] = Reading(60.0, head_K=395.0)
    assert _reasons(rows) == []


def test_duplicates_and_a_flood_are_thinned_but_remarks_stay() -> None:
    rows = _steady()
    assert _reasons([*rows, rows[3]]) == ["sent twice"]
    flood = [Reading(50.0 + 0.01 * k, head_K=350.0) for k in range(1, 11)]
    found = check_readings(readings_of([*rows, *flood]))
    assert len(found.readings) == len(rows)
    noted = Reading(50.01, head_K=350.0, remark="cloudy")
    assert noted in check_readings(readings_of([*rows, noted])).readings.rows
    other = Reading(50.01, pressure_Pa=1e5)
    assert other in check_readings(readings_of([*rows, other])).readings.rows


def test_steps_of_the_rooms_clock_are_said_and_time_goes_on() -> None:
    stepped = [
        Reading(r.time_s, head_K=350.0, utc_s=(r.utc_s or 0.0) + (3600.0 if r.time_s > 90 else 0.0))
        for r in _steady()
    ]
    found = check_readings(readings_of(stepped))
    assert [d.reason for d in found.doubts] == ["the room's clock stepped"]
    assert len(found.readings) == len(stepped)
    unset = [Reading(10.0 * k, head_K=350.0, utc_s=10.0 * k) for k in range(3)]
    assert set(_reasons(unset)) == {"the room's clock was not set"}


def test_what_is_in_doubt_makes_no_finding() -> None:
    log = log_of(every=30.0)
    log["head_K"][100] += 60.0
    log["pressure_Pa"][120:124] = 1e9
    log["pot_K"][90] = math.inf
    rows = readings(log)
    checked = check_readings(rows)
    assert len(checked.doubts) == 6
    assert len(checked.told()) == 3
    prepared, run = ran(PAIR)
    assert (
        diagnose_case(case_of(prepared, run.trace, checked.readings, courses(PAIR))).findings == ()
    )
    assert diagnose_case(case(log)).findings != ()
