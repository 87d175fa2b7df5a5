"""What comes back from a class: the form of an answer, and what is read from one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from forerun.app.class_files import ANSWER, LOG, known_keys, table_of
from forerun.core.errors import BadInput
from forerun.core.quantities import parse_quantity
from forerun.records.readings import read_readings
from forerun.reviewing.marks import Dealt, Submission
from forerun.reviewing.marks_real import Expected
from forerun.sheets.model import RunSheet
from forerun.sheets.writing import toml_word

__all__ = ["ANSWERS", "answer_as_toml", "answer_from", "answer_text", "expected_of", "read_answer"]

ANSWERS = ("fault", "share", "unknown", "start", "end", "why")
"""What a student may say."""

_LONGEST = 4000  # characters of a student's words


def answer_text(dealt: Dealt) -> str:
    """Return the form that a student fills in.

    Args:
        dealt: what the student has.
    """
    questions = {
        "fault": "what goes wrong: "
        + "; ".join(f'"{name}" ({label})' for name, label in dealt.labels.items()),
        "share": f'{dealt.first} in the flask, such as "45 mol%"',
        "unknown": "the name of the unknown",
    }
    lines = [
        f"# {dealt.code}",
        *(f'{question} = ""  # {questions[question]}' for question in dealt.asked),
        f'start = ""  # when the receiver for {dealt.name} is put in place: distillate, "2 mL"',
        'end = ""  # when it is taken away: distillate, "20 mL", or vapour, "90 °C"',
        'why = """',
        '"""',
    ]
    return "\n".join(lines) + "\n"


def answer_as_toml(answer: Mapping[str, str]) -> str:
    """Return what a student has said as the file that `read_answer` reads.

    Args:
        answer: words by `ANSWERS`.
    """
    return "".join(f"{key} = {toml_word(answer[key])}\n" for key in ANSWERS if key in answer)


def read_answer(folder: Path) -> Submission:
    """Read what a student handed in.

    Args:
        folder: with the answer and the log.

    Raises:
        BadInput: no answer there, or one that cannot be used.
    """
    place, log = f"{folder.name}/{ANSWER}", folder / LOG
    found = answer_from(table_of(folder / ANSWER, place), place)
    read = read_readings(log, f"{folder.name}/{LOG}") if log.is_file() else None
    return replace(found, log=read)


def answer_from(table: Mapping[str, Any], place: str) -> Submission:
    """Return what a student has said, without the log.

    Args:
        table: words by `ANSWERS`.
        place: what it is called in messages.

    Raises:
        BadInput: something that cannot be used.
    """
    known_keys(table, ANSWERS, place)
    words = {key: str(value).strip() for key, value in table.items()}
    share = words.get("share", "")
    start_m3, start_K = _switch(words.get("start", ""), f"{place}: start")
    end_m3, end_K = _switch(words.get("end", ""), f"{place}: end")
    return Submission(
        fault=words.get("fault", ""),
        start_m3=start_m3,
        end_m3=end_m3,
        mole_fraction=_mole_fraction(share, f"{place}: share") if share else None,
        unknown=words.get("unknown", ""),
        why=words.get("why", "")[:_LONGEST],
        start_K=start_K,
        end_K=end_K,
    )


def expected_of(table: dict[str, Any], sheet: RunSheet, name: str) -> Expected:
    """Return what a bench said of its receiver before it was analysed.

    Args:
        table: its answer, as read.
        sheet: of its run.
        name: what the answer is called in messages.

    Raises:
        BadInput: an answer that cannot be used.
    """
    known_keys(table, ("receiver", "purity", "why"), name)
    receiver = table.get("receiver")
    if receiver is not None and (not isinstance(receiver, int) or isinstance(receiver, bool)):
        raise BadInput(f"{name}: receiver", receiver, "a number, such as 2")
    text = str(table.get("purity", "")).strip()
    return Expected(
        receiver,
        _purity(text, sheet.aim.purity_basis or "mol%", f"{name}: purity") if text else None,
        str(table.get("why", "")).strip()[:_LONGEST],
    )


def _purity(text: str, basis: str, field: str) -> float:
    found = parse_quantity(text, "strength", field)
    if not text.replace(" ", "").endswith(basis):
        raise BadInput(field, text, f'{basis}, as the aim of the sheet, such as "90 {basis}"')
    return found.value


def _switch(text: str, field: str) -> tuple[float, float | None]:
    """Return the volume of a switch [m3], or the temperature that decides it [K]."""
    found = parse_quantity(text, ("volume", "temperature"), field)
    if found.dimension == "temperature":
        return math.nan, found.value
    if found.value < 0.0:
        raise BadInput(field, text, "a volume from 0 mL on, or a temperature")
    return found.value, None


def _mole_fraction(text: str, field: str) -> float:
    found = parse_quantity(text, "strength", field)
    if not text.replace(" ", "").endswith("mol%"):
        raise BadInput(field, text, 'mol%, such as "45 mol%"')
    return found.value
