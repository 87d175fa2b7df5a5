"""`forerun foresee`: what comes over when."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from forerun.app.asked import asked_about
from forerun.app.progress import Progress
from forerun.app.ready import kernels_ready
from forerun.app.sheet import load
from forerun.core.errors import BadInput
from forerun.reporting.foresee import Foresight
from forerun.sheets.model import RunSheet

__all__ = ["MOST_MEMBERS", "foresee"]

MOST_MEMBERS = 4096
_HIGHEST_SEED = 2**32 - 1


def foresee(
    sheet: str | Path | bytes | Mapping[str, Any] | RunSheet,
    *,
    members: int = 0,
    seed: int = 1,
    today: date | None = None,
    progress: Callable[[int, int], None] | None = None,
    threads: int | None = None,
) -> Foresight:
    """Return the forecast of a run sheet.

    Args:
        sheet: a path, the name of an example, the text of a sheet, a table with the same keys, or
            what `forerun.load` returned.
        members: runs that the bands are drawn from, each with other guesses at what is not known;
            0 for one run without bands.
        seed: repeats the same guesses to the last digit on one machine.
        today: the day that the ages of bottles and tests are counted to.
        progress: called with members done and all; left out, a bar on the terminal.
        threads: how many members run at a time; None for one on each processor.

    Returns:
        The run with the sheet's own values, its bands, and what was assumed.

    Raises:
        BadInput: whatever in the sheet cannot be used, or a number out of range.
    """
    count = _checked("--members", members, MOST_MEMBERS)
    start = _checked("--seed", seed, _HIGHEST_SEED)
    read = load(sheet)
    kernels_ready()
    # here and not above, so that bad input is answered before anything heavy is loaded
    from forerun.forecast.ensemble import foresee as forecast_of
    from forerun.planning.gates import gates_of
    from forerun.planning.gates_model import GateCase

    if progress is None:
        with Progress("running the still with other guesses at what is not known") as bar:
            forecast = forecast_of(read, count, start, threads, bar)
    else:
        forecast = forecast_of(read, count, start, threads, progress)
    low = forecast.residue_band.volume_low_m3 if forecast.residue_band else None
    day = today or date.today()
    gates = gates_of(GateCase(read, forecast.run, day, low))
    asked = asked_about("foresee", read, members=count, seed=start, today=day)
    return Foresight(read, forecast, gates, asked)


def _checked(field: str, value: int, highest: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= highest:
        raise BadInput(field, value, f"a whole number from 0 to {highest}")
    return value
