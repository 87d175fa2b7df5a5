"""The boiling diagram of two substances in a terminal."""

from __future__ import annotations

import numpy as np

from forerun.reporting.canvas import Canvas
from forerun.reporting.frame import apart, framed, room_for
from forerun.reporting.mix_parts import BoilingDiagram
from forerun.reporting.paper import Paper
from forerun.reporting.scale import axis_over

__all__ = ["boiling_diagram"]

_ROWS = 14
_ZERO_C = 273.15  # K


def boiling_diagram(diagram: BoilingDiagram, first: str, paper: Paper) -> list[str]:
    """Return liquid and vapour line of two substances against the share of the first.

    Args:
        diagram: x, y and temperature.
        first: name of the first substance.
        paper: where it is printed.

    Returns:
        A field between its axes with a title line.
    """
    celsius = diagram.temperature_K - _ZERO_C
    low, high = float(celsius.min()), float(celsius.max())
    margin = 0.04 * (high - low) + 0.2
    upwards = axis_over(low - margin, high + margin, wanted=5, snug=True)
    across = axis_over(0.0, 100.0, 10 if paper.width >= 70 else 5)
    canvas = Canvas(room_for(paper), _ROWS, paper)
    heights = (celsius - upwards.low) / (upwards.high - upwards.low)
    order = np.argsort(diagram.y, kind="stable")
    canvas.line(diagram.y[order], heights[order], (3, 2), "o", "vermillion")
    canvas.line(diagram.x, heights, (), "*", "blue")
    names = _names(canvas, diagram, heights)
    title = f"mol% {first}: liquid that boils, and its vapour"
    return [
        paper.ink(paper.spelled(title), "grey"),
        *framed(canvas, across, upwards, names, ("mol%", "°C"), paper),
    ]


def _names(canvas: Canvas, diagram: BoilingDiagram, heights: object) -> dict[int, tuple[str, str]]:
    """Names of both lines near the right edge, liquid below vapour where there is room."""
    levels = np.asarray(heights, dtype=np.float64)
    liquid = canvas.row_of(float(np.interp(0.97, diagram.x, levels)))
    return apart(
        [(liquid + 1, "liquid", "blue"), (liquid - 1, "vapour", "vermillion")], canvas.rows
    )
