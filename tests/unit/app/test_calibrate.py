"""`forerun calibrate`: one answer for people and programs, and its sheet reviewed in the end."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from forerun.app.calibrate import calibrate
from forerun.app.cli import cli, main
from forerun.app.review import review
from forerun.sheets.resolving import load

_SHEET = {
    "charge": [{"substance": "acetone", "amount": "60 mL"}],
    "rig": {"flask": "250 mL", "column": "Vigreux 30 cm", "coolant": "15 °C"},
}


def test_the_answer_holds_a_sheet_that_runs_at_total_reflux() -> None:
    found = calibrate(_SHEET).to_json()
    again = load(found["sheet"])
    assert again.rig.column == "Vigreux 30 cm"
    assert [p.substance.name for p in again.charge] == found["pair"]
    assert "total" in found["sheet"]
    assert found["gates"]
    assert json.loads(json.dumps(found)) == found


def test_a_coolant_that_freezes_the_pair_stops_it(tmp_path: Path) -> None:
    cold = {**_SHEET, "rig": {**_SHEET["rig"], "coolant": "3 °C"}}  # type: ignore[dict-item]
    guide = calibrate(cold)
    assert guide.stopped
    sheet, out = tmp_path / "s.toml", tmp_path / "calibration.toml"
    sheet.write_text(guide.written(), encoding="utf-8")
    ran = CliRunner().invoke(
        cli, ["calibrate", str(sheet), "--out", str(out)], standalone_mode=False
    )
    assert ran.return_value == 3
    assert "Solid plug" in ran.output
    assert load(out).rig.column == "Vigreux 30 cm"


def test_its_samples_come_back_from_review_as_plates(tmp_path: Path) -> None:
    guide = calibrate(_SHEET)
    trace = guide.run.trace
    log = ["time_s,head_C,pot_C"] + [
        f"{trace.time_s[k]:.1f},{trace.head_temperature_K[k] - 273.15:.2f},"
        f"{trace.pot_temperature_K[k] - 273.15:.2f}"
        for k in range(0, trace.time_s.size, 4)
    ]
    light, heavy = (s.molar_mass for s in (guide.plan.light, guide.plan.heavy))
    samples = [guide.assays.splitlines()[0]]
    for line, x in zip(
        guide.assays.splitlines()[1:], (guide.plan.head[1], guide.plan.pot[1]), strict=True
    ):
        percent = 100.0 * x * light / (x * light + (1.0 - x) * heavy)
        samples.append(line.replace(",,", f",{percent:.2f},"))
    readings, assays = tmp_path / "log.csv", tmp_path / "samples.csv"
    readings.write_text("\n".join(log), encoding="utf-8")
    assays.write_text("\n".join(samples), encoding="utf-8")
    told = review(guide.written(), readings=readings, assays=assays, fit=False).to_json()
    assert told["plates"]["value"] == pytest.approx(guide.plan.plates[1], abs=0.1)


def test_a_name_that_cannot_be_written_is_refused_before_anything_is_computed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for module in ("calibrate", "review"):
        monkeypatch.setattr(f"forerun.app.{module}.load", lambda _sheet: pytest.fail("computed"))
    there = tmp_path / "there.toml"
    there.write_text("", encoding="utf-8")
    log = tmp_path / "log.csv"
    log.write_text("time_s,head_C\n0,20\n", encoding="utf-8")
    for words in (
        ["calibrate", "class-pair", "--out", str(there)],
        [
            "review",
            "class-pair",
            "--readings",
            str(log),
            "--again",
            str(tmp_path / "no" / "a.toml"),
        ],
    ):
        assert main(words) == 2
        assert words[-2] in capsys.readouterr().err
