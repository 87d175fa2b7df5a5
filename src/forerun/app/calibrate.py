"""`forerun calibrate`: the run that measures your own column, step by step."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from forerun.app.asked import asked_about
from forerun.app.progress import Progress
from forerun.app.ready import kernels_ready
from forerun.app.sheet import load
from forerun.reporting.calibration import Guide
from forerun.sheets.model import RunSheet

__all__ = ["calibrate"]

_PARTS = 2


def calibrate(
    sheet: str | Path | bytes | Mapping[str, Any] | RunSheet,
    *,
    today: date | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Guide:
    """Return how to measure the column of a sheet with a pair of known liquids.

    Args:
        sheet: as `forerun.foresee` takes it; only its glass and pressure are used.
        today: the day that the ages of bottles are counted to.
        progress: told how far it is; a bar on stderr where nobody else is told.

    Returns:
        Pair, amounts, steps with times, what the samples will tell, and the sheet of that run.

    Raises:
        BadInput: whatever in the sheet cannot be used, no column, or one that no pair can tell.
    """
    read = load(sheet)
    kernels_ready()
    # here and not above, so that bad input is answered before anything heavy is loaded
    from forerun.planning.calibration import calibration_of, calibration_run
    from forerun.planning.gates import gates_of
    from forerun.planning.gates_model import GateCase

    day = today or date.today()
    with Progress("choosing the pair and running it at total reflux") as bar:
        told = progress or bar
        told(0, _PARTS)
        plan = calibration_of(read)
        told(1, _PARTS)
        own, run = calibration_run(read, plan)
        told(_PARTS, _PARTS)
    gates = gates_of(GateCase(own, run, day, None))
    return Guide(plan, own, run, gates, asked_about("calibrate", read, today=day))
