"""The limits of the gates, met from both sides, and what a run changes in their answers."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from typing import cast

import pytest

from forerun.planning import gates_charge
from forerun.planning.gates_model import Gate, GateCase
from unit.planning.gate_cases import (
    HEPTANE,
    answer,
    run_of,
    said,
    sheet_of,
    sourced,
    with_constants,
)
from unit.planning.test_gates import TODAY, gate

# --- the way out, solid in the condenser


def test_pressure_above_the_atmosphere_stops_from_1050_mbar_on() -> None:
    def of(highest: str) -> Gate:
        programme = {"pressure": [["0 min", "200 mbar"], ["20 min", highest]]}
        return gate("vent_path", HEPTANE, programme=programme, safety={"vent": "bubbler"})

    assert of("1050 mbar").state == "pass"
    assert of("1051 mbar").state == "stop"
    assert of("1051 mbar").computed["highest_pressure_Pa"] == pytest.approx(105100.0)


def test_a_pump_alone_at_the_pressure_of_the_room_is_no_way_out() -> None:
    pump = {"vent": "pump"}
    assert gate("vent_path", HEPTANE, safety=pump).state == "warn"
    low = gate("vent_path", HEPTANE, programme={"pressure": "50 mbar"}, safety=pump)
    assert low.state == "pass"
    assert "from pot to room" in gate("vent_path", HEPTANE).says
    silent = gate("vent_path", HEPTANE, programme={"pressure": "50 mbar"})
    assert "from pot to pump" in said(silent)


def test_only_a_drying_tube_cakes() -> None:
    assert "caked" in gate("vent_path", HEPTANE, safety={"vent": "drying tube"}).says
    assert "caked" not in gate("vent_path", HEPTANE, safety={"vent": "open"}).says


def test_the_coolant_is_warmer_than_five_kelvin_below_what_melts() -> None:
    sheet = sheet_of(HEPTANE, rig={"coolant": "10 °C"})
    coolant = sheet.rig.coolant_temperature_K.value

    def of(margin: float) -> Gate:
        melting = sourced(sheet, "melting_point", coolant - margin)
        return answer("solid_plug", with_constants(sheet, 0, melting_point=melting))

    assert of(4.99).state == "stop"
    assert of(5.0).state == "pass"
    assert of(5.4).state == "pass"
    assert of(-1.0).computed == {"coolant_K": coolant, "melting_K": coolant + 1.0, "margin_K": 5.0}


def test_what_melts_highest_counts() -> None:
    two = {"tert-butanol": "20 mL", "cyclohexane": "20 mL"}
    cold = gate("solid_plug", two, rig={"coolant": "0 °C"})
    assert cold.computed["melting_K"] == pytest.approx(298.35)
    assert "30 °C or warmer" in said(cold)
    assert "tert-butanol melts at" in said(cold)
    assert "cyclohexane melts at" in said(cold)
    warm = gate("solid_plug", two, rig={"coolant": "35 °C"})
    assert warm.state == "pass"
    assert "that of tert-butanol" in said(warm)


@pytest.mark.parametrize(("share", "state"), [(0.049, "warn"), (0.05, "warn"), (0.051, "stop")])
def test_what_hardly_comes_over_is_watched_and_does_not_stop(share: float, state: str) -> None:
    sheet = sheet_of({"methanol": "40 mL", "tert-butanol": "5 mL"}, rig={"coolant": "5 °C"})
    drips = [[float("nan")] * 2, [1.0, 0.0], [1.0 - share, share], [0.99, 0.01]]
    found = answer("solid_plug", sheet, run_of(drips, parts=2))
    assert found.state == state
    if state == "warn":
        assert "less than 5 mol%" in said(found)
        assert "tert-butanol melts at" in said(found)
    assert found.computed["melting_K"] == pytest.approx(298.35)


def test_the_number_is_that_of_what_can_set_and_not_of_what_melts_higher_in_traces() -> None:
    three = {"methanol": "40 mL", "tert-butanol": "1 mL", "cyclohexane": "20 mL"}
    sheet = sheet_of(three, rig={"coolant": "5 °C"})
    found = answer("solid_plug", sheet, run_of([[0.68, 0.02, 0.3]], parts=3))
    assert found.state == "stop"
    assert found.computed["melting_K"] == pytest.approx(279.6, abs=0.3)  # of cyclohexane
    warm = answer("solid_plug", sheet_of(three, rig={"coolant": "35 °C"}))
    assert (warm.state, warm.computed["melting_K"]) == ("pass", pytest.approx(298.35))


def test_without_a_drop_or_a_number_the_whole_charge_counts() -> None:
    sheet = sheet_of({"methanol": "40 mL", "tert-butanol": "5 mL"}, rig={"coolant": "5 °C"})
    for run in (None, run_of(None, parts=2), run_of([[float("nan"), 1.0]], parts=2)):
        assert answer("solid_plug", sheet, run).state == "stop"
    assert GateCase(sheet, run_of([[0.9, 0.1]]), TODAY).peak_share == pytest.approx([0.9, 0.1])
    assert GateCase(sheet, run_of([[0.5, float("nan")]]), TODAY).peak_share is None


def test_no_melting_point_on_file_is_looked_at() -> None:
    sheet = with_constants(sheet_of(HEPTANE), 0, melting_point=None)
    found = answer("solid_plug", sheet)
    assert (found.state, found.computed["melting_K"]) == ("warn", None)


# --- vacuum, scale


@pytest.mark.parametrize(("shield", "said"), [(None, "not stated"), (True, "yes"), (False, "no")])
def test_what_is_said_of_the_shield_is_kept(shield: bool | None, said: str) -> None:
    safety = {} if shield is None else {"shield": shield}
    assert gate("vacuum_glass", HEPTANE, safety=safety).computed["shield"] == said


def test_the_lowest_pressure_of_the_programme_counts() -> None:
    programme = {"pressure": [["0 min", "900 mbar"], ["20 min", "30 mbar"]]}
    found = gate("vacuum_glass", HEPTANE, programme=programme)
    assert found.computed["lowest_pressure_Pa"] == pytest.approx(3000.0)


def test_a_first_run_of_more_than_100_mL_is_signed_for() -> None:
    assert gate("scale", {"heptane": "100 mL"}).state == "pass"
    silent = gate("scale", {"heptane": "101 mL"})
    assert (silent.state, silent.settle) == ("warn", "safety.first_run")
    assert "taken as a first run" in said(silent)
    stated = gate("scale", {"heptane": "101 mL"}, safety={"first_run": True})
    assert (stated.state, stated.settle) == ("warn", "")
    assert "101.0 mL, a first run, is more than 100.0 mL" in said(stated)


def test_the_local_limit_itself_is_allowed() -> None:
    def of(amount: str) -> Gate:
        return gate("scale", {"heptane": amount}, safety={"scale_limit": "40 mL"})

    assert of("40 mL").state == "pass"
    assert said(of("40 mL")) == "40.0 mL in the flask."
    assert said(of("41 mL")).startswith("41.0 mL is above the local limit of 40.0 mL: somebody")
    alone = gate("scale", HEPTANE, safety={"attended": False})
    assert said(alone) == "Nobody stays with it: somebody in charge signs for it."


# --- peroxides, energetic groups, azides


@pytest.mark.parametrize(
    ("name", "days"), [("diisopropyl ether", 90), ("tetrahydrofuran", 180), ("styrene", 180)]
)
def test_a_bottle_is_old_after_the_days_of_its_class(name: str, days: int) -> None:
    def of(age: int, **charge: str) -> Gate:
        safety = {
            "opened": (TODAY - timedelta(days=age)).isoformat(),
            "peroxide_test": "none detected",
            "peroxide_test_date": (TODAY - timedelta(days=1)).isoformat(),
        }
        return gate("peroxides", {name: "50 mL", **charge}, safety=safety)

    assert of(days).state == "pass"
    assert of(days + 1).state == "warn"
    assert f"past the {days} days" in said(of(days + 1))
    assert of(days).computed["bottle_age_s"] == 86400.0 * days
    assert of(days).computed["test_age_s"] == 86400.0
    # with one of class A in the flask, its shorter time counts
    assert of(91, **{"diisopropyl ether": "5 mL"}).state == "warn"


def test_peroxide_found_in_what_is_on_no_list_counts() -> None:
    day = {"peroxide_test_date": TODAY.isoformat()}
    found = gate(
        "peroxides", {"2-methyltetrahydrofuran": "50 mL"}, safety={"peroxide_test": "2 mg/L", **day}
    )
    assert found.state == "stop"
    assert said(found).startswith("2-methyltetrahydrofuran (ether): 2 mg/L")
    listed = gate(
        "peroxides", {"tetrahydrofuran": "50 mL"}, safety={"peroxide_test": "9 mg/L"} | day
    )
    assert said(listed).startswith("tetrahydrofuran (class B): 9 mg/L")


def test_a_local_limit_is_none_where_none_is_stated() -> None:
    day = {"peroxide_test_date": TODAY.isoformat(), "peroxide_test": "0.5 mg/L"}
    assert gate("peroxides", {"tetrahydrofuran": "50 mL"}, safety=day).state == "stop"
    level = {**day, "peroxide_limit": "0.5 mg/L"}
    assert gate("peroxides", {"tetrahydrofuran": "50 mL"}, safety=level).state == "warn"


def test_the_poorest_in_carbon_counts_and_is_told() -> None:
    found = gate("energetic", {"nitrobenzene": "5 mL", "nitromethane": "5 mL"})
    assert found.computed["carbon_and_oxygen_per_nitrogen"] == 3.0
    assert "(C + O)/N" not in said(found)  # 3 is not below 3
    poor = gate("energetic", {"hydrazine": "5 mL"})
    assert "(C + O)/N is 0, below 3." in said(poor)
    assert (
        gate("energetic", {"phenylacetylene": "5 mL"}).computed["carbon_and_oxygen_per_nitrogen"]
        is None
    )
    sheet = with_constants(sheet_of({"nitromethane": "5 mL"}), 0, formula="C4H4N2O2")
    assert answer("energetic", sheet).computed["carbon_and_oxygen_per_nitrogen"] == 3.0
    sheet = with_constants(sheet, 0, formula="CH4N2O4")
    assert "(C + O)/N is 2.5, below 3." in answer("energetic", sheet).says
    assert "below" in answer("energetic", with_constants(sheet, 0, formula="C10H4N4OS")).says


def test_one_strained_ring_does_not_excuse_another_group() -> None:
    two = {"propylene oxide": "5 mL", "nitromethane": "5 mL"}
    assert gate("energetic", two).state == "stop"


def test_an_azide_in_the_flask_is_seen_by_its_group() -> None:
    sheet = sheet_of({"toluene": "40 mL", "dichloromethane": "5 mL"})
    assert answer("azide", with_constants(sheet, 0, energetic_groups=("azide",))).state == "stop"
    alone = with_constants(sheet_of({"toluene": "40 mL"}), 0, energetic_groups=("azide",))
    assert answer("azide", alone).state == "warn"


def test_one_halogen_is_no_dichloromethane() -> None:
    assert gate("azide", {"iodomethane": "5 mL"}).settle == ""
    assert gate("azide", {"bromochloromethane": "5 mL"}).settle == "safety.met"
    assert gate("azide", {"1,2-dichloroethane": "5 mL"}).settle == ""


def test_acids_are_told_by_name_or_by_how_they_pair() -> None:
    azide = {"met": ["sodium azide"]}
    assert gate("azide", {"acetic acid": "5 mL"}).says.startswith("acetic acid: the sheet names no")
    assert gate("azide", HEPTANE).says.startswith("No azide is named")
    named = with_constants(sheet_of(HEPTANE, safety=azide), 0, name="some acid")
    assert answer("azide", named).state == "stop"
    paired = sheet_of({"acetic acid": "5 mL"}, safety=azide)
    assert answer("azide", with_constants(paired, 0, name="vinegar")).state == "stop"


# --- toxic vapour, a warm room


def test_the_trap_holds_a_twentieth_of_the_charge_or_what_passes() -> None:
    charge = {"acrolein": "2 mol", "heptane": "1 mol"}

    def of(trap: str, *vented: float) -> Gate:
        sheet = sheet_of(charge, safety={"trap": trap})
        return answer("toxic_vapour", sheet, run_of(vent_mol=vented) if vented else None)

    assert of("0.1 mol").state == "warn"
    assert of("0.099 mol").state == "stop"
    assert of("0.1 mol").computed["charge_mol"] == pytest.approx(2.0)
    assert of("0.1 mol").computed["vented_mol"] is None
    found = of("0.12 mol", 0.13, 0.5)
    assert (found.state, found.computed["vented_mol"]) == ("stop", pytest.approx(0.13))
    assert "lets 0.130 mol pass" in said(of("0.14 mol", 0.13, 0.5))
    assert "lets 0.0 mmol pass" in said(of("0.1 mol"))


def test_the_lowest_boiling_one_is_held_against_the_room() -> None:
    found = gate("warm_room", {"toluene": "20 mL", "diethyl ether": "20 mL"})
    assert said(found).startswith("diethyl ether boils at 34 °C, 14 K above the room: cold")
    boiling = cast(float, found.computed["boiling_K"])
    assert boiling == pytest.approx(307.6, abs=0.5)

    def of(margin: float) -> Gate:
        sheet = sheet_of(
            {"diethyl ether": "20 mL"}, rig={"room": f"{boiling - 273.15 - margin} °C"}
        )
        return answer("warm_room", sheet)

    assert of(15.1).state == "pass"
    assert said(of(15.1)).endswith("15 K above the room.")
    assert of(14.9).state == "warn"
    assert said(of(14.9)).endswith("a cooled and vented receiver.")


def test_fifteen_kelvin_above_the_room_are_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    sheet = sheet_of({"diethyl ether": "20 mL"}, rig={"room": "20 °C"})
    room = sheet.rig.room_temperature_K.value
    for margin, state in ((15.0, "pass"), (15.0 - 1e-9, "warn")):
        boils = SimpleNamespace(temperature=room + margin)
        monkeypatch.setattr(gates_charge, "boiling_temperature", lambda *_, b=boils: b)
        assert answer("warm_room", sheet).state == state
