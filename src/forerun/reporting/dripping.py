"""When the last drop falls, and why none falls after it."""

from __future__ import annotations

import math
from bisect import bisect_left
from typing import TYPE_CHECKING

from forerun.core.quantities import format_temperature, format_time, format_volume
from forerun.reporting.words import WHOLE_DEGREE

if TYPE_CHECKING:
    from forerun.sheets.model import RunSheet
    from forerun.still.results import Run, Trace

__all__ = ["BATH_TOO_COLD", "bath_too_cold", "drips_stop", "last_drop"]

BATH_TOO_COLD = "bath too cold"
_DROP = 5e-8  # m3, 20 drops to the millilitre; common practice, no source
_SHARE = 0.01  # of the distillate; on a small scale less than a drop is worth waiting for
_WAIT = 600.0  # s without a drop after which nobody waits for another; a judgement, no source


def last_drop(trace: Trace) -> float | None:
    """Return when the last drop fell [s]; None where it drips to the end, or never did.

    Args:
        trace: of the run. A drop is what is left to come once 0.05 mL, or a hundredth of all that
            comes over, is still missing; ten minutes without one count as the end.
    """
    volume = trace.distillate_volume_m3
    whole = float(volume[-1])
    if whole <= 0.0:
        return None
    least = whole - min(_DROP, _SHARE * whole)
    row = bisect_left(volume, least)
    before, after = float(volume[row - 1]), float(volume[row])
    start, end = float(trace.time_s[row - 1]), float(trace.time_s[row])
    fell = start + (end - start) * (least - before) / (after - before)
    return fell if float(trace.time_s[-1]) - fell > _WAIT else None


def bath_too_cold(sheet: RunSheet, run: Run) -> bool:
    """Return whether the drips stop because what the bath gives no longer lifts vapour to the head.

    Args:
        sheet: with the reflux and whatever else may hold the drips back.
        run: of it.

    Returns:
        True where liquid is left in the pot, the take-off stands open, and yet nothing reaches it:
        the heat from the bath then covers no more than what the glass loses. False where steam
        drives the run or a trap gives back what comes over.
    """
    fell = last_drop(run.trace)
    if fell is None or run.residue.volume_m3 <= _DROP:
        return False
    if sheet.special.steam_kg_s > 0.0 or sheet.special.trap_m3 > 0.0:
        return False
    points = sheet.programme.reflux_ratio.points
    before = [ratio for time, ratio in points if time <= fell][-1:] or [points[0][1]]
    after = [ratio for time, ratio in points if time > fell]
    return all(math.isfinite(ratio) for ratio in (*before, *after))


def drips_stop(sheet: RunSheet, run: Run) -> str:
    """Return when and why the drips stop before the run ends, in a sentence; empty if they do not.

    Args:
        sheet: the run sheet.
        run: of it.
    """
    fell = last_drop(run.trace)
    if fell is None:
        return ""
    left = format_volume(run.residue.volume_m3, 1e-6)
    when = f"Drips stop after {format_time(fell)} with {left} in the pot"
    if not bath_too_cold(sheet, run):
        return f"{when}."
    bath = format_temperature(float(run.trace.bath_temperature_K[-1]), WHOLE_DEGREE)
    return f"{when}: the bath, {bath}, is too cold to bring more over."
