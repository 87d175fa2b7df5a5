"""What people see: finding first, then the curve, the table, the cautions; files when asked for."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from journeys.command import forerun, is_one_sentence

COLD = """
[[charge]]
substance = "toluene"
amount = "60 mL"
[rig]
flask = "250 mL"
[programme]
bath = [["0 min", "25 °C"], ["20 min", "70 °C"]]
stop = { time = "60 min" }
"""


def _order(text: str, *marks: str) -> bool:
    places = [text.find(mark) for mark in marks]
    return -1 not in places and places == sorted(places)


def test_look() -> None:
    seen = forerun("look", "diethyl", "ether", "--pressure", "700 mmHg")
    assert seen.code == 0
    assert seen.out.startswith("Diethyl ether boils at ")
    assert "700\N{NARROW NO-BREAK SPACE}mmHg" in seen.out.splitlines()[0]
    assert _order(seen.out, "boils at", "flash point", "Look out", "peroxides", "From")
    assert "your institution's stricter rule wins" in " ".join(seen.out.split())


@pytest.mark.parametrize("word", ["64-17-5", "LFQSCWFLJHTTHZ-UHFFFAOYSA-N", "CCO", "EtOH"])
def test_look_by_any_identifier(word: str) -> None:
    assert forerun("look", word).out.startswith("Ethanol boils at 78.")


def test_solid_and_extrapolated_are_said() -> None:
    solid = forerun("look", "tert-butanol", "--pressure", "10 mbar")
    assert "solid where it would boil" in solid.out.splitlines()[0]
    assert "it melts at" in solid.out


def test_mix_names_the_limit_of_a_still() -> None:
    seen = forerun("mix", "ethanol", "water")
    first = " ".join(seen.out.split("\n\n")[0].split())
    assert re.match(
        r"Ethanol and water: no still parts these two beyond 9[456][.0-9]* ± [0-9.]+ wt\s% "
        r"ethanol at 760 mmHg",
        first,
    )


def test_mix_without_an_azeotrope_names_the_plates() -> None:
    seen = forerun("mix", "hexane", "toluene")
    first = " ".join(seen.out.split("\n\n")[0].split())
    assert "no azeotrope found" in first
    assert re.search(r"\d+ plates above the pot at the least", first)


def test_mix_of_two_liquids() -> None:
    first = " ".join(forerun("mix", "toluene", "water").out.split("\n\n")[0].split())
    assert "two liquids" in first


def test_foresee_reads_in_working_order(tmp_path: Path) -> None:
    drawing = tmp_path / "curve.svg"
    seen = forerun("foresee", "class-pair", "--out", str(drawing))
    assert seen.code == 0, seen.err
    assumed = ("Not given, so taken as", "Not reckoned with", "\nFrom (")
    assert _order(seen.out, "bath\n", " min\n", "\ncut  ", "\nmmol ", "Look out", *assumed)
    assert "\x1b" not in seen.out
    root = ET.parse(drawing).getroot()
    title = root.findtext("{http://www.w3.org/2000/svg}title")
    assert title
    assert " ".join(seen.out.split()).startswith(" ".join(title.split()))
    assert str(drawing) in seen.err


def test_nothing_comes_over_is_an_answer() -> None:
    seen = forerun("foresee", "-", given=COLD.encode())
    assert seen.code == 0, seen.err
    assert re.match(r"Nothing comes over: the pot reaches [67]\d\s°C", seen.out)


def test_every_example_can_be_foreseen() -> None:
    listed = forerun("example").out
    names = re.findall(r"^([a-z][a-z-]+)  ", listed, re.M)[1:]
    assert len(names) >= 6
    for name in names:
        seen = forerun("foresee", name)
        assert seen.code == 0, f"{name}: {seen.err}"


def test_example_makes_a_sheet_that_works(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.toml"
    written = forerun("example", "simple-still", "--out", str(sheet))
    assert written.code == 0
    assert written.out == ""
    assert forerun("foresee", str(sheet)).code == 0
    piped = forerun("example", "simple-still").out
    assert piped.rstrip("\n") == sheet.read_text("utf-8").rstrip("\n")


def test_demo_tells_the_whole_story_and_writes_nothing(tmp_path: Path) -> None:
    before = sorted(tmp_path.iterdir())
    seen = forerun("demo", "--members", "8")
    assert seen.code == 0, seen.err
    assert _order(seen.out, "1. What is in the flask", "2. Does boiling part them?",
                  "3. What comes over when", "Look out", "Make it yours")  # fmt: skip
    assert "±" in seen.out
    assert sorted(tmp_path.iterdir()) == before


def test_a_stream_without_our_letters_gets_others() -> None:
    seen = forerun("foresee", "class-pair", PYTHONIOENCODING="ascii:strict", PYTHONUTF8="0",
                   LC_ALL="C", PYTHONCOERCECLOCALE="0")  # fmt: skip
    assert seen.code == 0, seen.err
    assert seen.out.encode("ascii")


@pytest.mark.parametrize("width", [40, 80])
def test_narrow_paper(width: int) -> None:
    seen = forerun("foresee", "class-pair", COLUMNS=str(width))
    curve = seen.out.split("\n\n")[1]
    assert max(len(line) for line in curve.splitlines()) <= width


def test_own_failure_is_one_sentence(tmp_path: Path) -> None:
    """A broken installation: forerun says so, says where to turn, and shows no traceback."""
    broken = tmp_path / "sitecustomize.py"
    broken.write_text(
        "import forerun.core.quantities as q\n"
        "def parse_quantity(*a, **k): raise RuntimeError('out of order')\n"
        "q.parse_quantity = parse_quantity\n",
        encoding="utf-8",
    )
    source = Path(__file__).resolve().parents[2] / "src"
    path = f"{tmp_path}:{source}"
    seen = forerun("look", "water", PYTHONPATH=path)
    assert seen.code == 1
    assert is_one_sentence(seen.err)
    assert "out of order" in seen.err
    assert "report" in seen.err
    assert "Traceback" in forerun("look", "water", PYTHONPATH=path, FORERUN_DEBUG="1").err


def test_help_is_quick() -> None:
    """CPU time, since the clock of a busy machine says little; an import of numpy would show."""
    code = "import time, forerun.app.cli as c; c.main(['--help']); print(time.process_time())"
    source = Path(__file__).resolve().parents[2] / "src"
    spent = min(
        float(
            subprocess.run(
                [sys.executable, "-c", code],
                capture_output=True,
                text=True,
                env={"PYTHONPATH": str(source)},
                check=True,
            ).stdout.split()[-1]
        )
        for _ in range(3)
    )
    assert spent <= 0.25


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGINT to a single process there")
def test_stopping_is_clean() -> None:
    source = Path(__file__).resolve().parents[2] / "src"
    running = subprocess.Popen(
        [sys.executable, "-m", "forerun.app.cli", "foresee", "three-on-eight", "--members", "4096"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(source)},
    )
    time.sleep(4.0)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 130, err
    assert out == b""
    assert b"Traceback" not in err
    assert err.decode().splitlines()[-1] == "stopped"


def test_a_closed_pipe_is_no_failure() -> None:
    source = Path(__file__).resolve().parents[2] / "src"
    command = f"{sys.executable} -m forerun.app.cli example spirit | head -1"
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {command}"],
        capture_output=True,
        text=True,
        env={"PYTHONPATH": str(source), "PATH": "/usr/bin:/bin"},
        check=False,
    )
    assert "Traceback" not in done.stderr
    assert "Error" not in done.stderr


_FILES = Path(__file__).resolve().parents[1] / "contract" / "files"
_RUN = """
title = "acetone from toluene"
[[charge]]
substance = "acetone"
amount = "40 +/- 1 mL"
[[charge]]
substance = "toluene"
amount = "40 +/- 1 mL"
[rig]
flask = "250 mL"
column = "none"
[programme]
bath = [["0 min", "25 °C"], ["20 min", "160 °C"]]
stop = { time = "2 h", residue = "10 mL" }
[aim]
substance = "acetone"
purity = "80 wt%"
"""


def test_a_run_is_reviewed_kept_and_put_on_paper(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(_RUN, "utf-8")
    files = ("--readings", str(_FILES / "log.csv"), "--assays", str(_FILES / "assays.csv"))
    library = str(tmp_path / "library")
    seen = forerun("review", str(sheet), *files, "--keep", "--quick", FORERUN_DATA=library)
    assert seen.code == 0, seen.err
    assert seen.out.startswith("Cut 1: 27.")
    assert _order(
        seen.out, "Cut 1", "range", "column, head", "Again or stop", "Not examined", "From"
    )
    assert "Kept as run 1. 1 run kept so far: too few to say" in " ".join(seen.out.split())
    pdf, labels, archive = (tmp_path / name for name in ("r.pdf", "l.pdf", "a.zip"))
    seen = forerun(
        "record", "1", "--out", str(pdf), "--labels", str(labels), "--archive", str(archive),
        "--quick", FORERUN_DATA=library,
    )  # fmt: skip
    assert seen.code == 0, seen.err
    assert pdf.read_bytes().startswith(b"%PDF")
    assert labels.read_bytes().startswith(b"%PDF")
    assert archive.read_bytes().startswith(b"PK")
    assert "written: " in seen.err


def test_a_run_that_was_not_kept_is_refused_before_anything_is_computed(tmp_path: Path) -> None:
    words = ("record", "3", "--out", str(tmp_path / "r.pdf"))
    seen = forerun(*words, FORERUN_DATA=str(tmp_path))
    assert seen.code == 2
    assert is_one_sentence(seen.err)
    assert "none so far" in seen.err
    seen = forerun("record", "spirit", "--out", str(tmp_path / "r.txt"))
    assert seen.code == 2
    assert ".pdf" in seen.err
