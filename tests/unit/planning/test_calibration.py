"""The run that measures a column: the right pair, what its ends show, how surely they tell."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

import forerun.planning.calibration as planned
from forerun.core.errors import BadInput
from forerun.equilibrium.bubble import boiling_curve
from forerun.equilibrium.mixture import mixture_of
from forerun.planning.calibration import (
    Calibration,
    calibration_of,
    calibration_run,
    settled_s,
)
from forerun.reviewing.plates import plates_stepped
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.results import Run


@cache
def _sheet(plates: str = "5 ± 1") -> RunSheet:
    return load(
        {
            "charge": [{"substance": "acetone", "amount": "60 mL"}],
            "rig": {"flask": "250 mL", "plates": plates, "holdup": "3 mL"},
        }
    )


@cache
def _plan(plates: str = "5 ± 1") -> Calibration:
    return calibration_of(_sheet(plates))


@cache
def _run() -> Run:
    return calibration_run(_sheet(), _plan())[1]


def test_many_plates_ask_for_a_closer_boiling_pair() -> None:
    few, many = _plan("2 ± 0.3"), _plan("40 ± 8")
    assert few.heavy.name == "toluene"
    gap = few.heavy.boiling_point.value - few.light.boiling_point.value
    assert many.heavy.boiling_point.value - many.light.boiling_point.value < 0.4 * gap
    assert few.sigma < 0.15


def test_samples_as_foreseen_give_back_the_plates() -> None:
    plan = _plan()
    curve = boiling_curve(mixture_of([plan.light, plan.heavy]), plan.pressure_Pa)
    for count, head, pot in zip(plan.plates, plan.head, plan.pot, strict=True):
        found = plates_stepped(head, pot, lambda x: float(np.interp(x, curve.x, curve.y)))
        assert found == pytest.approx(count, abs=0.05)


def test_the_stated_doubt_is_what_erring_assays_give(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(planned, "_VOLATILITY", 0.0)
    plan = calibration_of(_sheet())
    curve = boiling_curve(mixture_of([plan.light, plan.heavy]), plan.pressure_Pa)
    first, second = plan.light.molar_mass, plan.heavy.molar_mass
    random = np.random.default_rng(3)
    spread = []
    for count, head, pot in zip(plan.plates, plan.head, plan.pot, strict=True):
        found = []
        for _ in range(300):
            read = []
            for x in (head, pot):
                w = x * first / (x * first + (1.0 - x) * second)
                w += random.normal(0.0, np.hypot(0.01 * w, 0.002))
                w = min(max(w, 1e-4), 1.0 - 1e-4)
                read.append((w / first) / (w / first + (1.0 - w) / second))
            found.append(
                plates_stepped(*read, lambda x: float(np.interp(x, curve.x, curve.y))) - count
            )
        spread.append(float(np.std(found)))
    assert np.mean(spread) == pytest.approx(plan.sigma, rel=0.25)


def test_the_running_still_comes_to_the_head_that_was_foreseen() -> None:
    plan, trace = _plan(), _run().trace
    curve = boiling_curve(mixture_of([plan.light, plan.heavy]), plan.pressure_Pa)
    foreseen = float(np.interp(plan.head[1], curve.x, curve.temperature))
    assert trace.head_temperature_K[-1] == pytest.approx(foreseen, abs=0.7)
    assert trace.pot_mole_fraction[-1, 0] == pytest.approx(plan.pot[1], abs=0.01)


def test_from_the_stated_moment_head_and_pot_stand_still() -> None:
    trace = _run().trace
    ready = settled_s(_run())
    assert 900.0 < ready < 0.8 * trace.time_s[-1]
    later = trace.head_temperature_K[trace.time_s >= ready]
    assert np.ptp(later) < 0.08
    before = np.interp(0.5 * ready, trace.time_s, trace.head_temperature_K)
    assert abs(before - trace.head_temperature_K[-1]) > 0.03


def test_without_a_column_there_is_nothing_to_measure() -> None:
    with pytest.raises(BadInput, match="a column to measure"):
        calibration_of(load("simple-still"))
