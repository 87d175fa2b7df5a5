"""Again or stop, and the same charge run otherwise."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from forerun.records.assays import Assays, read_assays
from forerun.reviewing.again import purity_of, redistil, window_of_purity
from forerun.reviewing.ledger import Reconciled, reconcile
from forerun.reviewing.next_sheet import next_table
from forerun.reviewing.replaying import replays
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.sheets.writing import toml_of
from forerun.still.from_sheet import prepare
from forerun.still.results import Run
from forerun.still.run import run_still

_SHEET = """
[[charge]]
substance = "acetone"
amount = "60 mL"
[[charge]]
substance = "toluene"
amount = "60 mL"
[rig]
flask = "250 mL"
plates = 4
[programme]
bath = [["0 min", "22 °C"], ["20 min", "105 °C"], ["90 min", "150 °C"]]
reflux_ratio = 1
stop = { residue = "15 mL", time = "4 h" }
[[switch]]
head = "60 °C"
[aim]
substance = "acetone"
purity = "98 mol%"
"""


@cache
def _sheet(purity: str = "98 mol%") -> RunSheet:
    return load(_SHEET.replace("98 mol%", purity))


@cache
def _run() -> Run:
    return run_still(prepare(_sheet()).still)


def _account(sheet: RunSheet, assays: Assays) -> Reconciled:
    from forerun.reviewing.assays import statements_of  # noqa: PLC0415 -- one test room only

    said = statements_of(assays, [p.substance for p in sheet.charge])
    return reconcile(sheet, [], assays, said.rows, _run())


def _weighed(first: tuple[float, float], second: tuple[float, float]) -> Assays:
    rows = [
        f"{cut},mass,,{mass},g\n{cut},gc_mass,acetone,{share},wt%"
        for cut, (mass, share) in ((1, first), (2, second))
    ]
    return read_assays("cut,method,substance,value,unit\n" + "\n".join(rows) + "\n")


def test_purity_in_every_basis() -> None:
    masses = np.array([0.05808, 0.09214])  # a mole of each [kg]
    assert purity_of(masses, 0, "mol%", _sheet()) == pytest.approx(0.5, abs=1e-3)
    assert purity_of(masses, 0, "wt%", _sheet()) == pytest.approx(0.3866, abs=1e-3)
    assert 0.38 < purity_of(masses, 0, "vol%", _sheet()) < 0.42
    assert np.isnan(purity_of(np.zeros(2), 0, "wt%", _sheet()))


def test_the_window_is_as_pure_as_asked_and_no_longer_than_that() -> None:
    run = _run()
    molar = np.array([p.substance.molar_mass for p in _sheet().charge])
    masses = []
    for purity in (0.90, 0.97, 0.99):
        mass, start, end = window_of_purity(run.trace, molar, 0, purity)
        assert 0.0 <= start < end <= run.trace.time_s[-1]
        masses.append(mass)
    assert masses == sorted(masses, reverse=True)
    assert window_of_purity(run.trace, molar, 0, 1.0)[0] == 0.0
    assert masses[0] < 1.01 * _sheet().charge[0].mass_kg


def test_a_poor_first_cut_is_worth_another_run() -> None:
    account = _account(_sheet(), _weighed((45.0, 88.0), (25.0, 12.0)))
    found = redistil(_sheet(), account, None)
    assert found.worth_it
    assert found.what.startswith("cut")
    assert 0.02 < found.gain_kg < 0.045
    assert found.time_s > 600.0
    assert "of what was charged" in found.reasons[0]


def test_the_gain_has_a_band_and_what_is_known_better_has_a_narrower_one() -> None:
    """A composition that was not analysed is the forecast's, with the forecast's doubt."""
    sheet = _sheet()
    sure = redistil(sheet, _account(sheet, _weighed((45.0, 88.0), (25.0, 12.0))), None)
    low, high = sure.gain_band_kg
    assert 0.0 < low < sure.gain_kg * 1.1
    assert sure.gain_kg * 0.9 < high
    assert f"{1e3 * low:.1f} to {1e3 * high:.1f} g" in sure.reasons[0]
    account = _account(sheet, _weighed((45.0, 88.0), (25.0, 12.0)))
    vague = replace(
        account,
        lines=tuple(replace(x, component_band_kg=0.3 * x.by_component_kg) for x in account.lines),
    )
    wide = redistil(sheet, vague, None).gain_band_kg
    assert wide[1] - wide[0] > high - low


def test_the_next_sheet_holds_what_the_receivers_hold() -> None:
    account = _account(_sheet(), _weighed((45.0, 88.0), (25.0, 12.0)))
    table = next_table(_sheet(), account, ("1", "2"))
    again = load(table)
    assert again.title == "Cuts 1, 2 of a run, again"
    for portion, k in zip(again.charge, range(2), strict=True):
        held = sum(float(account.line(place).by_component_kg[k]) for place in ("1", "2"))  # type: ignore[union-attr]
        assert portion.mass_kg == pytest.approx(held, rel=2e-3)
        assert portion.amount_mol.sigma > 0.0
    assert again.rig.plates.value == 4
    assert again.switches == ()
    assert again.aim.purity == pytest.approx(0.98)
    assert load(toml_of(again)).charge[0].mass_kg == again.charge[0].mass_kg


def test_the_next_sheet_does_not_stop_before_it_began() -> None:
    account = _account(_sheet(), _weighed((8.0, 88.0), (25.0, 12.0)))
    again = load(next_table(_sheet(), account, ("1",)))
    assert again.programme.stop.residue_m3 == pytest.approx(0.1 * again.charge_volume_m3, rel=0.1)


def test_nothing_is_left_to_gain() -> None:
    pure = redistil(_sheet(), _account(_sheet(), _weighed((40.0, 99.8), (2.0, 99.5))), None)
    assert not pure.worth_it
    assert "already" in pure.reasons[0]
    little = redistil(_sheet(), _account(_sheet(), _weighed((40.0, 99.8), (0.6, 40.0))), None)
    assert not little.worth_it
    assert little.gain_kg == 0.0


def test_without_an_aim_it_asks_for_one() -> None:
    sheet = load(_SHEET.partition("[aim]")[0])
    found = redistil(sheet, _account(sheet, _weighed((45.0, 88.0), (25.0, 12.0))), None)
    assert not found.worth_it
    assert "names no aim" in found.reasons[0]


def test_replays_change_what_they_say() -> None:
    found = {r.name: r for r in replays(_sheet("90 mol%"), prepare(_sheet("90 mol%")).still)}
    assert set(found) == {"as it was", "half the heat", "better lagged", "earlier switch"}
    assert found["half the heat"].time_s > found["as it was"].time_s
    assert found["earlier switch"].purity >= found["as it was"].purity
    assert found["earlier switch"].pure_kg <= found["as it was"].pure_kg


def test_each_off_cut_and_all_together_are_told_with_what_stays_behind() -> None:
    sheet = _sheet()
    found = redistil(sheet, _account(sheet, _weighed((25.0, 90.0), (24.0, 60.0))), None)
    assert [one.places for one in found.tried] == [("1",), ("2",), ("1", "2")]
    best = max(found.tried, key=lambda one: one.gain_kg)
    assert found.gain_kg == best.gain_kg > 0.0
    told = " ".join(found.reasons)
    assert f"{1e6 * best.left_m3:.0f} mL of {1e6 * best.charged_m3:.0f} mL" in told
    for one in found.tried:
        if one is not best and one.gain_kg > 0.0:
            assert f"alone {1e3 * one.gain_kg:.1f} g in {one.time_s / 3600.0:.1f} h" in told
        if one.gain_kg > 0.0:
            assert 0.0 < one.left_m3 < one.charged_m3
            # nothing is made: what was gained at the wanted purity came out of the pot
            assert one.gain_kg / 790.0 < one.charged_m3 - one.left_m3
