"""What `forerun diagnose --json` prints; Python, HTTP and `review` give the same findings."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import forerun
from contract.test_json_objects import SHEET
from forerun.app.web.asking import QUESTIONS
from forerun.core.errors import BadInput
from forerun.running.diagnosing import RULES
from forerun.running.knowledge import knowledge
from journeys.command import forerun as command

NAMES = {
    "heat_loss", "light_exhausted", "heater_fault", "thermometer_offset", "barometer", "azeotrope",
    "too_few_plates", "bumping", "heater_cycling", "carry_over", "flooding", "leak",
    "decomposition", "solvent_vapour", "condenser_breakthrough", "solid_plug", "water",
    "two_liquids", "near_dry", "superheated_vapour", "exotherm", "lost_mass", "gained_mass",
}  # fmt: skip
FINDING = {"name", "probability", "causes", "test", "remedy", "since_s"}
LOG = Path(__file__).parent / "files" / "log.csv"
ODD = "time_min,head_C,bath_C,remark\n0,20,20,\n10,20,90,\n20,21,140,\n30,21,141,cloudy\n60,21,142,"


def test_causes_are_those_of_the_contract() -> None:
    assert set(knowledge().causes) == NAMES
    for pair in knowledge().tests:
        assert set(pair.split()) <= NAMES


def test_the_names_of_the_contract(tmp_path: Path) -> None:
    log = tmp_path / "odd.csv"
    log.write_text(ODD, encoding="utf-8")
    seen = command("diagnose", "-", "--readings", str(log), "--json", given=SHEET)
    assert seen.code == 0, seen.err
    found = json.loads(seen.out)
    assert found["findings"]
    for finding in found["findings"]:
        assert set(finding) >= FINDING
        assert finding["name"] in NAMES
        assert 0.0 < finding["probability"] <= 1.0
        assert finding["causes"][0]["name"] == finding["name"]
        shares = [cause["probability"] for cause in finding["causes"]]
        assert shares == sorted(shares, reverse=True)
        assert sum(shares) == pytest.approx(1.0, abs=0.05)
    assert "heat_loss" in {f["name"] for f in found["findings"]}
    assert len(found["examined"]) + len(found["not_examined"]) == len(RULES)
    assert found == forerun.diagnose(SHEET.decode(), readings=ODD).to_json()
    body = {"sheet": SHEET.decode(), "readings": ODD}
    assert QUESTIONS["diagnose"].ask(body, None) == found


def test_nothing_found_is_said_with_what_was_looked_at() -> None:
    quiet = "time_min,head_C\n0,20\n1,20\n2,20\n"
    found = forerun.diagnose(SHEET.decode(), readings=quiet).to_json()
    assert [f["name"] for f in found["findings"]] == ["none"]
    assert found["findings"][0]["probability"] is None
    assert f"of {len(RULES)}" in found["findings"][0]["seen"]
    assert "the pressure rises" in {entry["sign"] for entry in found["not_examined"]}


def test_a_review_carries_the_same_findings() -> None:
    log = LOG.read_text("utf-8")
    review = forerun.review(SHEET.decode(), readings=log, fit=False).to_json()
    alone = forerun.diagnose(SHEET.decode(), readings=log).to_json()
    assert review["findings_examined"] is True
    assert review["findings"] == alone["findings"]


def test_too_few_readings_are_refused() -> None:
    with pytest.raises(BadInput, match="three"):
        forerun.diagnose(SHEET.decode(), readings="time_min,head_C\n0,20\n")


def test_a_file_of_this_machine_is_never_read_over_http() -> None:
    with pytest.raises(BadInput):
        QUESTIONS["diagnose"].ask({"sheet": SHEET.decode(), "readings": str(LOG)}, None)
