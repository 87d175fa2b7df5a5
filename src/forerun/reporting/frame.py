"""The axes around a field of characters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from forerun.reporting.canvas import Canvas
from forerun.reporting.paper import Paper
from forerun.reporting.scale import Axis

__all__ = ["LEFT", "RIGHT", "apart", "framed", "room_for"]

LEFT, RIGHT = 9, 7  # characters for the temperatures and for the names at the line ends
_FEWEST = 24


def room_for(paper: Paper) -> int:
    """Return the characters that a field has across [-]."""
    return max(_FEWEST, paper.width - LEFT - RIGHT)


def framed(
    canvas: Canvas,
    across: Axis,
    upwards: Axis,
    names: Mapping[int, tuple[str, str]],
    units: tuple[str, str],
    paper: Paper,
) -> list[str]:
    """Return the lines of a field with both axes and the names at its right edge.

    Args:
        canvas: the field.
        across: the lower axis.
        upwards: the left axis.
        names: name and ink by row.
        units: of the lower and of the left axis.
        paper: where it is printed.
    """
    labels = {canvas.row_of(upwards.place(tick)): upwards.label(tick) for tick in upwards.ticks}
    labels[0] = f"{labels.get(0, '')} {paper.spelled(units[1])}"
    rule = paper.ink("│" if paper.drawn else "|", "grey")
    lines = []
    for row in range(canvas.rows):
        label = paper.ink(labels.get(row, "").rjust(LEFT - 2), "grey")
        name, ink = names.get(row, ("", "grey"))
        lines.append(f"{label} {rule}{canvas.text(row)} {paper.ink(name, ink)}".rstrip())
    return [*lines, *_lower_axis(canvas.columns, across, units[0], paper)]


def _lower_axis(width: int, across: Axis, unit: str, paper: Paper) -> list[str]:
    corner, level, tick_mark = ("└", "─", "┴") if paper.drawn else ("+", "-", "+")
    rule = [level] * width
    below = [" "] * (width + RIGHT)
    taken = -1
    for tick in across.ticks:
        column = min(int(across.place(tick) * width), width - 1)
        rule[column] = tick_mark
        label = across.label(tick)
        start = max(0, column - len(label) // 2)
        if start > taken and start + len(label) <= width:
            below[start : start + len(label)] = label
            taken = start + len(label)
    unit = f" {unit}"
    below[width : width + len(unit)] = unit
    indent = " " * (LEFT - 1)
    return [
        indent + paper.ink(corner + "".join(rule), "grey"),
        indent + " " + paper.ink("".join(below[: width + RIGHT]).rstrip(), "grey"),
    ]


def apart(wanted: Sequence[tuple[int, str, str]], rows: int) -> dict[int, tuple[str, str]]:
    """Return names by row, each at the free row nearest to where it is wanted.

    Args:
        wanted: row [-], name and ink; the first come first.
        rows: how many there are [-].
    """
    named: dict[int, tuple[str, str]] = {}
    for row, name, ink in wanted:
        free = (r for r in range(rows) if r not in named)
        named[min(free, key=lambda r: abs(r - row))] = (name, ink)
    return named
