"""`forerun mark`: what a class handed in for its hidden runs, marked with reasons."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from forerun.app.asked import asked_about
from forerun.app.asked_files import files_asked
from forerun.app.class_answers import read_answer
from forerun.app.class_files import (
    ANSWER,
    LOG,
    PLAN,
    Key,
    key_object,
    read_key,
    write_into,
)
from forerun.app.hide import dealt_of
from forerun.app.progress import Progress
from forerun.app.ready import kernels_ready
from forerun.app.sheet import load
from forerun.core.errors import BadInput
from forerun.reporting.class_marks import MarkedClass
from forerun.reviewing.marks import Marks, marks_of
from forerun.running.mystery import code_of

__all__ = ["mark", "marked"]


def mark(key_file: str, folder: str, feedback: str | None = None) -> MarkedClass:
    """Mark what is in a folder.

    Args:
        key_file: the instructor's.
        folder: with a folder for each student, named by the code.
        feedback: folder for a text to each student; None for none.

    Returns:
        The marks, and of whom nothing could be marked and why.

    Raises:
        BadInput: a key that cannot be used, or no submission at all.
    """
    return marked(read_key(key_file), folder, feedback)


def marked(
    key: Key,
    folder: str,
    feedback: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> MarkedClass:
    """Mark what is in a folder by a key that has been read.

    Args:
        key: the instructor's.
        folder: see `mark`.
        feedback: see `mark`.
        progress: called with students done and all; a bar in the terminal if None.

    Raises:
        BadInput: no submission at all.
    """
    place = Path(folder)
    if not any((place / code_of(number) / ANSWER).is_file() for number in key.students):
        raise BadInput("FOLDER", folder, f"a folder with S01/{ANSWER} and so on in it")
    handed_in = [place / code_of(n) / name for n in key.students for name in (ANSWER, LOG, PLAN)]
    files = files_asked(place, handed_in)
    asked = asked_about("mark", key.sheet, key=key_object(key), files=files)
    kernels_ready()
    marks: list[Marks] = []
    unmarked: dict[str, str] = {}
    with Progress(f"marking {len(key.students)} students") as bar:
        for done, number in enumerate(key.students, 1):
            try:
                marks.append(_marked(key, number, place / code_of(number)))
            except BadInput as problem:  # one answer must not keep a class from its marks
                unmarked[code_of(number)] = str(problem)
            (progress or bar)(done, len(key.students))
    found = MarkedClass(key.sheet.title, key.weights, tuple(marks), unmarked, asked=asked)
    if feedback is not None:
        files = {f"{one.code}.txt": found.feedback(one) for one in marks}
        write_into(Path(feedback), files, "--feedback")
    return found


def _marked(key: Key, number: int, folder: Path) -> Marks:
    if not (folder / ANSWER).is_file():
        raise BadInput(f"{folder.name}/{ANSWER}", "nothing", "an answer; none was handed in")
    plan = load(folder / PLAN) if (folder / PLAN).is_file() else None
    dealt = dealt_of(key, number, plan)
    return marks_of(dealt, read_answer(folder), key.weights)
