"""A CSV file that grows while some other program writes it."""

from __future__ import annotations

import csv
import os
from collections.abc import Mapping, Sequence
from pathlib import Path

from forerun.core.errors import BadInput
from forerun.records.readings import HEADINGS
from forerun.running.sources.interface import Row, SourceLost

__all__ = ["CsvTail", "csv_tail"]

_LONGEST = 4000  # characters of a line
_AT_ONCE = 1 << 20  # bytes
_KNOWN = {name.lower(): name for name in (*HEADINGS, "time_s", "time_min", "time", "remark")}


def csv_tail(address: str, options: Mapping[str, str]) -> CsvTail:
    """Return the source for a file.

    Args:
        address: of the file.
        options: none.

    Raises:
        BadInput: any option.
    """
    if options:
        raise BadInput("--from", "?".join([address, *options]), "a CSV file without options")
    return CsvTail(Path(address))


class CsvTail:
    """Reads what is added to a file; begun anew where the file is.

    Args:
        path: of the file; its first line holds headings, as `forerun.records.readings` takes them.
    """

    by_hand = False

    def __init__(self, path: Path) -> None:
        self.name = path.name
        self._path = path
        self._at = 0
        self._file_id: tuple[int, int] | None = None
        self._rest = b""
        self._headings: list[str] = []
        self._delimiter = ","

    def open(self) -> None:
        """Look whether the file is there.

        Raises:
            SourceLost: it is not.
        """
        self._state()

    def close(self) -> None:
        """Nothing is kept open between two looks."""

    def read(self) -> Sequence[Row]:
        """Return the rows of all whole lines that were added.

        Raises:
            SourceLost: the file is gone.
        """
        state = self._state()
        if (state.st_dev, state.st_ino) != self._file_id or state.st_size < self._at:
            self._file_id = (state.st_dev, state.st_ino)
            self._at, self._rest, self._headings = 0, b"", []
        try:
            with self._path.open("rb") as file:
                file.seek(self._at)
                added = file.read(_AT_ONCE)
        except OSError as problem:
            raise SourceLost(_reason(problem)) from problem
        self._at += len(added)
        *lines, self._rest = (self._rest + added).split(b"\n")
        rows = [self._row(line.decode("utf-8-sig", "replace").rstrip("\r")) for line in lines]
        return [row for row in rows if row]

    def _state(self) -> os.stat_result:
        try:
            return self._path.stat()
        except OSError as problem:
            self._file_id = None  # what comes back under this name is another file
            raise SourceLost(_reason(problem)) from problem

    def _row(self, line: str) -> Row:
        if not line.strip() or line.startswith("#"):
            return {}
        if len(line) > _LONGEST:
            return {"remark": f"line not understood: {line[:200]}"}
        if not self._headings:
            self._delimiter = ";" if ";" in line else ","
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=self._delimiter))]
        if not self._headings:
            if not any(cell.lower() in _KNOWN for cell in cells):
                return {"remark": f"no headings in {self.name}: {line[:200]}"}
            self._headings = [_KNOWN.get(cell.lower(), cell) for cell in cells]
            return {}
        if len(cells) > len(self._headings):
            return {"remark": f"line not understood: {line[:200]}"}
        row: dict[str, str | float]
        row = {heading: cell for heading, cell in zip(self._headings, cells, strict=False) if cell}
        minutes = row.pop("time_min", None)
        if minutes is not None:
            row["time_s"] = _seconds(str(minutes))
        return row


def _seconds(minutes: str) -> str | float:
    try:
        return 60.0 * float(minutes.replace(",", "."))
    except ValueError:
        return minutes  # the run flags it


def _reason(problem: OSError) -> str:
    return (problem.strerror or type(problem).__name__).lower()
