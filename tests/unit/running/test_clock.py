"""The clock of a run: no step of the room's clock moves it, a restart neither."""

from __future__ import annotations

import pytest

from forerun.running.clock import Moment, RunClock


class _Clocks:
    """Two clocks that a test sets."""

    def __init__(self) -> None:
        self.passed, self.room = 1000.0, 1.7e9

    def wait(self, seconds: float) -> None:
        self.passed += seconds
        self.room += seconds

    def clock(self, known: Moment, pace: float = 1.0, least_s: float = 0.0) -> RunClock:
        return RunClock(known, pace, least_s, lambda: self.passed, lambda: self.room)


def test_it_counts_from_the_start() -> None:
    clocks = _Clocks()
    clock = clocks.clock(Moment(0.0, clocks.room), pace=10.0)
    clocks.wait(7.0)
    assert clock.now() == Moment(70.0, 1.7e9 + 7.0)
    assert clock.step() == 0.0


@pytest.mark.parametrize("step", [3600.0, -3600.0, -1.7e9])
def test_a_step_of_the_room_s_clock_is_said_once_and_moves_nothing(step: float) -> None:
    clocks = _Clocks()
    clock = clocks.clock(Moment(0.0, clocks.room))
    clocks.wait(60.0)
    clocks.room += step
    assert clock.now().run_s == 60.0
    assert clock.step() == pytest.approx(step)
    clocks.wait(60.0)
    assert clock.step() == 0.0
    assert clock.now().run_s == 120.0


def test_after_a_restart_it_goes_on_by_the_room_s_clock() -> None:
    clocks = _Clocks()
    known = Moment(500.0, clocks.room)
    clocks.wait(90.0)
    clock = clocks.clock(known, least_s=580.0)
    assert clock.now().run_s == pytest.approx(590.0)
    assert not clock.went_back


def test_a_room_s_clock_that_went_back_never_makes_a_run_younger() -> None:
    clocks = _Clocks()
    known = Moment(500.0, clocks.room)
    clocks.room -= 3600.0
    clock = clocks.clock(known, least_s=580.0)
    assert clock.now().run_s == 580.0
    assert clock.went_back
