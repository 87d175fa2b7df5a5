"""`forerun lesson`: class material about one charge, in a folder that opens by itself."""

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
from forerun.core.quantities import parse_quantity
from forerun.reporting.class_sheet import class_pdf
from forerun.reporting.lesson import Lesson
from forerun.reporting.plain import to_text
from forerun.reporting.typeset import paper_named
from forerun.sheets.model import RunSheet
from forerun.sheets.topics import topics

__all__ = ["FILES", "folder_files", "lesson", "reckoned", "write_folder"]

Told = Callable[[int, int], None]

FILES = ("page.html", "handout.pdf", "key.pdf", "results.json")
"""What a folder holds."""

_LENGTH = 3.0 * 3600.0  # s, of a class where nothing is said: common practice, no source
_MEMBERS = 6  # runs behind the verdict; the page shows no probability


def lesson(
    sheet: str | Path | bytes | Mapping[str, Any] | RunSheet,
    *,
    topic: str | None = None,
    today: date | None = None,
) -> Lesson:
    """Return one charge distilled in several ways, for a class.

    Args:
        sheet: as `forerun.foresee` takes it, or the name of a topic.
        topic: name of the topic that the sheet is of, where it is not the sheet itself.
        today: the day that the ages of bottles and tests are counted to.

    Returns:
        The comparison with its page.

    Raises:
        BadInput: whatever in the sheet cannot be used, or one substance alone.
    """
    with Progress("distilling the charge in several ways") as progress:
        return reckoned(sheet, progress, topic=topic, today=today)


def reckoned(
    sheet: str | Path | bytes | Mapping[str, Any] | RunSheet,
    progress: Told | None = None,
    *,
    topic: str | None = None,
    today: date | None = None,
) -> Lesson:
    """Return the same, and tell somebody else how far it is.

    Args:
        sheet: as `lesson` takes it.
        progress: called with how many parts are done and how many there are.
        topic: likewise.
        today: likewise.

    Raises:
        BadInput: as `lesson`.
    """
    named = topic if topic is not None else sheet if isinstance(sheet, str) else ""
    ready = topics().get(named)
    if topic is not None and ready is None:
        raise BadInput("topic", topic, f"one of {', '.join(topics())}")
    read = load(ready.sheet if ready is not None and topic is None else sheet)
    if len(read.charge) < 2:
        raise BadInput("charge", ", ".join(read.names), "at least two substances to part")
    kernels_ready()
    # here and not above, so that bad input is answered before anything heavy is loaded
    from forerun.planning.advice import advise
    from forerun.planning.aims import aimed_at_lightest, goal_of
    from forerun.planning.comparison import ways_of

    day = today or date.today()
    asked = asked_about("lesson", read, topic=named if ready else None, today=day)
    aimed = aimed_at_lightest(read)
    found = ways_of(aimed, goal_of(aimed), progress=progress)
    return Lesson(found, advise(aimed, members=_MEMBERS, today=day), ready, asked)


def write_folder(
    found: Lesson, out: str, *, paper: str = "a4", benches: int = 12, length: str | None = None
) -> list[str]:
    """Write the material into a folder.

    Args:
        found: from `lesson`.
        out: the folder; made where it is not there.
        paper: ``a4`` or ``letter``.
        benches: that work at a time.
        length: of the class; the time of the aim, or 3 h, when left out.

    Returns:
        Names of what was written.

    Raises:
        BadInput: the folder cannot be written, or a paper or length that is none.
    """
    files = folder_files(found, paper=paper, benches=benches, length=length)
    folder, written = Path(out), []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            aside = folder / f"{name}.part"
            aside.write_bytes(data)
            aside.replace(folder / name)
            written.append(str(folder / name))
    except OSError as problem:
        reason = (problem.strerror or type(problem).__name__).lower()
        raise BadInput("--out", out, f"a folder that can be written ({reason})") from problem
    return written


def folder_files(
    found: Lesson, *, paper: str = "a4", benches: int = 12, length: str | None = None
) -> dict[str, bytes]:
    """Return what a folder holds, by name.

    Args:
        found: from `lesson`.
        paper: ``a4`` or ``letter``.
        benches: that work at a time.
        length: of the class; the time of the aim, or 3 h, when left out.

    Raises:
        BadInput: a paper or length that is none.
    """
    format_ = paper_named(paper)
    lasts = _length(found, length)
    made = (
        found.page().encode(),
        class_pdf(found, key=False, paper=format_, benches=benches, length_s=lasts),
        class_pdf(found, key=True, paper=format_, benches=benches, length_s=lasts),
        to_text(found.to_json()).encode(),
    )
    return dict(zip(FILES, made, strict=True))


def _length(found: Lesson, length: str | None) -> float:
    if length is not None:
        asked = parse_quantity(length, "time", "--length").value
        if not asked > 0.0:
            raise BadInput("--length", length, 'a time above zero, such as "2 h 30 min"')
        return asked
    return found.ways.goal.time_s or _LENGTH
