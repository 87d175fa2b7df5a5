"""The curve in a terminal: head, pot and bath against time, receivers numbered above."""

from __future__ import annotations

import numpy as np

from forerun.reporting.canvas import Canvas
from forerun.reporting.curve import Curve
from forerun.reporting.frame import LEFT, apart, framed, room_for
from forerun.reporting.paper import Paper
from forerun.reporting.scale import Axis, axis_over

__all__ = ["drawn_in_terminal"]

_ROWS = 16
_MARGIN = 2.0  # K above and below the readings


def drawn_in_terminal(curve: Curve, paper: Paper, rows: int = _ROWS) -> list[str]:
    """Return the lines of a picture of the run.

    Args:
        curve: the run in bench units.
        paper: width, colour and characters of the terminal.
        rows: height of the field [-].

    Returns:
        Receiver numbers, the field between its axes, times, all within the paper's width.
    """
    width = room_for(paper)
    low, high = curve.temperatures()
    upwards = axis_over(low - _MARGIN, high + _MARGIN, wanted=6, snug=True)
    start, end = float(curve.minutes[0]), float(curve.minutes[-1])
    across = axis_over(start, end, max(3, width // 10), snug=True, minutes=True)
    canvas = Canvas(width, rows, paper)
    _draw(canvas, curve, across, upwards, paper)
    names = _names(canvas, curve, upwards)
    return [
        _numbers(canvas, curve, across, paper),
        *framed(canvas, across, upwards, names, ("min", "°C"), paper),
    ]


def _draw(canvas: Canvas, curve: Curve, across: Axis, upwards: Axis, paper: Paper) -> None:
    span, rise = across.high - across.low, upwards.high - upwards.low
    places = (curve.minutes - across.low) / span
    for line in curve.lines:
        heights = (line.celsius - upwards.low) / rise
        canvas.line(places, heights, line.dashes, line.glyph, line.ink)
    band = curve.by_time
    if band is not None and paper.drawn:
        canvas.shade(
            (band.places - across.low) / span,
            (band.low - upwards.low) / rise,
            (band.high - upwards.low) / rise,
            "░",
            "grey",
        )
    for change in _changes(curve):
        canvas.upright(across.place(change), "┊" if paper.drawn else ":", "grey")


def _changes(curve: Curve) -> list[float]:
    """Times between start and stop at which a receiver was put in place or taken away [min]."""
    changes = {cut.start_min for cut in curve.cuts} | {cut.end_min for cut in curve.cuts}
    return sorted(t for t in changes if curve.minutes[0] < t < curve.minutes[-1])


def _numbers(canvas: Canvas, curve: Curve, across: Axis, paper: Paper) -> str:
    """The line above the field: the number of each receiver over the middle of its time."""
    line = [" "] * canvas.columns
    for cut in curve.cuts:
        middle = canvas.column_of(across.place((cut.start_min + cut.end_min) / 2))
        for offset, digit in enumerate(str(cut.number)):
            if middle + offset < canvas.columns:
                line[middle + offset] = digit
    title = "cut".rjust(LEFT - 2) if curve.cuts else ""
    return f"{paper.ink(title, 'grey')}  {paper.ink(''.join(line).rstrip(), 'bold')}".rstrip()


def _names(canvas: Canvas, curve: Curve, upwards: Axis) -> dict[int, tuple[str, str]]:
    """The name of each line at the row where it ends, moved apart where two would meet."""
    wanted = []
    for line in reversed(curve.lines):
        known = line.celsius[np.isfinite(line.celsius)]
        if known.size:
            row = canvas.row_of(upwards.place(float(known[-1])))
            wanted.append((row, line.name, line.ink))
    return apart(wanted, canvas.rows)
