"""A saved answer carries its question, and comes out again to the last digit."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

import forerun
from contract.test_json_objects import SHEET, answer
from forerun.app.reproduce import reproduce
from forerun.app.web.asking import QUESTIONS
from forerun.core.errors import BadInput
from forerun.reporting.paper import Paper
from forerun.reporting.plain import to_text
from forerun.sheets.examples import example, example_names
from forerun.sheets.writing import toml_of
from journeys.command import forerun as command
from journeys.command import is_one_sentence

FOLDER = Path(__file__).parent / "files"
LOG, ASSAYS = FOLDER / "log.csv", FOLDER / "assays.csv"
ODD_COURSES = """
title = "odd \\"courses\\" \\\\ and more"
[[charge]]
substance = "acetone"
amount = "40.1 +/- 1 mL"
[[charge]]
substance = "toluene"
amount = "0.33 mol"
[programme]
pressure = [["0 min", "11.3 mmHg"], ["7.7 min", "13.7 mmHg"]]
bath = [["0 min", "31.7 °C"], ["13 min", "161.3 °C"]]
reflux_ratio = [["0 min", "total"], ["10 min", "5:1"]]
"""


def _saved(folder: Path, found: dict[str, Any], name: str = "saved.json") -> Path:
    path = folder / name
    path.write_text(to_text(found), "utf-8")
    return path


@pytest.fixture(scope="module")
def foreseen(tmp_path_factory: pytest.TempPathFactory) -> Path:
    found = forerun.foresee(SHEET.decode(), members=3, seed=7, today=date(2026, 3, 31))
    return _saved(tmp_path_factory.mktemp("saved"), found.to_json())


@pytest.mark.parametrize("text", [ODD_COURSES, *map(example, example_names())])
def test_the_sheet_in_an_answer_is_the_sheet_that_was_asked(text: str) -> None:
    read = forerun.load(text)
    again = forerun.load(toml_of(read, as_written=True))
    assert (again.title, again.charge, again.rig, again.programme, again.switches) == (
        (read.title, read.charge, read.rig, read.programme, read.switches)
    )
    assert (again.aim, again.safety, again.defaults) == (read.aim, read.safety, read.defaults)


def test_a_forecast_comes_out_again(foreseen: Path) -> None:
    asked = json.loads(foreseen.read_text())["asked"]
    assert (asked["members"], asked["seed"], asked["today"]) == (3, 7, "2026-03-31")
    found = reproduce(foreseen)
    assert found.same
    assert found.changed == {}
    assert found.results[0].compared.values > 1000
    assert "same to the last digit" in found.finding
    assert json.loads(json.dumps(found.to_json(), allow_nan=False))["same"] is True


def test_every_kind_of_answer_comes_out_again(tmp_path: Path) -> None:
    sheet, log, assays = SHEET.decode(), LOG.read_text("utf-8"), ASSAYS.read_text("utf-8")
    drawer = {"title": "one", "flask": [{"volume": "250 mL"}]}
    answers = {
        "look": [forerun.look("EtOH", pressure="20 mmHg"), forerun.look("hexanes")],
        "mix": [forerun.mix("ethanol", "water", at=[0.3, 0.7], curve=5, charge="0.5,0.5")],
        "advise": [
            forerun.advise(sheet, members=2),
            forerun.advise(sheet, members=2, drawer="small"),
        ],
        "review": [forerun.review(sheet, readings=log, assays=assays, fit=False, members=2)],
        "diagnose": [forerun.diagnose(sheet, readings=LOG)],
        "with_drawer": [forerun.advise(sheet, members=2, drawer=drawer)],
    }
    whole = {name: [one.to_json() for one in kind] for name, kind in answers.items()}
    found = reproduce(_saved(tmp_path, whole))
    assert [result.command for result in found.results] == [
        "look", "look", "mix", "advise", "advise", "review", "diagnose", "advise",
    ]  # fmt: skip
    assert found.same, found.printed(Paper(90))
    assert found.results[1].place == "look[1]"
    assert all(result.compared.values > 10 for result in found.results)


def test_the_archive_of_a_record_comes_out_again(tmp_path: Path) -> None:
    made = forerun.record(SHEET.decode(), readings=LOG, assays=ASSAYS, fit=False)
    path = tmp_path / "run.zip"
    path.write_bytes(made.archive())
    found = reproduce(path)
    assert found.same
    assert [(result.command, result.place) for result in found.results] == [("review", "review")]


def test_an_answer_over_http_comes_out_again(tmp_path: Path) -> None:
    body = {"sheet": SHEET.decode(), "points": 40, "members": 0}
    found = reproduce(_saved(tmp_path, QUESTIONS["foresee"].ask(body, None)))
    assert found.same
    assert found.warnings == ("foresee: shown of the file was not compared.",)


def test_what_differs_is_said_with_size_and_what_has_changed(
    foreseen: Path, tmp_path: Path
) -> None:
    saved = json.loads(foreseen.read_text())
    saved["cuts"][0]["volume_m3"] *= 1.0 + 1e-12
    saved["made_by"]["numpy"] = "1.0.0"
    found = reproduce(_saved(tmp_path, saved))
    assert not found.same
    (only,) = found.results[0].compared.differences
    assert only.path == "cuts[0].volume_m3"
    assert only.relative == pytest.approx(1e-12, rel=1e-3)
    assert found.changed["numpy"][0] == "1.0.0"
    told = "\n".join(found.printed(Paper(90)))
    assert "numpy: 1.0.0 then" in told
    assert "cuts[0].volume_m3" in told
    assert "those of then" not in told


def test_another_seed_gives_another_answer(foreseen: Path, tmp_path: Path) -> None:
    saved = json.loads(foreseen.read_text())
    saved["asked"]["seed"] = 8
    paths = {d.path for d in reproduce(_saved(tmp_path, saved)).results[0].compared.differences}
    assert "seed" in paths
    assert any(path.startswith("band.") for path in paths)


def test_points_of_ones_own_that_came_since_are_named(tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    saved = forerun.mix("acetone", "toluene").to_json()
    assert "own_pairs" not in saved["asked"]
    saved["asked"]["own_pairs"] = {"acetone + toluene": "0" * 64}
    found = reproduce(_saved(tmp_path, saved))
    assert found.changed == {"your own points of acetone + toluene": ("0" * 64, "not said")}


def test_the_passport_of_then_is_used(tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    sheet = SHEET.decode().replace('column = "none"', 'column = "Vigreux 30 cm"\npassport = "mine"')
    saved = forerun.foresee(sheet).to_json()
    assert saved["asked"]["passport"] is None
    assert reproduce(_saved(tmp_path, saved)).same
    kept = {"column": forerun.load(sheet).rig.column, "runs": 2}
    kept["plates"] = {"value": 2.6, "relative_sigma": 0.01}
    saved["asked"]["passport"] = kept
    paths = {d.path for d in reproduce(_saved(tmp_path, saved)).results[0].compared.differences}
    assert any(path.startswith("trace.") for path in paths)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda saved: saved.pop("asked"),
        lambda saved: saved["asked"].update(command="serve"),
        lambda saved: saved["asked"].update(command=["foresee"]),
        lambda saved: saved["asked"].update(sheet="/etc/passwd"),
        lambda saved: saved["asked"].update(sheet=3),
        lambda saved: saved["asked"].update(seed=-1),
        lambda saved: saved["asked"].update(today="tomorrow"),
        lambda saved: saved["asked"].update(members=1e9),
        lambda saved: saved["asked"].update(passport=[1]),
        lambda saved: saved["asked"].update(points="many"),
        lambda saved: saved["asked"].update(surprise=1),
        lambda saved: saved.update(made_by=4),
    ],
)
def test_a_spoilt_question_is_bad_input(foreseen: Path, tmp_path: Path, spoil: Any) -> None:
    saved = json.loads(foreseen.read_text())
    spoil(saved)
    with pytest.raises(BadInput):
        reproduce(_saved(tmp_path, saved))


@pytest.mark.parametrize("raw", [b"", b"{", b"[1]", b"PK\x03\x04", b"\xff\xfe", b'{"a":' * 9999])
def test_a_spoilt_file_is_bad_input(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "spoilt.json"
    path.write_bytes(raw)
    with pytest.raises(BadInput):
        reproduce(path)


def test_the_command_says_it_and_its_exit_code_too(foreseen: Path, tmp_path: Path) -> None:
    saved = answer("look", "toluene")
    good = command("reproduce", str(_saved(tmp_path, saved)), "--json")
    assert good.code == 0, good.err
    assert json.loads(good.out)["same"] is True
    saved["molar_mass_kg_mol"] += 1.0
    bad = command("reproduce", str(_saved(tmp_path, saved)))
    assert bad.code == 1
    assert "1 of " in bad.out
    none = command("reproduce", str(tmp_path / "none.json"))
    assert none.code == 2
    assert is_one_sentence(none.err)
