"""Axes to draw a curve on by hand, empty or with the calculated curves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from forerun.reporting import svg
from forerun.reporting.scale import axis_over

if TYPE_CHECKING:
    from forerun.planning.comparison import Ways

__all__ = ["class_axes", "lowest_temperature"]

_WIDTH, _HEIGHT = 1000, 520
_LEFT, _TOP, _BOTTOM = 60.0, 24.0, 460.0
_NAMES = 200.0  # for what is written beside drawn curves
_ZERO_C, _MILLILITRE = 273.15, 1e-6
_BELOW = 5.0  # K of the axis below the lowest boiling point
_SETTLED = 0.02  # share of the charge after which the thermometer has warmed up
_PENS = ("blue", "vermillion", "green", "black", "grey")
_DASHES = (None, "10 4", "3 3", "12 3 3 3", "6 2")


def lowest_temperature(ways: Ways) -> float:
    """Return where the axis of temperature begins: 5 K below whatever boils first [K].

    Args:
        ways: of distilling the charge.
    """
    pure = min(step.temperature_K for step in ways.stairs)
    heads = []
    for way in ways.ways:
        trace = way.run.trace
        over = trace.distillate_volume_m3 > _SETTLED * ways.sheet.charge_volume_m3
        if over.any():
            heads.append(float(trace.head_temperature_K[over].min()))
    return min([pure, *heads]) - _BELOW


def class_axes(ways: Ways, *, drawn: bool) -> str:
    """Return axes of head temperature against what was collected, as SVG.

    Args:
        ways: of distilling the charge.
        drawn: whether the calculated curves stand on them.
    """
    low = math.floor(lowest_temperature(ways) - _ZERO_C)
    high = max(step.temperature_K for step in ways.stairs) - _ZERO_C + _BELOW
    up = axis_over(float(low), high, 8, snug=True)
    across = axis_over(0.0, ways.sheet.charge_volume_m3 / _MILLILITRE, 10)

    right = _WIDTH - (_NAMES if drawn else 10.0)

    def x(volume: svg.Floats | float) -> svg.Floats:
        return np.asarray(_LEFT + (right - _LEFT) * (np.asarray(volume) / across.high))

    def y(celsius: svg.Floats | float) -> svg.Floats:
        share = (np.asarray(celsius) - up.low) / (up.high - up.low)
        return np.asarray(_BOTTOM - (_BOTTOM - _TOP) * share)

    parts = []
    for tick in up.ticks:
        at = float(y(tick))
        parts.append(svg.straight(_LEFT, at, right, at, pen="pale"))
        parts.append(svg.text(_LEFT - 8, at + 5, up.label(tick), anchor="end", pen="grey"))
    for tick in across.ticks:
        at = float(x(tick))
        parts.append(svg.straight(at, _TOP, at, _BOTTOM, pen="pale"))
        parts.append(svg.text(at, _BOTTOM + 20, across.label(tick), anchor="middle", pen="grey"))
    parts.append(svg.straight(_LEFT, _BOTTOM, right, _BOTTOM, pen="black"))
    parts.append(svg.straight(_LEFT, _TOP, _LEFT, _BOTTOM, pen="black"))
    parts.append(svg.text(_LEFT, _TOP - 8, "head, °C", pen="grey"))
    parts.append(svg.text(right, _BOTTOM + 44, "mL collected", anchor="end", pen="grey"))
    if drawn:
        for k, way in enumerate(ways.ways):
            trace = way.run.trace
            over = (trace.distillate_volume_m3 > 0.0) & (
                trace.head_temperature_K > up.low + _ZERO_C
            )
            xs = x(trace.distillate_volume_m3[over] / _MILLILITRE)
            ys = y(trace.head_temperature_K[over] - _ZERO_C)
            pen, dashes = _PENS[k % len(_PENS)], _DASHES[k % len(_DASHES)]
            parts.append(svg.polyline(xs, ys, pen=pen, dashes=dashes))
            row = _TOP + 20 + 24 * k
            parts.append(
                svg.straight(right + 14, row, right + 44, row, pen=pen, width=2.0, dashes=dashes)
            )
            parts.append(
                svg.text(right + 50, row + 4, way.label.replace(", reflux", ", R"), size=12)
            )
    title = "Calculated curves" if drawn else "Empty axes"
    note = f"Head temperature from {up.low:.0f} °C against millilitres collected"
    return svg.document(_WIDTH, _HEIGHT, title, note, parts)
