"""Tables from files that people and instruments wrote: any separator, decimal point or comma."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from forerun.core.errors import BadInput

__all__ = ["Flag", "Table", "number_from", "read_table"]

_PREAMBLE = 60  # lines that an instrument may write above its headings
_LARGEST = 64 * 1024 * 1024  # bytes; a week at 10 Hz
_SEPARATORS = (";", "\t", ",")
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?")
_MINUS = str.maketrans({"\N{MINUS SIGN}": "-", "\N{NO-BREAK SPACE}": "", "\N{THIN SPACE}": ""})


@dataclass(frozen=True, slots=True)
class Flag:
    """A cell or row that was not used as it stands; nothing is dropped without one.

    Args:
        row: line of the file, the first being 1.
        column: its heading; empty when the whole row is meant.
        value: what stands there.
        accepted: what would have been used.
    """

    row: int
    column: str
    value: str
    accepted: str

    def __str__(self) -> str:
        where = f"row {self.row}" + (f", {self.column}" if self.column else "")
        return f'{where}: "{self.value[:60]}" was not used; accepted: {self.accepted}.'


@dataclass(frozen=True, slots=True)
class Table:
    """A file as rows of cells under headings.

    Args:
        columns: headings in small letters, in order.
        rows: line of the file [-] and the cells by heading.
        flags: rows that do not fit the headings.
        text: the file as it was read, for the archive.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[int, dict[str, str]], ...]
    flags: tuple[Flag, ...] = ()
    text: str = field(default="", repr=False)


def read_table(
    source: str | Path | bytes, name: str, begins: Callable[[Sequence[str]], bool] | None = None
) -> Table:
    """Read a table with a line of headings.

    Args:
        source: a path, the text itself (it has a line break), or its bytes.
        name: what the file is, for messages, e.g. ``--readings``.
        begins: whether a line, its cells in small letters, is that of the headings; what an
            instrument writes above them is passed over. Left out, or true of none of the first
            lines, the headings are the first.

    Returns:
        The rows; lines that are empty or begin with # are passed over.

    Raises:
        BadInput: no such file, too large, not text, or without headings.
    """
    text = _text(source, name)
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise BadInput(name, "an empty file", "a table with a line of headings")
    lines = lines[_headings(lines, begins) :]
    separator = max(_SEPARATORS, key=lines[0][1].count)
    columns = tuple(cell.strip().casefold() for cell in _cells(lines[0][1], separator))
    if len(set(columns)) < len(columns):
        raise BadInput(name, lines[0][1], "headings that are all different")
    rows, flags = [], []
    for number, line in lines[1:]:
        cells = [cell.strip() for cell in _cells(line, separator)]
        if len(cells) > len(columns) and any(cells[len(columns) :]):
            flags.append(Flag(number, "", line, _too_many(len(columns), separator)))
            continue
        cells += [""] * (len(columns) - len(cells))
        rows.append((number, dict(zip(columns, cells, strict=False))))
    return Table(columns, tuple(rows), tuple(flags), text)


def _headings(
    lines: Sequence[tuple[int, str]], begins: Callable[[Sequence[str]], bool] | None
) -> int:
    """Return the index of the line of headings."""
    for k, (_, line) in enumerate(lines[:_PREAMBLE] if begins is not None else ()):
        separator = max(_SEPARATORS, key=line.count)
        if begins is not None and begins([c.strip().casefold() for c in _cells(line, separator)]):
            return k
    return 0


def _too_many(columns: int, separator: str) -> str:
    advice = "; with decimal commas, part the columns by semicolons" if separator == "," else ""
    return f"{columns} cells, as in the headings{advice}"


def _cells(line: str, separator: str) -> list[str]:
    return next(csv.reader(io.StringIO(line), delimiter=separator), [])


def _text(source: str | Path | bytes, name: str) -> str:
    if isinstance(source, bytes):
        return _decoded(source, name)
    if isinstance(source, str) and ("\n" in source or "\r" in source):
        return source.removeprefix("\ufeff")
    path = Path(source)
    try:
        if path.stat().st_size > _LARGEST:
            raise BadInput(name, str(path), f"a file of at most {_LARGEST // 2**20} MB")
        return _decoded(path.read_bytes(), name)
    except OSError as problem:
        reason = (problem.strerror or type(problem).__name__).lower()
        raise BadInput(name, str(source), f"a file that can be read ({reason})") from problem


def _decoded(data: bytes, name: str) -> str:
    if data[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        encodings: tuple[str, ...] = ("utf-16",)
    else:
        encodings = ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise BadInput(name, "a file that is not text", "a table as text, such as CSV")


def number_from(cell: str) -> float | None:
    """Return a number written with decimal point or comma, or None for anything else.

    Args:
        cell: text of one cell.

    Returns:
        A finite number; None also for nan, inf and text.
    """
    tidy = cell.strip().translate(_MINUS)
    if not _NUMBER.fullmatch(tidy):
        return None
    value = float(tidy.replace(",", "."))
    return value if math.isfinite(value) else None
