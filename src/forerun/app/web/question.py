"""What a path of the interface is: from the table that was sent to the answer's object."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["SHEET", "Ask", "Progress", "Question"]

Progress = Callable[[int, int], None]
Ask = Callable[[dict[str, Any], Progress | None], dict[str, Any]]

SHEET: Mapping[str, Any] = {
    "description": "a run sheet: a table with the keys of the TOML, or the TOML as text",
    "oneOf": [{"$ref": "#/components/schemas/SheetForm"}, {"type": "string"}],
}
"""How a run sheet is sent, as a JSON Schema."""


@dataclass(frozen=True, slots=True)
class Question:
    """One path of the interface.

    Args:
        name: the last part of its path, and the command of the same name.
        summary: what it answers, in one line.
        ask: from the table that was sent, and what is told of progress, to the answer's object.
        takes: the keys that may be sent, each with its JSON Schema.
        needs: those that must be.
        example: a table to send.
        command: that prints the same, where it is not that of the name.
        says: what is answered, where no command prints the same.
        long: whether it tells how far it is, as a stream of events.
    """

    name: str
    summary: str
    ask: Ask
    takes: Mapping[str, Mapping[str, Any]]
    needs: tuple[str, ...]
    example: Mapping[str, Any]
    command: str = ""
    says: str = ""
    long: bool = False
