"""What must not matter does not: order of components, size of the still, tolerance, solver.

Rounding decides now and then whether a step is taken or cut, so two runs that ought to be equal
may part by about the tolerance (0.01 mK a step here).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.still.crosscheck import integrate
from forerun.still.inputs import StillInput, Stop, Switch
from forerun.still.run import prepare, run_members, run_still
from forerun.substances.liquids import LiquidArrays
from laws.stills import ideal_mixture, still

BOILING = [330.0, 350.0, 375.0]


def _column(**changes: object) -> StillInput:
    base = still(
        BOILING,
        plates=4,
        reflux_ratio=np.array([[0.0, 2.0]]),
        switches=(Switch(head_temperature_K=340.0), Switch(volume_m3=4e-5)),
        tolerance=1e-6,
    )
    return replace(base, **changes)  # type: ignore[arg-type]  # any field


def test_the_order_of_components_is_irrelevant() -> None:
    run = _column(charge_mol=np.array([0.2, 0.5, 0.3]))
    order = [2, 0, 1]
    turned = replace(
        run,
        mixture=ideal_mixture([BOILING[k] for k in order]),
        liquids=LiquidArrays(*(np.ascontiguousarray(a[order]) for a in run.liquids)),
        charge_mol=run.charge_mol[order],
    )
    a, b = run_still(run), run_still(turned)
    assert b.trace.head_temperature_K == pytest.approx(a.trace.head_temperature_K, abs=5e-5)
    assert b.ledger.cuts_mol == pytest.approx(a.ledger.cuts_mol[order], rel=1e-6)


def test_a_larger_still_does_the_same() -> None:
    run, s = _column(), 7.0
    amounts = [
        "holdup_m3",
        "bath_conductance_W_K",
        "pot_loss_W_K",
        "column_loss_W_K",
        "head_loss_W_K",
        "pot_glass_J_K",
        "column_glass_J_K",
        "head_glass_J_K",
        "first_drop_m3",
        "charge_mol",
    ]
    larger = replace(
        run,
        **{name: getattr(run, name) * s for name in amounts},
        stop=Stop(run.stop.time_s, residue_m3=(run.stop.residue_m3 or 0.0) * s),
        switches=(run.switches[0], Switch(volume_m3=4e-5 * s)),
    )
    a, b = run_still(run), run_still(larger)
    assert b.trace.head_temperature_K == pytest.approx(a.trace.head_temperature_K, abs=5e-5)
    assert b.ledger.cuts_mol == pytest.approx(a.ledger.cuts_mol * s, rel=1e-6)
    assert b.first_drop_s == pytest.approx(a.first_drop_s, rel=1e-6)


def test_the_error_falls_with_the_tolerance() -> None:
    run = _column(stop=Stop(time_s=5000.0), switches=())
    best = run_still(replace(run, tolerance=1e-8)).trace.head_temperature_K
    tolerances = np.array([1e-3, 1e-4, 1e-5, 1e-6])
    errors = np.array(
        [
            np.sqrt(
                np.mean((run_still(replace(run, tolerance=t)).trace.head_temperature_K - best) ** 2)
            )
            for t in tolerances
        ]
    )
    order = np.polyfit(np.log(tolerances), np.log(errors), 1)[0]
    assert 0.7 < order < 1.5
    assert errors[1] < 0.005  # K


def test_an_independent_solver_finds_the_same_curve() -> None:
    run = _column(stop=Stop(time_s=4000.0), switches=(), tolerance=1e-5)
    times = np.arange(0.0, 4001.0, 10.0)
    other, _ = integrate(prepare(run), times, "LSODA", rtol=1e-7, atol=1e-11)
    trace = run_still(run).trace
    assert np.interp(times, trace.time_s, trace.head_temperature_K) == pytest.approx(
        other, abs=2e-3
    )


def test_members_on_threads_are_what_they_are_alone() -> None:
    members = [_column(column_loss_W_K=0.05 * k) for k in range(4)]
    together = run_members(members, threads=2)
    for member, result in zip(members, together, strict=True):
        alone = run_still(member)
        assert not isinstance(result, Exception)
        assert np.array_equal(result.trace.head_temperature_K, alone.trace.head_temperature_K)
