"""What `forerun review --json` prints, and that Python gives the same."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import forerun
from contract.test_json_objects import SHEET
from forerun.core.errors import BadInput
from journeys.command import forerun as command

FOLDER = Path(__file__).parent / "files"
LOG, ASSAYS = FOLDER / "log.csv", FOLDER / "assays.csv"

REVIEW = {
    "plateaus", "cuts", "ledger", "reconciled", "plates", "redistil", "findings",
    "findings_examined", "flags", "warnings", "references", "finding",
}  # fmt: skip
CUT = {
    "number", "start_s", "end_s", "start_head_K", "end_head_K", "volume_m3", "mass_kg",
    "amount_mol", "mole_fraction", "mass_fraction", "mole_fraction_band", "boiling_range",
}  # fmt: skip


def _refuse(constant: str) -> None:
    raise AssertionError(f"{constant} is no standard JSON")


@cache
def _answer() -> dict[str, Any]:
    seen = command(
        "review", "-", "--readings", str(LOG), "--assays", str(ASSAYS), "--quick", "--json",
        given=SHEET,
    )  # fmt: skip
    assert seen.code == 0, seen.err
    assert seen.out.count("\n") == 1
    found = json.loads(seen.out, parse_constant=_refuse)
    assert isinstance(found, dict)
    return found


def test_the_names_of_the_contract() -> None:
    found = _answer()
    assert set(found) >= REVIEW
    assert [cut["number"] for cut in found["cuts"]] == [1, 2]
    for cut in found["cuts"]:
        assert set(cut) >= CUT
        assert sum(cut["mole_fraction"].values()) == pytest.approx(1.0)
        for name, (low, high) in cut["mole_fraction_band"].items():
            assert 0.0 <= low <= cut["mole_fraction"][name] <= high <= 1.0
    for plateau in found["plateaus"]:
        assert set(plateau) >= {"start_s", "end_s", "temperature_K"}
        assert plateau["start_s"] < plateau["end_s"]
    assert set(found["redistil"]) >= {"worth_it", "gain_kg", "time_s", "reasons"}
    assert set(found["reconciled"]) >= {"amounts_mol", "adjusted", "suspect"}


def test_what_was_looked_for_is_said() -> None:
    assert [f["name"] for f in _answer()["findings"]] == ["none"]
    assert _answer()["findings_examined"] is True


def test_the_ledger_closes_from_the_object_alone() -> None:
    ledger = _answer()["ledger"]
    parts = ("cuts_mol", "residue_mol", "holdup_mol", "trap_mol", "lost_mol")
    for name, charged in ledger["charge_mol"].items():
        assert sum(ledger[part][name] for part in parts) == pytest.approx(charged, rel=1e-9)
    masses = {line["place"]: line["mass_kg"] for line in ledger["lines"]}
    charge = masses.pop("charge")
    assert sum(masses.values()) == pytest.approx(charge, rel=1e-9)


def test_what_was_measured_is_what_the_files_say() -> None:
    found = _answer()
    adjusted = {row["name"]: row for row in found["reconciled"]["adjusted"]}
    assert adjusted["mass of cut 1"]["measured"] == pytest.approx(0.0271)
    assert adjusted["mass of cut 1"]["unit"] == "kg"
    first, second = found["cuts"]
    assert first["boiling_range"].startswith("56–71\N{NARROW NO-BREAK SPACE}°C/")
    assert first["mole_fraction"]["acetone"] > 0.85 > second["mole_fraction"]["acetone"]
    assert first["end_s"] == pytest.approx(second["start_s"])


def test_the_bad_cell_is_flagged() -> None:
    (flag,) = _answer()["flags"]
    assert (flag["row"], flag["column"], flag["value"]) == (6, "head_c", "broken")
    assert any("broken" in warning for warning in _answer()["warnings"])


def test_python_gives_the_same(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.toml"
    sheet.write_bytes(SHEET)
    found = forerun.review(sheet, readings=LOG, assays=ASSAYS.read_text("utf-8"), fit=False)
    assert json.loads(json.dumps(found.to_json(), allow_nan=False)) == _answer()


def test_bad_input_is_one_sentence() -> None:
    for words in (("--readings", "none.csv"), ("--readings", str(ASSAYS))):
        seen = command("review", "-", *words, given=SHEET)
        assert seen.code == 2
        assert "--readings" in seen.err
        assert "Traceback" not in seen.err
    assert command("review", "-", given=SHEET).code == 2


def test_an_own_curve_of_a_pair_is_used() -> None:
    curve = "w1,rho_g_mL\n0,0.868\n0.5,0.832\n1,0.790\n"
    words = {"readings": LOG, "assays": ASSAYS, "fit": False, "calibration": curve}
    found = forerun.review(SHEET.decode(), **words).to_json()  # type: ignore[arg-type]
    rows = {row["name"]: row for row in found["reconciled"]["adjusted"]}
    assert rows["density of the pot"]["measured"] == pytest.approx(0.5 / 36.0)
    assert any("calibration" in str(r["citation"]) for r in found["references"])
    trio = SHEET.decode() + '[[charge]]\nsubstance = "ethanol"\namount = "5 mL"\n'
    with pytest.raises(BadInput, match="two substances"):
        forerun.review(trio, **words)  # type: ignore[arg-type]
