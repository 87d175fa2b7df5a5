"""Every row of the table of gates: what makes it stop, what makes it pass, and what it names."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from forerun.core.errors import BadInput
from forerun.planning.gates import GATES, gates_of, stopping
from forerun.planning.gates_heat import temperature_class
from forerun.planning.gates_model import Gate, GateCase
from forerun.sheets.resolving import load
from forerun.sheets.resolving_safety import GATE_NAMES

TODAY = date(2026, 11, 25)


def gate(name: str, charge: dict[str, str], **tables: Any) -> Gate:
    """Return one gate's answer about a sheet, without a run."""
    rows = [{"substance": s, "amount": a} for s, a in charge.items()]
    sheet = load({"charge": rows, **tables})
    return next(g for g in gates_of(GateCase(sheet, None, TODAY)) if g.name == name)


def test_every_gate_answers_once_and_in_order() -> None:
    sheet = load({"charge": [{"substance": "heptane", "amount": "50 mL"}]})
    found = gates_of(GateCase(sheet, None, TODAY))
    assert tuple(g.name for g in found) == GATE_NAMES
    assert len(GATES) == len(GATE_NAMES)
    for answer in found:
        assert answer.says
        assert answer.guidance
        assert answer.references


def test_closed_apparatus_stops_and_silence_is_looked_at() -> None:
    heptane = {"heptane": "50 mL"}
    assert gate("vent_path", heptane, safety={"vent": "closed"}).state == "stop"
    silent = gate("vent_path", heptane)
    assert (silent.state, silent.settle) == ("warn", "safety.vent")
    assert gate("vent_path", heptane, safety={"vent": "bubbler"}).state == "pass"
    over = gate("vent_path", heptane, programme={"pressure": "1.5 bar"}, safety={"vent": "open"})
    assert over.state == "stop"


@pytest.mark.parametrize(
    ("name", "cold", "warm"),
    [("tert-butanol", "5 °C", "35 °C"), ("acetic acid", "10 °C", "25 °C"),
     ("cyclohexane", "5 °C", "15 °C")],
)  # fmt: skip
def test_what_freezes_in_the_condenser_stops(name: str, cold: str, warm: str) -> None:
    stopped = gate("solid_plug", {name: "50 mL"}, rig={"coolant": cold})
    assert (stopped.state, stopped.settle) == ("stop", "rig.coolant")
    assert gate("solid_plug", {name: "50 mL"}, rig={"coolant": warm}).state == "pass"


def _tested(result: str, days: int, **more: str) -> dict[str, str]:
    return {
        "peroxide_test": result,
        "peroxide_test_date": (TODAY - timedelta(days=days)).isoformat(),
        **more,
    }


@pytest.mark.parametrize(
    ("safety", "state"),
    [
        ({}, "stop"),
        ({"peroxide_test": "none detected"}, "stop"),
        (_tested("none detected", 1), "pass"),
        (_tested("< 1 mg/L", 3), "pass"),
        (_tested("none detected", 4), "stop"),
        (_tested("none detected", -1), "stop"),
        (_tested("2 mg/L", 0), "stop"),
        (_tested("2 mg/L", 0, peroxide_limit="5 mg/L"), "warn"),
        (_tested("100 ppm", 0, peroxide_limit="500 mg/L"), "stop"),
    ],
)
def test_peroxide_formers_need_a_fresh_clean_test(safety: dict[str, str], state: str) -> None:
    assert gate("peroxides", {"tetrahydrofuran": "50 mL"}, safety=safety).state == state


def test_other_peroxide_formers_and_none() -> None:
    assert gate("peroxides", {"diisopropyl ether": "50 mL"}).state == "stop"
    assert gate("peroxides", {"2-methyltetrahydrofuran": "50 mL"}).state == "warn"
    assert gate("peroxides", {"heptane": "50 mL"}).state == "pass"
    old = _tested("none detected", 0, opened="2025-01-01")
    assert gate("peroxides", {"tetrahydrofuran": "50 mL"}, safety=old).state == "warn"


def test_the_pot_is_not_boiled_dry() -> None:
    def of(residue: str, substance: str = "heptane") -> str:
        stop = {"stop": {"residue": residue}}
        return gate("dryness", {substance: "100 mL"}, programme=stop).state

    assert of("3 mL") == "stop"
    assert of("7 mL") == "warn"
    assert of("15 mL") == "pass"
    assert of("15 mL", "tetrahydrofuran") == "warn"
    assert of("25 mL", "tetrahydrofuran") == "pass"


@pytest.mark.parametrize("name", ["nitromethane", "hydrazine", "phenylacetylene", "nitrobenzene"])
def test_energetic_groups_stop(name: str) -> None:
    assert gate("energetic", {name: "5 mL"}).state == "stop"


def test_carbon_to_nitrogen_is_computed() -> None:
    found = gate("energetic", {"nitromethane": "5 mL"})
    assert found.computed["carbon_and_oxygen_per_nitrogen"] == 3.0
    assert (
        gate("energetic", {"hydrazine": "5 mL"}).computed["carbon_and_oxygen_per_nitrogen"] == 0.0
    )
    assert gate("energetic", {"toluene": "5 mL"}).state == "pass"
    assert gate("energetic", {"propylene oxide": "5 mL"}).state == "warn"


def test_azide_with_dichloromethane_or_acid_stops() -> None:
    met = {"met": ["sodium azide"]}
    wet = {"dichloromethane": "50 mL", "methanol": "10 mL"}
    assert gate("azide", wet, safety=met).state == "stop"
    assert gate("azide", {"chloroform": "50 mL"}, safety=met).state == "stop"
    assert gate("azide", {"acetic acid": "50 mL"}, safety=met).state == "stop"
    acid = {"met": ["sodium azide", "dilute acid"]}
    assert gate("azide", {"ethyl acetate": "50 mL"}, safety=acid).state == "stop"
    assert gate("azide", {"ethyl acetate": "50 mL"}, safety=met).state == "warn"
    assert gate("azide", wet).settle == "safety.met"
    assert gate("azide", wet, safety={"met": ["brine"]}).state == "pass"
    assert gate("azide", wet, title="solvent after the azide step").state == "stop"
    assert gate("azide", {"heptane": "50 mL"}).state == "pass"


def test_bath_stays_below_oil_ignition_and_decomposition() -> None:
    def of(charge: str, bath: str, **safety: str) -> Gate:
        return gate(
            "bath", {charge: "50 mL"}, programme={"bath": bath}, safety=safety,
            rig={"bath": "silicone oil"},
        )  # fmt: skip

    assert of("toluene", "150 °C").state == "pass"
    assert of("toluene", "240 °C").state == "stop"
    assert of("toluene", "150 °C", oil_flash="160 °C").state == "stop"
    assert of("toluene", "150 °C", decomposition="190 °C").state == "stop"
    assert of("carbon disulfide", "85 °C").state == "stop"
    assert of("diethyl ether", "150 °C").state == "stop"
    assert of("diethyl ether", "60 °C").state == "pass"
    assert of("heptane", "150 °C").computed["temperature_class"] == "T3"


@pytest.mark.parametrize(
    ("autoignition_C", "named"),
    [(175, "T4"), (90, "T6"), (225, "T3"), (230, "T3"), (539, "T1"), (400, "T2"), (244, "T3"),
     (80, "")],
)  # fmt: skip
def test_temperature_class(autoignition_C: float, named: str) -> None:
    """IEC 60079-0; autoignition as in IEC 60079-20-1 for ether, CS2, hexane, THF, acetone …"""
    assert temperature_class(autoignition_C + 273.15) == named


def test_vacuum_asks_for_whole_glass_and_a_shield() -> None:
    def of(**safety: object) -> Gate:
        return gate(
            "vacuum_glass", {"anisole": "50 mL"}, programme={"pressure": "20 mbar"}, safety=safety
        )

    assert of(glass="starred").state == "stop"
    assert of(glass="flat", shield=True).state == "stop"
    assert of().settle == "safety.glass and safety.shield"
    assert of(glass="checked").state == "warn"
    assert of(glass="checked", shield=True).state == "pass"
    assert gate("vacuum_glass", {"anisole": "50 mL"}).state == "pass"


def test_vacuum_before_heat_and_cold_before_air() -> None:
    bath = [["0 min", "25 °C"], ["20 min", "120 °C"]]

    def of(pressure: object, **safety: str) -> str:
        programme = {"pressure": pressure, "bath": bath}
        return gate("order", {"anisole": "50 mL"}, programme=programme, safety=safety).state

    late = [["0 min", "1 bar"], ["20 min", "1 bar"], ["25 min", "20 mbar"]]
    assert of(late) == "stop"
    hot_air = [["0 min", "20 mbar"], ["60 min", "20 mbar"], ["61 min", "1 bar"]]
    assert of(hot_air) == "stop"
    assert of(hot_air, gas="nitrogen") == "pass"
    assert of("20 mbar") == "warn"
    assert of("20 mbar", gas="argon") == "pass"
    assert of("1 bar") == "pass"


def test_hot_liquid() -> None:
    heptane = {"heptane": "50 mL"}
    cool = {"bath": "80 °C"}
    assert gate("hot_liquid", heptane, programme=cool).settle == "safety.boiling_aid"
    aid = {"boiling_aid": "stirrer"}
    assert gate("hot_liquid", heptane, programme=cool, safety=aid).state == "pass"
    assert gate("hot_liquid", heptane, programme={"bath": "150 °C"}, safety=aid).state == "warn"
    none = {"boiling_aid": "none"}
    assert gate("hot_liquid", heptane, programme=cool, safety=none).state == "warn"


def test_warm_room() -> None:
    assert gate("warm_room", {"diethyl ether": "50 mL"}).state == "warn"
    assert gate("warm_room", {"toluene": "50 mL"}).state == "pass"
    low = gate("warm_room", {"toluene": "50 mL"}, programme={"pressure": "30 mbar"})
    assert low.state == "warn"


def test_toxic_vapour_needs_a_trap() -> None:
    for name in ("acetyl chloride", "acrolein", "carbon disulfide"):
        found = gate("toxic_vapour", {name: "50 mL"})
        assert (found.state, found.settle) == ("stop", "safety.trap"), name
    small = gate("toxic_vapour", {"acetyl chloride": "50 mL"}, safety={"trap": "1 mmol"})
    assert small.state == "stop"
    large = gate("toxic_vapour", {"acetyl chloride": "50 mL"}, safety={"trap": "1 mol"})
    assert large.state == "warn"
    assert gate("toxic_vapour", {"heptane": "50 mL"}).state == "pass"


def test_scale() -> None:
    assert gate("scale", {"heptane": "60 mL"}).state == "pass"
    assert gate("scale", {"heptane": "160 mL"}).settle == "safety.first_run"
    known = {"first_run": False}
    assert gate("scale", {"heptane": "160 mL"}, safety=known).state == "pass"
    limited = {"first_run": False, "scale_limit": "100 mL"}
    assert gate("scale", {"heptane": "160 mL"}, safety=limited).state == "warn"
    alone = {"first_run": False, "attended": False}
    assert gate("scale", {"heptane": "60 mL"}, safety=alone).state == "warn"


def test_an_override_needs_a_reason_and_is_recorded() -> None:
    reason = "titrated this morning by the safety officer, book 12"
    override = {"override": [{"gate": "peroxides", "reason": reason}]}
    found = gate("peroxides", {"tetrahydrofuran": "50 mL"}, safety=override)
    assert (found.state, found.overridden) == ("warn", reason)
    assert reason in found.says
    with pytest.raises(BadInput):
        gate("peroxides", {"heptane": "5 mL"}, safety={"override": [{"gate": "peroxides"}]})
    short = {"override": [{"gate": "peroxides", "reason": "ok"}]}
    with pytest.raises(BadInput):
        gate("peroxides", {"heptane": "5 mL"}, safety=short)
    wrong = {"override": [{"gate": "peroxide", "reason": reason}]}
    with pytest.raises(BadInput, match="did you mean"):
        gate("peroxides", {"heptane": "5 mL"}, safety=wrong)


def test_stopping_lists_the_stops() -> None:
    sheet = load({"charge": [{"substance": "tetrahydrofuran", "amount": "50 mL"}]})
    assert [g.name for g in stopping(gates_of(GateCase(sheet, None, TODAY)))] == ["peroxides"]
