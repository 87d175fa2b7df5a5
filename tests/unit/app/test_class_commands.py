"""A class from the command line: hidden, tried, handed in, marked; nothing is given away."""

from __future__ import annotations

import csv
import json
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from forerun.app.cli import main

_FAULTS = "none,heater_fault,heater_cycling"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A class of five."""
    place = tmp_path_factory.mktemp("class") / "made"
    words = ["hide", "class-pair", "--out", str(place), "--students", "5", "--secret", "chalk"]
    assert main([*words, "--faults", _FAULTS]) == 0
    return place


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
    words = ("--students", "2-3", "--secret", "chalk", "--faults", _FAULTS)
    found = _asked(capsys, "hide", "class-pair", "--out", other, *words)
    assert [one["code"] for one in found["students"]] == ["S02", "S03"]
    for code in ("S02", "S03"):
        mine = Path(other, "students", code, "log.csv").read_bytes()
        assert mine == (folder / "students" / code / "log.csv").read_bytes()
    assert main(["hide", "class-pair", "--out", other]) == 2
    assert "key.toml" in capsys.readouterr().err


def test_a_student_is_given_nothing_that_tells(folder: Path) -> None:
    key = (folder / "key.toml").read_text("utf-8")
    hidden = dict(re.findall(r"^# (S\d+): (\d+)\smol", key, re.M))
    assert len(hidden) == 5
    texts = {}
    for code in hidden:
        files = {p.name: p.read_text("utf-8") for p in (folder / "students" / code).iterdir()}
        assert set(files) == {"answer.toml", "log.csv", "sheet.toml", "task.txt"}
        assert "chalk" not in "".join(files.values())
        # but for code and log all students have the same words, whatever is hidden
        texts[code] = {n: t.replace(code, "S") for n, t in files.items() if n != "log.csv"}
    assert len({json.dumps(t, sort_keys=True) for t in texts.values()}) == 1


def test_marks_with_reasons_and_a_text_for_each(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    again = _asked(
        capsys, "hide", "class-pair", "--out", str(tmp_path / "same"), "--students", "5",
        "--secret", "chalk", "--faults", _FAULTS,
    )  # fmt: skip
    handed, told, table = tmp_path / "in", tmp_path / "told", tmp_path / "marks.csv"
    _answers(folder, again, handed)
    (handed / "S05" / "answer.toml").write_text('end = "lots"\n', encoding="utf-8")
    found = _asked(
        capsys, "mark", str(folder / "key.toml"), str(handed), "--feedback", str(told),
        "--out", str(table),
    )  # fmt: skip
    assert [one["code"] for one in found["marks"]] == ["S01", "S02", "S03", "S04"]
    for one in found["marks"]:
        assert one["total"] > 98.0
        assert one["parts"]["data"] == 1.0, one["reasons"]
        assert "of 100" in (told / f"{one['code']}.txt").read_text("utf-8")
    assert "S05/answer.toml: start" in found["unmarked"]["S05"]
    rows = list(csv.DictReader(table.read_text("utf-8").splitlines()))
    assert [row["student"] for row in rows] == ["S01", "S02", "S03", "S04"]
    assert main(["mark", str(folder / "key.toml"), str(handed)]) == 0
    said = capsys.readouterr().out
    assert "4 marked" in said
    assert "Not marked" in said
    assert "In their words: seen" in said


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
    plan.write_text(sheet.replace("reflux_ratio = 3", "reflux_ratio = 1"), "utf-8")
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
