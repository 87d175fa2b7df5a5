"""What only the person at the bench knows: purpose, lots, tests, waste; blank where not given."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from forerun.core.errors import BadInput

__all__ = ["NOTES", "Notes", "notes_from", "read_notes"]

NOTES: Mapping[str, str] = {
    "purpose": "purpose",
    "operator": "carried out by",
    "owner": "owner of the bottles",
    "date": "date",
    "place": "room and hood",
    "room": "room temperature",
    "barometer_raw": "barometer as read",
    "barometer": "barometer corrected",
    "thermometer": "thermometer, calibrated",
    "flask_tare": "flask, empty",
    "flask_gross": "flask, filled",
    "balance": "balance",
    "deviations": "deviations from the sheet",
    "waste": "waste: what went where",
    "checked_by": "checked by",
}
"""What may be noted, by its key, with the words that are printed."""

_CLOSING = ("deviations", "waste", "checked_by")


@dataclass(frozen=True, slots=True)
class Notes:
    """What was noted.

    Args:
        words: by the keys of `NOTES`; missing ones are printed as a line to write on.
        lots: lot, age and tests, by name of the substance.
    """

    words: Mapping[str, str] = field(default_factory=dict)
    lots: Mapping[str, str] = field(default_factory=dict)

    def opening(self) -> list[tuple[str, str]]:
        """Return the lines of the head of a record."""
        return [(w, self.words.get(k, "")) for k, w in NOTES.items() if k not in _CLOSING]

    def closing(self) -> list[tuple[str, str]]:
        """Return the lines of the foot of a record."""
        lines = [(NOTES[k], self.words.get(k, "")) for k in _CLOSING]
        return [*lines, ("signature, date", "")]


def read_notes(path: str | Path) -> Notes:
    """Read a file of notes.

    Args:
        path: TOML with any of the keys of `NOTES`, and a table ``lots``.

    Raises:
        BadInput: no such file, or a key that is not known.
    """
    try:
        found = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as problem:
        raise BadInput(
            "--notes", str(path), f"a TOML file that can be read ({problem})"
        ) from problem
    return notes_from(found)


def notes_from(table: Mapping[str, Any]) -> Notes:
    """Return notes from a table.

    Args:
        table: any of the keys of `NOTES`, and a table ``lots``.

    Raises:
        BadInput: a key that is not known, or lots that are no table.
    """
    lots = table.get("lots", {})
    if not isinstance(lots, Mapping):
        raise BadInput("lots", str(lots), "a table with a line for each substance")
    told = {key: value for key, value in table.items() if key != "lots"}
    for key, value in told.items():
        if key not in NOTES:
            raise BadInput(key, str(value), f"one of {', '.join(NOTES)}, lots")
    words = {key: " ".join(str(value).split()) for key, value in told.items()}
    return Notes(words, {str(k): " ".join(str(v).split()) for k, v in lots.items()})
