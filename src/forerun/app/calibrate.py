"""`forerun calibrate`: the run that measures your own column, step by step."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from forerun.app.progress import Progress
from forerun.app.ready import kernels_ready
from forerun.app.sheet import load
from forerun.reporting.calibration import Guide
from forerun.sheets.model import RunSheet

__all__ = ["calibrate"]

_PARTS = 2


def calibrate(
    sheet: str | Path | bytes | Mapping[str, Any] | RunSheet, *, today: date | None = None
) -> Guide:
    """Return how to measure the column of a sheet with a pair of known liquids.

    Args:
        sheet: as `forerun.foresee` takes it; only its glass and pressure are used.
        today: the day that the ages of bottles are counted to.

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

    with Progress("choosing the pair and running it at total reflux") as progress:
        plan = calibration_of(read)
        progress(1, _PARTS)
        own, run = calibration_run(read, plan)
        progress(_PARTS, _PARTS)
    return Guide(plan, own, run, gates_of(GateCase(own, run, today or date.today(), None)))
