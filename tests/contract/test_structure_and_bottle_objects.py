"""A substance known by its structure, and a mixture sold as one bottle, through the commands."""

from __future__ import annotations

import json
from typing import Any

import pytest

from contract.test_json_objects import AT, LOOK
from journeys.command import forerun, is_one_sentence

STRANGER = "CCCCCCCCOC(C)C"


def answer(*words: str) -> dict[str, Any]:
    seen = forerun(*words, "--json")
    assert seen.code == 0, seen.err
    found: dict[str, Any] = json.loads(seen.out)
    return found


def test_look_at_a_stranger_keeps_the_contract_and_says_that_it_is_estimated():
    found = answer("look", STRANGER, "--pressure", "20 mbar")
    assert set(found) >= LOOK
    assert set(found["at"]) == AT
    assert found["origin"] == "structure"
    assert found["inchikey"] is None
    assert found["melting_point_K"] is None
    for key in ("boiling_point_K", "latent_heat_J_mol", "density_20C_kg_m3", "at"):
        assert found["sources"][key]["method"] == "estimated", key
        assert found["sources"][key]["references"], key
    low, high = found["at"]["band_K"]
    assert 10.0 < high - low < 60.0
    assert any("estimated from its structure" in w for w in found["warnings"])


def test_another_spelling_of_a_liquid_on_file_is_that_liquid():
    found = answer("look", "C1=CC=CC=C1C")
    assert (found["name"], found["origin"]) == ("toluene", "file")


def test_mix_with_a_stranger():
    found = answer("mix", STRANGER, "ethanol")
    assert found["components"][0] == STRANGER
    assert found["pairs"][0]["basis"] == "predicted"
    assert any("is not on file" in w for w in found["warnings"])


def test_look_into_a_bottle():
    found = answer("look", "hexanes", "--pressure", "500 mmHg")
    assert found["mixture"] is True
    assert sum(p["mass_fraction"] for p in found["parts"]) == pytest.approx(1.0)
    assert sum(p["mole_fraction"] for p in found["parts"]) == pytest.approx(1.0)
    assert 320.0 < found["at"]["bubble_point_K"] <= found["at"]["dew_point_K"] < 335.0
    assert any("Bottles differ" in w for w in found["warnings"])
    printed = forerun("look", "petroleum ether 40-60")
    assert printed.code == 0
    assert "2-methylpentane" in printed.out


def test_mix_takes_a_bottle_apart():
    found = answer("mix", "xylenes")
    assert len(found["components"]) == 4
    assert any("xylenes is a mixture" in w for w in found["warnings"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("look", "CCS(=O)CC"), "S bound to C, C, O"),
        (("look", "C1CC"), "ring 1 is opened"),
        (("look", "CC(=O)[O-].[Na+]"), "Na is not among"),
        (("mix", "hexanes", "toluene", "ethanol"), "at most 5 components"),
        (("mix", "hexanes", "hexane"), "hexane in hexanes and hexane"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(words: tuple[str, ...], said: str):
    seen = forerun(*words)
    assert seen.code == 2
    assert seen.out == ""
    assert said in seen.err
    assert is_one_sentence(seen.err) or seen.err.count(". ") == 1  # not covered: why, then advice
