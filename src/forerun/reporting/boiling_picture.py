"""Two substances: boiling diagram with its band, and vapour against liquid."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from forerun.core.quantities import format_pressure
from forerun.reporting import svg
from forerun.reporting.scale import Axis, axis_over

if TYPE_CHECKING:
    from forerun.reporting.mix import Mix

__all__ = ["boiling_picture"]

Floats = npt.NDArray[np.float64]

_WIDTH, _HEIGHT = 1000, 620
_TOP, _BOTTOM = 130.0, 520.0
_BOILING = (70.0, 530.0)
_VAPOUR = (600.0, 970.0)
_ZERO_C = 273.15  # K
_TITLE_LETTERS = 66


def boiling_picture(mix: Mix) -> str:
    """Return the boiling diagram and the x-y diagram of two substances as SVG.

    Args:
        mix: an answer about two substances that holds a boiling curve.
    """
    curve, band = mix.more.curve, mix.more.band
    assert curve is not None
    assert band is not None
    first = mix.mixture.names[0]
    celsius = curve.temperature - _ZERO_C
    width = np.interp(curve.x, *band)
    low, high = float((celsius - width).min()), float((celsius + width).max())
    margin = 0.08 * (high - low)
    upwards = axis_over(low - margin, high + 0.4 * margin, 7, snug=True)
    across = axis_over(0.0, 100.0, 5)
    title = mix.finding
    lines = wrap(title, _TITLE_LETTERS)
    parts = [svg.text(28, 44 + 25 * k, line, size=20, weight=600) for k, line in enumerate(lines)]
    parts += _boiling_field(mix, celsius, width, upwards, across)
    parts += _vapour_field(mix, across)
    note = (
        f"mol% {first} at {format_pressure(mix.pressure_Pa)}. Shaded: 80 % band of the boiling "
        f"point, {_basis(mix)}. Full line: liquid; dashes: vapour."
    )
    parts += [
        svg.text(28, _BOTTOM + 64 + 18 * k, line, size=13, pen="grey")
        for k, line in enumerate(wrap(note, 130))
    ]
    return svg.document(_WIDTH, _HEIGHT, title, note, parts)


def _basis(mix: Mix) -> str:
    basis = mix.mixture.pairs[0].basis
    return {
        "fitted": "fitted to measured points",
        "predicted": "predicted from groups",
        "ideal": "taken as ideal",
    }[basis]


def _x(field: tuple[float, float], percent: Floats | float) -> Floats:
    at: Floats = field[0] + (field[1] - field[0]) * np.asarray(percent) / 100.0
    return at


def _y(axis: Axis, value: Floats | float) -> Floats:
    at: Floats = _BOTTOM - (np.asarray(value) - axis.low) / (axis.high - axis.low) * (
        _BOTTOM - _TOP
    )
    return at


def _axes(field: tuple[float, float], across: Axis, upwards: Axis, unit: str) -> list[str]:
    parts = []
    for tick in upwards.ticks:
        y = float(_y(upwards, tick))
        parts.append(svg.straight(field[0], y, field[1], y, pen="pale", width=0.7))
        parts.append(svg.text(field[0] - 8, y + 4.5, upwards.label(tick), anchor="end", pen="grey"))
    parts.append(svg.text(field[0] - 8, _TOP - 10, unit, anchor="end", pen="grey"))
    for tick in across.ticks:
        x = float(_x(field, tick))
        parts.append(svg.straight(x, _BOTTOM, x, _BOTTOM + 5, pen="black"))
        parts.append(svg.text(x, _BOTTOM + 20, across.label(tick), anchor="middle", pen="grey"))
    parts.append(svg.straight(field[0], _BOTTOM, field[1], _BOTTOM, pen="black"))
    return parts


def _boiling_field(
    mix: Mix, celsius: Floats, width: Floats, upwards: Axis, across: Axis
) -> list[str]:
    curve = mix.more.curve
    assert curve is not None
    xs, ys = _x(_BOILING, 100.0 * curve.x), _y(upwards, celsius)
    order = np.argsort(curve.y, kind="stable")
    parts = _axes(_BOILING, across, upwards, "°C")
    parts.append(
        svg.area(xs, _y(upwards, celsius - width), _y(upwards, celsius + width), pen="blue")
    )
    parts.append(svg.polyline(xs, ys, pen="blue", width=2.4, dashes=None))
    parts.append(
        svg.polyline(
            _x(_BOILING, 100.0 * curve.y[order]), ys[order], pen="vermillion", width=1.8,
            dashes="8 4",
        )
    )  # fmt: skip
    parts += _layers_boil(mix, upwards)
    for azeotrope in mix.azeotropes:
        x = float(_x(_BOILING, 100.0 * float(azeotrope.mole_fraction[0])))
        y = float(_y(upwards, azeotrope.temperature_K - _ZERO_C))
        share = 100.0 * float(azeotrope.mole_fraction[0])
        words = f"{share:.1f} mol%, {azeotrope.temperature_K - _ZERO_C:.1f} °C"
        anchor = "end" if x > _BOILING[0] + 300 else "start"
        below = azeotrope.kind != "maximum"
        parts.append(svg.circle(x, y, 5.0))
        parts.append(svg.text(x, y + (22 if below else -12), words, anchor=anchor, weight=600))
    names = mix.mixture.names
    parts.append(svg.text(_BOILING[0], _BOTTOM + 40, f"pure {names[1]}", pen="grey"))
    parts.append(svg.text(_BOILING[1], _BOTTOM + 40, f"pure {names[0]}", pen="grey", anchor="end"))
    return parts


def _layers_boil(mix: Mix, upwards: Axis) -> list[str]:
    """The level line of two liquids that boil together."""
    parts = []
    for azeotrope in mix.azeotropes:
        if azeotrope.liquid_phases == 2 and azeotrope.liquid_compositions is not None:
            ends = [100.0 * float(x[0]) for x in azeotrope.liquid_compositions]
            x1, x2 = (float(v) for v in _x(_BOILING, np.array(ends)))
            y = float(_y(upwards, azeotrope.temperature_K - _ZERO_C))
            parts.append(svg.straight(x1, y, x2, y, pen="green", width=3.0, dashes="2 4"))
            parts.append(
                svg.text((x1 + x2) / 2, y - 10, "two liquids", anchor="middle", pen="green")
            )
    return parts


def _vapour_field(mix: Mix, across: Axis) -> list[str]:
    curve = mix.more.curve
    assert curve is not None
    field = _VAPOUR
    xs, ys = _x(field, 100.0 * curve.x), _y(across, 100.0 * curve.y)
    parts = _axes(field, across, across, "mol%")
    parts.append(svg.straight(field[0], _BOTTOM, field[1], _TOP, pen="grey", dashes="3 3"))
    parts.append(svg.polyline(xs, ys, pen="vermillion", width=2.2, dashes="8 4"))
    for azeotrope in mix.azeotropes:
        share = 100.0 * float(azeotrope.mole_fraction[0])
        parts.append(svg.circle(float(_x(field, share)), float(_y(across, share)), 5.0))
    share = 100.0 * float(np.interp(0.3, curve.x, curve.y))
    x, y = float(_x(field, 30.0)), float(_y(across, share))
    parts.append(svg.text(x, y - 10, "vapour", pen="vermillion", anchor="middle", weight=600))
    parts.append(
        svg.text(
            field[1],
            _BOTTOM + 40,
            f"{mix.mixture.names[0]} in the liquid",
            pen="grey",
            anchor="end",
        )
    )
    return parts
