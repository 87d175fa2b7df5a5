"""Times and values as they come in: all is kept, and what is odd about a clock is said."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest

from forerun.core.errors import BadInput
from forerun.records.readings import Reading, readings_of
from forerun.running.checks import check_readings
from forerun.running.clock import Moment
from forerun.running.incoming import (
    AHEAD,
    FLOOD,
    LATE,
    NO_TIME,
    OUT_OF_ORDER,
    REPEATED,
    STEPPED,
    Intake,
)

START = datetime(2026, 5, 4, 14, 0, tzinfo=UTC).timestamp()


def _at(run_s: float) -> Moment:
    return Moment(run_s, START + run_s)


def _iso(run_s: float) -> str:
    return datetime.fromtimestamp(START + run_s, UTC).isoformat()


def _one(intake: Intake, now_s: float, origin: str = "probe", **row: Any) -> Reading:
    (reading,) = intake.read([row], origin, _at(now_s))
    return reading


def test_without_a_time_it_is_now() -> None:
    reading = _one(Intake(), 75.0, head_C=78.2)
    assert (reading.time_s, reading.flags, reading.utc_s) == (75.0, (), START + 75.0)


@pytest.mark.parametrize("given", [{"time_s": 60.0}, {"time": _iso(60.0)}, {"TIME_S": "60"}])
def test_a_time_that_was_sent_is_taken(given: dict[str, Any]) -> None:
    reading = _one(Intake(), 75.0, head_C=78.2, **given)
    assert reading.time_s == pytest.approx(60.0)
    assert reading.utc_s == pytest.approx(START + 60.0)
    assert reading.flags == ()


def test_a_late_batch_keeps_its_times() -> None:
    intake = Intake()
    _one(intake, 10.0, head_C=70, time_s=10)
    rows = [{"head_C": 70 + k, "time_s": 20 + 10 * k} for k in range(3)]
    readings = intake.read(rows, "probe", _at(500.0))
    assert [r.time_s for r in readings] == [20, 30, 40]
    assert all(r.flags == (LATE,) for r in readings)


def test_out_of_order_and_twice_are_said() -> None:
    intake = Intake()
    _one(intake, 10.0, head_C=70, time_s=10)
    assert _one(intake, 11.0, head_C=69, time_s=9).flags == (OUT_OF_ORDER,)
    assert _one(intake, 12.0, head_C=70, time_s=10).flags == (REPEATED,)
    assert _one(intake, 12.0, bath_C=90, time_s=10).flags == ()  # another channel, same moment
    assert _one(intake, 12.0, "other", head_C=70, time_s=9).flags == ()  # another sender


def test_ten_a_second_are_kept_and_five_are_unflagged() -> None:
    intake = Intake()
    rows = [_one(intake, 10.0 + k / 10.0, head_C=70 + k / 100.0) for k in range(100)]
    flooded = sum(FLOOD in row.flags for row in rows)
    assert 40 <= flooded <= 60


@pytest.mark.parametrize("wrong", ["1970-01-01T00:00:17+00:00", _iso(3600.0 + 75.0), 1e12, 4000.0])
def test_a_clock_that_is_ahead_or_not_set_gives_the_time_of_arrival(wrong: Any) -> None:
    intake = Intake()
    key = "time" if isinstance(wrong, str) else "time_s"
    reading = _one(intake, 75.0, head_C=78.2, **{key: wrong})
    assert (reading.time_s, reading.flags) == (75.0, (AHEAD,))


def test_a_device_that_boots_in_1970_goes_on_in_order() -> None:
    intake = Intake()
    for k in range(5):
        now = 100.0 + 10.0 * k
        stamp = datetime.fromtimestamp(10.0 * k, UTC).isoformat()
        reading = _one(intake, now, head_C=70, time=stamp)
        assert reading.time_s == pytest.approx(now, abs=0.01)
        assert set(reading.flags) <= {AHEAD, STEPPED}
        assert reading.flags
    assert _one(intake, 150.0, head_C=70, time=_iso(150.0)).flags == ()  # somebody set it


@pytest.mark.parametrize("step", [3600.0, -3600.0, 7200.0])
def test_a_clock_that_steps_by_hours_moves_no_reading(step: float) -> None:
    intake = Intake()
    for k in range(20):
        now = 5000.0 + 10.0 * k
        shift = step if k >= 10 else 0.0
        reading = _one(intake, now, head_C=70, time=_iso(now + shift))
        assert reading.time_s == pytest.approx(now, abs=0.01)
        assert bool(reading.flags) == (k >= 10)


def test_what_was_known_of_a_clock_survives_a_restart() -> None:
    before = Intake()
    _one(before, 5000.0, head_C=70, time=_iso(5000.0))
    stepped = _one(before, 5010.0, head_C=70, time=_iso(5010.0 - 3600.0))
    after = Intake()
    after.remember(stepped, START + 5010.0)
    again = _one(after, 5030.0, head_C=70, time=_iso(5030.0 - 3600.0))
    assert again.time_s == pytest.approx(5030.0, abs=0.01)
    assert again.flags == (STEPPED,)


@pytest.fixture
def berlin(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone can be set on POSIX only")
@pytest.mark.usefixtures("berlin")
@pytest.mark.parametrize(
    "start", ["2026-10-25T00:30:00+00:00", "2026-03-29T00:30:00+00:00"], ids=["autumn", "spring"]
)
def test_wall_clocks_without_a_zone_pass_both_edges_of_summer_time(start: str) -> None:
    intake, begun = Intake(), datetime.fromisoformat(start).timestamp()
    for k in range(60):  # an hour and a half around the change
        now = 90.0 * k
        wall = datetime.fromtimestamp(begun + now).isoformat()
        (reading,) = intake.read([{"head_C": 70, "time": wall}], "probe", Moment(now, begun + now))
        assert reading.time_s == pytest.approx(now, abs=0.01), wall
        assert reading.flags == ()


ODD_TIMES = [math.nan, math.inf, "soon", "", True, [1], "2026-13-45", "9999-12-31T23:59:59"]


@pytest.mark.parametrize("value", ODD_TIMES, ids=str)
@pytest.mark.parametrize("key", ["time_s", "time"])
def test_a_time_that_is_none_is_that_of_arrival(key: str, value: Any) -> None:
    reading = _one(Intake(), 75.0, head_C=78.2, **{key: value})
    assert reading.time_s == 75.0
    assert reading.flags[0] in {AHEAD, NO_TIME}
    assert str(key) in reading.raw


def test_values_of_every_kind_are_kept_raw() -> None:
    reading = _one(Intake(), 1.0, head_C=1e9, pot_C="99,5", bath_C=None, colour="red", remark=7)
    assert math.isnan(reading.head_K)
    assert math.isnan(reading.bath_K)
    assert reading.pot_K == pytest.approx(372.65)
    assert reading.remark == "7"
    assert len(reading.flags) == 2
    assert "1000000000.0" in reading.raw
    assert '"colour"' in reading.raw


@pytest.mark.parametrize("rows", [None, "x", [], {}, [1], [{"corrects": 0}], [{"corrects": "1"}]])
def test_what_has_no_shape_is_refused(rows: Any) -> None:
    with pytest.raises(BadInput):
        Intake().read(rows, "probe", _at(0.0))


def test_a_fast_run_may_send_times_of_the_run() -> None:
    intake = Intake(60.0)
    for k in range(50):
        (reading,) = intake.read(
            [{"head_C": 70, "time_s": 60.0 * k}], "bench", Moment(60.0 * k + 5.0, START + k)
        )
        assert (reading.time_s, reading.flags) == (60.0 * k, ())


def test_flags_of_time_are_told_and_the_values_used_in_order() -> None:
    rows = [
        Reading(30.0, head_K=302.0),
        Reading(10.0, head_K=300.0, flags=(OUT_OF_ORDER,)),
        Reading(20.0, head_K=301.0, flags=(LATE, "bath_C nan")),
    ]
    checked = check_readings(readings_of(rows))
    shuffled = check_readings(type(checked.readings)(tuple(rows)))
    assert [r.head_K for r in checked.readings.rows] == [300.0, 301.0, 302.0]
    assert [r.head_K for r in shuffled.readings.rows] == [300.0, 301.0, 302.0]
    assert {d.reason for d in checked.doubts} == {OUT_OF_ORDER, LATE}
    assert all(d.used for d in checked.doubts)
