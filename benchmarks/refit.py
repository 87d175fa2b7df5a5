"""How long a re-fit of five unknowns to an hour of readings at 1 Hz takes; prints a table.

Seconds of processor time are given beside those on the clock: on a busy machine only they compare.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from forerun.forecast.calibration import calibrate
from forerun.forecast.drawing import draw_member, prior_of
from forerun.forecast.observing import Readings
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.run import run_still

__all__ = ["main"]

FIVE = {
    "simple-still": ("charge", "heat_transfer", "heat_loss", "thermometer"),
    "three-on-eight": ("heat_transfer", "heat_loss", "plates", "holdup", "thermometer"),
}
HOUR = 3600.0
MEMBERS = 32


def main() -> int:
    """Fit both ways and print what it took."""
    print("| sheet | way | on the clock, s | processor, s | misfit |\n|---|---|---|---|---|")
    for sheet, unknowns in FIVE.items():
        prepared = prepare(load(sheet))
        prior = prior_of(prepared)
        random = np.random.default_rng(5)
        run = run_still(draw_member(prior, random.standard_normal(len(prior.unknowns))))
        moments = np.arange(0.0, HOUR, 1.0)
        head = np.interp(moments, run.trace.time_s, run.trace.head_temperature_K)
        readings = Readings(moments, head + 0.1 * random.standard_normal(moments.size))
        for method in ("least_squares", "smoother"):
            clock, processor = time.perf_counter(), time.process_time()
            found = calibrate(prepared, readings, HOUR, MEMBERS, method=method, unknowns=unknowns)  # type: ignore[arg-type]
            clock, processor = time.perf_counter() - clock, time.process_time() - processor
            cells = (sheet, method, f"{clock:.2f}", f"{processor:.2f}", f"{found.misfit:.2f}")
            print("| " + " | ".join(cells) + " |", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
