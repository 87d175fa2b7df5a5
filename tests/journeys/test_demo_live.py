"""`forerun demo --live`: the bench that a newcomer meets first, from its line to the hood."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from journeys.browser import started_browser

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 120.0  # s


def _started(*words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "forerun.app.cli", "demo", "--live", "--port", "0", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src"), "PYTHONUTF8": "1"},
        text=True,
    )


@contextmanager
def _demo(*words: str) -> Iterator[str]:
    """Return the address of the hood of a demo."""
    going = _started(*words)
    assert going.stdout is not None
    try:
        for line in going.stdout:
            found = re.search(r"(http://127\.0\.0\.1:\d+)/#/hood/([A-Z0-9]+)", line)
            if found:
                break
        else:
            raise AssertionError(going.communicate()[1])
        yield found[0]
    finally:
        going.send_signal(signal.SIGINT)
        _, problem = going.communicate(timeout=30)
        assert "Traceback" not in problem


def _asked(address: str) -> dict[str, Any]:
    with urllib.request.urlopen(address, timeout=20) as answer:
        return dict(json.loads(answer.read()))


@pytest.mark.skipif(os.name == "nt", reason="stopped by a POSIX signal")
def test_a_newcomer_sees_it_drip(tmp_path: Path) -> None:
    with started_browser() as browser, _demo("--speed", "60", "--seed", "3") as hood:
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(hood)
        server = hood.partition("/#")[0]
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            run = _asked(f"{server}/api/runs/1")
            if run["estimate"] and run["estimate"]["reading"]:
                break
            time.sleep(0.5)
        assert run["estimate"]["reading"] > 0
        doubtful = [reading for reading in run["readings"] if reading["flags"]]
        assert len(doubtful) < 0.5 * len(run["readings"]), "a busy machine may make a few jump"
        assert run["instruction"]["text"]
        assert run["title"].endswith("(invented data)")
        assert run["pace"] == 60.0
        page.locator(".told").wait_for(timeout=30_000)
        assert page.locator(".hoodcurve svg").count() == 1


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (["--fault", "gremlins"], "fault"),
        (["--fault", "leak"], "fault"),
        (["--speed", "0"], "--speed"),
    ],
)
def test_what_cannot_be_shown_is_one_sentence(words: list[str], named: str) -> None:
    """The sheet of the demo is open to the air: it cannot leak inwards."""
    going = _started(*words)
    _, problem = going.communicate(timeout=PATIENCE)
    assert going.returncode == 2
    assert named in problem
    assert "Traceback" not in problem


def test_what_belongs_to_the_live_demo_is_not_taken_without_it() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "forerun.app.cli", "demo", "--fault", "leak"],
        capture_output=True,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src"), "PYTHONUTF8": "1"},
        text=True,
        timeout=PATIENCE,
        check=False,
    )
    assert done.returncode == 2
    assert "--live" in done.stderr
