"""Whether the aim is reached is said in the unit that was asked for, of the bottle that counts."""

from __future__ import annotations

from typing import Any

import pytest

from forerun.reporting.aim_met import AimMet, aim_met
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.run import run_still
from unit.small_still import SHEET


def met(aim: str) -> AimMet | None:
    sheet = load(SHEET + aim)
    return aim_met(sheet, run_still(prepare(sheet).still))


def holding(found: AimMet | None) -> AimMet:
    assert found is not None
    return found


def test_without_a_purity_nothing_is_said() -> None:
    assert met("") is None
    assert met('[aim]\nsubstance = "cyclohexane"') is None


def test_a_purity_in_reach_is_reached_by_a_bottle() -> None:
    found = holding(met('[aim]\nsubstance = "cyclohexane"\npurity = "55 wt%"'))
    assert found.met
    assert found.says.startswith("Aim 55")
    assert "cut 1 holds" in found.says
    assert found.says.count("wt") == 2


def test_one_out_of_reach_names_the_nearest() -> None:
    found = holding(met('[aim]\nsubstance = "cyclohexane"\npurity = "99.5 mol%"'))
    assert not found.met
    assert "is not reached: cut 1 holds" in found.says


def test_what_stays_in_the_pot_counts() -> None:
    found = holding(met('[aim]\nsubstance = "toluene"\npurity = "60 mol%"'))
    assert found.met
    assert "the pot holds" in found.says or "cut 2" in found.says


def test_pure_enough_but_too_little_is_not_reached() -> None:
    aim = '[aim]\nsubstance = "cyclohexane"\npurity = "55 mol%"\nrecovery = "99 %"'
    found = holding(met(aim))
    assert not found.met
    assert "is wanted" in found.says


@pytest.mark.parametrize("basis", ["mol%", "wt%", "vol%"])
def test_each_basis_has_its_own_purity(basis: str) -> None:
    found: Any = met(f'[aim]\nsubstance = "cyclohexane"\npurity = "99.5 {basis}"')
    assert basis.rstrip("%") in found.says


def test_almost_pure_is_not_said_to_be_pure() -> None:
    found = holding(met('[aim]\nsubstance = "toluene"\npurity = "60 mol%"'))
    assert "100.0" not in found.says
