"""Plain tables: figures flush right, words flush left, nothing drawn but one rule."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Sequence

from forerun.reporting.paper import Paper

__all__ = ["bare_width", "columns", "paragraph", "shown_width", "wrapped"]

_GAP = "  "
_ESCAPES = re.compile("\x1b\\[[0-9;]*m")


def shown_width(text: str) -> int:
    """Return how many places a text takes in a line [-]; combining characters take none."""
    return sum(0 if unicodedata.combining(c) else 1 for c in text)


def bare_width(text: str) -> int:
    """Return how many places a text takes when its colours are left out [-]."""
    return shown_width(_ESCAPES.sub("", text))


def columns(
    head: Sequence[str], rows: Sequence[Sequence[str]], paper: Paper, *, left: int = 1
) -> list[str]:
    """Return the lines of a table.

    Args:
        head: titles of the columns.
        rows: cells, one sequence a row, as many as the titles.
        paper: where it is printed.
        left: how many columns from the left hold words; the others hold figures [-].

    Returns:
        One line for the titles, one for each row, none longer than its cells make it.
    """
    cells = [[paper.spelled(cell) for cell in row] for row in (head, *rows)]
    widths = [max(shown_width(row[k]) for row in cells) for k in range(len(head))]
    lines = []
    for number, row in enumerate(cells):
        text = _GAP.join(_padded(row[k], widths[k], k < left) for k in range(len(row))).rstrip()
        lines.append(paper.ink(text, "grey") if number == 0 else text)
    return lines


def _padded(cell: str, width: int, left: bool) -> str:
    room = " " * (width - shown_width(cell))
    return cell + room if left else room + cell


def wrapped(text: str, paper: Paper, *, mark: str = "", indent: int = 0) -> list[str]:
    """Return a sentence in lines that fit, with a mark before the first and room below it."""
    spelled = paper.spelled(mark)
    first = " " * indent + spelled
    return textwrap.wrap(
        paper.spelled(text),
        width=paper.width,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_long_words=False,
        break_on_hyphens=False,
    )


def paragraph(title: str, sentences: Sequence[str], paper: Paper, *inks: str) -> list[str]:
    """Return a titled list of sentences, or nothing when there is none to say."""
    if not sentences:
        return []
    lines = ["", paper.ink(paper.spelled(title), *inks)]
    for sentence in sentences:
        lines += wrapped(sentence, paper, mark="- ", indent=2)
    return lines
