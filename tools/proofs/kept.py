"""What the process that reckons keeps of runs followed for hours, and the memory it takes.

    python tools/proofs/kept.py [--runs N] [--hours H] [--step S]

Steps runs of simulated benches through the hours without waiting: readings every two seconds from
four channels, which stand still from 55 minutes on, as those of a still left alone.
"""

from __future__ import annotations

import argparse
import gc
import json
import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from forerun.app.live_reckoning import live_reckoner  # noqa: E402
from forerun.records.interface import StoredReading  # noqa: E402
from forerun.records.readings import Reading  # noqa: E402
from forerun.running.simulated import simulated_log  # noqa: E402
from forerun.running.worker import Share  # noqa: E402
from forerun.sheets.examples import example  # noqa: E402
from forerun.sheets.resolving import load  # noqa: E402
from unit.running.kept import bytes_kept  # noqa: E402 -- after the path

FIRST_SEED = 40_000
EVERY_S, ENDS_S = 2.0, 3300.0
CHANNELS = ("head_K", "pot_K", "bath_K", "pressure_Pa")


def readings(columns: dict[str, np.ndarray], after_s: float, until_s: float) -> tuple:
    """Return the readings of one bench between two times, numbered from the start of its run."""
    first = round(after_s / EVERY_S) + 1
    found = []
    for number in range(first, round(until_s / EVERY_S) + 1):
        at = number * EVERY_S
        line = int(min(at, ENDS_S) / EVERY_S)
        values = {name: round(float(c[min(line, c.size - 1)]), 2) for name, c in columns.items()}
        found.append(StoredReading(number, Reading(at, origin="proof", **values), 1e9 + at))
    return tuple(found)


def resident_MB() -> float:
    """Return the memory of this process [MB]."""
    rows = Path("/proc/self/status").read_text().splitlines()
    return int(next(row for row in rows if row.startswith("VmRSS")).split()[1]) / 1024.0


def main() -> int:
    """Step, measure, print a line every ten minutes of the runs."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--runs", type=int, default=8)
    words.add_argument("--hours", type=float, default=2.0)
    words.add_argument("--step", type=float, default=120.0, help="s between two estimates of a run")
    given = words.parse_args()
    sheet = load(example("simple-still"))
    benches = []
    for k in range(given.runs):
        log = simulated_log(sheet, FIRST_SEED + k, every_s=EVERY_S).readings
        benches.append({name: log.channel(name) for name in CHANNELS})
    reckoner = live_reckoner()
    steps = round(3600.0 * given.hours / given.step)
    begun = time.process_time()
    for step in range(1, steps + 1):
        before, now = (step - 1) * given.step, step * given.step
        for k, columns in enumerate(benches):
            new = readings(columns, before, now)
            reckoner.reckon(Share(k + 1, sheet if step == 1 else None, new, (), now))
        if now % 600.0 < given.step:
            gc.collect()
            kept = bytes_kept(reckoner) / given.runs / 1e6
            told = {
                "min": round(now / 60.0),
                "kept_MB_a_run": round(kept, 2),
                "resident_MB": round(resident_MB(), 1),
                "cpu_s": round(time.process_time() - begun, 1),
            }
            print(json.dumps(told), flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
