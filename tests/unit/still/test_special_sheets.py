"""What a trap gives back and what a leaking apparatus can hold, as a sheet says it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.from_sheet_special import pressure_with_pump


def _sheet(charge: dict[str, str], **rig: str) -> RunSheet:
    rows: list[dict[str, Any]] = [{"substance": s, "amount": a} for s, a in charge.items()]
    return load({"charge": rows, "rig": {"flask": "250 mL", **rig}})


def test_a_trap_needs_liquids_that_part() -> None:
    with pytest.raises(BadInput, match="part from water"):
        prepare(_sheet({"ethanol": "30 mL", "water": "30 mL"}, trap="10 mL"))


def test_the_layer_without_water_runs_back() -> None:
    # toluene takes up some 0.05 % of water by mass at room temperature (from memory)
    for names in (("toluene", "water"), ("water", "toluene")):
        still = prepare(_sheet(dict.fromkeys(names, "30 mL"), trap="10 mL")).still
        assert still.trap is not None
        assert still.trap.volume_m3 == pytest.approx(1e-5)
        back = dict(zip(names, still.trap.returned, strict=True))
        assert 0.99 < back["toluene"] < 1.0
        assert 0.0 < back["water"] < 0.01


def test_two_that_run_back_share_the_half_that_is_not_water() -> None:
    names = ("toluene", "heptane", "water")
    still = prepare(_sheet(dict.fromkeys(names, "20 mL"), trap="10 mL")).still
    assert still.trap is not None
    back = dict(zip(names, still.trap.returned, strict=True))
    assert back["toluene"] > 0.99
    assert back["heptane"] > 0.99
    assert back["water"] < 0.01


def _leaking(leak: str) -> RunSheet:
    return _sheet({"anisole": "30 mL"}, pump="diaphragm", leak=leak)


def test_a_pump_holds_against_a_leak_what_it_can() -> None:
    asked = np.array([[0.0, 100.0], [60.0, 5000.0]])
    held, said = pressure_with_pump(_leaking("1 mbar/min"), asked)
    least = held[0, 1]
    assert least > 100.0
    assert held[1].tolist() == [60.0, 5000.0]
    assert asked[0, 1] == 100.0, "what was asked for is not changed"
    assert said is not None
    assert f"holds {least / 100.0:.1f} mbar at best" in said
    worse, _ = pressure_with_pump(_leaking("10 mbar/min"), asked)
    assert worse[0, 1] > least


def test_without_a_leak_the_pressure_is_the_one_asked_for() -> None:
    """Also one that no pump reaches: other parts of the program speak of that."""
    asked = np.array([[0.0, 0.01]])
    for rig in ({"pump": "diaphragm"}, {}):
        assert pressure_with_pump(_sheet({"anisole": "30 mL"}, **rig), asked) == (asked, None)


def test_a_pump_that_is_strong_enough_changes_nothing() -> None:
    asked = np.array([[0.0, 4000.0], [60.0, 5000.0]])
    for sheet in (_leaking("1 mbar/min"), _sheet({"anisole": "30 mL"}, pump="diaphragm")):
        held, said = pressure_with_pump(sheet, asked)
        assert held.tolist() == asked.tolist()
        assert said is None
    at_the_limit = np.array([[0.0, 100.0]])
    least = pressure_with_pump(_leaking("1 mbar/min"), at_the_limit)[0][0, 1]
    assert pressure_with_pump(_leaking("1 mbar/min"), np.array([[0.0, least]]))[1] is None
