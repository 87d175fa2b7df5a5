"""Marks: held against what the glass could do, fair to the thermometer, each with its reason."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.records.readings import Reading, Readings, readings_of
from forerun.reviewing.marks import Dealt, Submission, marks_of
from forerun.reviewing.single_cut import cuts_of
from forerun.running.mystery import Hidden, deal, with_luck
from forerun.sheets.resolving import load

_SHEET = load("class-pair")
_HIDDEN = Hidden(faults=("none", "heater_cycling", "water"))


@pytest.fixture(scope="module")
def dealt() -> Dealt:
    """One run with a fault in it."""
    return next(d for n in range(1, 9) if (d := deal(_SHEET, n, "chalk", _HIDDEN)).fault != "none")


def _whole(dealt: Dealt) -> Submission:
    best = dealt.cuts().best(dealt.purity)
    return Submission(
        dealt.fault, best.start_m3, best.end_m3, dealt.mole_fraction, "", "so it looks", dealt.log
    )


def _decided(log: Readings) -> tuple[float, float]:
    """Return a cut as a student would decide it: until the head has risen by 6 K."""
    head, over = log.channel("head_K"), log.channel("distillate_m3")
    warm = np.flatnonzero(over > 2e-6)
    last = next((k for k in warm if head[k] > head[warm[0]] + 6.0), warm[-1])
    return 0.0, float(over[last])


def test_who_does_all_that_can_be_done_has_full_marks(dealt: Dealt) -> None:
    found = marks_of(dealt, _whole(dealt))
    assert found.total == pytest.approx(100.0, abs=0.5)
    assert set(found.reasons) == {"data", "reasoning", "recovery", "purity"}
    assert found.instead == "No other single switch would have been worth more."
    assert found.why == "so it looks"


def test_who_takes_everything_or_nothing_has_not(dealt: Dealt) -> None:
    everything = marks_of(dealt, replace(_whole(dealt), start_m3=0.0, end_m3=1.0))
    assert everything.parts["recovery"] == 1.0
    assert everything.parts["purity"] < 0.8
    assert "earlier" in everything.instead
    nothing = marks_of(dealt, replace(_whole(dealt), start_m3=5e-6, end_m3=5e-6))
    assert nothing.parts["recovery"] == nothing.parts["purity"] == 0.0
    assert "later" in nothing.instead or "earlier" in nothing.instead


def test_what_another_switch_would_have_given_is_what_it_gives(dealt: Dealt) -> None:
    late = replace(_whole(dealt), end_m3=_whole(dealt).end_m3 + 8e-6)
    found = marks_of(dealt, late)
    said = re.sub(r"\s", " ", found.instead)
    match = re.search(r"Taken away ([\d.]+) mL earlier, .* (\d+) mol % pure instead", said)
    assert match is not None, said
    again = dealt.cuts().cut(late.start_m3, late.end_m3 - float(match[1]) * 1e-6)
    assert 100.0 * again.purity == pytest.approx(float(match[2]), abs=0.7)


def test_marks_do_not_hang_on_the_thermometer_that_was_handed_out() -> None:
    for number in (1, 2):
        usual, totals = deal(_SHEET, number, "chalk", _HIDDEN), []
        for luck in (-1.5, -0.37, 1.5):
            one = with_luck(usual, luck)
            start, end = _decided(one.log)
            said = Submission(one.fault, start, end, one.mole_fraction, log=one.log)
            totals.append(marks_of(one, said).total)
        assert max(totals) - min(totals) < 2.0


def test_a_temperature_is_carried_out_as_a_true_thermometer_would(dealt: Dealt) -> None:
    end_K = 273.15 + 95.0  # on the rise: on a plateau noise decides
    at_95 = replace(_whole(dealt), start_m3=0.0, end_m3=float("nan"), end_K=end_K)
    totals = [marks_of(one, at_95).total for one in _read_by_three(dealt)]
    assert max(totals) - min(totals) < 2.0
    # the same student, who hands in the volume at which their own display passed it, is moved
    ends = [_passed(one.log, end_K) for one in _read_by_three(dealt)]
    assert max(ends) - min(ends) > 1e-6
    found = marks_of(dealt, at_95)
    assert "On a thermometer that is right 95.0" in found.reasons["recovery"]
    assert found.cut.end_m3 == pytest.approx(ends[1], abs=4e-6)  # their display has noise
    # and where the run's own thermometer is another one, the switch stays where it was
    off = replace(dealt.run.trace, head_temperature_K=dealt.run.trace.head_temperature_K + 1.2)
    other = replace(
        dealt,
        run=replace(dealt.run, trace=off),
        thermometer_offset_K=dealt.thermometer_offset_K + 1.2,
    )
    assert marks_of(other, at_95).total == pytest.approx(found.total, abs=1e-6)


def test_a_start_at_a_temperature_comes_before_its_end(dealt: Dealt) -> None:
    nan = float("nan")
    between = replace(_whole(dealt), start_m3=nan, end_m3=nan, start_K=355.0, end_K=362.0)
    found = marks_of(dealt, between).cut
    assert 0.0 <= found.start_m3 < found.end_m3
    never = marks_of(dealt, replace(between, start_K=500.0, end_K=510.0))
    assert never.parts["recovery"] == 0.0


def _read_by_three(dealt: Dealt) -> list[Dealt]:
    return [with_luck(dealt, luck) for luck in (-1.5, -0.37, 1.5)]


def _passed(log: Readings, temperature_K: float) -> float:
    """Return the volume at which a display passes a temperature."""
    head, over = log.channel("head_K"), log.channel("distillate_m3")
    return float(over[np.flatnonzero((over > 0.0) & (head >= temperature_K))[0]])


def test_what_was_handed_in_is_compared_reading_by_reading(dealt: Dealt) -> None:
    rows = list(dealt.log.rows)
    half = marks_of(dealt, replace(_whole(dealt), log=readings_of(rows[::2])))
    assert half.parts["data"] == pytest.approx(0.5, abs=0.01)
    assert "missing" in half.reasons["data"]
    smoothed = [replace(row, head_K=round(row.head_K)) for row in rows]
    changed = marks_of(dealt, replace(_whole(dealt), log=readings_of(smoothed)))
    assert changed.parts["data"] < 0.3
    assert "changed" in changed.reasons["data"]
    more = [*rows, Reading(1e5, head_K=350.0)]
    assert (
        "1 added" in marks_of(dealt, replace(_whole(dealt), log=readings_of(more))).reasons["data"]
    )
    none = marks_of(dealt, replace(_whole(dealt), log=None))
    assert none.parts["data"] == 0.0


def test_reasoning_is_worth_what_was_seen(dealt: Dealt) -> None:
    right, far = _whole(dealt), replace(_whole(dealt), mole_fraction=dealt.mole_fraction - 0.3)
    assert marks_of(dealt, right).parts["reasoning"] == 1.0
    assert marks_of(dealt, far).parts["reasoning"] == pytest.approx(0.5)
    silent = marks_of(dealt, replace(right, fault="", mole_fraction=None))
    assert silent.parts["reasoning"] == 0.0
    plain = replace(dealt, shown={"none": 0.3, dealt.fault: 0.6})
    wrong = marks_of(plain, replace(right, fault="none"))
    assert wrong.parts["reasoning"] == pytest.approx(0.5 * (1.0 + 0.5 * 0.5))
    assert "50 % as plainly" in wrong.reasons["reasoning"]
    hidden = replace(dealt, asked=("unknown",), unknown="heptane")
    assert marks_of(hidden, replace(right, unknown="heptane")).parts["reasoning"] == 1.0
    assert marks_of(hidden, replace(right, unknown="octane")).parts["reasoning"] == 0.0


def test_an_instructor_can_change_the_weights(dealt: Dealt) -> None:
    only = marks_of(dealt, _whole(dealt), {"reasoning": 2.0})
    assert only.total == pytest.approx(100.0)
    for weights in ({"reasoning": 0.0}, {"luck": 1.0}, {"data": -1.0, "reasoning": 2.0}):
        with pytest.raises(BadInput, match="weights"):
            marks_of(dealt, _whole(dealt), weights)
    with pytest.raises(BadInput, match="fault"):
        marks_of(dealt, replace(_whole(dealt), fault="gremlins"))


def test_a_cut_is_what_came_over_between_two_volumes(dealt: Dealt) -> None:
    cuts = dealt.cuts()
    whole = cuts.cut(0.0, float(cuts.volume_m3[-1]))
    ledger = dealt.run.ledger
    over = sum(cut.amount_mol * cut.mole_fraction[dealt.wanted] for cut in dealt.run.cuts)
    assert whole.recovery == pytest.approx(over / ledger.charge_mol[dealt.wanted], abs=0.02)
    half = cuts.cut(0.0, 0.5 * float(cuts.volume_m3[-1]))
    rest = cuts.cut(half.end_m3, whole.end_m3)
    assert half.recovery + rest.recovery == pytest.approx(whole.recovery)
    assert half.purity > whole.purity > rest.purity
    with pytest.raises(BadInput, match="log"):
        cuts_of(dealt.run, readings_of([Reading(0.0, head_K=300.0)]), 0, np.ones(2))
