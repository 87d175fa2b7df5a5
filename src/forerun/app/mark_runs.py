"""`forerun mark-runs`: the real runs of a class, marked by their logs and assays."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from forerun.app.class_answers import expected_of
from forerun.app.class_files import ANSWER, LOG, SHEET, read_weights, table_of, write_into
from forerun.app.progress import Progress
from forerun.app.review import review
from forerun.app.sheet import load
from forerun.core.errors import BadInput
from forerun.records.assays import read_assays
from forerun.records.readings import read_readings
from forerun.reporting.class_marks import MarkedClass
from forerun.reviewing.marks import WEIGHTS, Marks
from forerun.reviewing.marks_real import Expected, marks_of_run
from forerun.sheets.model import RunSheet

__all__ = ["ASSAYS", "RunFiles", "mark_runs", "marked_runs"]

ASSAYS = "assays.csv"


@dataclass(frozen=True, slots=True)
class RunFiles:
    """What came from one bench; files by path, or their bytes.

    Args:
        code: of the bench.
        readings: its log.
        assays: what its receivers hold; None for nothing analysed.
        answer: what was expected before; None for nothing said.
        sheet: of its own, where it ran otherwise than the class.
    """

    code: str
    readings: Path | bytes
    assays: Path | bytes | None = None
    answer: Path | bytes | None = None
    sheet: Path | bytes | None = None


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
        raise BadInput("FOLDER", folder, f"a folder with B01/{LOG}, B01/{ASSAYS} and so on in it")
    with Progress(f"marking {len(benches)} benches") as progress:
        found = marked_runs(common, [_in(bench) for bench in benches], shares, progress)
    if feedback is not None:
        files = {f"{one.code}.txt": found.feedback(one) for one in found.marks}
        write_into(Path(feedback), files, "--feedback")
    return found


def marked_runs(
    sheet: RunSheet,
    benches: Sequence[RunFiles],
    weights: Mapping[str, float] = WEIGHTS,
    progress: Callable[[int, int], None] | None = None,
) -> MarkedClass:
    """Mark benches whose files have been found.

    Args:
        sheet: of the class.
        benches: what came from each.
        weights: of the parts; together above zero [-].
        progress: called with benches done and all.

    Returns:
        See `mark_runs`.
    """
    marks: list[Marks] = []
    unmarked: dict[str, str] = {}
    for done, bench in enumerate(benches, 1):
        try:
            marks.append(_marked(sheet, bench, weights))
        except BadInput as problem:  # one bench must not keep a class from its marks
            unmarked[bench.code] = str(problem)
        if progress is not None:
            progress(done, len(benches))
    return MarkedClass(sheet.title, weights, tuple(marks), unmarked)


def _in(folder: Path) -> RunFiles:
    assays, answer, sheet = (
        path if path.is_file() else None for path in (folder / n for n in (ASSAYS, ANSWER, SHEET))
    )
    return RunFiles(folder.name, folder / LOG, assays, answer, sheet)


def _marked(common: RunSheet, bench: RunFiles, weights: Mapping[str, float]) -> Marks:
    sheet = common if bench.sheet is None else load(bench.sheet)
    if bench.assays is None:
        raise BadInput(f"{bench.code}/{ASSAYS}", "nothing", "what the receivers hold, analysed")
    expected = Expected()
    if bench.answer is not None:
        place = f"{bench.code}/{ANSWER}"
        expected = expected_of(table_of(bench.answer, place), sheet, place)
    readings = read_readings(bench.readings, f"{bench.code}/{LOG}")
    assays = read_assays(bench.assays, f"{bench.code}/{ASSAYS}")
    reviewed = review(sheet, readings=readings, assays=assays, fit=False)
    return marks_of_run(bench.code, reviewed.review, expected, weights)
