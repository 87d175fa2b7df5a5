"""What the process that reckons keeps of a run does not grow with the run."""

from __future__ import annotations

import numpy as np

from forerun.app.live_reckoning import LiveReckoner
from forerun.records.interface import StoredReading
from forerun.records.readings import Reading
from forerun.running.simulated import simulated_log
from forerun.running.worker import Share
from forerun.sheets.examples import example
from forerun.sheets.resolving import load
from unit.running.kept import bytes_kept

ENDS_S = 3300.0  # of the readings that change
SEED = 40_001


def test_two_hours_of_a_run_keep_what_ten_minutes_keep() -> None:
    """Readings each 10 s, which stand still from 55 minutes on, as those of a still left alone."""
    sheet = load(example("simple-still"))
    log = simulated_log(sheet, SEED).readings
    columns = {name: log.channel(name) for name in ("head_K", "pot_K", "bath_K", "pressure_Pa")}
    reckoner = LiveReckoner()
    kept: list[int] = []
    until = 0.0
    for now in (300.0, 600.0, 2400.0, 4200.0, 5700.0, 7200.0):
        rows = []
        for time in np.arange(until + 10.0, now + 1.0, 10.0):
            line = int(min(time, ENDS_S) / 10.0)
            values = {name: float(column[line]) for name, column in columns.items()}
            rows.append(Reading(float(time), origin="device", **values))
        first = int(until / 10.0) + 1
        new = tuple(StoredReading(n, row, 1e9 + row.time_s) for n, row in enumerate(rows, first))
        reckoner.reckon(Share(1, sheet if not until else None, new, (), now))
        until = now
        kept.append(bytes_kept(reckoner))
    assert max(kept) < 1.05 * kept[1]
