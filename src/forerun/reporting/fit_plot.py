"""Points of a pair, the curve through them, and what is left over, as our own SVG."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from forerun.core.quantities import format_pressure
from forerun.reporting.scale import Axis, axis_over
from forerun.reporting.svg import circle, document, polyline, straight, text

if TYPE_CHECKING:
    from forerun.reporting.fit import Fit

__all__ = ["fit_drawing"]

Floats = npt.NDArray[np.float64]

_WIDTH, _HEIGHT = 900, 640
_LEFT, _RIGHT = 74.0, 690.0
_UPPER = (84.0, 410.0)
_LOWER = (476.0, 590.0)
_ZERO_C = 273.15
_LINE = 92  # characters of the title that fit on one line
_MMHG = 133.322387415  # Pa


def fit_drawing(fit: Fit) -> str:
    """Return an SVG file.

    Args:
        fit: what was fitted.

    Returns:
        Upper field: boiling temperature over composition with the curves, or pressure where the
        temperature was held; lower field: calculated minus measured.
    """
    measured, curves, unit, miss, left_over = _shown(fit)
    known = np.isfinite(measured)
    values = [measured[known], *(c for _, c in curves)]
    low = min(float(v.min()) for v in values if v.size)
    high = max(float(v.max()) for v in values if v.size)
    upper = axis_over(low, high, 6)
    reach = max(float(np.nanmax(np.abs(miss))) if np.isfinite(miss).any() else 0.1, 0.1)
    lower = axis_over(-reach, reach, 3)
    across = axis_over(0.0, 1.0, 5, snug=True)
    name = fit.own.names[0]
    parts = [
        *(
            text(_LEFT, 30.0 + 20.0 * k, line, size=15, weight=600)
            for k, line in enumerate(textwrap.wrap(fit.finding, _LINE)[:2])
        ),
        *_field(_UPPER, upper, across, unit),
        *_field(_LOWER, lower, across, left_over),
        text((_LEFT + _RIGHT) / 2, 628, f"mole fraction of {name}", pen="grey", anchor="middle"),
        straight(_LEFT, _y(_LOWER, lower, 0.0), _RIGHT, _y(_LOWER, lower, 0.0), pen="grey"),
    ]
    pens = (("blue", None), ("grey", "5 4"))
    grid = fit.curves[0].x if fit.isotherm is None else fit.isotherm.x
    for (label, curve), (pen, dashes) in zip(curves, pens, strict=True):
        ys = np.array([_y(_UPPER, upper, float(v)) for v in curve])
        parts.append(polyline(_x(grid), ys, pen=pen, dashes=dashes))
        parts.append(
            text(_RIGHT + 8, float(ys[-1]) + (4 if dashes is None else 20), label, pen=pen)
        )
    x = _x(fit.points.liquid_fraction)
    for k in range(x.size):
        if known[k]:
            parts.append(circle(float(x[k]), _y(_UPPER, upper, float(measured[k])), 3.5))
        if np.isfinite(miss[k]):
            at = _y(_LOWER, lower, float(miss[k]))
            parts.append(circle(float(x[k]), at, 3.5, pen="vermillion"))
    description = (
        f"{len(fit.points.rows)} points of {' and '.join(fit.own.names)}, with the fitted curve "
        "and calculated minus measured below"
    )
    return document(_WIDTH, _HEIGHT, fit.finding, description, parts)


def _shown(fit: Fit) -> tuple[Floats, Sequence[tuple[str, Floats]], str, Floats, str]:
    """Return what the upper and the lower field show, with their units."""
    t = fit.points.temperature_K - _ZERO_C
    if np.isfinite(t).any() and fit.isobaric:
        curves = [
            (label, c.temperature - _ZERO_C)
            for label, c in zip(("with your points", "models alone"), fit.curves, strict=True)
        ]
        unit = f"boils, °C at {format_pressure(fit.pressure_Pa, None)}"
        return t, curves, unit, fit.found.temperature_miss_K, "calculated − measured, K"
    if fit.isotherm is not None:
        line = fit.isotherm
        curves = [
            ("with your points", line.fitted_Pa / _MMHG),
            ("models alone", line.bare_Pa / _MMHG),
        ]
        unit = f"boils, mmHg at {line.temperature_K - _ZERO_C:.1f} °C"
        miss = fit.found.temperature_miss_K
        return fit.points.pressure_Pa / _MMHG, curves, unit, miss, "calculated − measured, K"
    curves = [
        (label, c.y)
        for label, c in zip(("with your points", "models alone"), fit.curves, strict=True)
    ]
    unit = f"mole fraction in the vapour at {format_pressure(fit.pressure_Pa, None)}"
    if np.isfinite(fit.points.vapour_fraction).any():
        miss = fit.found.vapour_miss
        return fit.points.vapour_fraction, curves, unit, miss, "calculated − measured"
    miss = fit.found.temperature_miss_K
    return np.full(t.shape, np.nan), curves, unit, miss, "calculated − measured, K"


def _field(rows: tuple[float, float], upwards: Axis, across: Axis, unit: str) -> list[str]:
    top, bottom = rows
    parts = [text(_LEFT, top - 10, unit, pen="grey")]
    for tick in upwards.ticks:
        y = _y(rows, upwards, tick)
        parts.append(straight(_LEFT, y, _RIGHT, y, pen="pale"))
        parts.append(text(_LEFT - 8, y + 4, upwards.label(tick), pen="grey", anchor="end"))
    for tick in across.ticks:
        x = float(_x(np.array([tick]))[0])
        parts.append(straight(x, top, x, bottom, pen="pale"))
        parts.append(text(x, bottom + 18, across.label(tick), pen="grey", anchor="middle"))
    return parts


def _x(fraction: Floats) -> Floats:
    return np.asarray(_LEFT + (_RIGHT - _LEFT) * fraction)


def _y(rows: tuple[float, float], axis: Axis, value: float) -> float:
    top, bottom = rows
    return bottom - (bottom - top) * axis.place(value)
