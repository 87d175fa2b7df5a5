"""The server killed 1,000 times under load, and the life of a run in 1,000 orders of 50 steps.

    python tools/proofs/kills.py [--kills 1000] [--real 100] [--lives 1000]

Prints figures for docs/explain/durable.md; exit code 1 where anything acknowledged was lost.
"""

from __future__ import annotations

import argparse
import socket
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from hypothesis import HealthCheck, settings  # noqa: E402 -- after the path
from hypothesis.stateful import run_state_machine_as_test  # noqa: E402

from journeys.killing import LEAN, REAL, Killed, Tally  # noqa: E402
from unit.running.live_machine import RunLife  # noqa: E402

KILLS_OF_ONE_RUN = 50


def main() -> int:
    """Run what is asked for and print it."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--kills", type=int, default=1000)
    asked.add_argument("--real", type=int, default=100)
    asked.add_argument("--lives", type=int, default=1000)
    words = asked.parse_args()
    good = _killed("lean server", LEAN, words.kills)
    good &= _killed("forerun serve", REAL, words.real)
    if words.lives:
        started = time.monotonic()
        run_state_machine_as_test(
            RunLife,
            settings=settings(
                max_examples=words.lives, stateful_step_count=50, deadline=None,
                suppress_health_check=list(HealthCheck), database=None,
            ),
        )  # fmt: skip
        print(f"lives: {words.lives} x 50 steps held, {time.monotonic() - started:.0f} s")
    return 0 if good else 1


def _killed(name: str, command: Sequence[str], kills: int) -> bool:
    whole, started = Tally(), time.monotonic()
    for first in range(0, kills, KILLS_OF_ONE_RUN):
        with tempfile.TemporaryDirectory(prefix="forerun-kills-") as folder:
            rounds = min(KILLS_OF_ONE_RUN, kills - first)
            found = Killed(Path(folder), _free_port(), command, first + 1).rounds(rounds)
        _add(whole, found)
        print(f"  {whole.kills} kills, {len(whole.lost)} lost", file=sys.stderr, flush=True)
    if not kills:
        return True
    resumed = sorted(whole.resumed_s)
    print(
        f"{name}: {whole.kills} kills, {whole.acknowledged} acknowledged, {whole.stored} stored, "
        f"{len(whole.lost)} lost, {len(whole.twice)} twice, {len(whole.corrupt)} files not whole; "
        f"first new answer after {statistics.median(resumed):.2f} s (median), "
        f"{resumed[int(0.99 * len(resumed))]:.2f} s (99 of 100), {resumed[-1]:.2f} s (longest); "
        f"{time.monotonic() - started:.0f} s in all"
    )
    return not (whole.lost or whole.twice or whole.corrupt)


def _add(whole: Tally, found: Tally) -> None:
    whole.kills += found.kills
    whole.acknowledged += found.acknowledged
    whole.stored += found.stored
    for name in ("lost", "twice", "corrupt", "resumed_s"):
        getattr(whole, name).extend(getattr(found, name))


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


if __name__ == "__main__":
    raise SystemExit(main())
