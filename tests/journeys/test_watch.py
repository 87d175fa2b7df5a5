"""`forerun watch` as a bench uses it: typed, from a file, and with what cannot be understood."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from unit.small_still import SHEET

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "sheet.toml"
    path.write_text(SHEET, encoding="utf-8")
    return path


def _command(folder: Path, *words: str) -> dict[str, object]:
    return {
        "args": [sys.executable, "-m", "forerun.app.cli", "watch", *words],
        "env": {
            **os.environ,
            "PYTHONPATH": str(ROOT / "src"),
            "PYTHONUTF8": "1",
            "FORERUN_DATA": str(folder / "mine"),
        },
        "text": True,
        "encoding": "utf-8",
    }


def test_typed_lines_are_stored_and_answered(tmp_path: Path, sheet: Path) -> None:
    lines = "head 21, bath 25\nhead 7 8\ndrops per mL 40\nodd foams\nnot now\nend\n"
    done = subprocess.run(
        **_command(tmp_path, str(sheet), "--json"),
        input=lines,
        capture_output=True,
        timeout=300,
        check=False,
    )  # type: ignore[call-overload]
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    assert "head 78.2" in done.stderr, "what would be accepted is said"
    found = json.loads(done.stdout)
    assert found["readings"] == 1
    assert found["instruction"]["text"]
    assert found["estimate"]["next_switch"]["receiver"] == 1


def test_a_growing_file_is_followed(tmp_path: Path, sheet: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("head_C,bath_C\n21.0,30\n", encoding="utf-8")
    going = subprocess.Popen(
        **_command(tmp_path, str(sheet), "--from", str(log)),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )  # type: ignore[call-overload]
    assert going.stdout is not None
    first = going.stdout.readline()
    assert first.startswith("Run ")
    told = going.stdout.readline()
    assert any(word in told for word in ("Wait", "Hold", "Look", "Raise")), told
    with log.open("a") as file:
        file.write("21.5,35\n")
    time.sleep(1.0)
    said, problem = going.communicate("end\n", timeout=60)
    assert going.returncode == 0, problem
    assert "Readings kept: 2." in said


@pytest.mark.parametrize(
    "words", [["--from", "pigeon:here"], ["--pace", "0"], ["--from", "serial:/dev/x?baud=7"]]
)
def test_what_cannot_be_is_one_sentence(tmp_path: Path, sheet: Path, words: list[str]) -> None:
    done = subprocess.run(
        **_command(tmp_path, str(sheet), *words),
        input="",
        capture_output=True,
        timeout=300,
        check=False,
    )  # type: ignore[call-overload]
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
