"""Streams are respected: NO_COLOR, dumb terminals, pipes, narrow encodings."""

from __future__ import annotations

import io

import pytest

from forerun.reporting.paper import Paper, paper_for, width_of


class Stream(io.StringIO):
    def __init__(self, terminal: bool, encoding: str) -> None:
        super().__init__()
        self._terminal, self._encoding = terminal, encoding

    def isatty(self) -> bool:
        return self._terminal

    @property
    def encoding(self) -> str:  # type: ignore[override]  # a stream in memory has none of its own
        return self._encoding


def test_terminal_is_drawn_in_colour() -> None:
    paper = paper_for(Stream(True, "UTF-8"), {"TERM": "xterm-256color", "COLUMNS": "90"})
    assert paper == Paper(width=90, colour=True, drawn=True, encoding="UTF-8")


@pytest.mark.parametrize(
    ("terminal", "encoding", "environment", "colour", "drawn"),
    [
        (True, "utf-8", {"TERM": "xterm", "NO_COLOR": "1"}, False, True),
        (True, "utf-8", {"TERM": "dumb"}, False, False),
        (True, "ascii", {"TERM": "xterm"}, True, False),
        (False, "utf-8", {"TERM": "xterm"}, False, False),
    ],
)
def test_what_a_stream_takes(
    terminal: bool, encoding: str, environment: dict[str, str], colour: bool, drawn: bool
) -> None:
    paper = paper_for(Stream(terminal, encoding), environment)
    assert (paper.colour, paper.drawn) == (colour, drawn)


def test_no_colour_means_no_escape_codes() -> None:
    assert Paper(colour=False).ink("stop", "red") == "stop"
    assert Paper(colour=True).ink("stop", "red") == "\x1b[38;5;160mstop\x1b[0m"


def test_every_text_can_be_sent_to_a_narrow_stream() -> None:
    told = Paper(encoding="ascii").spelled("34 ± 2\u202fmL at 56.2–61.0 °C, 漢")
    assert told == "34 +/- 2 mL at 56.2-61.0 C, ?"
    assert told.encode("ascii")


def test_width_stays_readable() -> None:
    assert width_of(False, {}) == 80
    assert width_of(False, {"COLUMNS": "20"}) == 40
    assert width_of(False, {"COLUMNS": "400"}) == 110
    assert width_of(False, {"COLUMNS": "many"}) == 80
