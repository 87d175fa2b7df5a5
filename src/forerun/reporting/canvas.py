"""A small field of characters on which curves are drawn, in braille dots or in plain letters."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.reporting.paper import Paper

__all__ = ["Canvas"]

Floats = npt.NDArray[np.float64]

_BRAILLE = 0x2800
# Bit of a dot in its character cell, by row from the top and column, as Unicode orders them.
_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_DOT_COLUMNS, _DOT_ROWS = 2, 4


class Canvas:
    """Cells in rows and columns; row 0 is on top, positions run from 0 to 1 upwards.

    Args:
        columns: characters across [-].
        rows: lines down [-].
        paper: tells whether dots may be used and whether ink shows.
    """

    def __init__(self, columns: int, rows: int, paper: Paper) -> None:
        self.columns = columns
        self.rows = rows
        self._paper = paper
        self._across = _DOT_COLUMNS if paper.drawn else 1
        self._down = _DOT_ROWS if paper.drawn else 1
        self._dots = np.zeros((rows, columns), dtype=np.int64)
        self._glyphs = np.full((rows, columns), " ", dtype="<U1")
        self._inks = np.full((rows, columns), "", dtype="<U16")

    def row_of(self, height: float) -> int:
        """Return the row of a height between 0 and 1 [-]."""
        return self._cell(height, self.rows, upside_down=True)

    def column_of(self, place: float) -> int:
        """Return the column of a place between 0 and 1 [-]."""
        return self._cell(place, self.columns)

    @staticmethod
    def _cell(place: float, count: int, upside_down: bool = False) -> int:
        cell = min(max(int(place * count), 0), count - 1)
        return count - 1 - cell if upside_down else cell

    def line(
        self, places: Floats, heights: Floats, dashes: tuple[int, ...], glyph: str, ink: str
    ) -> None:
        """Draw a line through points.

        Args:
            places: (n,) ascending positions across, 0 to 1 [-].
            heights: (n,) positions upwards, 0 to 1 [-]; a gap where they are not finite.
            dashes: dots that are drawn and left out in turn [-]; empty for a solid line.
            glyph: the letter used where dots are not.
            ink: name of the colour.
        """
        steps = np.arange(self.columns * self._across)
        centres = (steps + 0.5) / steps.size
        inside = (centres >= places[0]) & (centres <= places[-1])
        levels = np.interp(centres, places, heights) * self.rows * self._down
        drawn = 0
        previous: int | None = None
        for step in steps[inside]:
            if not np.isfinite(levels[step]):
                previous = None
                continue
            level = min(max(int(levels[step]), 0), self.rows * self._down - 1)
            for dot in _between(previous, level):
                if not dashes or drawn % (dashes[0] + dashes[1]) < dashes[0]:
                    self._mark(int(step), dot, glyph, ink)
                drawn += 1
            previous = level

    def _mark(self, across: int, up: int, glyph: str, ink: str) -> None:
        from_top = self.rows * self._down - 1 - up
        row, column = from_top // self._down, across // self._across
        if self._paper.drawn:
            self._dots[row, column] |= _BITS[from_top % self._down][across % self._across]
        else:
            self._glyphs[row, column] = glyph
        self._inks[row, column] = ink

    def shade(self, places: Floats, low: Floats, high: Floats, glyph: str, ink: str) -> None:
        """Fill what is still empty between two lines, all in positions of 0 to 1 [-]."""
        for column in range(self.columns):
            centre = (column + 0.5) / self.columns
            if not places[0] <= centre <= places[-1]:
                continue
            top = self.row_of(float(np.interp(centre, places, high)))
            bottom = self.row_of(float(np.interp(centre, places, low)))
            for row in range(top, bottom + 1):
                self._put_if_empty(row, column, glyph, ink)

    def upright(self, place: float, glyph: str, ink: str) -> None:
        """Draw an upright line through what is still empty at a place of 0 to 1 [-]."""
        for row in range(self.rows):
            self._put_if_empty(row, self.column_of(place), glyph, ink)

    def _put_if_empty(self, row: int, column: int, glyph: str, ink: str) -> None:
        if not self._dots[row, column] and self._glyphs[row, column] == " ":
            self._glyphs[row, column] = glyph
            self._inks[row, column] = ink

    def text(self, row: int) -> str:
        """Return one row as text, with ink where the paper takes it."""
        parts = []
        for dots, glyph, ink in zip(
            self._dots[row], self._glyphs[row], self._inks[row], strict=True
        ):
            character = chr(_BRAILLE + int(dots)) if dots else str(glyph)
            parts.append(self._paper.ink(character, str(ink)) if ink else character)
        return "".join(parts)


def _between(previous: int | None, level: int) -> range:
    """Levels to mark so that the line does not break between two columns."""
    if previous is None or previous == level:
        return range(level, level + 1)
    if level > previous:
        return range(previous + 1, level + 1)
    return range(previous - 1, level - 1, -1)
