"""A class from the command line: hidden, tried, handed in, marked; nothing is given away."""

from __future__ import annotations

import csv
import io
import json
import re
import tomllib
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from forerun.app.class_files import log_text
from forerun.app.cli import main
from forerun.app.pool import bench_of
from forerun.core.errors import CalculationFailed
from forerun.records.library import open_store
from forerun.records.readings import read_readings
from forerun.reviewing.fitting_run import Estimate
from forerun.running.simulated import simulated_log
from forerun.sheets.resolving import load

_FAULTS = "none,heater_fault,heater_cycling"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """A class of four, and what is hidden in it."""
    place = tmp_path_factory.mktemp("class") / "made"
    words = ["hide", "class-pair", "--out", str(place), "--students", "4", "--secret", "chalk"]
    said = io.StringIO()
    with redirect_stdout(said):
        assert main([*words, "--faults", _FAULTS, "--json"]) == 0
    return place, json.loads(said.getvalue())


@pytest.fixture
def folder(made: tuple[Path, dict[str, Any]]) -> Path:
    """Where the class is."""
    return made[0]


def _asked(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> dict[str, Any]:
    capsys.readouterr()
    assert main([*words, "--json"]) == code
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert "made_by" in found
    return found


def _answers(folder: Path, hidden: dict[str, Any], where: Path) -> None:
    """Hand in what somebody would who saw through everything."""
    for one in hidden["students"]:
        given = folder / "students" / one["code"]
        place = where / one["code"]
        place.mkdir(parents=True)
        (place / "log.csv").write_bytes((given / "log.csv").read_bytes())
        best = one["best"]
        lines = {
            "fault": one["fault"],
            "share": f"{100 * one['mole_fraction']:.1f} mol%",
            "start": f"{1e6 * best['start_m3']:.2f} mL",
            "end": f"{1e6 * best['end_m3']:.2f} mL",
            "why": "seen",
        }
        text = "\n".join(f"{key} = {json.dumps(value)}" for key, value in lines.items())
        (place / "answer.toml").write_text(text, encoding="utf-8")


def test_the_same_words_deal_the_same_class(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = str(tmp_path / "again")
    words = ("--students", "3", "--secret", "chalk", "--faults", _FAULTS)
    found = _asked(capsys, "hide", "class-pair", "--out", other, *words)
    assert [one["code"] for one in found["students"]] == ["S01", "S02", "S03"]
    for code in ("S02", "S03"):
        mine = Path(other, "students", code, "log.csv").read_bytes()
        assert mine == (folder / "students" / code / "log.csv").read_bytes()
    assert main(["hide", "class-pair", "--out", other]) == 2
    assert "key.toml" in capsys.readouterr().err


def test_a_student_is_given_nothing_that_tells(folder: Path) -> None:
    key = (folder / "key.toml").read_text("utf-8")
    hidden = dict(re.findall(r"^# (S\d+): (\d+)\smol", key, re.M))
    assert len(hidden) == 4
    texts = {}
    for code in hidden:
        files = {p.name: p.read_text("utf-8") for p in (folder / "students" / code).iterdir()}
        assert set(files) == {"answer.toml", "log.csv", "sheet.toml", "task.txt"}
        assert "chalk" not in "".join(files.values())
        # but for code and log all students have the same words, whatever is hidden
        texts[code] = {n: t.replace(code, "S") for n, t in files.items() if n != "log.csv"}
    assert len({json.dumps(t, sort_keys=True) for t in texts.values()}) == 1


def test_marks_with_reasons_and_a_text_for_each(
    made: tuple[Path, dict[str, Any]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, hidden = made
    handed, told, table = tmp_path / "in", tmp_path / "told", tmp_path / "marks.csv"
    _answers(folder, hidden, handed)
    (handed / "S04" / "answer.toml").write_text('end = "lots"\n', encoding="utf-8")
    found = _asked(
        capsys, "mark", str(folder / "key.toml"), str(handed), "--feedback", str(told),
        "--out", str(table),
    )  # fmt: skip
    assert [one["code"] for one in found["marks"]] == ["S01", "S02", "S03"]
    for one in found["marks"]:
        assert one["total"] > 98.0
        assert one["parts"]["data"] == 1.0, one["reasons"]
        assert "of 100" in (told / f"{one['code']}.txt").read_text("utf-8")
    assert "S04/answer.toml: start" in found["unmarked"]["S04"]
    rows = list(csv.DictReader(table.read_text("utf-8").splitlines()))
    assert [row["student"] for row in rows] == ["S01", "S02", "S03"]
    assert main(["mark", str(folder / "key.toml"), str(handed)]) == 0
    said = capsys.readouterr().out
    assert "3 marked" in said
    assert "Not marked" in said
    assert "In their words: seen" in said


def test_a_temperature_may_stand_where_a_volume_does(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for code, end in (("S01", "88 °C"), ("S02", "-3 mL"), ("S03", "9 g")):
        (tmp_path / code).mkdir()
        text = f'start = "0 mL"\nend = "{end}"\n'
        (tmp_path / code / "answer.toml").write_text(text, "utf-8")
    found = _asked(capsys, "mark", str(folder / "key.toml"), str(tmp_path))
    (one,) = found["marks"]
    assert one["code"] == "S01"
    assert "On a thermometer that is right 88" in one["reasons"]["recovery"]
    assert one["cut"]["end_m3"] > 0.0
    for code in ("S02", "S03"):
        assert f"{code}/answer.toml: end" in found["unmarked"][code]


def test_weights_are_read_from_the_key(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    handed = tmp_path / "in"
    (handed / "S01").mkdir(parents=True)
    (handed / "S01" / "answer.toml").write_text('start = "0 mL"\nend = "9 mL"\n', "utf-8")
    key = folder / "heavier.toml"
    text = (folder / "key.toml").read_text("utf-8")
    key.write_text(re.sub(r"^(data|reasoning) = .*$", r"\1 = 0", text, flags=re.M), "utf-8")
    found = _asked(capsys, "mark", str(key), str(handed))
    (one,) = found["marks"]
    assert one["total"] == pytest.approx(
        50.0 * (one["parts"]["recovery"] + one["parts"]["purity"]), abs=0.01
    )
    key.write_text(text.replace("data = 0.2", "luck = 0.2"), "utf-8")
    assert main(["mark", str(key), str(handed)]) == 2
    assert "weights.luck" in capsys.readouterr().err


def test_a_student_tries_another_programme(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key, same, other = str(folder / "key.toml"), tmp_path / "same.csv", tmp_path / "other.csv"
    assert main(["try", key, "S02", "--out", str(same)]) == 0
    assert same.read_bytes() == (folder / "students" / "S02" / "log.csv").read_bytes()
    plan = tmp_path / "plan.toml"
    sheet = (folder / "students" / "S02" / "sheet.toml").read_text("utf-8")
    plan.write_text(sheet.replace('reflux_ratio = "3"', "reflux_ratio = 1"), "utf-8")
    assert tomllib.loads(plan.read_text("utf-8")) != tomllib.loads(sheet)
    found = _asked(capsys, "try", key, "2", "--plan", str(plan), "--out", str(other))
    assert found["code"] == "S02"
    assert not {"fault", "mole_fraction"} & set(found)
    assert other.read_bytes() != same.read_bytes()
    for words, field in (
        (["try", key, "S99"], "student"),
        (["try", key, "me"], "student"),
        (["try", key, "2", "--out", "log.txt"], "--out"),
        (["mark", key, str(tmp_path)], "FOLDER"),
        (["mark", str(plan), str(tmp_path)], "key"),
        (["hide", "class-pair", "--out", str(tmp_path), "--students", "many"], "--students"),
        (["hide", "class-pair", "--out", str(tmp_path), "--share", "a-b"], "--share"),
    ):
        assert main(words) == 2
        assert field in capsys.readouterr().err


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six benches that ran one sheet; the thermometer of the fifth is off."""
    place = tmp_path_factory.mktemp("logs")
    sheet = load("class-pair")
    for k in range(1, 7):
        fault, seed = ("thermometer_offset", 405) if k == 5 else (None, 100 + k)
        made = simulated_log(sheet, seed, fault, 20.0)
        (place / f"B{k:02d}.csv").write_text(log_text(made.readings), "utf-8", newline="")
    return place


def test_a_class_is_pooled_into_one_table_and_one_drawing(
    logs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "pooled"
    found = _asked(capsys, "pool", "class-pair", str(logs), "--quick", "--out", str(out))
    apart = {one["code"]: one["apart"] for one in found["benches"] if one["apart"]}
    assert apart["B05"]["basis"] == "diagnosis"
    assert "thermometer" in apart["B05"]["cause"]
    assert apart["B05"]["head_K"] < -2.0
    rows = list(csv.DictReader((out / "pooled.csv").read_text("utf-8").splitlines()))
    assert {row["bench"] for row in rows} == {f"B{k:02d}" for k in range(1, 7)}
    drawing = ElementTree.fromstring((out / "pooled.svg").read_text("utf-8"))
    words = [t.text for t in drawing.iter("{http://www.w3.org/2000/svg}text")]
    assert "B05" in words
    assert main(["pool", "class-pair", str(logs), "--quick", "--without", "B05"]) == 0
    said = capsys.readouterr().out
    assert "5 benches" in said
    assert "B05" not in said


def test_plates_are_those_of_the_fit_and_a_log_that_no_still_gives_has_none(
    logs: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet, log = load("class-pair"), read_readings(logs / "B01.csv")
    plates = Estimate("plates", 3.0, 2.5, 3.6, 0.5)

    class Fit:
        def get(self, name: str) -> Estimate | None:
            return plates if name == "plates" else None

    monkeypatch.setattr("forerun.reviewing.fitting_run.fit_run", lambda *_words: Fit())
    found = bench_of(sheet, log)
    assert found.plates is plates
    assert found.diagnosis is not None

    def failing(*_words: object) -> None:
        raise CalculationFailed("the fit", "nowhere", "look at the bath")

    monkeypatch.setattr("forerun.reviewing.fitting_run.fit_run", failing)
    assert bench_of(sheet, log).plates is None


def test_benches_are_codes_and_one_bad_file_is_told(
    logs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "in"
    (place / "B02").mkdir(parents=True)
    (place / "B01.csv").write_bytes((logs / "B01.csv").read_bytes())
    (place / "B02" / "log.csv").write_bytes((logs / "B02.csv").read_bytes())
    (place / "B03.csv").write_text("time_s,head_C\n", "utf-8")
    found = _asked(capsys, "pool", "class-pair", str(place), "--quick")
    assert [one["code"] for one in found["benches"]] == ["B01", "B02"]
    assert set(found["unusable"]) == {"B03"}
    for words, field in (
        (["pool", "class-pair", str(place), "--without", "B09"], "--without"),
        (["pool", "class-pair", str(tmp_path / "none")], "FOLDER"),
    ):
        assert main(words) == 2
        assert field in capsys.readouterr().err
    (place / "Anna Berg.csv").write_bytes((logs / "B01.csv").read_bytes())
    assert main(["pool", "class-pair", str(place), "--quick"]) == 2
    assert "no names of people" in capsys.readouterr().err


def test_a_run_is_erased_by_number_or_code_and_only_with_yes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    with open_store() as store:
        runs = [store.start_run("a sheet", "title", live=True) for _ in range(2)]
        code = store.run(runs[1]).code
        store.append(runs[0], read_readings(b"time_s,head_C\n0,20\n10,21\n").rows)
    assert main(["erase", str(runs[0]), "--yes"]) == 2
    assert "has ended" in capsys.readouterr().err
    with open_store() as store:
        for run in runs:
            store.end_run(run)
    assert main(["erase", str(runs[0])]) == 2
    assert "--yes: it erases run 1, 2 readings for good" in capsys.readouterr().err
    assert _asked(capsys, "erase", str(runs[0]), "--yes")["erased"] == 3  # code, two readings
    assert main(["erase", code, "--yes", "--reason", "their wish"]) == 0
    assert "out of reach" not in capsys.readouterr().out
    with open_store() as store:
        assert [row.sheet for row in store.runs()] == ["", ""]
        assert [e.data.get("reason") for r in runs for e in store.entries(r)] == [
            None,
            "their wish",
        ]
    assert main(["erase", "77", "--yes"]) == 2
