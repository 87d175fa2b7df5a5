"""Axes hold their values and carry round numbers."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from forerun.reporting.scale import axis_over, step_between


@given(st.floats(-300, 300), st.floats(0.01, 1e4), st.integers(2, 12), st.booleans(), st.booleans())
def test_axis_holds_both_ends(
    low: float, span: float, wanted: int, snug: bool, minutes: bool
) -> None:
    axis = axis_over(low, low + span, wanted, snug=snug, minutes=minutes)
    slack = 1e-6 * max(1.0, abs(low), span)
    assert axis.low <= low + slack
    assert axis.high >= low + span - slack
    assert all(axis.low - slack <= tick <= axis.high + slack for tick in axis.ticks)
    assert len(axis.ticks) <= wanted + 2


def test_steps_are_round() -> None:
    assert step_between(95.0, 6) == 20.0
    assert step_between(1.0, 5) == 0.2
    assert step_between(90.0, 6, minutes=True) == 15.0


def test_an_empty_span_still_makes_an_axis() -> None:
    axis = axis_over(20.0, 20.0, 4)
    assert axis.high > axis.low


def test_labels_have_the_decimals_of_the_step() -> None:
    axis = axis_over(0.0, 1.0, 5)
    assert [axis.label(tick) for tick in axis.ticks] == ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]
    assert axis_over(0.0, 90.0, 6).label(40.0) == "40"
