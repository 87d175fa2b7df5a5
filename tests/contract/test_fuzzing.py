"""A small share of `tools/proofs/fuzzing.py`: spoilt input gets a sentence, never a traceback."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from forerun.core.errors import BadInput

_SCRIPT = Path(__file__).resolve().parents[2] / "tools" / "proofs" / "fuzzing.py"


@pytest.fixture(scope="module")
def fuzzing() -> ModuleType:
    spec = importlib.util.spec_from_file_location("fuzzing_script", _SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    found = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = found  # dataclasses look their module up
    spec.loader.exec_module(found)
    return found


def test_spoilt_input_is_read_or_refused(fuzzing: Any) -> None:
    tallies = fuzzing.fuzzed(2000, 7)
    assert {name: dict(t.failures) for name, t in tallies.items() if t.failures} == {}
    assert sum(t.inputs for t in tallies.values()) == 2000
    for name, tally in tallies.items():
        assert 0 < tally.refused < tally.inputs, f"{name}: all input is of one kind"


def test_what_breaks_and_what_hangs_is_counted(
    fuzzing: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def reads(number: int) -> None:
        if number == 0:
            raise BadInput("number", number, "another")
        if number == 1:
            raise KeyError(number)
        if number == 2:
            while True:
                pass

    monkeypatch.setattr(fuzzing, "HANG_S", 0.05)
    target = fuzzing.Target("numbers", 1.0, lambda dice: dice.randrange(4), reads)
    tally = fuzzing.feed(target, 40, 1)
    assert {kind.split()[0] for kind in tally.failures} == {"KeyError", "Hang"}
    assert 0 < tally.refused < 40 - tally.failures.total()
