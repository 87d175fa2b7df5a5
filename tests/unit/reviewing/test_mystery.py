"""Hidden runs: the same for a number, fair to the thermometer, explained."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.records.readings import Readings, readings_of
from forerun.reviewing.mystery import FAULTS, deal, marks_of
from forerun.sheets.resolving import load

_SHEET = load("class-pair")
_FROM, _TO = 0.0, 20e-6


def _decided(log: Readings) -> tuple[float, float]:
    """Return a cut as a student would decide it: until the head has risen by 4 K."""
    head, over = log.channel("head_K"), log.channel("distillate_m3")
    warm = np.flatnonzero(over > 5e-6)
    last = next((k for k in warm if head[k] > head[warm[0]] + 4.0), warm[-1])
    return 0.0, float(over[last])


def test_the_same_number_is_dealt_the_same_run() -> None:
    first, again, other = (deal(_SHEET, n, "chalk") for n in (3, 3, 4))
    assert first.log.rows == again.log.rows
    assert (first.fault, first.mole_fraction) == (again.fault, again.mole_fraction)
    assert first.mole_fraction != other.mole_fraction
    assert deal(_SHEET, 3, "slate").mole_fraction != first.mole_fraction


def test_a_class_gets_every_fault() -> None:
    assert {deal(_SHEET, n, "chalk").fault for n in range(24)} == set(FAULTS)


def test_marks_do_not_hang_on_the_thermometer_that_was_handed_out() -> None:
    totals = []
    for offset in (-1.5, 0.0, 1.5):
        dealt = deal(_SHEET, 5, "chalk", offset_K=offset)
        totals.append(marks_of(dealt, dealt.log, dealt.fault, *_decided(dealt.log)).total)
    assert max(totals) - min(totals) < 2.0


def test_every_part_is_earned_or_lost_for_a_stated_reason() -> None:
    dealt = deal(_SHEET, 5, "chalk")
    good = marks_of(dealt, dealt.log, dealt.fault, _FROM, _TO)
    assert good.parts["data"] == good.parts["reasoning"] == 1.0
    assert 0.0 < good.parts["recovery"] < 1.0
    assert good.parts["purity"] > 0.9
    assert len(good.reasons) == 4
    wrong = next(name for name in FAULTS if name != dealt.fault)
    assert marks_of(dealt, dealt.log, wrong, _FROM, _TO).total == pytest.approx(good.total - 30.0)
    few = readings_of(dealt.log.rows[::2])
    assert marks_of(dealt, few, dealt.fault, _FROM, _TO).parts["data"] == pytest.approx(
        0.5, abs=0.02
    )
    late = marks_of(dealt, dealt.log, dealt.fault, _FROM, _TO + 20e-6)
    assert late.parts["recovery"] > good.parts["recovery"]


def test_an_instructor_can_change_the_weights() -> None:
    dealt = deal(_SHEET, 5, "chalk")
    only = marks_of(dealt, dealt.log, dealt.fault, _FROM, _TO, {"reasoning": 2.0})
    assert only.total == pytest.approx(100.0)
    for weights in ({"reasoning": 0.0}, {"luck": 1.0}, {"data": -1.0, "reasoning": 2.0}):
        with pytest.raises(BadInput, match="weights"):
            marks_of(dealt, dealt.log, dealt.fault, _FROM, _TO, weights)
    with pytest.raises(BadInput, match="fault"):
        marks_of(dealt, dealt.log, "gremlins", _FROM, _TO)
