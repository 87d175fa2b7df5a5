"""Real runs marked by their logs and assays; the thermometer moves no marks."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from forerun.app.class_files import log_text
from forerun.app.cli import main
from forerun.records.readings import Readings
from forerun.running.simulated import SimulatedLog, simulated_log
from forerun.sheets.resolving import load

_SHEET = "class-pair"


@pytest.fixture(scope="module")
def ran() -> SimulatedLog:
    """A run whose still differs from the sheet."""
    return simulated_log(load(_SHEET), 31)


def _assays(ran: SimulatedLog) -> list[str]:
    """Return what a balance and a chromatograph with response factors would say."""
    rows = ["cut,method,substance,value,unit,response"]
    for cut in ran.truth.run.cuts:
        rows += [
            f"{cut.number},mass,,{1e3 * cut.mass_kg:.2f},g,",
            f"{cut.number},gc_mass,cyclohexane,{100.0 * cut.mass_fraction[0]:.2f},wt%,",
        ]
    return rows


def _bench(
    place: Path, log: Readings, assays: list[str], answer: str = 'purity = "90 mol%"\nwhy = "seen"'
) -> None:
    place.mkdir(parents=True)
    (place / "log.csv").write_text(log_text(log), "utf-8", newline="")
    (place / "assays.csv").write_text("\n".join(assays) + "\n", "utf-8")
    if answer:
        (place / "answer.toml").write_text(answer + "\n", "utf-8")


def _marked(
    place: Path, capsys: pytest.CaptureFixture[str], *words: str
) -> tuple[dict[str, Any], dict[str, Any]]:
    capsys.readouterr()
    assert main(["mark-runs", _SHEET, str(place), *words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    return {one["code"]: one for one in found["marks"]}, found


def test_marks_follow_what_was_collected(
    ran: SimulatedLog, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    true = {cut.number: cut for cut in ran.truth.run.cuts}
    assays, log = _assays(ran), ran.readings
    expected = 100.0 * float(true[1].mole_fraction[0])
    _bench(tmp_path / "B01", log, assays, f'receiver = 1\npurity = "{expected:.1f} mol%"')
    _bench(tmp_path / "B02", log, assays, 'receiver = 1\npurity = "60 mol%"')
    _bench(tmp_path / "B03", log, assays, "receiver = 2")
    _bench(tmp_path / "B04", log, assays[:1], "")
    _bench(tmp_path / "B05", log, assays, "receiver = 9")
    _bench(tmp_path / "B06", log, assays, 'purity = "90 wt%"')
    weights = tmp_path / "weights.toml"
    weights.write_text("[weights]\npurity = 1\n", "utf-8")
    table, told = tmp_path / "marks.csv", tmp_path / "told"
    marks, found = _marked(tmp_path, capsys, "--out", str(table), "--feedback", str(told))
    assert list(marks) == ["B01", "B02", "B03"]
    assert "no receiver analysed" in found["unmarked"]["B04"]
    assert "one that was analysed: 1" in found["unmarked"]["B05"]
    assert "as the aim of the sheet" in found["unmarked"]["B06"]
    first = marks["B01"]
    assert first["parts"]["reasoning"] == 1.0, first["reasons"]
    assert first["cut"]["purity"] == pytest.approx(float(true[1].mole_fraction[0]), abs=0.01)
    whole = float(true[1].mole_fraction[0] * true[1].amount_mol)
    charged = float(ran.truth.run.ledger.charge_mol[0])
    assert first["cut"]["recovery"] == pytest.approx(whole / charged, abs=0.03)
    assert first["parts"]["recovery"] == pytest.approx(
        min(first["cut"]["recovery"] / first["best"]["recovery"], 1.0)
    )
    assert marks["B02"]["parts"]["reasoning"] < 0.5
    assert marks["B03"]["parts"]["reasoning"] == 0.0
    assert marks["B03"]["total"] < marks["B02"]["total"] < first["total"]
    assert "Receiver 1 would have been worth more" in marks["B03"]["instead"]
    assert "By its own sheet this glass could give" in (told / "B01.txt").read_text("utf-8")
    assert table.read_text("utf-8").startswith("student,total,data")
    only, _ = _marked(tmp_path, capsys, "--weights", str(weights))
    assert only["B03"]["total"] == pytest.approx(100.0 * only["B03"]["parts"]["purity"])


def test_data_that_contradict_each_other_cost_marks(
    ran: SimulatedLog, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assays = _assays(ran)
    _bench(tmp_path / "B01", ran.readings, assays)
    wrong = [row.replace("1,mass,,", "1,mass,,1") if row[:6] == "1,mass" else row for row in assays]
    _bench(tmp_path / "B02", ran.readings, wrong)
    _bench(tmp_path / "B03", ran.readings, [r for r in assays if r[:6] != "2,mass"])
    marks, _ = _marked(tmp_path, capsys)
    good, bad, less = (marks[code] for code in ("B01", "B02", "B03"))
    assert good["parts"]["data"] > 0.95, good["reasons"]
    assert bad["parts"]["data"] == pytest.approx(0.5 * good["parts"]["data"])
    assert "cannot be right" in bad["reasons"]["data"]
    assert less["parts"]["data"] < good["parts"]["data"]


@pytest.mark.parametrize("off", [-1.5, 1.5])
def test_a_thermometer_that_is_off_moves_no_marks(
    ran: SimulatedLog, off: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log, assays = ran.readings, _assays(ran)
    moved = replace(log, rows=tuple(replace(r, head_K=r.head_K + off) for r in log.rows))
    _bench(tmp_path / "B01", log, assays)
    _bench(tmp_path / "B02", moved, assays)
    marks, _ = _marked(tmp_path, capsys)
    assert abs(marks["B01"]["total"] - marks["B02"]["total"]) < 2.0


def test_bad_input_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], ran: SimulatedLog
) -> None:
    assert main(["mark-runs", _SHEET, str(tmp_path)]) == 2
    assert "B01/log.csv" in capsys.readouterr().err
    _bench(tmp_path / "B01", ran.readings, _assays(ran))
    weights = tmp_path / "weights.toml"
    weights.write_text("[weights]\ndata = -1\n", "utf-8")
    assert main(["mark-runs", _SHEET, str(tmp_path), "--weights", str(weights)]) == 2
    assert "none below zero" in capsys.readouterr().err
