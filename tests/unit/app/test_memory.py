"""Large blocks that are let go leave the process, also from between small ones that are kept."""

from __future__ import annotations

import ctypes
import subprocess
import sys

import pytest

from forerun.app import memory

_CHILD = """
import sys
import numpy as np
from forerun.app.memory import give_back_what_is_large

def resident_kB():
    with open("/proc/self/status") as status:
        return int(next(line for line in status if line.startswith("VmRSS")).split()[1])

if sys.argv[1] == "told":
    assert give_back_what_is_large()
kept, large = [], []
for _ in range(400):
    large.append(np.ones(12_000))  # 96 kB
    kept.append(bytearray(2000))
before = resident_kB()
large.clear()
print(before - resident_kB())
"""


def _mallopt() -> bool:
    return sys.platform == "linux" and hasattr(ctypes.CDLL(None), "mallopt")


def _given_back_MB(how: str) -> float:
    child = subprocess.run(
        [sys.executable, "-c", _CHILD, how], capture_output=True, text=True, check=True, timeout=60
    )
    return int(child.stdout) / 1024.0


@pytest.mark.skipif(not _mallopt(), reason="another C library")
def test_they_leave_it_only_where_that_is_asked_for() -> None:
    assert _given_back_MB("told") > 30.0  # of 37 MB
    assert _given_back_MB("not told") < 10.0


def test_a_system_without_it_is_left_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(memory.ctypes, "CDLL", lambda _name: object())
    assert not memory.give_back_what_is_large()
