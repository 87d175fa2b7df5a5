"""A switch that a temperature decides, carried out as a thermometer that is right would have it.

Two students who both take the receiver away at 90 °C have decided the same. One thermometer reads
high, another low, and neither student chose theirs: so the volume at which the switch counts is
the one at which the vapour at the bulb had that temperature.
"""

from __future__ import annotations

import numpy as np

from forerun.records.readings import Readings
from forerun.still.results import Run

__all__ = ["volume_at"]


def volume_at(
    run: Run,
    readings: Readings,
    temperature_K: float,
    thermometer_offset_K: float,
    start_m3: float = 0.0,
) -> float:
    """Return the distillate that was read when the vapour reached a temperature.

    Args:
        run: what happened; its head is a reading, offset included.
        readings: what was read.
        temperature_K: of the vapour at the bulb [K].
        thermometer_offset_K: what is in the head temperatures of the run beside the truth [K].
        start_m3: distillate before which nothing counts [m3].

    Returns:
        Distillate as read [m3]: the first at which something comes over and the vapour is at
        least so hot; all of it where it never is.
    """
    read = readings.channel("distillate_m3")
    known = np.isfinite(read)
    rising = np.maximum.accumulate(read[known])
    if not rising.size:
        return 0.0
    trace = run.trace
    by_then = np.interp(trace.time_s, readings.time_s[known], rising)
    over = (trace.distillate_volume_m3 > 0.0) & (by_then >= start_m3)
    hot = np.flatnonzero(over & (trace.head_temperature_K - thermometer_offset_K >= temperature_K))
    return float(by_then[hot[0]]) if hot.size else float(rising[-1])
