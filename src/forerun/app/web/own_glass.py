"""One's own glass over HTTP: what its runs have shown, and the run that measures it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from forerun.app.web.bodies import pop_text, refuse_rest
from forerun.app.web.sent_sheet import sheet_from

__all__ = ["calibrated", "one_passport", "passports_listed"]

_HOW = (
    "Each quantity is the mean of all runs so far, on a logarithmic scale, each run weighed by its "
    "own band.",
    "Runs of one column are taken to differ by 5 % whatever each of them says (from memory).",
    "A run is left out of a quantity of which it taught too little.",
    "A log that is reviewed again takes the place of its earlier review.",
    "What a sheet states itself goes before what is kept here.",
)


def passports_listed(_body: dict[str, Any]) -> dict[str, Any]:
    """Return the list of what is kept, as `forerun passport` has it."""
    from forerun.app.passport import passports

    return passports().to_json()


def one_passport(body: dict[str, Any]) -> dict[str, Any]:
    """Return what the runs of one item have shown, with its drawing and table.

    Args:
        body: ``passport``, the name under which it is kept; taken apart.

    Raises:
        BadInput: none is kept under that name.
    """
    from forerun.app.passport import passport

    name = pop_text(body, "passport")
    refuse_rest(body, "passport")
    found = passport(name)
    head, rows = found.table()
    shown = {
        "drawing": found.drawing(),
        "head": list(head),
        "rows": [list(row) for row in rows],
        "how": list(_HOW),
        "warnings": list(found.warnings),
    }
    return {**found.to_json(), "shown": shown}


def calibrated(body: dict[str, Any], progress: Callable[[int, int], None] | None) -> dict[str, Any]:
    """Return how to measure the column of a sheet, and the sheet of that run as a table.

    Args:
        body: with a sheet, of which the glass and the pressure count; taken apart.
        progress: called with parts done and all.

    Raises:
        BadInput: whatever in it cannot be used, no column, or one that no pair can tell.
    """
    from forerun.app.calibrate import calibrate
    from forerun.sheets.writing import table_of

    sheet = sheet_from(body)
    refuse_rest(body, "sheet (or its own keys)")
    found = calibrate(sheet, progress=progress)
    shown = {
        "sheet": table_of(found.sheet, as_written=True),
        "steps": list(found.work),
        "warnings": list(found.warnings),
        "stopped": found.stopped,
    }
    return {**found.to_json(), "shown": shown}
