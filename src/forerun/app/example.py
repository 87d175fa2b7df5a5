"""`forerun example`: ready run sheets."""

from __future__ import annotations

import tomllib

from forerun.reporting.example import Example, ExampleList
from forerun.sheets.examples import example as sheet_text
from forerun.sheets.examples import example_names

__all__ = ["DEMO", "example", "listed_examples"]

DEMO = "workshop-blend"
"""The scenario of `forerun demo`."""


def example(name: str) -> Example:
    """Return a ready run sheet.

    Args:
        name: of the example; ``demo`` is the one that `forerun demo` tells.

    Raises:
        BadInput: no such example.
    """
    known = DEMO if name == "demo" else name
    text = sheet_text(known)
    return Example(known, _title(text), text)


def listed_examples() -> ExampleList:
    """Return names and titles of all ready run sheets."""
    return ExampleList(tuple((known, _title(sheet_text(known))) for known in example_names()))


def _title(text: str) -> str:
    return str(tomllib.loads(text).get("title", ""))
