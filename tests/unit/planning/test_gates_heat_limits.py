"""The limits of the gates that look at heat, met from both sides."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from forerun.planning.gates_heat import temperature_class
from forerun.planning.gates_model import Gate, lowest_value
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from unit.planning.gate_cases import (
    HEPTANE,
    answer,
    run_of,
    said,
    sheet_of,
    sourced,
    with_constants,
)
from unit.planning.test_gates import gate

# --- bath


def _bath(sheet: RunSheet, hottest: float) -> Gate:
    return answer("bath", sheet, run_of(bath_K=(300.0, float("nan"), hottest, 310.0)))


def test_the_bath_stays_20_kelvin_below_oil_and_ignition_and_50_below_decay() -> None:
    oil = sheet_of({"water": "50 mL"}, rig={"bath": "silicone oil"}, safety={"oil_flash": "150 °C"})
    assert _bath(oil, 403.15).state == "pass"
    assert _bath(oil, 403.25).state == "stop"
    decays = sheet_of(
        {"water": "50 mL"}, rig={"bath": "silicone oil"}, safety={"decomposition": "150 °C"}
    )
    assert _bath(decays, 373.15).state == "pass"
    assert _bath(decays, 373.25).state == "stop"
    sheet = sheet_of({"toluene": "50 mL"}, rig={"bath": "silicone oil"})
    lit = with_constants(sheet, 0, autoignition=sourced(sheet, "autoignition", 500.0, lowest=400.0))
    assert _bath(lit, 380.0).state == "pass"
    assert _bath(lit, 380.1).state == "stop"
    assert _bath(lit, 380.1).computed["limit_K"] == pytest.approx(380.0)
    assert _bath(lit, 380.1).computed["autoignition_K"] == 400.0


def test_who_lights_first_gives_the_class() -> None:
    two = gate("bath", {"toluene": "20 mL", "diethyl ether": "20 mL"})
    ether = load({"charge": [{"substance": "diethyl ether", "amount": "1 mL"}]})
    lights = ether.charge[0].substance.autoignition
    assert lights
    assert two.computed["autoignition_K"] == lowest_value(lights)
    assert two.computed["temperature_class"] == "T4"


def test_unknown_ignition_is_said_of_all_but_water() -> None:
    assert gate("bath", {"water": "50 mL"}, rig={"bath": "silicone oil"}).state == "pass"
    found = gate("bath", {"bromoform": "50 mL"}, rig={"bath": "silicone oil"})
    assert found.state == "warn"
    assert "for bromoform" in said(found)


def test_a_bath_without_a_limit_has_none_in_its_figures() -> None:
    sheet = sheet_of({"water": "50 mL"})
    endless = replace(sheet, rig=replace(sheet.rig, bath_limit_K=float("inf")))
    found = answer("bath", endless)
    assert (found.state, found.settle, found.computed["limit_K"]) == (
        "warn",
        "safety.oil_flash",
        None,
    )
    assert gate("bath", {"water": "50 mL"}, rig={"bath": "silicone oil"}).computed["limit_K"]


def test_the_hottest_point_of_the_programme_counts_without_a_run() -> None:
    programme = {"bath": [["0 min", "25 °C"], ["10 min", "140 °C"], ["20 min", "90 °C"]]}
    assert gate("bath", HEPTANE, programme=programme).computed["bath_K"] == pytest.approx(413.15)


@pytest.mark.parametrize(
    ("limit", "named", "below"),
    [(450, "T1", "T2"), (300, "T2", "T3"), (200, "T3", "T4"), (135, "T4", "T5"), (100, "T5", "T6"),
     (85, "T6", "")],
)  # fmt: skip
def test_a_class_begins_above_its_limit(limit: float, named: str, below: str) -> None:
    """IEC 60079-0: a surface as hot as the vapour lights at is too hot."""
    assert temperature_class(limit + 273.15 + 0.01) == named
    assert temperature_class(limit + 273.15) == below


# --- what stays in the pot


@pytest.mark.parametrize(
    ("left", "state"),
    [(4.9e-6, "stop"), (5.1e-6, "warn"), (9.9e-6, "warn"), (10.1e-6, "pass")],
)
def test_a_tenth_stays_and_half_of_it_stops(left: float, state: str) -> None:
    sheet = sheet_of({"heptane": "100 mL"}, programme={"stop": {"time": "1 h"}})
    found = answer("dryness", sheet, run_of(left_m3=left))
    assert found.state == state
    assert found.computed["residue_m3"] == left
    assert found.computed["residue_low_m3"] == pytest.approx(left, rel=2e-6)
    assert found.computed["floor_m3"] == pytest.approx(1e-5)


def test_exactly_the_floor_passes_and_exactly_half_of_it_does_not_stop() -> None:
    def of(residue: str) -> Gate:
        return gate("dryness", {"heptane": "100 mL"}, programme={"stop": {"residue": residue}})

    assert of("10 mL").state == "pass"
    assert of("5 mL").state == "warn"
    assert "floor of 10 %" in said(of("5 mL"))


def test_the_least_of_run_band_and_sheet_counts() -> None:
    stop = {"stop": {"residue": "30 mL"}}
    sheet = sheet_of({"heptane": "100 mL"}, programme=stop)
    assert answer("dryness", sheet, run_of(left_m3=40e-6)).state == "pass"
    assert answer("dryness", sheet, run_of(left_m3=4e-6)).state == "stop"
    assert answer("dryness", sheet, run_of(left_m3=40e-6), low=4e-6).state == "stop"
    small = sheet_of({"heptane": "100 mL"}, programme={"stop": {"residue": "4 mL"}})
    assert answer("dryness", small, run_of(left_m3=40e-6)).state == "stop"


def test_without_any_end_the_floor_is_told() -> None:
    sheet = sheet_of({"heptane": "100 mL"}, programme={"stop": {"time": "1 h"}})
    stop = replace(sheet.programme.stop, residue_m3=None)
    silent = replace(sheet, programme=replace(sheet.programme, stop=stop))
    found = answer("dryness", silent)
    assert (found.state, found.settle) == ("warn", "programme.stop.residue")
    assert "leave at least 10 % in the pot" in said(found)
    banded = answer("dryness", silent, low=30e-6)
    assert said(banded).startswith("The run stops at no residue")


@pytest.mark.parametrize("name", ["tetrahydrofuran", "2-methyltetrahydrofuran"])
def test_listed_and_suspected_formers_leave_a_fifth(name: str) -> None:
    def of(residue: str) -> str:
        return gate("dryness", {name: "100 mL"}, programme={"stop": {"residue": residue}}).state

    assert (of("19 mL"), of("20 mL")) == ("warn", "pass")
    assert (of("9 mL"), of("10 mL")) == ("stop", "warn")


# --- vacuum, heat and air


def _order(pressure: Any, bath: Any, **safety: str) -> Gate:
    programme = {"pressure": pressure, "bath": bath}
    return gate(
        "order", {"anisole": "50 mL"}, programme=programme, safety=safety, rig={"room": "20 °C"}
    )


@pytest.mark.parametrize(
    ("bath", "state"), [("30 °C", "warn"), ("30.1 °C", "stop"), ("31 °C", "stop")]
)
def test_vacuum_is_drawn_on_a_bath_ten_kelvin_above_the_room_at_most(bath: str, state: str) -> None:
    late = [["0 min", "1 bar"], ["5 min", "20 mbar"], ["60 min", "20 mbar"]]
    found = _order(late, bath)
    assert found.state == state
    figure = found.computed["bath_at_evacuation_K"]
    assert (figure is None) is (state == "warn")


@pytest.mark.parametrize(
    ("bath", "state"), [("60 °C", "warn"), ("60.1 °C", "stop"), ("65 °C", "stop")]
)
def test_air_is_let_in_at_forty_kelvin_above_the_room_at_most(bath: str, state: str) -> None:
    end = [["0 min", "20 mbar"], ["60 min", "20 mbar"], ["61 min", "1 bar"]]
    found = _order(end, bath)
    assert found.state == state
    assert (found.computed["bath_at_venting_K"] is None) is (state == "warn")
    assert found.settle == ("programme.pressure" if state == "stop" else "safety.gas")


@pytest.mark.parametrize(
    ("before", "after", "drawn"),
    [("501 mbar", "500 mbar", True), ("500 mbar", "499 mbar", False),
     ("530 mbar", "510 mbar", False), ("540 mbar", "499 mbar", True)],
)  # fmt: skip
def test_vacuum_begins_at_half_an_atmosphere(before: str, after: str, drawn: bool) -> None:
    found = _order([["0 min", before], ["5 min", after], ["9 min", after]], "80 °C")
    assert (found.computed["bath_at_evacuation_K"] is not None) is drawn


@pytest.mark.parametrize(
    ("before", "after", "let_in"),
    [("500 mbar", "501 mbar", True), ("499 mbar", "500 mbar", False),
     ("510 mbar", "530 mbar", False), ("20 mbar", "30 mbar", False)],
)  # fmt: skip
def test_air_is_let_in_above_half_an_atmosphere(before: str, after: str, let_in: bool) -> None:
    found = _order([["0 min", before], ["5 min", after], ["9 min", after]], "80 °C")
    assert (found.computed["bath_at_venting_K"] is not None) is let_in


def test_the_bath_counts_when_the_vacuum_begins() -> None:
    bath = [["0 min", "25 °C"], ["10 min", "125 °C"]]
    cold = _order([["0 min", "1 bar"], ["5 min", "20 mbar"], ["9 min", "20 mbar"]], bath)
    assert cold.computed["bath_at_evacuation_K"] is None
    hot = _order([["0 min", "1 bar"], ["2 min", "1 bar"], ["4 min", "20 mbar"]], bath)
    assert hot.computed["bath_at_evacuation_K"] == pytest.approx(273.15 + 65.0)
    assert "a bath of 65 °C" in said(hot)


# --- hot liquid


@pytest.mark.parametrize(("bath", "state"), [("100 °C", "pass"), ("101 °C", "warn")])
def test_water_over_oil_above_100_degrees_is_told(bath: str, state: str) -> None:
    def of(condenser: str, medium: str = "silicone oil") -> Gate:
        rig = {"condenser": condenser, "bath": medium}
        aid = {"boiling_aid": "stirrer"}
        return gate("hot_liquid", HEPTANE, rig=rig, programme={"bath": bath}, safety=aid)

    jacket = of("straight jacket 30 cm")
    assert jacket.state == state
    if state == "warn":
        assert said(jacket).startswith("Water from the condenser in oil of ")
    assert of("straight jacket 30 cm", "heating mantle").state == "pass"
    sheet = sheet_of(HEPTANE, rig={"bath": "silicone oil"}, programme={"bath": bath},
                   safety={"boiling_aid": "stirrer"})  # fmt: skip
    for condenser, there in (("a coil", state), ("bulbs", state), ("air", "pass")):
        other = replace(sheet, rig=replace(sheet.rig, condenser=condenser))
        assert answer("hot_liquid", other).state == there


def test_what_is_to_be_done_with_the_boiling_aid_is_said() -> None:
    cool = {"bath": "80 °C"}
    silent = gate("hot_liquid", HEPTANE, programme=cool)
    assert said(silent) == (
        "Put the boiling aid in while the liquid is cold, never into hot liquid."
    )
    none = gate("hot_liquid", HEPTANE, programme=cool, safety={"boiling_aid": "none"})
    assert said(none).startswith("Without a boiling aid the liquid bumps")
    put = gate("hot_liquid", HEPTANE, programme=cool, safety={"boiling_aid": "chips"})
    assert said(put).startswith("A boiling aid (chips) is in")
