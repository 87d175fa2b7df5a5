"""A run sheet from wherever the user has it."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # looking for them takes 0.02 s

from forerun.core.errors import BadInput
from forerun.sheets.examples import example_names
from forerun.sheets.model import RunSheet
from forerun.sheets.reading import LARGEST_SHEET
from forerun.sheets.resolving import load as load_sheet

__all__ = ["load", "sheet_from_words"]

_STANDARD_INPUT = "-"


def load(source: str | Path | bytes | Mapping[str, Any] | RunSheet) -> RunSheet:
    """Read a run sheet.

    Args:
        source: a path, the name of an example, the text of a sheet, its bytes, a table with the
            same keys, or a sheet that has been read already.

    Returns:
        The sheet with every default named.

    Raises:
        BadInput: whatever cannot be used, with field, value and what is accepted.
    """
    return source if isinstance(source, RunSheet) else load_sheet(source)


def sheet_from_words(word: str) -> RunSheet:
    """Read the sheet that a command line names.

    Args:
        word: a path, ``-`` for standard input, or the name of an example.

    Raises:
        BadInput: no such file or example, or whatever the sheet itself has wrong.
    """
    if word == _STANDARD_INPUT:
        return load_sheet(sys.stdin.buffer.read(LARGEST_SHEET + 1))
    if word in example_names() and not Path(word).exists():
        return load_sheet(word)
    if not Path(word).exists():
        known = ", ".join(example_names())
        accepted = f'the path of a run sheet, "-" for standard input, or an example ({known})'
        raise BadInput("sheet", word, accepted)
    return load_sheet(Path(word))
