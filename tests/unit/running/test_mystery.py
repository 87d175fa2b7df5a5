"""Hidden runs: the same for a number, another for another, and none that cannot be found out."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.records.readings import CHANNELS
from forerun.reviewing.marks import Dealt
from forerun.running.mystery import HIDEABLE, Hidden, checked, deal, hideable, with_luck
from forerun.sheets.resolving import load
from forerun.sheets.variants import variant

_SHEET = load("class-pair")
_HIDDEN = Hidden(faults=("none", "heater_fault", "barometer"))


def _same(a: Dealt, b: Dealt) -> bool:
    pairs = ((a.log.channel(name), b.log.channel(name)) for name in CHANNELS)
    return all(np.array_equal(x, y, equal_nan=True) for x, y in pairs)


def test_the_same_number_is_dealt_the_same_run() -> None:
    first, again, other = (deal(_SHEET, n, "chalk", _HIDDEN) for n in (3, 3, 4))
    assert _same(first, again)
    assert (first.fault, first.mole_fraction) == (again.fault, again.mole_fraction)
    assert first.mole_fraction != other.mole_fraction
    assert deal(_SHEET, 3, "slate", _HIDDEN).mole_fraction != first.mole_fraction


def test_what_is_in_the_flask_is_what_was_drawn() -> None:
    told = deal(_SHEET, 1, "chalk", Hidden(share=(0.4, 0.4)))
    assert told.asked == ()
    charge = told.run.ledger.charge_mol
    assert charge[0] / charge.sum() == pytest.approx(0.4, abs=0.05)  # a charge is never measured so


def test_a_fault_that_the_log_does_not_show_is_not_hidden() -> None:
    for number in range(1, 7):
        found = deal(_SHEET, number, "chalk", Hidden(faults=("bumping", "none")))
        assert found.fault == "none" or found.shown["bumping"] >= 0.2


def test_nobody_is_told_by_a_gauge_that_only_others_have() -> None:
    logs = [deal(_SHEET, n, "chalk", _HIDDEN).log for n in range(1, 7)]
    assert not any(log.has("pressure_Pa") for log in logs)
    assert deal(_SHEET, 1, "chalk", Hidden()).log.has("pressure_Pa")


def test_an_unknown_stands_in_for_the_last() -> None:
    hidden = Hidden(share=(0.5, 0.5), unknowns=("ethylbenzene", "heptane"))
    names = {deal(_SHEET, n, "chalk", hidden).unknown for n in range(1, 7)}
    assert names == {"ethylbenzene", "heptane"}
    assert hidden.asked == ("unknown",)


def test_a_student_may_drive_it_otherwise_and_finds_the_same_in_it() -> None:
    cooler = variant(_SHEET, programme={"bath": [["0 min", "20 °C"], ["40 min", "120 °C"]]})
    usual = deal(_SHEET, 2, "chalk", _HIDDEN)
    other = deal(_SHEET, 2, "chalk", _HIDDEN, programme=cooler.programme)
    assert (other.fault, other.mole_fraction) == (usual.fault, usual.mole_fraction)
    assert not _same(other, usual)


def test_luck_moves_the_thermometer_alone() -> None:
    usual = deal(_SHEET, 2, "chalk", _HIDDEN)
    high = with_luck(usual, 1.5)
    moved = high.log.channel("head_K") - usual.log.channel("head_K")
    assert moved == pytest.approx(1.5, abs=1e-6)
    for name in ("bath_K", "distillate_m3"):
        assert np.array_equal(high.log.channel(name), usual.log.channel(name))


def test_what_cannot_be_hidden_is_refused() -> None:
    assert set(hideable(_SHEET)) <= {"none", *HIDEABLE}
    one = load('[[charge]]\nsubstance = "toluene"\namount = "20 mL"\n')
    for sheet, hidden, field in (
        (one, Hidden(), "charge"),
        (_SHEET, Hidden(share=(0.7, 0.3)), "hidden.share"),
        (_SHEET, Hidden(faults=("gremlins",)), "hidden.faults"),
        (_SHEET, Hidden(faults=("leak",)), "hidden.faults"),
        (_SHEET, Hidden(unknowns=("cyclohexane",)), "hidden.unknowns"),
        (variant(_SHEET, aim={"substance": "toluene"}), Hidden(unknowns=("heptane",)), "aim"),
    ):
        with pytest.raises(BadInput, match=field):
            checked(sheet, hidden)
