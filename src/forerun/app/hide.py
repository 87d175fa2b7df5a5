"""`forerun hide` and `forerun try`: a run with something hidden in it, for each of a class."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from pathlib import Path

from forerun.app.class_answers import answer_text
from forerun.app.class_files import (
    ANSWER,
    KEY,
    LOG,
    SHEET,
    STUDENTS,
    Key,
    key_text,
    log_text,
    numbers_from,
    read_key,
    task_text,
    told_of,
    write_into,
)
from forerun.app.progress import Progress
from forerun.app.ready import kernels_ready
from forerun.core.errors import BadInput
from forerun.core.quantities import parse_quantity
from forerun.reporting.class_hidden import HiddenClass, Tried
from forerun.reviewing.marks import WEIGHTS, Dealt
from forerun.running.mystery import Hidden, checked, code_of, deal, hideable
from forerun.sheets.model import RunSheet
from forerun.sheets.writing import toml_of

__all__ = ["dealt_of", "hidden_from_words", "hide", "tried"]

_Names = str | Sequence[str]


def hidden_from_words(
    sheet: RunSheet, share: str | None, faults: _Names | None, unknowns: _Names | None
) -> Hidden:
    """Return from what is drawn what is hidden, as a command line or a page says it.

    Args:
        sheet: of the class.
        share: mole per cent of the first component, ``"30-70"`` or ``"50"``; 30-70 if None.
        faults: a list, or names with commas between; all that the sheet can hide if None.
        unknowns: substances in the same way; none if None.

    Raises:
        BadInput: what cannot be read so.
    """
    ends = (share or "30-70").replace("mol%", "").split("-")
    if len(ends) > 2:
        raise BadInput("--share", share, 'mol%, such as "30-70" or "50"')
    low, high = (parse_quantity(f"{e.strip()} %", "share", "--share").value for e in (ends * 2)[:2])
    named = hideable(sheet) if faults is None else _names(faults)
    return Hidden((low, high), named, _names(unknowns or ""))


def _names(words: _Names) -> tuple[str, ...]:
    parts = words.split(",") if isinstance(words, str) else words
    return tuple(dict.fromkeys(part.strip() for part in parts if part.strip()))


def hide(
    sheet: RunSheet,
    out: str,
    *,
    students: str = "24",
    share: str | None = None,
    faults: _Names | None = None,
    unknowns: _Names | None = None,
    secret: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> HiddenClass:
    """Hide something in a run for every student, and write the files of the class.

    Args:
        sheet: of the class.
        out: folder for the key, with a folder for students in it.
        students: a count, or numbers such as ``1-12,31``.
        share: see `hidden_from_words`.
        faults: see `hidden_from_words`.
        unknowns: see `hidden_from_words`.
        secret: words that only the instructor knows; drawn by chance if None.
        progress: called with students done and all; a bar in the terminal if None.

    Returns:
        What is hidden, for the instructor.

    Raises:
        BadInput: what cannot be used, or a key there already.
    """
    numbers = numbers_from(students)
    folder = Path(out)
    if (folder / KEY).exists():
        raise BadInput("--out", out, "a folder without a key.toml; another key deals other runs")
    kernels_ready()
    hidden = hidden_from_words(sheet, share, faults, unknowns)
    checked(sheet, hidden)
    words = secrets.token_urlsafe(12) if secret is None else secret
    if not words:
        raise BadInput("--secret", words, "at least one letter")
    key = Key(words, sheet, numbers, hidden, dict(WEIGHTS))
    dealt = []
    with Progress(f"running {len(numbers)} benches") as bar:
        for done, number in enumerate(numbers, 1):
            dealt.append(deal(sheet, number, words, hidden))
            (progress or bar)(done, len(numbers))
    sheet_file = toml_of(sheet, as_written=True)
    key_file = key_text(key, [told_of(one) for one in dealt])
    written = write_into(folder, {KEY: key_file, SHEET: sheet_file})
    for one in dealt:
        given = {
            "task.txt": task_text(key, one.code),
            SHEET: sheet_file,
            LOG: log_text(one.log),
            ANSWER: answer_text(one),
        }
        write_into(folder / STUDENTS / one.code, given)
    return HiddenClass(sheet.title, tuple(dealt), (*written, str(folder / STUDENTS)))


def dealt_of(key: Key, number: int, plan: RunSheet | None = None) -> Dealt:
    """Return a student's run again.

    Args:
        key: of the class.
        number: of the student.
        plan: a sheet whose programme is driven instead; its charge and glass do not count.

    Raises:
        BadInput: a number that is not in the key.
    """
    if number not in key.students:
        known = ", ".join(code_of(n) for n in key.students)
        raise BadInput("student", code_of(number), f"one of {known}")
    programme = None if plan is None else plan.programme
    return deal(key.sheet, number, key.secret, key.hidden, programme=programme)


def tried(key_file: str, student: str, plan: RunSheet | None, out: str) -> Tried:
    """Run a student's bench, driven as they plan it, and write the log.

    Args:
        key_file: the instructor's.
        student: code or number.
        plan: see `dealt_of`.
        out: the CSV file.

    Raises:
        BadInput: what cannot be used.
    """
    number = student.strip().upper().removeprefix("S")
    if not number.isdecimal() or len(number) > 4:
        raise BadInput("student", student, 'a number or a code, such as "S07"')
    if Path(out).suffix.lower() != ".csv":
        raise BadInput("--out", out, 'a file name that ends in .csv, such as "log.csv"')
    kernels_ready()
    found = dealt_of(read_key(key_file), int(number), plan)
    (written,) = write_into(Path(out).parent, {Path(out).name: log_text(found.log)})
    return Tried(found.code, found.log, written)
