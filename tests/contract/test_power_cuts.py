"""A few cuts of power and failing writes with every change; hundreds in tools/proofs/power.py."""

from __future__ import annotations

import importlib.util
import random
import shutil
import sys
from pathlib import Path
from types import ModuleType

import pytest

_PROOF = Path(__file__).resolve().parents[2] / "tools" / "proofs" / "power.py"

pytestmark = pytest.mark.skipif(
    sys.platform != "linux" or not (shutil.which("cc") or shutil.which("gcc")),
    reason="cuts of power are made with a compiled shim: needs Linux and a C compiler",
)


@pytest.fixture(scope="module")
def power() -> ModuleType:
    spec = importlib.util.spec_from_file_location("power_proof", _PROOF)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["power_proof"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def shim(power: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Path:
    found = power.built(tmp_path_factory.mktemp("shim"))
    assert isinstance(found, Path)
    return found


def test_a_cut_of_power_takes_nothing_that_was_acknowledged(power: ModuleType, shim: Path) -> None:
    found = power.cut_off(shim, 25, seed=random.randrange(10**6))
    assert found.tried == 25
    assert found.acknowledged > 500
    assert (found.lost, found.partly, found.broken) == (0, 0, [])


def test_the_same_cuts_find_a_writer_that_does_not_wait_for_the_disk(
    power: ModuleType, shim: Path
) -> None:
    assert not power.cut_off(shim, 25, synced=False).good


def test_a_write_that_fails_is_refused_and_nothing_else_is_lost(
    power: ModuleType, shim: Path
) -> None:
    found, refused = power.faulty(shim, 16)
    assert refused > 0
    assert found.acknowledged > 16 * 3
    assert (found.lost, found.partly, found.broken) == (0, 0, [])


def test_the_marks_of_a_log_are_read_back(power: ModuleType, tmp_path: Path) -> None:
    head = power._HEAD
    raw = head.pack(b"W", 3, 2, 7) + b"abc" + b"xy" + head.pack(b"S", 3, 0, 0) + b"abc"
    (tmp_path / "notes").write_bytes(raw)
    notes = power.notes_of(tmp_path / "notes")
    assert notes == [("W", "abc", 7, b"xy"), ("S", "abc", 0, b"")]
    files, acknowledged = power.left_by(notes, 2, random.Random(1))
    assert files == {"abc": bytearray(7) + b"xy"}
    assert acknowledged == 0
