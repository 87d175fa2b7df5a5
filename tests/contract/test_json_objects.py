"""What the commands print with --json: one object, the names of the contract, SI, standard JSON."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest

from journeys.command import forerun

SHEET = b"""
title = "two liquids on no plates"
[[charge]]
substance = "acetone"
amount = "40 +/- 1 mL"
[[charge]]
substance = "toluene"
amount = "40 +/- 1 mL"
[rig]
flask = "250 mL"
column = "none"
[programme]
pressure = "760 mmHg"
bath = [["0 min", "25 \xc2\xb0C"], ["20 min", "160 \xc2\xb0C"]]
stop = { time = "2 h", residue = "10 mL" }
[[switch]]
head = "70 \xc2\xb0C"
"""

LOOK = {
    "name", "cas", "inchikey", "smiles", "molar_mass_kg_mol", "melting_point_K",
    "boiling_point_K", "latent_heat_J_mol", "density_20C_kg_m3", "refractive_index_20C",
    "flash_point_K", "autoignition_K", "lower_flammable_fraction", "peroxide_class",
    "energetic_groups", "hazards", "sources", "at",
}  # fmt: skip
AT = {"pressure_Pa", "boiling_point_K", "band_K", "state"}
MIX = {"pressure_Pa", "components", "azeotropes", "pairs"}
AZEOTROPE = {
    "temperature_K", "mole_fraction", "mass_fraction", "kind", "liquid_phases",
    "temperature_band_K", "basis",
}  # fmt: skip
PAIR = {"components", "relative_volatility_low", "relative_volatility_high", "basis", "model"}
FORESEE = {
    "trace", "first_drop_s", "cuts", "residue", "ledger", "energy", "band", "members", "warnings",
}  # fmt: skip
TRACE = {
    "time_s", "head_temperature_K", "pot_temperature_K", "bath_temperature_K", "pressure_Pa",
    "distillate_volume_m3", "distillate_mole_fraction",
}  # fmt: skip
CUT = {
    "number", "start_s", "end_s", "start_head_K", "end_head_K", "volume_m3", "mass_kg",
    "amount_mol", "mole_fraction", "mass_fraction", "mole_fraction_band",
}  # fmt: skip
ADVISE = {"verdict", "rule_of_thumb", "gates", "pressure_window", "rigs", "cuts"}
VERDICT = {"method", "probability", "reasons", "runner_up"}
GATE = {"name", "state", "computed", "guidance"}
RIG = {"items", "plates", "reflux_ratio", "pressure_Pa", "purity", "recovery", "time_s"}
METHODS = {
    "simple", "fractional", "reduced_pressure", "steam", "water_carrying", "not_by_distillation",
    "do_not_start",
}  # fmt: skip
LEDGER = {"charge_mol", "cuts_mol", "residue_mol", "holdup_mol", "vent_mol", "closure"}
ENERGY = {"supplied_J", "lost_J", "condenser_J", "closure"}


def _refuse(constant: str) -> None:
    raise AssertionError(f"{constant} is no standard JSON")


@cache
def answer(*words: str, given: bytes = b"") -> dict[str, Any]:
    """Return the one object that a command prints."""
    seen = forerun(*words, "--json", given=given)
    assert seen.code == 0, seen.err
    assert seen.out.count("\n") == 1
    found = json.loads(seen.out, parse_constant=_refuse)
    assert isinstance(found, dict)
    return found


def _foresee(*words: str) -> dict[str, Any]:
    return answer("foresee", "-", *words, given=SHEET)


def test_look() -> None:
    found = answer("look", "toluene", "--pressure", "20 mmHg")
    assert set(found) >= LOOK
    assert set(found["at"]) >= AT
    assert found["at"]["pressure_Pa"] == pytest.approx(20 * 133.322387415)
    low, high = found["at"]["band_K"]
    assert low < found["at"]["boiling_point_K"] < high
    assert found["at"]["state"] in {"ok", "extrapolated", "solid"}
    # SI: a kelvin, kilogram and mole for what is 110.6 °C, 0.867 g/mL and 92.14 g/mol
    assert found["boiling_point_K"] == pytest.approx(383.8, abs=0.3)
    assert found["density_20C_kg_m3"] == pytest.approx(867, abs=9)
    assert found["molar_mass_kg_mol"] == pytest.approx(0.09214, abs=1e-4)


def test_every_constant_of_look_names_its_source() -> None:
    found = answer("look", "toluene", "--pressure", "20 mmHg")
    keys = {reference["key"] for reference in found["references"]}
    for name, source in found["sources"].items():
        assert source["references"], name
        assert set(source["references"]) <= keys, name
        assert source["method"] in {"measured", "correlated", "estimated"}


def test_mix() -> None:
    found = answer("mix", "ethanol", "water", "--at", "0.3,0.7", "--curve", "11")
    assert set(found) >= MIX
    assert found["components"] == ["ethanol", "water"]
    assert found["pressure_Pa"] == pytest.approx(101325.0)
    (azeotrope,) = found["azeotropes"]
    assert set(azeotrope) >= AZEOTROPE
    assert azeotrope["kind"] == "minimum"
    assert azeotrope["liquid_phases"] == 1
    assert azeotrope["basis"] in {"fitted", "predicted"}
    assert set(azeotrope["mole_fraction"]) == {"ethanol", "water"}
    low, high = azeotrope["temperature_band_K"]
    assert low < azeotrope["temperature_K"] < high
    (pair,) = found["pairs"]
    assert set(pair) >= PAIR
    assert pair["relative_volatility_low"] < 1.0 < pair["relative_volatility_high"]
    assert found["bubble"]["dissolved"] == 0.0
    assert set(found["bubble"]) >= {"temperature_K", "vapour_mole_fraction"}
    assert sum(found["bubble"]["vapour_mole_fraction"].values()) == pytest.approx(1.0)
    assert {name: len(values) for name, values in found["curve"].items()} == {
        "x": 11, "y": 11, "temperature_K": 11,
    }  # fmt: skip


def test_mix_says_only_what_was_asked() -> None:
    found = answer("mix", "ethanol", "water")
    assert "bubble" not in found
    assert "curve" not in found


def test_foresee_with_members_says_what_moves_it_and_how_pure() -> None:
    sheet = SHEET + b'[aim]\nsubstance = "acetone"\npurity = "80 mol%"\n'
    found = answer("foresee", "-", "--members", "48", given=sheet)
    first = next(s for s in found["sensitivities"] if s["result"] == "first drop")
    assert set(first) == {"result", "unit", "sigma", "explained", "shares"}
    assert 0.0 < sum(share["share"] for share in first["shares"]) <= 1.0 + 1e-9
    product = found["product"]
    assert product["substance"] == "acetone"
    assert product["asked"] == pytest.approx(0.8)
    for odds in product["cuts"]:
        assert 0.0 < odds["probability"] < 1.0
    for window in product["front"]:
        assert window["start_volume_m3"] < window["end_volume_m3"]
        assert window["purity_band"][0] <= window["purity_band"][1]
    assert found["outlook"] is None
    text = forerun("foresee", "-", "--members", "48", given=sheet).out
    assert "What moves it most" in text
    assert "Chance of at least 80.0 mol% acetone" in text


def test_foresee() -> None:
    found = _foresee()
    assert set(found) >= FORESEE
    assert set(found["trace"]) >= TRACE
    assert set(found["ledger"]) >= LEDGER
    assert set(found["energy"]) >= ENERGY
    assert set(found["residue"]) >= CUT - {"mole_fraction_band"}
    assert found["band"] is None
    assert found["members"] == 0
    assert [cut["number"] for cut in found["cuts"]] == [1, 2]
    for cut in found["cuts"]:
        assert set(cut) >= CUT
        assert sum(cut["mole_fraction"].values()) == pytest.approx(1.0)
    points = len(found["trace"]["time_s"])
    for name in TRACE - {"distillate_mole_fraction"}:
        assert len(found["trace"][name]) == points
    for column in found["trace"]["distillate_mole_fraction"].values():
        assert len(column) == points
    # nothing has dripped when the bath is lit
    assert found["trace"]["distillate_mole_fraction"]["acetone"][0] is None


def test_the_ledger_can_be_checked_from_the_object_alone() -> None:
    ledger = _foresee()["ledger"]
    for name, charged in ledger["charge_mol"].items():
        found = sum(ledger[part][name] for part in LEDGER - {"charge_mol", "closure"})
        assert found == pytest.approx(charged, rel=1e-9)
    assert ledger["closure"] <= 1e-9
    assert _foresee()["energy"]["closure"] <= 1e-9


def test_cut_volumes_add_up_to_the_last_point_of_the_trace() -> None:
    found = _foresee()
    total = sum(cut["volume_m3"] for cut in found["cuts"])
    assert total == pytest.approx(found["trace"]["distillate_volume_m3"][-1], rel=1e-6)


def test_members_give_bands() -> None:
    found = _foresee("--members", "8", "--seed", "4")
    assert (found["members"], found["seed"]) == (8, 4)
    band = found["band"]
    head = band["head_temperature_K"]
    assert set(head) == {"p10", "p50", "p90"}
    for low, middle, high in zip(head["p10"], head["p50"], head["p90"], strict=True):
        assert low <= middle <= high
    assert len(band["time_s"]) == len(head["p10"])
    for cut in found["cuts"]:
        for low, high in cut["mole_fraction_band"].values():
            assert 0.0 <= low <= high <= 1.0


def test_a_seed_repeats_every_digit_and_another_does_not() -> None:
    first = forerun("foresee", "-", "--members", "8", "--seed", "4", "--json", given=SHEET).out
    again = forerun("foresee", "-", "--members", "8", "--seed", "4", "--json", given=SHEET).out
    other = forerun("foresee", "-", "--members", "8", "--seed", "5", "--json", given=SHEET).out
    assert first == again
    assert json.loads(first)["band"] != json.loads(other)["band"]


def test_warnings_stand_on_stderr_too() -> None:
    seen = forerun("look", "tert-butanol", "--pressure", "10 mbar", "--json")
    (warning,) = json.loads(seen.out)["warnings"]
    assert warning in seen.err


def test_example() -> None:
    names = [entry["name"] for entry in answer("example")["examples"]]
    assert len(names) >= 6
    found = answer("example", names[0])
    assert set(found) >= {"name", "title", "sheet"}
    assert "[[charge]]" in found["sheet"]


def test_demo() -> None:
    found = answer("demo", "--members", "0")
    assert set(found) >= {"example", "look", "mix", "foresee"}
    assert set(found["foresee"]) >= FORESEE
    assert set(found["mix"]) >= MIX
    assert all(set(look) >= LOOK for look in found["look"])


def test_advise() -> None:
    found = answer("advise", "-", given=SHEET)
    assert set(found) >= ADVISE
    assert set(found["verdict"]) >= VERDICT
    assert found["verdict"]["method"] in METHODS
    assert 0.0 <= found["verdict"]["probability"] <= 1.0
    assert all(isinstance(reason, str) for reason in found["verdict"]["reasons"])
    assert set(found["rule_of_thumb"]) >= {"method", "difference_K"}
    assert found["rule_of_thumb"]["difference_K"] == pytest.approx(54.4, abs=0.5)
    for gate in found["gates"]:
        assert set(gate) >= GATE
        assert gate["state"] in {"pass", "warn", "stop"}
    window = found["pressure_window"]
    assert window["low_Pa"] < window["high_Pa"]
    assert all(set(limit) >= {"name", "pressure_Pa", "item"} for limit in window["limits"])
    assert found["rigs"]
    assert any("heats of mixing" in says.lower() for says in found["unmodelled"])
    assert all(set(rig) >= RIG for rig in found["rigs"])


def test_foresee_carries_the_gates() -> None:
    gates = _foresee()["gates"]
    assert {gate["state"] for gate in gates} <= {"pass", "warn"}
    assert {"peroxides", "solid_plug", "bath"} <= {gate["name"] for gate in gates}


@pytest.mark.parametrize("words", [("look", "water"), ("mix", "water", "ethanol")])
def test_an_answer_says_what_made_it(words: tuple[str, ...]) -> None:
    made = json.loads(forerun(*words, "--json").out)["made_by"]
    assert {"forerun", "python", "numpy", "scipy", "machine", "data_sha256"} <= set(made)
    assert len(made["data_sha256"]) == 64
