"""The forecast shared out into receivers as they were really filled."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.records.assays import Assays, read_assays
from forerun.reviewing.assays import statements_of
from forerun.reviewing.ledger import reconcile
from forerun.reviewing.standing_in import filled, shared_out
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.results import Run
from forerun.still.run import run_still
from unit.reviewing.test_again import _SHEET


@pytest.fixture(scope="module")
def run() -> Run:
    return run_still(prepare(load(_SHEET)).still)


MOLAR = np.array([0.05808, 0.09214])


def test_receivers_as_foreseen_hold_what_was_foreseen(run: Run) -> None:
    names = [str(cut.number) for cut in run.cuts]
    masses = np.array([cut.mass_kg for cut in run.cuts])
    found = shared_out(names, masses, run, MOLAR)
    assert found is not None
    for cut in run.cuts:
        wanted = cut.mass_kg * cut.mass_fraction
        np.testing.assert_allclose(found[str(cut.number)], wanted, rtol=2e-3, atol=2e-5)
    wanted = run.residue.mass_kg * run.residue.mass_fraction
    np.testing.assert_allclose(found["pot"], wanted, rtol=2e-3, atol=2e-5)


def test_a_cut_in_two_is_purer_first_and_nothing_is_made(run: Run) -> None:
    whole = sum(cut.mass_kg for cut in run.cuts)
    found = shared_out(["1", "2", "3"], np.array([0.2, 0.5, 0.3]) * whole, run, MOLAR)
    assert found is not None
    acetone = [found[k][0] / found[k].sum() for k in ("1", "2", "3")]
    assert acetone[0] > acetone[1] > acetone[2]
    everything = sum(found.values())
    residue = run.residue.mass_kg * run.residue.mass_fraction
    over = sum(cut.mass_kg * cut.mass_fraction for cut in run.cuts)
    np.testing.assert_allclose(everything, over + residue, rtol=2e-3)


def test_more_than_foreseen_comes_from_the_pot(run: Run) -> None:
    whole = sum(cut.mass_kg for cut in run.cuts)
    found = shared_out(["1", "2"], np.array([whole, 0.5 * run.residue.mass_kg]), run, MOLAR)
    assert found is not None
    np.testing.assert_allclose(found["2"] / found["2"].sum(), run.residue.mass_fraction, atol=5e-3)
    assert found["pot"].sum() == pytest.approx(0.5 * run.residue.mass_kg, rel=2e-2)


def test_a_receiver_that_nobody_measured_leaves_the_forecast_as_it_is(run: Run) -> None:
    weighed = read_assays("cut,method,substance,value,unit\n1,mass,,20.0,g\n2,volume,,10,mL\n")
    found = filled(["1", "2"], [], weighed, run)
    assert found is not None
    assert found[0] == pytest.approx(0.020)
    assert 0.007 < found[1] < 0.0095
    assert filled(["1", "2", "3"], [], weighed, run) is None
    assert filled(["1"], [], Assays(), run) is None


def _foreseen_of_cut_1(run: Run, mass_g: float) -> tuple[bool, list[float]]:
    """Return whether something is wrong, and what the forecast says of receiver 1."""
    lines = []
    for cut in (*run.cuts, run.residue):
        place = str(cut.number or "pot")
        mass = mass_g if place == "1" else 1e3 * cut.mass_kg
        lines.append(f"{place},mass,,{mass:.3f},g")
        lines.append(f"{place},gc_mass,acetone,{100 * cut.mass_fraction[0]:.3f},wt%")
    assays = read_assays("cut,method,substance,value,unit\n" + "\n".join(lines) + "\n")
    sheet = load(_SHEET)
    said = statements_of(assays, [p.substance for p in sheet.charge])
    account = reconcile(sheet, [], assays, said.rows, run)
    rows = account.system.measured
    return account.wrong, [r.value for r in rows if r.kind == "prior" and r.place == "1"]


def test_a_wrong_tare_never_moves_what_the_forecast_says(run: Run) -> None:
    """Shared out by the wrong mass, the forecast would bear it out, and it would not be named."""
    foreseen = run.cuts[0].mass_kg * run.cuts[0].mass_fraction
    wrong, said = _foreseen_of_cut_1(run, 1e3 * run.cuts[0].mass_kg + 9.0)
    assert wrong
    np.testing.assert_allclose(said, foreseen, rtol=1e-9)
    wrong, said = _foreseen_of_cut_1(run, 1e3 * run.cuts[0].mass_kg + 0.4)
    assert not wrong
    assert sum(said) == pytest.approx(run.cuts[0].mass_kg + 0.4e-3, rel=1e-4)
