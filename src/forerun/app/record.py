"""`forerun record`: the run on paper, its labels, its archive."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from forerun.app.foresee import foresee
from forerun.app.review import review
from forerun.app.sheet import load
from forerun.core.errors import BadInput
from forerun.records.assays import Assays
from forerun.records.readings import Readings
from forerun.reporting.paper import Paper
from forerun.reporting.record import Record
from forerun.reporting.record_notes import Notes, read_notes
from forerun.reporting.table import wrapped
from forerun.reporting.typeset import paper_named
from forerun.sheets.model import RunSheet

__all__ = ["Recorded", "check_record_name", "record"]

_MEMBERS = 16


@dataclass(frozen=True, slots=True)
class Recorded:
    """A record that was made.

    Args:
        record: what it says.
        pdf: the pages.
    """

    record: Record
    pdf: bytes

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read."""
        reviewed = self.record.reviewed
        return self.record.foresight.warnings if reviewed is None else reviewed.warnings

    def to_json(self) -> dict[str, Any]:
        """Return what was recorded: the object of the review, or of the forecast before a run."""
        reviewed = self.record.reviewed
        told = self.record.foresight if reviewed is None else reviewed
        kind = "forecast" if reviewed is None else "review"
        return {"finding": self.record.finding, "bytes": len(self.pdf), kind: told.to_json()}

    def printed(self, paper: Paper) -> list[str]:
        """Return what was recorded, in lines for a person."""
        return [paper.ink(line, "bold") for line in wrapped(self.record.finding, paper)]


def record(
    sheet: str | Path | bytes | Mapping[str, Any] | RunSheet,
    *,
    readings: str | Path | bytes | Readings | None = None,
    assays: str | Path | bytes | Assays | None = None,
    notes: str | Path | Notes | None = None,
    paper: str = "a4",
    fit: bool = True,
) -> Recorded:
    """Return the record of a run, or of a plan before it is run.

    Args:
        sheet: the sheet of the run, as `forerun.foresee` takes it.
        readings: its log; without it the record holds the forecast and lines to write on.
        assays: what was weighed and analysed.
        notes: purpose, people, lots and what else only the bench knows: a TOML file.
        paper: ``a4`` or ``letter``.
        fit: whether the still is fitted to the readings.

    Returns:
        The record with its pages.

    Raises:
        BadInput: a sheet, file or paper that cannot be used.
    """
    format_ = paper_named(paper)
    read = load(sheet)
    noted = notes if isinstance(notes, Notes) else Notes() if notes is None else read_notes(notes)
    if readings is None and assays is not None:
        raise BadInput("--readings", "nothing", "the log of the run, when assays are given")
    reviewed = None
    if readings is not None:
        reviewed = review(read, readings=readings, assays=assays, fit=fit)
    made = datetime.now().astimezone().strftime("recorded %Y-%m-%d %H:%M %Z")
    text = Path(sheet).read_text("utf-8") if _is_file(sheet) else ""
    found = Record(foresee(read, members=_MEMBERS), reviewed, noted, text, made)
    return Recorded(found, found.pdf(format_))


def _is_file(sheet: object) -> bool:
    if isinstance(sheet, Path):
        return True
    return isinstance(sheet, str) and "\n" not in sheet and Path(sheet).is_file()


def check_record_name(name: str) -> None:
    """Look at the name of a record before anything is computed.

    Raises:
        BadInput: it does not end in .pdf, or its folder does not exist.
    """
    if Path(name).suffix.lower() != ".pdf":
        raise BadInput("--out", name, 'a file name that ends in .pdf, such as "record.pdf"')
    if not Path(name).parent.is_dir():
        raise BadInput("--out", name, "a file in a folder that exists")
