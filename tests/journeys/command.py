"""Running the real command and looking at what a person would see."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

_ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True, slots=True)
class Seen:
    """What came out of a command: exit code and both streams."""

    code: int
    out: str
    err: str


def forerun(*words: str, given: bytes = b"", **environment: str) -> Seen:
    """Run ``forerun`` in a process of its own.

    Args:
        words: the command line.
        given: what stands on standard input.
        environment: variables to set.
    """
    surroundings = {
        **os.environ,
        "PYTHONPATH": str(_ROOT / "src"),
        "PYTHONUTF8": "1",
        "COLUMNS": "90",
        **environment,
    }
    done = subprocess.run(
        [sys.executable, "-m", "forerun.app.cli", *words],
        input=given,
        capture_output=True,
        env=surroundings,
        timeout=300,
        check=False,
    )
    return Seen(done.returncode, done.stdout.decode(), done.stderr.decode())


def is_one_sentence(text: str) -> bool:
    """Return whether a text is a single line that ends as a sentence does, and no traceback."""
    lines = text.strip().splitlines()
    return len(lines) == 1 and lines[0][-1] in ".?!" and "Traceback" not in text
