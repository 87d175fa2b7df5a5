"""`forerun mark-runs`: the real runs of a class, marked by their logs and assays."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from forerun.app.class_answers import read_expected
from forerun.app.class_files import ANSWER, LOG, SHEET, read_weights, write_into
from forerun.app.progress import Progress
from forerun.app.review import review
from forerun.app.sheet import load
from forerun.core.errors import BadInput
from forerun.reporting.class_marks import MarkedClass
from forerun.reviewing.marks import Marks
from forerun.reviewing.marks_real import Expected, marks_of_run
from forerun.sheets.model import RunSheet

__all__ = ["mark_runs"]

_ASSAYS = "assays.csv"


def mark_runs(
    sheet: str | Path | RunSheet,
    folder: str,
    *,
    weights: str | None = None,
    feedback: str | None = None,
) -> MarkedClass:
    """Mark what benches ran.

    Args:
        sheet: of the class; a bench that ran otherwise has a sheet in its own folder.
        folder: with a folder for each bench, named by its code.
        weights: file with ``[weights]``, such as the key of a class; None for ours.
        feedback: folder for a text to each bench; None for none.

    Returns:
        The marks, and of whom nothing could be marked and why.

    Raises:
        BadInput: weights that cannot be used, or no run at all.
    """
    common = load(sheet)
    shares = read_weights(weights)
    place = Path(folder)
    benches = sorted(p for p in place.iterdir() if (p / LOG).is_file()) if place.is_dir() else []
    if not benches:
        raise BadInput("FOLDER", folder, f"a folder with B01/{LOG}, B01/{_ASSAYS} and so on in it")
    marks: list[Marks] = []
    unmarked: dict[str, str] = {}
    with Progress(f"marking {len(benches)} benches") as progress:
        for done, bench in enumerate(benches, 1):
            try:
                marks.append(_marked(common, bench, shares))
            except BadInput as problem:  # one bench must not keep a class from its marks
                unmarked[bench.name] = str(problem)
            progress(done, len(benches))
    found = MarkedClass(common.title, shares, tuple(marks), unmarked)
    if feedback is not None:
        files = {f"{one.code}.txt": found.feedback(one) for one in marks}
        write_into(Path(feedback), files, "--feedback")
    return found


def _marked(common: RunSheet, bench: Path, weights: Mapping[str, float]) -> Marks:
    own = bench / SHEET
    sheet = load(own) if own.is_file() else common
    assays = bench / _ASSAYS
    if not assays.is_file():
        raise BadInput(f"{bench.name}/{_ASSAYS}", "nothing", "what the receivers hold, analysed")
    answer = bench / ANSWER
    expected = read_expected(bench, sheet) if answer.is_file() else Expected()
    reviewed = review(sheet, readings=bench / LOG, assays=assays, fit=False)
    return marks_of_run(bench.name, reviewed.review, expected, weights)
