"""A run sheet from wherever the user has it."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # looking for them takes 0.02 s

from forerun.core.errors import BadInput
from forerun.sheets.examples import example, example_names
from forerun.sheets.model import RunSheet
from forerun.sheets.reading import LARGEST_SHEET
from forerun.sheets.resolving import load as load_sheet

__all__ = ["load", "sheet_from_words", "source_from_words", "text_of_sheet", "with_kept_passport"]

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
    return source if isinstance(source, RunSheet) else with_kept_passport(load_sheet(source))


def sheet_from_words(word: str) -> RunSheet:
    """Read the sheet that a command line names.

    Args:
        word: a path, ``-`` for standard input, or the name of an example.

    Raises:
        BadInput: no such file or example, or whatever the sheet itself has wrong.
    """
    if word == _STANDARD_INPUT:
        return load(sys.stdin.buffer.read(LARGEST_SHEET + 1))
    if word in example_names() and not Path(word).exists():
        return load(word)
    if not Path(word).exists():
        known = ", ".join(example_names())
        accepted = f'the path of a run sheet, "-" for standard input, or an example ({known})'
        raise BadInput("sheet", word, accepted)
    return load(Path(word))


def text_of_sheet(source: object) -> str:
    """Return a sheet as text, for the archive; empty where only its values are known.

    Args:
        source: whatever `load` takes.
    """
    if isinstance(source, bytes):
        return source.decode("utf-8", errors="replace")
    if isinstance(source, str) and ("\n" in source or "=" in source):
        return source
    if isinstance(source, str) and source in example_names() and not Path(source).exists():
        return example(source)
    if isinstance(source, str | Path) and Path(source).is_file():
        return Path(source).read_text("utf-8", errors="replace")
    return ""


def source_from_words(word: str) -> str | Path | bytes:
    """Return what `load` takes for a word of the command line, standard input read.

    Args:
        word: a path, ``-`` for standard input, or the name of an example.
    """
    if word == _STANDARD_INPUT:
        return sys.stdin.buffer.read(LARGEST_SHEET + 1)
    return word if word in example_names() and not Path(word).exists() else Path(word)


def with_kept_passport(sheet: RunSheet) -> RunSheet:
    """Return a sheet whose column has its measured values, where it names one that was measured.

    Args:
        sheet: read without a look into the library.
    """
    if not sheet.rig.passport:
        return sheet
    from forerun.records.library import open_store
    from forerun.reviewing.passport import with_passport

    with open_store() as store:
        kept = store.passports(sheet.rig.passport)
    return with_passport(sheet, kept[-1].data if kept else None)
