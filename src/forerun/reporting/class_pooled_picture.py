"""All curves of a class on one axis with their band, and the plates bench by bench, as SVG."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from forerun.reporting import svg
from forerun.reporting.scale import Axis, axis_over

if TYPE_CHECKING:
    from forerun.reviewing.pooled import Pooled

__all__ = ["pooled_drawing"]

Floats = npt.NDArray[np.float64]

_WIDTH, _HEIGHT = 1000, 760
_LEFT, _RIGHT = 64.0, 860.0
_CURVES = (96.0, 470.0)  # top and foot
_PLATES = (556.0, 700.0)
_ZERO_C = 273.15  # K
_LETTERS = 104  # of the title that fit on one line
_MOST_CODES = 40  # that can be written below each other's bars
_DASHES = ("7 3", "2 3", "9 3 2 3", "4 4")


def pooled_drawing(pooled: Pooled, title: str) -> str:
    """Return the drawing of a class.

    Args:
        pooled: curves, plates and who stands apart.
        title: what it shows, in one sentence.
    """
    milli = 1e6 * pooled.volume_m3
    known = pooled.heads_K[np.isfinite(pooled.heads_K)] - _ZERO_C
    across = axis_over(0.0, float(milli[-1]), 8)
    upwards = axis_over(float(known.min()), float(known.max()), 6)
    parts = [
        svg.text(_LEFT, 30.0 + 20.0 * k, line, size=16, weight=600)
        for k, line in enumerate(wrap(title, _LETTERS)[:2])
    ]
    parts += _frame(across, upwards, "mL of distillate")
    parts += _curves(pooled, milli, across, upwards)
    parts += _plates(pooled)
    description = f"head temperature against distillate of {len(pooled.benches)} benches"
    return svg.document(_WIDTH, _HEIGHT, title, description, parts)


def _frame(across: Axis, upwards: Axis, unit: str) -> list[str]:
    top, foot = _CURVES
    parts = [svg.text(_LEFT, top - 12.0, "head, °C", pen="grey")]
    for tick in upwards.ticks:
        y = _y(_CURVES, upwards, tick)
        parts.append(svg.straight(_LEFT, y, _RIGHT, y, pen="pale"))
        parts.append(svg.text(_LEFT - 8, y + 4, upwards.label(tick), pen="grey", anchor="end"))
    for tick in across.ticks:
        x = _x(across, tick)
        parts.append(svg.straight(x, foot, x, foot + 5.0))
        parts.append(svg.text(x, foot + 20, across.label(tick), pen="grey", anchor="middle"))
    parts.append(svg.text(_RIGHT, foot + 38.0, unit, pen="grey", anchor="end"))
    return [*parts, svg.straight(_LEFT, foot, _RIGHT, foot)]


def _curves(pooled: Pooled, milli: Floats, across: Axis, upwards: Axis) -> list[str]:
    xs = np.array([_x(across, v) for v in milli])

    def ys(kelvin: Floats) -> Floats:
        return np.array([_y(_CURVES, upwards, v - _ZERO_C) for v in kelvin])

    apart = {a.bench: k for k, a in enumerate(pooled.apart)}
    parts = [svg.area(xs, ys(pooled.p10_K), ys(pooled.p90_K), pen="blue")]
    names: list[tuple[float, float, str, str]] = []
    for bench, heads in zip(pooled.benches, pooled.heads_K, strict=True):
        line = ys(heads)
        if bench not in apart:
            parts.append(svg.polyline(xs, line, pen="grey", width=0.7, dashes=None))
            continue
        dashes = _DASHES[apart[bench] % len(_DASHES)]
        parts.append(svg.polyline(xs, line, pen="vermillion", width=1.8, dashes=dashes))
        last = np.flatnonzero(np.isfinite(line))
        if last.size:
            names.append((float(line[last[-1]]), float(xs[last[-1]]), bench, "vermillion"))
    middle = ys(pooled.p50_K)
    parts.append(svg.polyline(xs, middle, pen="blue", width=2.6, dashes=None))
    names.append((float(middle[-1]), float(xs[-1]), "middle of the class", "blue"))
    return parts + _named(names)


def _named(names: list[tuple[float, float, str, str]]) -> list[str]:
    """Return names at the ends of their lines, each below the one before."""
    parts, lowest = [], -np.inf
    for y, x, words, pen in sorted(names):
        at = max(y + 4.0, lowest + 15.0)
        lowest = at
        parts.append(svg.text(x + 6.0, at, words, size=12, pen=pen))
    return parts


def _plates(pooled: Pooled) -> list[str]:
    top, foot = _PLATES
    if not pooled.plates:
        return [svg.text(_LEFT, top, "Plates were not fitted.", pen="grey")]
    axis = axis_over(0.0, max(e.high for e in pooled.plates.values()), 4)
    parts = [svg.text(_LEFT, top - 16.0, "plates, with 80 % bands", pen="grey")]
    for tick in axis.ticks:
        y = _y(_PLATES, axis, tick)
        parts.append(svg.straight(_LEFT, y, _RIGHT, y, pen="pale"))
        parts.append(svg.text(_LEFT - 8, y + 4, axis.label(tick), pen="grey", anchor="end"))
    step = (_RIGHT - _LEFT) / len(pooled.benches)
    apart = {a.bench for a in pooled.apart}
    for k, bench in enumerate(pooled.benches):
        x, found = _LEFT + (k + 0.5) * step, pooled.plates.get(bench)
        pen = "vermillion" if bench in apart else "black"
        if found is not None:
            low, high = (_y(_PLATES, axis, v) for v in (found.low, found.high))
            parts.append(svg.straight(x, low, x, high, pen=pen, width=2.0))
            parts.append(svg.circle(x, _y(_PLATES, axis, found.value), 4.0, pen=pen))
        if len(pooled.benches) <= _MOST_CODES or bench in apart:
            parts.append(svg.text(x, foot + 20.0, bench, size=11, pen=pen, anchor="middle"))
    return [*parts, svg.straight(_LEFT, foot, _RIGHT, foot)]


def _x(axis: Axis, value: float) -> float:
    return _LEFT + (_RIGHT - _LEFT) * axis.place(float(value))


def _y(rows: tuple[float, float], axis: Axis, value: float) -> float:
    top, foot = rows
    return foot - (foot - top) * axis.place(float(value))
