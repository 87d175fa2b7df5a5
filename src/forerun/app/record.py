"""`forerun record`: the run on paper, its labels, its archive."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from forerun.app.foresee import foresee
from forerun.app.passport import kept_passport
from forerun.app.review import review
from forerun.app.sheet import load, source_from_words, text_of_sheet
from forerun.core.errors import BadInput
from forerun.core.provenance import signed
from forerun.records.assays import Assays
from forerun.records.readings import Readings
from forerun.reporting.archive import archive_of
from forerun.reporting.labels import labels_pdf
from forerun.reporting.paper import Paper
from forerun.reporting.record import Record
from forerun.reporting.record_notes import Notes, read_notes
from forerun.reporting.table import wrapped
from forerun.reporting.typeset import paper_named
from forerun.sheets.model import RunSheet

__all__ = ["Recorded", "check_file_name", "record", "run_from_words", "write_bytes"]

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
        return signed(
            {"finding": self.record.finding, "bytes": len(self.pdf), kind: told.to_json()}
        )

    def labels(self, sheet: str, first: int = 1) -> bytes:
        """Return the labels of the bottles as a PDF, see `forerun.reporting.labels`."""
        return labels_pdf(self.record, sheet, first)

    def archive(self) -> bytes:
        """Return everything in one zip that follows RO-Crate."""
        return archive_of(self.record, self.pdf, self.to_json())

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
    progress: Callable[[int, int], None] | None = None,
) -> Recorded:
    """Return the record of a run, or of a plan before it is run.

    Args:
        sheet: the sheet of the run, as `forerun.foresee` takes it.
        readings: its log; without it the record holds the forecast and lines to write on.
        assays: what was weighed and analysed.
        notes: purpose, people, lots and what else only the bench knows: a TOML file.
        paper: ``a4`` or ``letter``.
        fit: whether the still is fitted to the readings.
        progress: called with parts done and all; left out, a bar on the terminal.

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
        reviewed = review(read, readings=readings, assays=assays, fit=fit, progress=progress)
    made = datetime.now().astimezone().strftime("recorded %Y-%m-%d %H:%M %Z")
    text = text_of_sheet(sheet)
    item = kept_passport(read.rig.passport) if read.rig.passport else None
    forecast = foresee(read, members=_MEMBERS, progress=progress)
    found = Record(forecast, reviewed, noted, text, made, passport=item)
    return Recorded(found, found.pdf(format_))


def check_file_name(name: str, option: str = "--out", ending: str = ".pdf") -> None:
    """Look at the name of a file before anything is computed.

    Args:
        name: of the file.
        option: that named it.
        ending: that it must have.

    Raises:
        BadInput: another ending, or its folder does not exist.
    """
    if Path(name).suffix.lower() != ending:
        raise BadInput(option, name, f'a file name that ends in {ending}, such as "run{ending}"')
    if not Path(name).parent.is_dir():
        raise BadInput(option, name, "a file in a folder that exists")


def write_bytes(name: str, data: bytes, option: str) -> str:
    """Write a file aside, put it in place, and return its name.

    Raises:
        BadInput: it cannot be written.
    """
    try:
        aside = Path(f"{name}.part")
        aside.write_bytes(data)
        aside.replace(name)
    except OSError as problem:
        reason = (problem.strerror or type(problem).__name__).lower()
        raise BadInput(option, name, f"a file that can be written ({reason})") from problem
    return name


def run_from_words(
    word: str, readings: str | None, assays: str | None
) -> tuple[str | Path | bytes, str | Readings | None, str | Assays | None]:
    """Return sheet, log and assays that a command line names.

    Args:
        word: a sheet, or the number of a run that was kept.
        readings: the log, where a sheet is named.
        assays: the assays, where a sheet is named.

    Raises:
        BadInput: no such run.
    """
    if not word.isdecimal():
        return source_from_words(word), readings, assays
    from forerun.app.keep import kept_run
    from forerun.records.library import open_store

    with open_store() as store:
        kept = kept_run(store, int(word))
    return kept.sheet, readings or kept.readings, assays or kept.assays
