"""Runs kept in this user's library: sheet, log, assays, scores, passports; and read back."""

from __future__ import annotations

from dataclasses import dataclass

from forerun.core.errors import BadInput
from forerun.records.assays import Assays, read_assays
from forerun.records.interface import RunStore
from forerun.records.readings import Readings, readings_of
from forerun.reporting.review import Reviewed
from forerun.reporting.review_json import leads_object
from forerun.reviewing.passport import log_digest, passport_of
from forerun.reviewing.review import Review
from forerun.reviewing.scoring import Score, coverage_sentence, lead_sentence

__all__ = ["KeptRun", "keep_run", "kept_run", "standing"]


@dataclass(frozen=True, slots=True)
class KeptRun:
    """A run of the library.

    Args:
        id: its number.
        sheet: the sheet as text.
        readings: the log, corrections applied.
        assays: what was weighed and analysed.
    """

    id: int
    sheet: str
    readings: Readings
    assays: Assays


def keep_run(store: RunStore, sheet_text: str, reviewed: Reviewed, score: Score | None) -> int:
    """Keep a reviewed run and return its number.

    Args:
        store: of this user.
        sheet_text: the sheet as it was written.
        reviewed: the run.
        score: forecast against record, None where it was not reckoned.

    Raises:
        BadInput: the sheet has no text to keep, or this very run is kept already.
    """
    if not sheet_text:
        raise BadInput("--keep", "a sheet without text", "a file, an example or standard input")
    review = reviewed.review
    same = _kept_before(store, sheet_text, review)
    if same is not None:
        accepted = "a run that is not kept yet; twice it would count twice in the passport"
        raise BadInput("--keep", f"the log and results of run {same}", accepted)
    run = store.start_run(sheet_text, review.sheet.title)
    store.append(run, review.readings.rows)
    if review.assays.text:
        store.add(run, "assays", {"text": review.assays.text})
    if score is not None:
        store.add(
            run,
            "score",
            {
                "cuts_inside": list(score.cuts_inside),
                "head_inside": _plain(score.head_inside),
                "first_drop_inside": score.first_drop_inside,
                "leads": leads_object(score),
                "beats_baseline": score.beats_baseline,
                "log": log_digest(review),
            },
        )
    name = review.sheet.rig.passport
    if name:
        before = store.passports(name)
        found = passport_of(review, before[-1].data if before else None, f"run {run}")
        if found is not None:
            store.keep_passport(name, found, run)
    store.end_run(run)
    return run


def _kept_before(store: RunStore, sheet_text: str, review: Review) -> int | None:
    """Return the number of the run that has the same sheet, log and assays, None for a new one."""
    log = repr(review.readings.rows)  # as text, in which what was not read equals itself
    for row in store.runs():
        if row.sheet != sheet_text or row.readings != len(review.readings.rows):
            continue
        texts = [e.data["text"] for e in store.entries(row.id, "assays", corrected=True)]
        same = (texts[-1] if texts else "") == review.assays.text
        if same and repr(tuple(s.reading for s in store.readings(row.id))) == log:
            return row.id
    return None


def _plain(value: float) -> float | None:
    return value if value == value else None  # noqa: PLR0124 -- only not-a-number differs


def kept_run(store: RunStore, number: int) -> KeptRun:
    """Return a run of the library.

    Raises:
        BadInput: no such run, or one without readings.
    """
    row = store.run(number)
    stored = store.readings(number, corrected=True)
    if not stored:
        raise BadInput("run", number, "a run with readings")
    texts = [e.data["text"] for e in store.entries(number, "assays", corrected=True)]
    assays = read_assays(texts[-1]) if texts else Assays()
    return KeptRun(number, row.sheet, readings_of([s.reading for s in stored]), assays)


def standing(store: RunStore) -> str:
    """Return how the forecasts did over all runs that were kept, in a sentence or two.

    A run that was reviewed twice counts once, by its last review.
    """
    told = [e.data for run in store.runs() for e in store.entries(run.id, "score")]
    scores = list({data.get("log", k): data for k, data in enumerate(told)}.values())
    return f"{coverage_sentence(scores)} {lead_sentence(scores)}".rstrip()
