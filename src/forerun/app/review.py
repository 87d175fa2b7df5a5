"""`forerun review`: what did I get, where is the rest, shall I do it again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from forerun.app.progress import Progress
from forerun.app.ready import kernels_ready
from forerun.app.sheet import load
from forerun.records.assays import Assays, read_assays
from forerun.records.readings import Readings, read_readings
from forerun.reporting.review import Reviewed
from forerun.sheets.model import RunSheet

__all__ = ["review"]


def review(
    sheet: str | Path | bytes | Mapping[str, Any] | RunSheet,
    *,
    readings: str | Path | bytes | Readings,
    assays: str | Path | bytes | Assays | None = None,
    fit: bool = True,
) -> Reviewed:
    """Return the review of a run.

    Args:
        sheet: the sheet of the run, as `forerun.foresee` takes it.
        readings: path or text of the log, or what was read from one.
        assays: path or text of what was weighed and analysed; none where nothing was.
        fit: whether the still is fitted to the readings, for plates and losses.

    Returns:
        Plateaus, cuts, the account of every gram, what cannot be right, plates, and whether
        another run is worth it.

    Raises:
        BadInput: a sheet or file that cannot be used.
    """
    read = load(sheet)
    log = readings if isinstance(readings, Readings) else read_readings(readings)
    if assays is None:
        results = Assays()
    else:
        results = assays if isinstance(assays, Assays) else read_assays(assays)
    kernels_ready()
    # here and not above, so that bad input is answered before anything heavy is loaded
    from forerun.reviewing.review import review_run

    with Progress("fitting the still to the readings") as progress:
        found = review_run(read, log, results, fit=fit, progress=progress)
    return Reviewed(found)
