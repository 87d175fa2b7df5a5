"""A charge that boils before it is heated is said to, with the pressure at which it would not."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from forerun.sheets.resolving import load
from forerun.still.at_start import boils_at_start, pressure_over_charge
from forerun.still.from_sheet import prepare
from laws.stills import GAS_CONSTANT, still
from unit.small_still import SHEET

LATENT = 32e3  # J/mol, of the ideal stills
BOILING = (340.0, 365.0)  # K


def _raoult(moles: tuple[float, float], temperature: float, diluent: float = 0.0) -> float:
    """Return the sum of x P by Clausius and Clapeyron, exact for the ideal stills [Pa]."""
    pure = [
        101325.0 * math.exp(LATENT / GAS_CONSTANT * (1.0 / boiling - 1.0 / temperature))
        for boiling in BOILING
    ]
    share = [n / (sum(moles) + diluent) for n in moles]
    return sum(x * p for x, p in zip(share, pure, strict=True))


@pytest.mark.parametrize("moles", [(1.0, 1.0), (0.2, 0.7)])
@pytest.mark.parametrize("diluent", [0.0, 0.5])
def test_it_is_the_pressure_by_raoult(moles: tuple[float, float], diluent: float) -> None:
    given = replace(
        still(list(BOILING)),
        charge_mol=np.array(moles),
        charge_temperature_K=300.0,
        diluent_mol=diluent,
    )
    assert pressure_over_charge(given) == pytest.approx(_raoult(moles, 300.0, diluent), rel=1e-9)


def test_it_is_said_below_that_pressure_and_not_above_it() -> None:
    given = replace(still(list(BOILING)), charge_temperature_K=300.0)
    over = pressure_over_charge(given)
    for factor, boils in ((0.99, True), (1.01, False)):
        said = boils_at_start(replace(given, pressure=np.array([[0.0, factor * over]])))
        assert (said is not None) == boils


def _sheet(pressure: str, first: str = "pentane", second: str = "hexane") -> str:
    return f"""
title = "invented"
[[charge]]
substance = "{first}"
amount = "50 mL"
[[charge]]
substance = "{second}"
amount = "50 mL"
[rig]
flask = "250 mL"
[programme]
pressure = "{pressure}"
bath = [["0 min", "20 °C"], ["40 min", "60 °C"]]
stop = {{ time = "1 h" }}
"""


def test_a_sheet_under_vacuum_is_warned_with_both_pressures() -> None:
    said = [w for w in prepare(load(_sheet("200 mbar"))).warnings if "boils at" in w]
    assert len(said) == 1
    assert "20.0\N{NARROW NO-BREAK SPACE}°C" in said[0]
    assert "200\N{NARROW NO-BREAK SPACE}mbar" in said[0]
    assert "fall slowly" in said[0]


@pytest.mark.parametrize("pressure", ["1 atm", "600 mbar"])
def test_a_sheet_that_has_to_be_heated_first_is_not(pressure: str) -> None:
    prepared = prepare(load(_sheet(pressure)))
    assert not any("boils at" in words for words in prepared.warnings)
    assert not any("boils at" in words for words in prepare(load(SHEET)).warnings)


def test_two_liquids_boil_at_the_sum_of_both() -> None:
    # ether 59 kPa at 20 °C and water 2.34 kPa, handbook values (from memory): as good as immiscible
    prepared = prepare(load(_sheet("1 atm", "diethyl ether", "water")))
    assert prepared.still.two_liquids
    assert pressure_over_charge(prepared.still) == pytest.approx(59e3 + 2.3e3, rel=0.04)
