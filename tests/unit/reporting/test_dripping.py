"""A run that stops dripping before it ends says so, and why, only where that was computed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.reporting.cautions import cautions_of_run
from forerun.reporting.curve import curve_of
from forerun.reporting.cut_rows import cut_rows
from forerun.reporting.dripping import bath_too_cold, drips_stop, last_drop
from forerun.reporting.finding import foreseen
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.results import Run
from forerun.still.run import run_still
from unit.reporting.sample_run import dry_run, run

_THIN = "\N{NARROW NO-BREAK SPACE}"
_ALONE = """
[[charge]]
substance = "ethyl acetate"
amount = "40 mL"
[rig]
flask = "100 mL"
"""
_COOL = _ALONE + '[programme]\nbath = [["0 min", "20 °C"], ["20 min", "104 °C"]]\n'


@pytest.fixture(scope="module")
def alone() -> tuple[RunSheet, Run]:
    sheet = load(_COOL)
    return sheet, run_still(prepare(sheet).still)


def _stopping(at: float) -> Run:
    """Return the run made by hand, dripping until then [s] and no longer."""
    whole = run()
    time = whole.trace.time_s
    volume = 70e-6 * np.clip((time - 1650.0) / (at - 1650.0), 0.0, 1.0)
    return replace(whole, trace=replace(whole.trace, distillate_volume_m3=volume))


def test_what_drips_to_the_end_has_no_last_drop() -> None:
    assert last_drop(run().trace) is None
    assert last_drop(dry_run().trace) is None
    assert last_drop(_stopping(5000.0).trace) is None, "within ten minutes of the end"


def test_the_last_drop_is_the_one_before_nothing_is_left_to_come() -> None:
    fell = last_drop(_stopping(4000.0).trace)
    assert fell == pytest.approx(4000.0 - 2350.0 * 0.05 / 70.0, abs=9.1), "to a row of the trace"


def test_a_bath_that_is_too_cold_is_named(alone: tuple[RunSheet, Run]) -> None:
    sheet, found = alone
    fell = last_drop(found.trace)
    assert fell is not None
    assert 3600.0 < fell < 4.0 * 3600.0 < found.trace.time_s[-1]
    says = foreseen(sheet, found).replace(_THIN, " ")
    assert "drips stop after" in says
    assert says.endswith(": bath too cold")
    assert "after 8 h" not in says
    caution = cautions_of_run(sheet, found)[0].replace(_THIN, " ")
    assert caution.startswith("Drips stop after")
    assert "the bath, 104 °C, is too cold" in caution


def test_the_cut_ends_with_its_last_drop(alone: tuple[RunSheet, Run]) -> None:
    _, found = alone
    fell = last_drop(found.trace)
    assert fell is not None
    minutes = f"{fell / 60.0:.0f}"
    assert cut_rows(found)[0].time.replace(_THIN, " ").endswith(f"–{minutes} min")
    assert curve_of(found.trace, found.cuts).cuts[0].end_min == pytest.approx(fell / 60.0)


def test_a_run_that_is_stopped_while_it_drips_drips_to_the_end() -> None:
    sheet = load(_ALONE + '[programme]\nstop = { residue = "20 mL" }\n')
    found = run_still(prepare(sheet).still)
    assert drips_stop(sheet, found) == ""
    assert " after " in foreseen(sheet, found)


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ('reflux_ratio = [["0 min", "0"], ["60 min", "0"], ["60 min", "total"]]', "closed"),
        ('steam = "1 g/min"', "steam"),
    ],
)
def test_the_bath_is_not_blamed_for_what_holds_the_drips_back(changed: str, why: str) -> None:
    water = '[[charge]]\nsubstance = "water"\namount = "2 mL"\n'
    sheet = load(f"{water}{_ALONE}[programme]\n{changed}\n")
    found = _stopping(4000.0)
    assert not bath_too_cold(sheet, found), why
    assert drips_stop(sheet, found).endswith("in the pot.")


def test_an_empty_pot_is_not_blamed_on_the_bath() -> None:
    found = _stopping(4000.0)
    empty = replace(found, residue=replace(found.residue, volume_m3=0.0))
    assert bath_too_cold(load(_ALONE), found)
    assert not bath_too_cold(load(_ALONE), empty)
