"""Answers to the screen and into files."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from forerun.core.errors import BadInput
from forerun.core.provenance import signed
from forerun.reporting.paper import Paper, paper_for
from forerun.reporting.plain import to_text

if TYPE_CHECKING:
    from forerun.reporting.advise import Counsel

__all__ = [
    "Answer",
    "card_and_drawing",
    "check_card_name",
    "check_drawing_name",
    "check_new_name",
    "check_table_name",
    "show",
    "write_drawing",
    "write_new",
    "write_table",
]

_CARDS = (".txt", ".svg", ".pdf")


class Answer(Protocol):
    """What every command returns."""

    @property
    def warnings(self) -> Sequence[str]:
        """Sentences that the user should read."""

    def to_json(self) -> dict[str, Any]:
        """Return the object that the contract promises."""

    def printed(self, paper: Paper) -> list[str]:
        """Return the lines for a person."""


def show(answer: Answer, *, as_json: bool, written: str | None = None) -> None:
    """Print an answer.

    Args:
        answer: what was found.
        as_json: one JSON object on stdout and the warnings on stderr, instead of text.
        written: name of a file that holds the drawing or sheet, if one was written.
    """
    told = paper_for(sys.stderr)
    if as_json:
        print(to_text(signed(answer.to_json())))
        for warning in answer.warnings:
            print(told.spelled(f"look out: {warning}"), file=sys.stderr)
    else:
        print("\n".join(answer.printed(paper_for(sys.stdout))))
    if written is not None:
        print(told.spelled(f"written: {written}"), file=sys.stderr)
    sys.stdout.flush()


def check_drawing_name(name: str | None) -> None:
    """Look at the name of a drawing before anything is computed.

    Raises:
        BadInput: it does not end in .svg, or its folder does not exist.
    """
    if name is None:
        return
    if Path(name).suffix.lower() != ".svg":
        raise BadInput("--out", name, 'a file name that ends in .svg, such as "curve.svg"')
    if not Path(name).parent.is_dir():
        raise BadInput("--out", name, "a file in a folder that exists")


def write_drawing(name: str, drawing: str) -> str:
    """Write an SVG file and return its name.

    Raises:
        BadInput: as `check_drawing_name`, or the file cannot be written.
    """
    check_drawing_name(name)
    return _written(name, drawing)


def check_table_name(name: str | None) -> None:
    """Look at the name of a table before anything is computed.

    Raises:
        BadInput: it does not end in .csv, or its folder does not exist.
    """
    if name is None:
        return
    if Path(name).suffix.lower() != ".csv":
        raise BadInput("--out", name, 'a file name that ends in .csv, such as "table.csv"')
    if not Path(name).parent.is_dir():
        raise BadInput("--out", name, "a file in a folder that exists")


def write_table(name: str, table: str) -> str:
    """Write a CSV file and return its name.

    Raises:
        BadInput: as `check_table_name`, or the file cannot be written.
    """
    check_table_name(name)
    return _written(name, table)


def check_card_name(name: str | None, paper: str = "a4") -> tuple[str, str]:
    """Look at the name of a bench card before anything is computed.

    Args:
        name: of the file, None for none.
        paper: its size, as a command takes it.

    Returns:
        The ending of the name, empty for none, and the paper.

    Raises:
        BadInput: another ending, a folder that does not exist, or another paper.
    """
    from forerun.reporting.typeset import paper_named

    size = paper_named(paper)
    if name is None:
        return "", size
    ending = Path(name).suffix.lower()
    if ending not in _CARDS:
        accepted = 'a file name that ends in .txt, .svg or .pdf, "card.pdf"'
        raise BadInput("--card", name, accepted)
    if not Path(name).parent.is_dir():
        raise BadInput("--card", name, "a file in a folder that exists")
    return ending, size


def card_and_drawing(
    found: Counsel, card: str | None, drawing: str | None, paper: str = "a4"
) -> str | None:
    """Write the bench card and the drawing of an advice, each where a name is given.

    Args:
        found: the advice.
        card: name of a .txt, .svg or .pdf file, or None.
        drawing: name of an .svg file, or None.
        paper: size of a .pdf, as a command takes it.

    Returns:
        The names that were written, None for none.

    Raises:
        BadInput: a name that cannot be used, or a file that cannot be written.
    """
    names = []
    ending, size = check_card_name(card, paper)
    if card is not None:
        made = found.card_on_paper(size) if ending == ".pdf" else found.card(drawn=ending == ".svg")
        names.append(_written(card, made))
    if drawing is not None:
        names.append(write_drawing(drawing, found.drawing()))
    return ", ".join(names) or None


def check_new_name(name: str | None, option: str = "--out") -> None:
    """Look at the name of a file that is to be new before anything is computed.

    Raises:
        BadInput: there is such a file already, or its folder does not exist.
    """
    if name is None:
        return
    if Path(name).exists():
        raise BadInput(option, name, "the name of a file that does not exist yet")
    if not Path(name).parent.is_dir():
        raise BadInput(option, name, "a file in a folder that exists")


def write_new(name: str, text: str, option: str = "--out") -> str:
    """Write a text file that is not there yet and return its name.

    Raises:
        BadInput: as `check_new_name`, or it cannot be written.
    """
    check_new_name(name, option)
    return _written(name, text, option)


def _written(name: str, content: str | bytes, option: str = "--out") -> str:
    try:
        aside = Path(f"{name}.part")
        aside.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        aside.replace(name)
    except OSError as problem:
        reason = problem.strerror or type(problem).__name__
        raise BadInput(option, name, f"a file that can be written ({reason.lower()})") from problem
    return name
