"""The folder of a sweep: its plan, finished parts, the table of results, the front."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping, Sequence
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from forerun.core.cells import harmless
from forerun.core.errors import BadInput
from forerun.planning.sweep_plan import SweepPlan

__all__ = ["SweepStore"]

_FORMAT = 1


class SweepStore:
    """What is kept of a sweep; a part is there whole or not at all.

    Args:
        folder: of this sweep alone; made when it is not there.
        plan: what is run.

    Raises:
        BadInput: the folder holds another sweep, or cannot be written.
    """

    def __init__(self, folder: Path, plan: SweepPlan) -> None:
        self.folder, self.plan = folder, plan
        self._parts = folder / "parts"
        note = folder / "sweep.json"
        mine = {"format": _FORMAT, "fingerprint": plan.fingerprint(), "points": plan.points}
        try:
            if note.exists():
                found = json.loads(note.read_text(encoding="utf-8"))
                if {key: found.get(key) for key in mine} != mine:
                    raise BadInput("--out", str(folder), "a new folder; this holds another sweep")
            elif folder.exists() and any(folder.iterdir()):
                raise BadInput("--out", str(folder), "a new or empty folder")
            self._parts.mkdir(parents=True, exist_ok=True)
            vary = {v.key: list(v.values) for v in plan.vary}
            _write(note, json.dumps({**mine, "vary": vary}, indent=1))
        except (OSError, json.JSONDecodeError) as problem:
            raise BadInput("--out", str(folder), f"a folder to write in ({problem})") from problem

    def keep(self, rows: Sequence[Mapping[str, Any]]) -> None:
        """Store a finished part under the number of its first point."""
        _write(self._parts / f"{rows[0]['point']:07d}.json", json.dumps(list(rows)))

    def rows(self) -> dict[int, dict[str, Any]]:
        """Return every finished point by its number."""
        found: dict[int, dict[str, Any]] = {}
        for part in sorted(self._parts.glob("*.json")):
            for row in json.loads(part.read_text(encoding="utf-8")):
                found[int(row["point"])] = row
        return found

    def write_results(self, rows: Sequence[Mapping[str, Any]]) -> tuple[str, str | None]:
        """Write the table; return its name and, where it is no Parquet, a sentence why."""
        if find_spec("pyarrow") is None:
            name = self.folder / "results.csv"
            aside = name.with_suffix(".part")
            with aside.open("w", newline="", encoding="utf-8") as file:
                writer = csv.writer(file)
                writer.writerow([harmless(key) for key in rows[0]])
                writer.writerows([harmless(row[key]) for key in rows[0]] for row in rows)
            aside.replace(name)
            told = 'Results are CSV: pip install "forerun[sweep]" brings what writes Parquet.'
            return str(name), told
        pa: Any = import_module("pyarrow")
        parquet: Any = import_module("pyarrow.parquet")
        name = self.folder / "results.parquet"
        aside = name.with_suffix(".part")
        columns = {key: pa.array(_one_kind([row[key] for row in rows])) for key in rows[0]}
        parquet.write_table(pa.table(columns), aside)
        aside.replace(name)
        return str(name), None

    def write_front(self, drawing: str) -> str:
        """Write the drawing of the front and return its name."""
        name = self.folder / "front.svg"
        _write(name, drawing)
        return str(name)


def _one_kind(values: list[Any]) -> list[Any]:
    """Return a column in which numbers and texts are not mixed."""
    kinds = {str if isinstance(v, str) else float for v in values if v is not None}
    if kinds == {str, float}:
        return [None if v is None else str(v) for v in values]
    whole = all(isinstance(v, int) for v in values)
    if kinds == {float} and not whole:
        return [None if v is None else float(v) for v in values]
    return values


def _write(name: Path, text: str) -> None:
    aside = name.with_suffix(".part")
    aside.write_text(text, encoding="utf-8")
    aside.replace(name)
