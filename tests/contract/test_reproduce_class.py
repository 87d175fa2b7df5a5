"""Answers that rest on files of a class, on points or on many settings come out again, too."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from contract.test_json_objects import SHEET
from forerun.app.asked_files import files_asked, laid_out
from forerun.app.class_files import read_key
from forerun.app.fit import fit
from forerun.app.hide import hide
from forerun.app.mark import mark
from forerun.app.pool import pool
from forerun.app.reproduce import reproduce
from forerun.app.sweep import sweep
from forerun.app.web.asking import QUESTIONS
from forerun.core.errors import BadInput
from forerun.reporting.plain import to_text
from forerun.sheets.resolving import load
from unit.planning.test_sweeping import table

LOG = Path(__file__).parent / "files" / "log.csv"
TABLES = Path(__file__).parents[1] / "validation" / "data" / "phase_equilibrium.json"


def _saved(folder: Path, found: dict[str, Any]) -> Path:
    path = folder / "saved.json"
    path.write_text(to_text(found), "utf-8")
    return path


@pytest.fixture(scope="module")
def points() -> str:
    """Carey & Lewis, Ind. Eng. Chem. 24 (1932) 882, as the validation data hold it."""
    rows = json.loads(TABLES.read_text("utf-8"))
    value: dict[str, Any] = next(r["value"] for r in rows if r["id"] == "G4-001")
    lines = zip(value["x1"], value["y1"], value["T_C"], strict=True)
    return "x1,y1,T_C\n" + "".join(f"{x},{y},{t}\n" for x, y, t in lines)


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path / "library"
    monkeypatch.setenv("FORERUN_DATA", str(place))
    return place


def test_a_fit_comes_out_again_and_is_not_kept_again(
    points: str, tmp_path: Path, library: Path
) -> None:
    saved = fit("EtOH", "water", points=points, pressure="760 mmHg", label="mine").to_json()
    kept = Path(saved["file"])
    kept.unlink()
    found = reproduce(_saved(tmp_path, saved))
    assert found.same
    assert (found.warnings, found.changed) == ((), {})
    assert found.results[0].compared.values > 60
    assert not kept.exists()
    saved["asked"]["points"] = points.replace("x1,y1,T_C\n", "x1,y1,T_C\n0.5,0.66,79.9\n")
    again = reproduce(_saved(tmp_path, saved))
    assert "points" in {one.path for one in again.results[0].compared.differences}


def test_a_fit_over_http_comes_out_again(points: str, tmp_path: Path, library: Path) -> None:
    body = {"substances": ["ethanol", "water"], "points": points, "pressure": "760 mmHg"}
    found = reproduce(_saved(tmp_path, QUESTIONS["fit"].ask(body, None)))
    assert found.same
    assert found.warnings == ()


def test_a_sweep_comes_out_again_with_every_row(tmp_path: Path) -> None:
    words = ["programme.stop.residue=4:8:2 mL", "switch.1.head=90 °C,100 °C"]
    out = str(tmp_path / "swept")
    sweep(table(), words, out=out)
    saved = sweep(table(), words, out=out).to_json()
    assert saved["resumed"] == 4
    found = reproduce(_saved(tmp_path, saved))
    assert found.same
    assert found.warnings == ()
    saved["asked"]["vary"][0] = "programme.stop.residue=4:8.001:2 mL"
    differing = {o.path for o in reproduce(_saved(tmp_path, saved)).results[0].compared.differences}
    assert "rows_sha256" in differing


def test_a_pooled_class_comes_out_again(tmp_path: Path) -> None:
    logs = tmp_path / "logs"
    (logs / "B03").mkdir(parents=True)
    text = LOG.read_text("utf-8")
    for name in ("B01.csv", "B02.csv", "B03/log.csv", "B06.csv"):
        (logs / name).write_text(text, "utf-8")
    (logs / "B04.csv").write_text("nothing of use\n", "utf-8")
    (logs / "B05.csv").write_bytes(b"time_s,head_C\n0,\x81\x8d\xff\n")
    saved = pool(load(SHEET), str(logs), without="B06", fit=False).to_json()
    assert "B04" in saved["unusable"]
    assert {*saved["asked"]["files"]} == {
        "B01.csv", "B02.csv", "B03/log.csv", "B04.csv", "B05.csv",
    }  # fmt: skip
    found = reproduce(_saved(tmp_path, saved))
    assert found.same
    assert found.results[0].compared.values > 100


def test_marks_come_out_again_with_those_who_could_not_be_marked(tmp_path: Path) -> None:
    made, handed = tmp_path / "class", tmp_path / "handed in"
    hide(load("class-pair"), str(made), students="4", secret="chalk", faults="none")
    for code, answer in (("S01", 'start = "2 mL"\nend = "20 mL"'), ("S02", 'start = "much"')):
        (handed / code).mkdir(parents=True)
        (handed / code / "answer.toml").write_text(f'fault = "none"\n{answer}\n', "utf-8")
    (handed / "S03").mkdir()
    (handed / "S03" / "answer.toml").write_bytes(b'why = "\xff"')
    saved = mark(str(made / "key.toml"), str(handed)).to_json()
    assert [one["code"] for one in saved["marks"]] == ["S01"]
    assert {*saved["unmarked"]} == {"S02", "S03", "S04"}
    assert saved["asked"]["key"]["secret"] == read_key(made / "key.toml").secret
    found = reproduce(_saved(tmp_path, saved))
    assert found.same, found.to_json()
    assert found.warnings == ()
    saved["asked"]["key"]["weights"] = {"purity": 1.0}
    assert not reproduce(_saved(tmp_path, saved)).same


def test_why_a_followed_run_does_not_come_out_again_is_said(tmp_path: Path) -> None:
    saved = {"run": 1, "asked": {"command": "watch", "run": 1}}
    with pytest.raises(BadInput, match="clock of its room"):
        reproduce(_saved(tmp_path, saved))


@pytest.mark.parametrize(
    "files",
    [
        None,
        ["B01.csv"],
        {"../B01.csv": "x"},
        {"/etc/B01.csv": "x"},
        {"a/b/B01.csv": "x"},
        {"B01.sh": "x"},
        {"B01.csv": 3},
        {"B01.csv": {}},
        {"B01.csv": {"base64": "*"}},
        {"B01.csv": {"base64": 3}},
        {"B01.csv\n": "x"},
    ],
)
def test_files_that_lead_elsewhere_are_bad_input(files: Any) -> None:
    with pytest.raises(BadInput), laid_out(files, "asked.files"):
        pytest.fail("they were laid out")


def test_files_are_laid_out_as_they_were_and_gone_afterwards(tmp_path: Path) -> None:
    (tmp_path / "S01").mkdir()
    paths = [tmp_path / "S01" / "log.csv", tmp_path / "B1.csv", tmp_path / "B2.csv"]
    paths[0].write_bytes(b"a\r\nb\n")
    paths[1].write_bytes(b"\xff\xfe")
    held = json.loads(json.dumps(files_asked(tmp_path, paths)))
    assert "B2.csv" not in held
    with laid_out(held, "asked.files") as folder:
        assert (folder / "S01" / "log.csv").read_bytes() == b"a\r\nb\n"
        assert (folder / "B1.csv").read_bytes() == b"\xff\xfe"
    assert not folder.exists()
