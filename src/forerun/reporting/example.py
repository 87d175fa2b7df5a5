"""A ready run sheet, or the list of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from forerun.core.provenance import signed
from forerun.reporting.paper import Paper
from forerun.reporting.table import columns, wrapped

__all__ = ["Example", "ExampleList"]


@dataclass(frozen=True, slots=True)
class Example:
    """One ready run sheet.

    Args:
        name: by which it is found.
        title: as the sheet states it.
        sheet: its text, TOML.
    """

    name: str
    title: str
    sheet: str

    @property
    def warnings(self) -> tuple[str, ...]:
        """Nothing: a sheet alone is not judged."""
        return ()

    def to_json(self) -> dict[str, Any]:
        """Return name, title and text."""
        return signed({"name": self.name, "title": self.title, "sheet": self.sheet})

    def printed(self, paper: Paper) -> list[str]:
        """Return the sheet as it stands, so that it can be sent into a file."""
        return self.sheet.rstrip("\n").split("\n")


@dataclass(frozen=True, slots=True)
class ExampleList:
    """All ready run sheets: their names and titles."""

    entries: tuple[tuple[str, str], ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        """Nothing."""
        return ()

    def to_json(self) -> dict[str, Any]:
        """Return names and titles."""
        return signed(
            {"examples": [{"name": name, "title": title} for name, title in self.entries]}
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return a table and how to go on from it."""
        first = self.entries[0][0] if self.entries else "NAME"
        table = columns(("example", "what it is"), self.entries, paper, left=2)
        advice = (
            f"`forerun example {first}` prints one, `--out sheet.toml` writes it into a file, "
            f"`forerun foresee {first}` forecasts it."
        )
        return [*table, "", *wrapped(advice, paper)]
