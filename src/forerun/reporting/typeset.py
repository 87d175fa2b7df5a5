"""Pages by Typst: a template of ours, the words as data, our own font."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from forerun.core.errors import BadInput, CalculationFailed

__all__ = ["PAPERS", "paper_named", "typeset"]

PAPERS: Mapping[str, str] = {"a4": "a4", "letter": "us-letter"}
"""Formats of paper by the name that a command takes."""

_FOLDER = Path(__file__).parent / "print"


def typeset(template: str, data: Mapping[str, Any], **files: str) -> bytes:
    """Return a template filled with data, as a tagged PDF (PDF/UA-1).

    Args:
        template: its name, such as ``record``.
        data: plain values; nothing in it is ever read as markup.
        files: further texts by the name under which the template reads them, such as drawings.

    Returns:
        The PDF.

    Raises:
        CalculationFailed: the page could not be set.
    """
    import typst  # noqa: PLC0415 -- 30 MB that only printing needs

    inputs = {"data": json.dumps(dict(data), allow_nan=False), **files}
    try:
        made = typst.compile(
            str(_FOLDER / f"{template}.typ"),
            format="pdf",
            font_paths=[str(_FOLDER / "fonts")],
            ignore_system_fonts=True,
            sys_inputs=inputs,
            pdf_standards="ua-1",
        )
    except RuntimeError as problem:
        first = next(iter(str(problem).splitlines()), "no reason given")
        raise CalculationFailed("the page", first[:200], "Report it with the sheet.") from problem
    if not isinstance(made, bytes):
        raise CalculationFailed("the page", "no page came out", "Report it with the sheet.")
    return made


def paper_named(name: str) -> str:
    """Return the paper that a word means.

    Raises:
        BadInput: another format.
    """
    if name.casefold() not in PAPERS:
        raise BadInput("--paper", name, " or ".join(PAPERS))
    return PAPERS[name.casefold()]
