"""What a text is printed on: how wide it is, whether it takes colour and which characters."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TextIO

__all__ = ["INKS", "Paper", "paper_for", "width_of"]

# Code numbers of the xterm palette nearest to the inks of the drawings (#0072B2, #D55E00, #009E73),
# of grey for what is inert, amber for "look" and red for "stop".
INKS: Mapping[str, str] = {
    "blue": "38;5;32",
    "vermillion": "38;5;166",
    "green": "38;5;36",
    "grey": "38;5;245",
    "amber": "38;5;178",
    "red": "38;5;160",
    "bold": "1",
}
_PLAIN_SPELLING = {
    "°": "",
    "±": "+/-",
    "–": "-",
    "—": "-",
    "−": "-",
    "·": ".",
    "×": "x",
    "…": "...",
    "Δ": "d",
    "α": "alpha",
    "γ": "gamma",
    "µ": "u",
    "³": "3",
    "₂": "2",
    "≤": "<=",
    "≥": ">=",
    "→": "->",
    "é": "e",
    "\u2009": " ",
    "\u00a0": " ",
    "\u202f": " ",
}
_NARROWEST, _WIDEST, _UNKNOWN = 40, 110, 80


@dataclass(frozen=True, slots=True)
class Paper:
    """A surface for text.

    Args:
        width: characters in a line [-].
        colour: whether escape codes for colour are wanted.
        drawn: whether curves may use braille and box characters.
        encoding: the encoding of the stream, so that nothing unprintable is sent to it.
    """

    width: int = _UNKNOWN
    colour: bool = False
    drawn: bool = False
    encoding: str = "utf-8"

    def ink(self, text: str, *inks: str) -> str:
        """Return the text in the named inks, or bare on paper without colour."""
        if not self.colour or not text or not inks:
            return text
        return f"\x1b[{';'.join(INKS[name] for name in inks)}m{text}\x1b[0m"

    def spelled(self, text: str) -> str:
        """Return the text in characters that the stream can carry."""
        try:
            text.encode(self.encoding)
        except (UnicodeEncodeError, LookupError):
            return "".join(self._character(c) for c in text)
        return text

    def _character(self, character: str) -> str:
        try:
            character.encode(self.encoding)
        except (UnicodeEncodeError, LookupError):
            return _PLAIN_SPELLING.get(character, "?")
        return character


def paper_for(stream: TextIO, environment: Mapping[str, str] | None = None) -> Paper:
    """Return what is known of a stream: terminal or pipe, width, colour, characters.

    Args:
        stream: where the text will go.
        environment: variables to respect (``NO_COLOR``, ``TERM``, ``COLUMNS``); those of the
            process when left out.

    Returns:
        Paper without colour or drawn characters when the stream is not a terminal.
    """
    known = os.environ if environment is None else environment
    encoding = getattr(stream, "encoding", None) or "ascii"
    terminal = stream.isatty() and known.get("TERM", "") != "dumb"
    wide = encoding.lower().replace("-", "").replace("_", "") == "utf8"
    return Paper(
        width=width_of(stream.isatty(), known),
        colour=terminal and not known.get("NO_COLOR"),
        drawn=terminal and wide,
        encoding=encoding,
    )


def width_of(terminal: bool, environment: Mapping[str, str]) -> int:
    """Return the characters in a line [-], between 40 and 110; 80 where nothing is known."""
    given = environment.get("COLUMNS", "")
    if given.isdecimal() and int(given) > 0:
        columns = int(given)
    elif terminal:
        columns = shutil.get_terminal_size((_UNKNOWN, 24)).columns
    else:
        columns = _UNKNOWN
    return max(_NARROWEST, min(columns, _WIDEST))
