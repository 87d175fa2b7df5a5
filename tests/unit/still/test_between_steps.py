"""A run whose streams are read off between its steps is the same run, a little less finely told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.forecast.drawing import as_member, draw_member, normal_points, prior_of
from forerun.sheets.resolving import load
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.results import Run
from forerun.still.run import run_still

SHEETS = ("simple-still", "class-pair")


@pytest.fixture(scope="module", params=SHEETS)
def prepared(request: pytest.FixtureRequest) -> Prepared:
    return prepare(load(request.param))


def _both(prepared: Prepared) -> tuple[Run, Run]:
    fine = replace(prepared.still, tolerance=1e-3)
    return run_still(fine), run_still(replace(fine, rates_between_steps=True))


def test_what_the_integrator_keeps_is_the_same(prepared: Prepared) -> None:
    each, between = _both(prepared)
    assert between.trace.time_s == pytest.approx(each.trace.time_s, abs=0.0)
    for name in ("head_temperature_K", "pot_temperature_K", "received_mol", "pot_mole_fraction"):
        one, other = getattr(each.trace, name), getattr(between.trace, name)
        assert other == pytest.approx(one, rel=1e-9, abs=1e-12, nan_ok=True), name
    assert between.first_drop_s == each.first_drop_s
    assert [c.end_s for c in between.cuts] == [c.end_s for c in each.cuts]
    assert between.ledger.closure < 1e-9
    assert between.energy.closure < 1e-9


def test_streams_are_near_and_add_up_to_what_was_received(prepared: Prepared) -> None:
    each, between = _both(prepared)
    rate, told = each.trace.distillate_rate_mol_s, between.trace.distillate_rate_mol_s
    # near, and not worked out again for each line, which is what takes the time
    assert 1e-5 * rate.max() < np.sqrt(np.mean((told - rate) ** 2)) < 0.03 * rate.max()
    assert np.trapezoid(told, between.trace.time_s) == pytest.approx(
        float(each.ledger.cuts_mol.sum()), rel=0.01
    )
    there = rate > 0.01 * rate.max()
    vapour = each.trace.distillate_mole_fraction[there]
    assert np.abs(between.trace.distillate_mole_fraction[there] - vapour).max() < 2e-3


def test_a_member_errs_by_less_than_a_tenth_of_how_members_differ(prepared: Prepared) -> None:
    prior = prior_of(prepared)
    members = [draw_member(prior, z) for z in normal_points(len(prior.unknowns), 8, 1)]
    coarse = [run_still(as_member(given)) for given in members]
    fine = [run_still(replace(given, tolerance=1e-6)) for given in members]

    def first_cut(run: Run) -> list[float]:
        drop = run.first_drop_s
        assert drop is not None
        return [drop, run.cuts[0].end_s, float(run.cuts[0].mole_fraction[0])]

    found = np.array([first_cut(run) for run in coarse])
    true = np.array([first_cut(run) for run in fine])
    assert np.all(np.abs(found - true).max(axis=0) < np.array([0.01, 0.01, 0.1]) * true.std(axis=0))
    heads = np.array(
        [
            np.interp(np.arange(1500.0, 4500.0, 60.0), r.trace.time_s, r.trace.head_temperature_K)
            for r in (*coarse, *fine)
        ]
    )
    miss = heads[: len(coarse)] - heads[len(coarse) :]
    spread = heads[len(coarse) :].std(axis=0)
    assert np.sqrt(np.mean(miss**2)) < 0.01 * np.sqrt(np.mean(spread**2))
