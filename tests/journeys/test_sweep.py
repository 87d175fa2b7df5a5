"""A sweep from the command line: results, resumed, refused, with and without Dask."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from forerun.app import sweep_store, sweep_workers
from forerun.app.sweep import sweep
from forerun.core.errors import BadInput
from forerun.planning.sweep_plan import plan_of
from journeys.command import forerun
from unit.planning.test_sweeping import SHEET, table

VARY = ("--vary", "programme.stop.residue=4:8:3 mL", "--vary", "switch.1.head=90:100:2 °C")
COUNT = 6


def test_a_sweep_is_run_written_and_resumed(tmp_path: Path) -> None:
    out = tmp_path / "trial"
    words = ("sweep", "-", *VARY, "--out", str(out), "--json")
    seen = forerun(*words, given=SHEET.encode())
    assert seen.code == 0, seen.err
    found = json.loads(seen.out)
    assert found["points"] == found["done"] == COUNT
    assert found["failed"] == found["refused"] == found["resumed"] == 0
    assert found["wanted"] == "cyclohexane"
    assert found["front"]
    assert Path(found["results"]).is_file()
    assert (out / "front.svg").read_text("utf-8").startswith("<svg")
    assert set(found["columns"]) >= {"point", "programme.stop.residue", "switch.1.head", "purity"}
    again = json.loads(forerun(*words, given=SHEET.encode()).out)
    assert again["resumed"] == COUNT
    assert again["front"] == found["front"]


def test_another_sweep_does_not_land_in_the_same_folder(tmp_path: Path) -> None:
    out = str(tmp_path / "one")
    sweep(table(), ["rig.plates=0,1"], out=out)
    with pytest.raises(BadInput, match="another sweep"):
        sweep(table(), ["rig.plates=0,2"], out=out)
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "notes.txt").write_text("keep", encoding="utf-8")
    with pytest.raises(BadInput, match="empty"):
        sweep(table(), ["rig.plates=0,1"], out=str(tmp_path / "mine"))


def test_a_stopped_sweep_goes_on_where_it_was(tmp_path: Path) -> None:
    words = ["programme.stop.residue=4:8:3 mL"]
    plan = plan_of(table(), words)
    store = sweep_store.SweepStore(tmp_path / "half", plan)
    marked = {"point": 1, "state": "failed", "problem": "from before"}
    whole = sweep(table(), words, out=str(tmp_path / "whole"))
    store.keep([{**whole.rows[1], **marked}])
    found = sweep(table(), words, out=str(tmp_path / "half"))
    assert found.resumed == 1
    assert found.rows[1]["problem"] == "from before"  # not run a second time
    assert found.rows[0] == whole.rows[0]
    assert any("1 of 3 settings did not finish: from before" in w for w in found.warnings)


def test_without_dask_processes_of_our_own_write_csv(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sweep_workers, "find_spec", lambda _name: None)
    monkeypatch.setattr(sweep_store, "find_spec", lambda _name: None)
    monkeypatch.setattr("forerun.app.sweep._PART", 2)
    found = sweep(
        table(), ["programme.stop.residue=4:8:4 mL"], out=str(tmp_path / "own"), workers=2
    )
    assert "without Dask" in found.workers
    assert [row["point"] for row in found.rows] == [0, 1, 2, 3]
    with Path(found.results).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["state"] for row in rows] == ["done"] * 4
    assert any("Parquet" in sentence for sentence in found.warnings)
    with pytest.raises(BadInput, match="--cluster"):
        sweep(table(), ["rig.plates=0,1"], out=str(tmp_path / "c"), cluster="tcp://127.0.0.1:1")


def test_dask_runs_the_same_and_parquet_holds_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parquet: Any = pytest.importorskip("pyarrow.parquet")
    pytest.importorskip("distributed")
    out = tmp_path / "dask"
    # in a process of its own: Dask leaves loops and loggers behind
    import subprocess  # noqa: PLC0415
    import sys  # noqa: PLC0415

    script = (
        "import forerun.app.sweep as s, tomllib, sys\n"
        "if __name__ == '__main__':\n"
        "    s._PART = 2\n"
        f"    found = s.sweep(tomllib.loads({SHEET!r}), ['programme.stop.residue=4:8:4 mL'],"
        f" out={str(out)!r}, workers=2)\n"
        "    print(found.workers)\n"
    )
    (tmp_path / "run.py").write_text(script, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(tmp_path / "run.py")], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "Dask on this machine" in done.stdout
    rows = parquet.read_table(out / "results.parquet").to_pylist()
    alone = sweep(table(), ["programme.stop.residue=4:8:4 mL"], out=str(tmp_path / "alone"))
    assert [r["purity"] for r in rows] == [r["purity"] for r in alone.rows]


def test_a_lost_worker_costs_its_points_and_no_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = plan_of(table(), ["rig.plates=0,1"])
    rows = sweep_workers._lost(plan, [1], RuntimeError("killed"))
    assert rows[0]["state"] == "failed"
    assert rows[0]["rig.plates"] == 1
    assert "killed" in rows[0]["problem"]


@pytest.mark.parametrize(
    "words",
    [
        ("rig.plate=1:3:3",),
        ("rig.plates=a:b",),
        ("rig.plates=1:3:3", "--workers", "0"),
        ("rig.plates=1:3:3", "--cluster", "nonsense"),
    ],
)
def test_bad_words_are_one_sentence(tmp_path: Path, words: tuple[str, ...]) -> None:
    seen = forerun(
        "sweep", "-", "--vary", *words, "--out", str(tmp_path / "x"), given=SHEET.encode()
    )
    assert seen.code == 2
    assert "Traceback" not in seen.err
