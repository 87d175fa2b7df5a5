"""Files of a class with hidden runs: the instructor's key, and what a student gets."""

from __future__ import annotations

import json
import math
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from forerun.app.sheet import load
from forerun.core.errors import BadInput
from forerun.core.quantities import format_fraction, format_volume
from forerun.planning.aims import goal_of
from forerun.records.readings import Readings
from forerun.reporting.tables_csv import csv_text
from forerun.reviewing.marks import WEIGHTS, Dealt
from forerun.running.mystery import Hidden
from forerun.sheets.model import RunSheet

__all__ = [
    "ANSWER",
    "BENCH_CODE",
    "KEY",
    "LOG",
    "PLAN",
    "SHEET",
    "STUDENTS",
    "Key",
    "key_from_object",
    "key_object",
    "key_text",
    "known_keys",
    "log_text",
    "numbers_from",
    "read_key",
    "read_weights",
    "table_of",
    "task_lines",
    "task_text",
    "told_of",
    "weights_from",
    "write_into",
]

ANSWER, LOG, PLAN, SHEET = "answer.toml", "log.csv", "plan.toml", "sheet.toml"
"""Names of the files in a student's folder."""
KEY, STUDENTS = "key.toml", "students"
"""Names of the instructor's file and of the folder that is handed out."""
BENCH_CODE = re.compile(r"[A-Za-z]{0,4}-?\d{1,4}")
"""Of a bench; never the name of anybody."""

_LARGEST = 200_000  # bytes
_MOST = 400  # students
_LONGEST = 4000  # characters of a student's words
_ZERO_K = 273.15
# heading of a log: channel, its zero, factor and decimals
_COLUMNS: Mapping[str, tuple[str, float, float, int]] = {
    "head_C": ("head_K", _ZERO_K, 1.0, 1),
    "pot_C": ("pot_K", _ZERO_K, 1.0, 1),
    "bath_C": ("bath_K", _ZERO_K, 1.0, 1),
    "pressure_mbar": ("pressure_Pa", 0.0, 1e-2, 2),
    "distillate_mL": ("distillate_m3", 0.0, 1e6, 1),
}


@dataclass(frozen=True, slots=True)
class Key:
    """What only the instructor has.

    Args:
        secret: words from which everything hidden follows.
        sheet: of the class.
        students: their numbers.
        hidden: from what is drawn.
        weights: of the marks.
    """

    secret: str
    sheet: RunSheet
    students: tuple[int, ...]
    hidden: Hidden
    weights: Mapping[str, float]


def numbers_from(words: str, field: str = "--students") -> tuple[int, ...]:
    """Return the numbers that a text names, such as ``24`` (1 to 24) or ``1-12,31``.

    Args:
        words: a count, or numbers and ranges with commas between.
        field: what the text is called in messages.

    Raises:
        BadInput: no such text, or more than 400.
    """
    accepted = f'a count up to {_MOST}, or numbers such as "1-12,31"'
    if re.fullmatch(r"\d{1,4}", words.strip()):
        words = f"1-{words.strip()}"
    found: list[int] = []
    for part in words.split(","):
        match = re.fullmatch(r"\s*(\d{1,4})(?:\s*-\s*(\d{1,4}))?\s*", part)
        if match is None:
            raise BadInput(field, words, accepted)
        found += range(int(match[1]), int(match[2] or match[1]) + 1)
    numbers = tuple(sorted(set(found)))
    if not numbers or numbers[0] < 1 or len(numbers) > _MOST:
        raise BadInput(field, words, accepted)
    return numbers


def key_text(key: Key, told: Sequence[str]) -> str:
    """Return the instructor's file.

    Args:
        key: what is in it.
        told: what is hidden, a line for each student, which becomes a comment.
    """
    low, high = key.hidden.share
    lines = [
        "# For the instructor alone: everything hidden follows from these lines.",
        "# Weights may be changed until the marks are given; a change above them deals anew.",
        f"secret = {json.dumps(key.secret)}",
        f"sheet = {json.dumps(SHEET)}",
        f"students = {list(key.students)}",
        "",
        "[hidden]",
        f"share = [{low:g}, {high:g}]",
        f"faults = {json.dumps(list(key.hidden.faults))}",
        f"unknowns = {json.dumps(list(key.hidden.unknowns))}",
        "",
        "[weights]",
        *(f"{part} = {share:g}" for part, share in key.weights.items()),
        "",
        "# What is hidden:",
        *(f"# {line}" for line in told),
    ]
    return "\n".join(lines) + "\n"


def told_of(dealt: Dealt) -> str:
    """Return what is hidden in a run in one line, for the instructor.

    Args:
        dealt: the run.
    """
    share = format_fraction(dealt.mole_fraction, "mol%", 0.01)
    unknown = f", {dealt.unknown}" if dealt.unknown else ""
    return f"{dealt.code}: {share} {dealt.first}{unknown}, {dealt.labels[dealt.fault]}"


def read_key(path: str | Path) -> Key:
    """Read the instructor's file and the sheet beside it.

    Args:
        path: of the key.

    Raises:
        BadInput: no such file, or a line that cannot be used.
    """
    place = Path(path)
    table = table_of(place, "key")
    known_keys(table, ("secret", "sheet", "students", "hidden", "weights"), "key")
    sheet = place.parent / str(table.pop("sheet", SHEET))
    return key_from_object(table, lambda: load(sheet))


def key_object(key: Key) -> dict[str, Any]:
    """Return a key without its sheet as plain things, from which all that is hidden follows."""
    hidden = {
        "share": list(key.hidden.share),
        "faults": list(key.hidden.faults),
        "unknowns": list(key.hidden.unknowns),
    }
    return {
        "secret": key.secret,
        "students": list(key.students),
        "hidden": hidden,
        "weights": dict(key.weights),
    }


def key_from_object(table: Mapping[str, Any], sheet: Callable[[], RunSheet]) -> Key:
    """Return a key from plain things.

    Args:
        table: as `key_object` returns it, or a key file without its sheet.
        sheet: reads the sheet of the class, once the rest is found right.

    Raises:
        BadInput: something that cannot be used.
    """
    known_keys(table, ("secret", "students", "hidden", "weights"), "key")
    secret, students = table.get("secret"), table.get("students")
    if not isinstance(secret, str) or not secret:
        raise BadInput("key: secret", secret, "words in quotes")
    if not _is_list(students, int) or not students:
        raise BadInput("key: students", students, "a list of numbers")
    hidden, weights = table.get("hidden", {}), table.get("weights", dict(WEIGHTS))
    return Key(
        secret,
        sheet(),
        tuple(sorted(set(students))),
        _hidden(hidden),
        _weights(weights),
    )


def read_weights(path: str | Path | None) -> Mapping[str, float]:
    """Return the weights of the marks as a file has them in ``[weights]``.

    Args:
        path: of a key, or of a file with nothing else in it; None for ours.

    Raises:
        BadInput: no such file, or weights that cannot be used.
    """
    if path is None:
        return dict(WEIGHTS)
    return weights_from(table_of(Path(path), "--weights").get("weights"), "--weights")


def weights_from(table: object, field: str) -> Mapping[str, float]:
    """Return the weights of the marks.

    Args:
        table: a share for each part; what is left out counts nothing.
        field: what it is called in messages.

    Raises:
        BadInput: weights that cannot be used.
    """
    found = _weights(table, field)
    if min(found.values()) < 0.0 or not sum(found.values()) > 0.0:
        raise BadInput(field, dict(found), "shares, none below zero, not all zero")
    return found


def _hidden(table: object) -> Hidden:
    if not isinstance(table, Mapping):
        raise BadInput("key: hidden", table, "a table with share, faults, unknowns")
    known_keys(table, ("share", "faults", "unknowns"), "key: hidden")
    share = table.get("share", [0.3, 0.7])
    if not _is_list(share, (int, float)) or len(share) != 2:
        raise BadInput("key: hidden.share", share, "two mole fractions, such as [0.3, 0.7]")
    names = {}
    for word in ("faults", "unknowns"):
        names[word] = table.get(word, [])
        if not _is_list(names[word], str):
            raise BadInput(f"key: hidden.{word}", names[word], "a list of names in quotes")
    faults, unknowns = tuple(names["faults"]) or ("none",), tuple(names["unknowns"])
    return Hidden((float(share[0]), float(share[1])), faults, unknowns)


def _weights(table: object, field: str = "key: weights") -> Mapping[str, float]:
    known = ", ".join(WEIGHTS)
    if not isinstance(table, Mapping) or not _is_list(list(table.values()), (int, float)):
        raise BadInput(field, table, f"numbers for {known}")
    known_keys(table, tuple(WEIGHTS), field)
    return {part: float(table.get(part, 0.0)) for part in WEIGHTS}


def _is_list(value: object, kind: type | tuple[type, ...]) -> bool:
    return isinstance(value, list) and all(
        isinstance(v, kind) and not isinstance(v, bool) for v in value
    )


def known_keys(table: Mapping[str, Any], keys: Sequence[str], field: str) -> None:
    """Refuse a table with any other key.

    Args:
        table: as read.
        keys: those that it may have.
        field: what the table is called in messages.

    Raises:
        BadInput: another key.
    """
    for key in table:
        if key not in keys:
            raise BadInput(f"{field}.{key}", key, f"one of {', '.join(keys)}")


def table_of(source: Path | bytes, name: str) -> dict[str, Any]:
    """Return what a small TOML file says.

    Args:
        source: path of the file, or what is in it.
        name: what it is called in messages.

    Raises:
        BadInput: a file that cannot be read, or is no TOML.
    """
    raw = source if isinstance(source, bytes) else _read(source, name)
    if len(raw) > _LARGEST:
        raise BadInput(name, f"{len(raw)} bytes", "a file of at most 200 kB")
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as problem:
        raise BadInput(name, name.rpartition("/")[2], f"TOML in UTF-8 ({problem})") from problem


def _read(path: Path, name: str) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(_LARGEST + 1)
    except OSError as problem:
        reason = (problem.strerror or type(problem).__name__).lower()
        raise BadInput(name, path.name, f"a file that can be read ({reason})") from problem


def log_text(log: Readings) -> str:
    """Return a log as a student gets it: as displays show it, without what nobody reads."""
    used = {head: column for head, column in _COLUMNS.items() if log.has(column[0])}
    rows = [
        [
            f"{row.time_s:g}",
            *(_cell(getattr(row, how[0]), *how[1:]) for how in used.values()),
            row.remark,
        ]
        for row in log.rows
    ]
    return csv_text(("time_s", *used, "remark"), rows)


def _cell(value: float, zero: float, factor: float, decimals: int) -> str:
    return "" if math.isnan(value) else f"{(value - zero) * factor:.{decimals}f}"


def task_lines(key: Key) -> list[str]:
    """Return what is in the flask and what is wanted, in sentences that give nothing away.

    Args:
        key: of the class.
    """
    goal, sheet, hidden = goal_of(key.sheet), key.sheet, key.hidden
    volume = format_volume(sum(p.volume_m3 for p in sheet.charge))
    names = [*sheet.names]
    if hidden.unknowns:
        names[-1] = f"one of {', '.join(hidden.unknowns)}" if len(hidden.unknowns) > 1 else (
            hidden.unknowns[0]
        )  # fmt: skip
    low, high = (format_fraction(x, "mol%", 0.01) for x in hidden.share)
    return [
        f"In the flask: {volume} of {' and '.join(names)}, mixed.",
        f"Of it {names[0]}: between {low} and {high}.",
        f"Wanted: as much {goal.name} as you can get in one receiver that is "
        f"{format_fraction(goal.purity, goal.basis)} pure.",
    ]


def task_text(key: Key, code: str) -> str:
    """Return what a student is told, in words that give nothing away.

    Args:
        key: of the class.
        code: of the student.
    """
    lines = [
        f"{code}: a run with something hidden in it",
        "",
        *task_lines(key),
        "",
        f"{SHEET} has the glass and the programme; its amounts are a guess for you to change.",
        f"{LOG} is what the bench read. Hand it in as it is.",
        f"Decide, write it into {ANSWER}, and say why. Where a temperature decides, write the "
        "temperature: nobody loses by the thermometer that they were handed.",
        "To drive the run otherwise, change [programme] and hand your sheet in as "
        f"{PLAN}; ask for the log that it gives.",
    ]
    return "\n".join(lines) + "\n"


def write_into(folder: Path, files: Mapping[str, str], field: str = "--out") -> list[str]:
    """Write files into a folder that is made where it is not there; return their names.

    Args:
        folder: where.
        files: text by name.
        field: what the folder is called in messages.

    Raises:
        BadInput: the folder cannot be made or written.
    """
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            aside = folder / f"{name}.part"
            aside.write_text(text, encoding="utf-8", newline="")
            aside.replace(folder / name)
            written.append(str(folder / name))
    except OSError as problem:
        reason = (problem.strerror or type(problem).__name__).lower()
        raise BadInput(field, str(folder), f"a folder that can be written ({reason})") from problem
    return written
