"""Files about a run for the page: the record, labels for the bottles, the archive."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping
from typing import Any

from forerun.app.web.bodies import pop_count, pop_text, refuse_rest
from forerun.app.web.sent_sheet import sheet_from
from forerun.core.errors import BadInput

__all__ = ["PAPERS", "recorded"]

PAPERS: Mapping[str, str] = {
    "record": "application/pdf",
    "labels": "application/pdf",
    "archive": "application/zip",
}
"""What may be had, with its media type."""


def recorded(body: dict[str, Any], progress: Callable[[int, int], None] | None) -> dict[str, Any]:
    """Return a file about a run: its record, the labels of its bottles, or the archive.

    Args:
        body: what was sent; taken apart.
        progress: called with parts done and all.

    Raises:
        BadInput: whatever in it cannot be used.
    """
    from forerun.app.record import record
    from forerun.reporting.record_notes import notes_from

    wanted = pop_text(body, "file", "record")
    given = {key: body.pop(key, None) for key in ("readings", "assays")}
    notes, fit, skip = body.pop("notes", {}), body.pop("fit", True), pop_count(body, "skip", 0)
    paper, stock = pop_text(body, "paper", "a4"), pop_text(body, "stock", "a4-14")
    sheet = sheet_from(body)
    refuse_rest(body, "sheet (or its own keys), readings, assays, notes, fit, file, paper, stock")
    if wanted not in PAPERS:
        raise BadInput("file", wanted, ", ".join(PAPERS))
    if not isinstance(fit, bool):
        raise BadInput("fit", fit, "true or false")
    if not isinstance(notes, dict):
        raise BadInput("notes", notes, "a table such as {owner: A. Person}")
    for key, value in given.items():
        if value is not None and not isinstance(value, str):
            raise BadInput(key, value, "a table as text")
    # bytes are a table, never the name of a file on this machine
    readings, assays = (None if v is None else v.encode() for v in given.values())
    made = record(
        sheet, readings=readings, assays=assays, notes=notes_from(notes), paper=paper, fit=fit,
        progress=progress,
    )  # fmt: skip
    data = made.pdf
    if wanted == "labels":
        data = made.labels(stock, (skip or 0) + 1)
    elif wanted == "archive":
        data = made.archive()
    return {
        "finding": made.record.finding,
        "media_type": PAPERS[wanted],
        "base64": base64.b64encode(data).decode(),
    }
