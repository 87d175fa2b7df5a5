"""Few lines of a member's trace tell what all of them tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.running import estimating
from forerun.running.driving import outlasting
from forerun.running.estimating import Estimator
from forerun.running.few_lines import FEW_LINES, few_lines, with_few_lines
from forerun.running.members import members_of
from forerun.sheets.resolving import load
from forerun.still.results import Run
from forerun.still.run import run_still
from unit.running.logs import PAIR, ran
from unit.running.test_estimating import log, moment, until
from unit.small_still import SHEET

_SHEET = PAIR + '[[switch]]\nhead = "103 °C"\n'


def _long() -> Run:
    """Return a run to its residue with a line every two seconds, many more than are kept."""
    prepared, _ = ran(_SHEET)
    return run_still(replace(outlasting(prepared.still), sample_interval_s=2.0))


def test_straight_lines_between_them_are_the_curves() -> None:
    whole = _long().trace
    few = few_lines(whole)
    assert whole.time_s.size > 3 * FEW_LINES
    assert few.time_s.size == FEW_LINES
    assert few.time_s[[0, -1]] == pytest.approx(whole.time_s[[0, -1]])
    for name, most in (
        ("head_temperature_K", 0.02),
        ("pot_temperature_K", 0.1),
        ("bath_temperature_K", 0.1),
        ("distillate_volume_m3", 0.02e-6),
    ):
        along = np.interp(whole.time_s, few.time_s, getattr(few, name))
        assert np.max(np.abs(along - getattr(whole, name))) < most, name
    assert few.received_mol[-1] == pytest.approx(whole.received_mol[-1])
    assert few.pot_mole_fraction.shape == (FEW_LINES, len(whole.names))


def test_each_line_is_one_of_the_run() -> None:
    whole = _long().trace
    few = few_lines(whole, 50)
    at = np.searchsorted(whole.time_s, few.time_s)
    assert np.array_equal(few.time_s, whole.time_s[at])
    assert np.array_equal(few.received_mol, whole.received_mol[at])
    assert np.array_equal(
        few.distillate_mole_fraction, whole.distillate_mole_fraction[at], equal_nan=True
    )


def test_a_trace_that_is_short_already_stays_as_it_is() -> None:
    once = with_few_lines([_long()])
    assert with_few_lines(once)[0] is once[0]


def test_members_say_the_same_with_few_lines() -> None:
    prepared, _ = ran(_SHEET)
    run = _long()
    due = members_of([run], None, 0.0, 1, 0.0, prepared).switch_s[0]
    for now in (0.0, run.first_drop_s or 0.0, 0.5 * due, 1.1 * due):
        all_of, few = (
            members_of(runs, None, now, 1, 0.0, prepared)
            for runs in ([run, run], with_few_lines([run, run]))
        )
        assert few.switch_s == pytest.approx(all_of.switch_s, abs=1.0)
        assert few.held_m3 == pytest.approx(all_of.held_m3, abs=0.02e-6)
        assert few.residue_m3 == pytest.approx(all_of.residue_m3, abs=0.02e-6)
        assert few.end_s == pytest.approx(all_of.end_s)
        assert few.pot == pytest.approx(all_of.pot, abs=0.01)
        assert few.dripping == pytest.approx(all_of.dripping, abs=0.01, nan_ok=True)


def test_estimates_of_a_recorded_run_are_those_of_whole_traces(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Within 1 s of the switch, 0.02 K of the head and 0.02 mL, call after call."""
    unhurried = load(SHEET.replace('time = "40 min"', 'time = "4 h"'))
    few = Estimator(unhurried, members=24, threads=2, rounds=2)
    with monkeypatch.context() as bare:
        bare.setattr(estimating, "with_few_lines", tuple)
        whole = Estimator(unhurried, members=24, threads=2, rounds=2)
    for share in (-0.5, 0.2, 0.6, 0.9):
        now = moment(share)
        mine = few.estimate(until(log().readings, now), now)
        with monkeypatch.context() as bare:
            bare.setattr(estimating, "with_few_lines", tuple)
            theirs = whole.estimate(until(log().readings, now), now)
        assert max(run.trace.time_s.size for run in whole.belief.runs) > 2 * FEW_LINES
        assert mine.next_switch is not None
        assert theirs.next_switch is not None
        for span in ("low", "middle", "high"):
            switches = [getattr(e.next_switch.time_s, span) for e in (mine, theirs)]
            assert switches[0] == pytest.approx(switches[1], abs=1.0)
        for name, most in (("head_K", 0.02), ("distillate_m3", 0.02e-6)):
            fans = [getattr(e, name).p50 for e in (mine, theirs)]
            known = np.isfinite(fans[0]) & np.isfinite(fans[1])
            assert np.max(np.abs(fans[0] - fans[1])[known]) < most
