"""What members say where they are far from the readings."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.forecast.observing import Readings as Seen
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
