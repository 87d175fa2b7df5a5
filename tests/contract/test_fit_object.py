"""`forerun fit --json` as the contract promises it, and as a person meets it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from journeys.command import forerun, is_one_sentence

TABLES = Path(__file__).parents[1] / "validation" / "data" / "phase_equilibrium.json"
FIT = {"model", "coefficients", "covariance", "rms", "consistency", "azeotrope"}


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Carey & Lewis, Ind. Eng. Chem. 24 (1932) 882, as the validation data hold it."""
    rows = json.loads(TABLES.read_text("utf-8"))
    value: dict[str, Any] = next(r["value"] for r in rows if r["id"] == "G4-001")
    lines = zip(value["x1"], value["y1"], value["T_C"], strict=True)
    file = tmp_path_factory.mktemp("points") / "points.csv"
    file.write_text("x1,y1,T_C\n" + "".join(f"{x},{y},{t}\n" for x, y, t in lines), "utf-8")
    return file


def test_the_object_and_what_later_commands_make_of_it(table: Path, tmp_path: Path):
    library = str(tmp_path / "library")
    words = ("fit", "ethanol", "water", "--points", str(table), "--pressure", "760 mmHg")
    drawing = tmp_path / "fit.svg"
    shared = tmp_path / "fit.json"
    seen = forerun(
        *words, "--out", str(drawing), "--share", str(shared), "--json", FORERUN_DATA=library
    )
    assert seen.code == 0, seen.err
    found = json.loads(seen.out)
    assert set(found) >= FIT
    assert set(found["rms"]) == {"temperature_K", "vapour_mole_fraction"}
    assert set(found["consistency"]) == {"test", "passed", "value"}
    count = len(found["coefficients"])
    assert [len(row) for row in found["covariance"]] == [count] * count
    assert found["azeotrope"]["kind"] == "minimum"
    assert drawing.read_text("utf-8").startswith("<svg")
    mixed = json.loads(forerun("mix", "ethanol", "water", "--json", FORERUN_DATA=library).out)
    assert mixed["pairs"][0]["origin"] == "own points"
    other = str(tmp_path / "another library")
    taken = forerun("fit", "--take", str(shared), "--json", FORERUN_DATA=other)
    assert taken.code == 0
    assert json.loads(taken.out)["points"] == 15
    forgotten = forerun("fit", "ethanol", "water", "--forget", FORERUN_DATA=other)
    assert forgotten.code == 0
    assert "is removed" in forgotten.out


@pytest.mark.parametrize(
    "words",
    [
        ("fit", "ethanol", "water"),
        ("fit", "ethanol", "--points", "nothing.csv", "--pressure", "1 atm"),
        ("fit", "ethanol", "water", "--points", "nothing.csv", "--pressure", "1 atm"),
        ("fit", "--take", "nothing.json"),
        ("fit", "ethanol", "water", "--forget"),
    ],
)
def test_bad_input_is_one_sentence(words: tuple[str, ...], tmp_path: Path):
    seen = forerun(*words, FORERUN_DATA=str(tmp_path))
    assert seen.code == 2
    assert seen.out == ""
    assert is_one_sentence(seen.err)
