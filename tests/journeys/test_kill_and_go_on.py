"""The real server killed under load: nothing acknowledged is lost, and it goes on."""

from __future__ import annotations

import os
import socket
import statistics
from pathlib import Path

import pytest

from journeys.killing import REAL, Killed

_SLOW = 6.0  # s that a shared machine may take; tools/proofs/kills.py measures on a quiet one


@pytest.mark.skipif(os.name == "nt", reason="a process is killed by a POSIX signal")
def test_nothing_acknowledged_is_lost_when_the_server_is_killed(tmp_path: Path) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    found = Killed(tmp_path, port, REAL, seed=1).rounds(5)
    assert found.kills == 5
    assert found.acknowledged > 40  # fewer where others use the machine
    assert found.stored >= found.acknowledged
    assert (found.lost, found.twice, found.corrupt) == ([], [], [])
    assert statistics.median(found.resumed_s) < _SLOW
    said = (tmp_path / "said.txt").read_text("utf-8", "replace")
    # a process that was being started finds nobody to read its task from: Python says so itself
    assert said.count("Traceback") == said.count("in spawn_main")
