"""`forerun advise`: which method, which pressure, which glass, which cuts, or don't."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from forerun.app.asked import asked_about, drawer_asked
from forerun.app.progress import Progress
from forerun.app.ready import kernels_ready
from forerun.app.sheet import load
from forerun.core.errors import BadInput
from forerun.glassware.inventory import read_inventory
from forerun.reporting.advise import Counsel
from forerun.sheets.model import RunSheet

__all__ = ["MOST_MEMBERS", "USUAL_MEMBERS", "advise"]

USUAL_MEMBERS, MOST_MEMBERS = 16, 1024
_HIGHEST_SEED = 2**32 - 1


def advise(
    sheet: str | Path | bytes | Mapping[str, Any] | RunSheet,
    *,
    members: int = USUAL_MEMBERS,
    seed: int = 1,
    drawer: str | Path | Mapping[str, Any] | None = None,
    today: date | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Counsel:
    """Return what to decide before the flask is filled.

    Args:
        sheet: a path, the name of an example, the text of a sheet, a table with the same keys, or
            what `forerun.load` returned.
        members: runs behind each probability, each with other guesses at what is not known.
        seed: repeats the same guesses to the last digit on one machine.
        drawer: glass to choose from: the path of a drawer in TOML, the name of a starter drawer
            (teaching, research, small), or a table of its keys. When left out, the sheet's own
            glass, or all starter drawers where the sheet names none.
        today: the day that the ages of bottles and tests are counted to.
        progress: told how much of a search of glass is done, and how much there is; a bar on
            stderr where nobody else is told.

    Raises:
        BadInput: whatever in the sheet cannot be used, or a number out of range.
    """
    count = _checked("--members", members, 2, MOST_MEMBERS)
    start = _checked("--seed", seed, 0, _HIGHEST_SEED)
    read = load(sheet)
    glass = None if drawer is None else read_inventory(drawer)
    kernels_ready()
    # here and not above, so that bad input is answered before anything heavy is loaded
    from forerun.planning.advice import advise as advice_of

    day = today or date.today()
    with Progress("trying your glass in every combination") as bar:
        told = progress or bar
        found = advice_of(read, members=count, seed=start, today=day, drawer=glass, progress=told)
    kept = drawer_asked(drawer)
    asked = asked_about("advise", read, members=count, seed=start, today=day, drawer=kept)
    return Counsel(found, asked)


def _checked(field: str, value: int, lowest: int, highest: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not lowest <= value <= highest:
        raise BadInput(field, value, f"a whole number from {lowest} to {highest}")
    return value
