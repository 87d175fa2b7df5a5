"""What members say where they are far from the readings."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.forecast.observing import Readings as Seen
from forerun.running import members
from forerun.running.members import Members, members_of
from unit.running.logs import PAIR, ran

_SHEET = PAIR + '[[switch]]\nhead = "103 °C"\n'


def _at_half(head_above_K: float) -> Members:
    """Return what two equal members say half-way to the switch, the head read so far off theirs."""
    prepared, run = ran(_SHEET)
    trace = run.trace
    due = members_of([run], None, 0.0, 1, 0.0, prepared).switch_s[0]
    now = 0.5 * (run.first_drop_s or 0.0) + 0.5 * due
    times = np.array([now - 20.0, now - 10.0, now])
    heads = np.interp(times, trace.time_s, trace.head_temperature_K) + head_above_K
    seen = Seen(times, heads, np.full(3, np.nan))
    return members_of([run, run], seen, now, 1, 0.0, prepared)


def test_a_head_that_has_passed_the_mark_is_due_though_no_member_foresaw_it() -> None:
    assert np.all(_at_half(0.0).switch_s > _at_half(0.0).now_s + 60.0)
    passed = _at_half(8.0)
    assert np.all(passed.switch_s <= passed.now_s + 1.0)


def test_a_head_that_is_still_cold_hardly_delays_the_members() -> None:
    cold, colder = _at_half(-30.0), _at_half(-60.0)
    assert cold.switch_s == pytest.approx(colder.switch_s)
    assert np.all(cold.switch_s < _at_half(0.0).switch_s + 1800.0)


def _alike(count: int, now_share: float, sheet: str = _SHEET) -> Members:
    """Return what equal members say so far on the way from the first drop to the switch."""
    prepared, run = ran(sheet)
    start = run.first_drop_s or 0.0
    due = members_of([run], None, 0.0, 1, 0.0, prepared).switch_s[0]
    now = start + now_share * (due - start)
    return members_of([run] * count, None, now, 1, 0.0, prepared)


def test_a_long_wait_averages_over_what_the_bath_wanders() -> None:
    """A wander that is forgotten in half an hour: less in proportion, though more in seconds."""
    ahead = np.array([10.0, 600.0, 3600.0, 36000.0])
    share = members._lasting(ahead)
    assert share[0] == pytest.approx(1.0, abs=0.01)
    assert np.all(np.diff(share) < 0.0)
    assert np.all(np.diff(share * ahead) > 0.0)
    assert share[-1] == pytest.approx(np.sqrt(2.0 * members._WANDER_S / ahead[-1]), rel=0.05)


def test_the_mean_of_what_wanders_is_as_wide_as_wanderers_drawn_one_by_one() -> None:
    """Against first-order autoregression, drawn every 30 s; 4,000 courses of two hours."""
    step, ahead = 30.0, 7200.0
    keep = np.exp(-step / members._WANDER_S)
    random = np.random.default_rng(1)
    wander = random.standard_normal(4000)
    total = np.zeros(4000)
    steps = int(ahead / step)
    for _ in range(steps):
        total += wander
        wander = keep * wander + np.sqrt(1.0 - keep**2) * random.standard_normal(4000)
    assert members._lasting(np.array([ahead]))[0] == pytest.approx((total / steps).std(), rel=0.04)


def test_the_fan_passes_the_mark_when_the_switch_is_foreseen() -> None:
    """The head's course and the switch share one pace: at its own switch, each is at the mark."""
    told = _alike(24, 0.3, PAIR + '[[switch]]\nvolume = "30 mL"\n')
    switch_s = told.switch_s - members._DOUBT_S * members._scores(24, 2)
    volumes = told.volumes_at(switch_s).diagonal()
    assert volumes == pytest.approx(30e-6, abs=0.6e-6 * 3.0)
    assert np.ptp(told.switch_s) > 60.0


def test_what_is_due_late_is_foreseen_wider_than_what_is_due_soon() -> None:
    early, late = (_alike(24, share).switch_s for share in (0.1, 0.95))
    assert late.std() < 0.5 * early.std()
    assert late.std() > 0.5 * members._DOUBT_S


def test_of_a_very_long_wait_a_twentieth_is_left_in_doubt() -> None:
    ahead = np.full(24, 1e7)
    pace, kept = (0.3 * members._scores(24, 1), members._KEPT_PACE * members._scores(24, 3))
    told = members._stretch(ahead, pace, kept)
    assert np.std(np.log(told)) == pytest.approx(members._KEPT_PACE, rel=0.1)


def test_what_has_happened_is_doubted_by_marks_and_by_when_they_were_read() -> None:
    """Not by the pace from now on; as much before now as after it, or calls would come early."""
    sheet = PAIR + '[[switch]]\nvolume = "30 mL"\n'
    passed = _alike(24, 1.5, sheet)
    assert np.all(passed.switch_s < passed.now_s)
    trace = ran(sheet)[1].trace
    own = passed.switch_s - members._DOUBT_S * members._scores(24, 2)
    read = np.interp(own, trace.time_s, trace.distillate_volume_m3)
    marks = members._DOUBT_M3 * members._scores(24)
    assert read + marks == pytest.approx(np.full(24, 30e-6), abs=0.01e-6)


def test_a_switch_by_the_clock_is_not_doubted() -> None:
    sheet = PAIR + '[[switch]]\ntime = "100 min"\n'
    prepared, run = ran(sheet)
    assert (run.first_drop_s or 0.0) < 6000.0 < run.trace.time_s[-1]
    told = members_of([run] * 8, None, 3000.0, 1, 0.0, prepared)
    assert told.switch_s == pytest.approx(6000.0)


def test_a_long_climb_is_less_well_known_than_a_short_one() -> None:
    times = np.linspace(0.0, 600.0, 7)
    heads = 350.0 + np.array([0.0, 0.0, 0.0, 1.0, 5.0, 10.0, 9.0])
    fading = np.ones(7)
    doubt = members._head_doubt(heads, times, 200.0, fading, 0.3)
    least = members._DOUBT_K
    assert doubt[:3] == pytest.approx(least)
    assert np.all(np.diff(doubt[2:6]) > 0.0)
    assert doubt[5] == pytest.approx(np.hypot(least, members._CLIMB * 10.0))
    later = members._head_doubt(heads, times, 200.0, 0.0 * fading, 0.3)
    assert later[0] == pytest.approx(0.3)


def test_how_long_a_head_takes_from_the_mark_to_a_little_above() -> None:
    prepared, run = ran(_SHEET)
    now = (run.first_drop_s or 0.0) + 600.0
    told = members_of([run] * 24, None, now, 1, 0.0, prepared)
    trace, mark = run.trace, prepared.still.switches[0].head_temperature_K or 0.0
    climbing = trace.time_s > now
    at = [
        float(np.interp(level, trace.head_temperature_K[climbing], trace.time_s[climbing]))
        for level in (mark, mark + members.CREEP_K)
    ]
    assert np.median(told.creep_s) == pytest.approx(at[1] - at[0], rel=0.3)
    by_volume, other = ran(PAIR + '[[switch]]\nvolume = "30 mL"\n')
    assert np.isnan(members_of([other] * 8, None, 0.0, 1, 0.0, by_volume).creep_s).all()


def test_members_that_miss_the_readings_leave_more_out() -> None:
    prepared, run = ran(_SHEET)
    now = (run.first_drop_s or 0.0) + 600.0
    met, missed = (
        members_of([run] * 24, None, now, 1, 0.0, prepared, misfit).switch_s
        for misfit in (0.2, 5.0)
    )
    assert np.nanstd(missed) > 1.02 * np.nanstd(met)


def test_before_the_first_drop_no_climb_is_doubted() -> None:
    """A cold head climbs by tens of kelvins: that is warming, not what its plateau is known by."""
    prepared, run = ran(_SHEET)
    told = members_of([run] * 24, None, 0.0, 1, 0.0, prepared)
    plain = members_of([run] * 24, None, (run.first_drop_s or 0.0) + 300.0, 1, 0.0, prepared)
    assert np.isfinite(told.switch_s).all()
    assert np.median(told.switch_s) == pytest.approx(np.median(plain.switch_s), abs=120.0)
