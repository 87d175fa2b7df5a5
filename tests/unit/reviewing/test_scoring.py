"""Forecast against record, and the standing over all runs."""

from __future__ import annotations

from functools import cache

import pytest

from forerun.forecast.ensemble import Forecast, foresee
from forerun.records.assays import Assays
from forerun.records.readings import Reading, Readings, readings_of
from forerun.reviewing.ledger import Reconciled, reconcile
from forerun.reviewing.observed import observed_cuts
from forerun.reviewing.scoring import coverage_sentence, lead_sentence, score_of
from forerun.sheets.resolving import load

_SHEET = """
[[charge]]
substance = "acetone"
amount = "40 mL"
[[charge]]
substance = "toluene"
amount = "40 mL"
[rig]
flask = "250 mL"
[programme]
bath = [["0 min", "22 °C"], ["20 min", "150 °C"]]
stop = { residue = "15 mL", time = "2 h" }
[[switch]]
volume = "30 mL"
"""


@cache
def _forecast() -> Forecast:
    return foresee(load(_SHEET), members=64, seed=2)


def _log(offset: float) -> Readings:
    trace = _forecast().run.trace
    return readings_of(
        [
            Reading(float(t), head_K=float(head) + offset, distillate_m3=float(v))
            for t, head, v in zip(
                trace.time_s, trace.head_temperature_K, trace.distillate_volume_m3, strict=True
            )
        ]
    )


def _account(log: Readings) -> Reconciled:
    sheet = load(_SHEET)
    cuts = observed_cuts(log, log.channel("head_K"), sheet.switches, 101325.0)
    return reconcile(sheet, cuts, Assays(), (), _forecast().run)


def test_a_run_as_foreseen_lies_inside() -> None:
    log = _log(0.0)
    score = score_of(_forecast(), log, _forecast().run.first_drop_s, _account(log))
    assert score.head_inside > 0.9
    assert score.head_miss_K < 0.1
    assert score.first_drop_inside is True
    assert score.cuts_inside
    assert all(score.cuts_inside)
    assert score.surprises == ()


def test_what_surprised_is_said() -> None:
    log = _log(30.0)
    score = score_of(_forecast(), log, 5.0 * 3600.0, _account(log))
    assert score.head_inside < 0.2
    assert score.head_miss_K == pytest.approx(30.0, abs=0.5)
    assert score.first_drop_inside is False
    assert "first drop" in score.surprises[0]


def test_the_standing_waits_for_enough_runs() -> None:
    assert coverage_sentence([]) == ("0 runs kept so far: too few to say how well the bands hold.")
    assert "1 run kept" in coverage_sentence([{"cuts_inside": [True]}])
    many = [{"cuts_inside": [True, k % 5 != 0]} for k in range(20)] + [{"cuts_inside": []}]
    assert coverage_sentence(many) == (
        "Of 40 receivers in 20 runs, 36 (90 %) lay inside the band that should hold 80 %."
    )


def test_misses_go_by_how_far_ahead_the_forecast_looked() -> None:
    log = _log(2.0)
    score = score_of(_forecast(), log, _forecast().run.first_drop_s, _account(log))
    assert score.leads
    assert all(lead.miss_K == pytest.approx(2.0, abs=0.3) for lead in score.leads)
    assert [lead.from_s for lead in score.leads] == sorted(lead.from_s for lead in score.leads)
    assert score.loss_K > score_of(_forecast(), _log(0.0), None, _account(log)).loss_K


def test_boiling_points_in_a_row_are_beaten_by_a_run_as_foreseen_and_win_when_it_is_far_off() -> (
    None
):
    near = score_of(_forecast(), _log(0.0), None, _account(_log(0.0)))
    assert near.by_volume_K < 0.2
    assert near.baseline_K > 3.0
    assert near.beats_baseline is True
    far = score_of(_forecast(), _log(-40.0), None, _account(_log(0.0)))
    assert far.beats_baseline is (far.by_volume_K < far.baseline_K)


def test_the_typical_miss_waits_for_enough_runs() -> None:
    lead = {"from_s": 0.0, "to_s": 1800.0, "miss_K": 1.0}
    late = {"from_s": 7200.0, "to_s": None, "miss_K": 3.0}
    kept = [{"leads": [lead, late], "beats_baseline": k > 0} for k in range(8)]
    assert lead_sentence(kept[:7]) == ""
    assert lead_sentence([{}, *kept]) == (
        "The head was typically off by 1.0 K in the first 30 min, by 3.0 K after 120 min; "
        "in 7 of 8 runs nearer than boiling points in a row."
    )
