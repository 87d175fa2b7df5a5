"""The simulated bench: repeatable, richer than the forecast, and each fault leaves its mark."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.forecast.drawing import Prior, prior_of
from forerun.running.checks import check_readings
from forerun.running.knowledge import knowledge
from forerun.running.simulated import SimulatedLog, simulated_log
from forerun.running.simulated_faults import FAULTS, possible_faults
from forerun.running.simulated_truth import _loaded, working_plates
from forerun.sheets.model import RunSheet
from forerun.sheets.reading import read_text
from forerun.sheets.resolving import load, resolve
from forerun.still.from_sheet import prepare
from forerun.still.run import run_still
from unit.running.logs import FREEZING

SHEETS = ("simple-still", "class-pair", "reduced-pressure", "workshop-blend", "wet-ethyl-acetate")


@cache
def sheet_of(name: str) -> RunSheet:
    return resolve(read_text(name)) if "\n" in name else load(name)


@cache
def prior(sheet: str) -> Prior:
    return prior_of(prepare(sheet_of(sheet)))


@cache
def log(sheet: str, fault: str | None = None, seed: int = 5, richer: bool = True) -> SimulatedLog:
    return simulated_log(sheet_of(sheet), seed, fault, richer=richer, prior=prior(sheet))


def test_the_same_seed_gives_the_same_log_and_another_gives_another() -> None:
    once = log("class-pair")
    again = simulated_log(load("class-pair"), 5)
    other = log("class-pair", seed=6)
    assert once.readings.rows == again.readings.rows
    assert once.readings.rows != other.readings.rows


@pytest.mark.parametrize("sheet", SHEETS)
def test_the_truth_beside_the_log_fits_it(sheet: str) -> None:
    made = log(sheet)
    truth, readings = made.truth, made.readings
    assert truth.cause == "none"
    assert truth.start_s is None
    assert truth.switches
    for switch in truth.switches:
        read = np.interp(switch.time_s, readings.time_s, readings.channel("distillate_m3"))
        assert read == pytest.approx(switch.volume_m3, abs=6e-6)  # some was lost on the way
    assert check_readings(readings).doubts == ()
    assert made.weighed.out_kg == pytest.approx(made.weighed.charge_kg, rel=0.06)


def test_a_richer_truth_lies_further_from_the_sheet() -> None:
    def first(richer: bool) -> float:
        found = [
            simulated_log(
                load("class-pair"), seed, richer=richer, prior=prior("class-pair")
            ).truth.run.first_drop_s
            for seed in range(24)
        ]
        return float(np.std([t for t in found if t is not None]))

    assert first(True) > first(False)


@pytest.mark.parametrize("sheet", ["workshop-blend", "wet-ethyl-acetate"])
def test_the_load_takes_plates_once(sheet: str) -> None:
    """At the load that the sheet foresees, a truth that nothing else moves works as foreseen."""
    usual = prior(sheet).prepared.still
    foreseen = run_still(usual).trace
    truth = _loaded(usual, usual)
    assert usual.carried_at_largest > 0.0
    assert truth.carried_at_largest == 0.0
    works = truth.plates / (1.0 + truth.carried)
    assert works == pytest.approx(working_plates(usual, foreseen), rel=1e-6)
    assert works < usual.plates / (1.0 + usual.carried) - 0.05
    drops = [one.pressure_drop_Pa * one.plates for one in (truth, usual)]
    assert drops[0] == pytest.approx(drops[1])


def test_less_load_leaves_more_plates_that_need_not_be_whole() -> None:
    usual = prior("workshop-blend").prepared.still
    eased = replace(usual, bath_conductance_W_K=0.6 * usual.bath_conductance_W_K)
    works = [
        one.plates / (1.0 + one.carried) for one in (_loaded(usual, usual), _loaded(usual, eased))
    ]
    assert 1.05 < works[1] / works[0] < 1.5
    assert abs(works[1] - round(works[1])) > 1e-3


def test_instruments_round_and_scatter() -> None:
    head = log("class-pair").readings.channel("head_K") - 273.15
    assert np.abs(head * 10.0 - np.round(head * 10.0)).max() < 1e-6
    true = log("class-pair").truth.run.trace
    read = np.interp(log("class-pair").readings.time_s, true.time_s, true.head_temperature_K)
    assert 0.02 < float(np.std(head + 273.15 - read)) < 0.5


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_can_happen_somewhere_and_changes_what_is_seen(fault: str) -> None:
    where = next(s for s in (*SHEETS, FREEZING) if _can(s, fault))
    made, usual = log(where, fault), log(where)
    assert made.truth.cause == fault
    assert made.truth.start_s is not None
    assert 0.0 < made.truth.start_s <= made.readings.time_s[-1] + 10.0
    assert made.truth.damage_s is not None
    assert made.truth.damage_s > made.truth.start_s
    remarks = [row.remark for row in made.readings.rows if row.remark]
    changed = made.readings.rows != usual.readings.rows or made.weighed != usual.weighed
    assert changed or remarks or fault == "azeotrope"


def _can(sheet: str, fault: str) -> bool:
    return fault in possible_faults(prior(sheet).prepared)


def test_a_fault_that_cannot_be_is_refused_with_those_that_can() -> None:
    with pytest.raises(BadInput, match="one of heat_loss"):
        simulated_log(load("class-pair"), 1, "earthquake")
    with pytest.raises(BadInput, match="for this sheet one of"):
        simulated_log(load("class-pair"), 1, "leak")


def test_the_kind_of_a_finding_and_of_a_fault_have_one_name() -> None:
    assert set(FAULTS) == set(knowledge().causes)
