"""Answers drawn onto axes of matplotlib that somebody hands in; matplotlib is not imported."""

from __future__ import annotations

from textwrap import fill
from typing import Any

import numpy as np

from forerun.core.errors import NotCovered
from forerun.reporting.curve import Curve

__all__ = ["drawn_onto"]

_PENS = {"blue": "#0072B2", "vermillion": "#D55E00", "green": "#009E73"}
_ZERO_C = 273.15  # K
_MMHG = 101325 / 760  # Pa
_TITLE_LETTERS = 60


def drawn_onto(ax: Any, answer: Any) -> Any:
    """Draw an answer onto axes, its finding as the title.

    Args:
        ax: axes of matplotlib, or anything with the same methods.
        answer: what `forerun.look`, `mix`, `foresee`, `advise` or `review` returned.

    Returns:
        The axes.

    Raises:
        NotCovered: there is nothing in it to draw.
    """
    curve = answer.curve() if hasattr(answer, "curve") else None
    if curve is not None:
        _run(ax, curve)
    else:
        series = answer.series()
        if {"x", "y", "temperature_K"} <= set(series):
            _boiling(ax, series, answer.mixture.names[0])
        elif {"pressure_Pa", "boiling_point_K"} <= set(series):
            _pressure(ax, series)
        else:
            advice = "ask mix of two substances with curve=41 or drawn=True"
            raise NotCovered("a drawing of this answer", "it holds no curve", advice)
    ax.set_title(fill(answer.finding, _TITLE_LETTERS), loc="left", fontsize="medium")
    return ax


def _run(ax: Any, curve: Curve) -> None:
    if curve.by_time is not None:
        band = curve.by_time
        ax.fill_between(band.places, band.low, band.high, color=_PENS["blue"], alpha=0.2, lw=0)
    for line in curve.lines:
        pen, style = _PENS[line.ink], (0, line.dashes) if line.dashes else "-"
        ax.plot(curve.minutes, line.celsius, color=pen, linestyle=style, label=line.name)
        known = np.flatnonzero(np.isfinite(line.celsius))
        if known.size:
            end = int(known[-1])
            place = (float(curve.minutes[end]), float(line.celsius[end]))
            ax.annotate(f" {line.name}", place, color=pen, va="center")
    for mark in curve.cuts:
        ax.axvline(mark.end_min, color="0.6", linewidth=0.8)
        middle = 0.5 * (mark.start_min + mark.end_min)
        at = ax.get_xaxis_transform()
        ax.text(middle, 0.02, str(mark.number), transform=at, ha="center", va="bottom")
    ax.set_xlabel("time / min")
    ax.set_ylabel("temperature / °C")


def _boiling(ax: Any, series: dict[str, Any], name: str) -> None:
    celsius = np.array(series["temperature_K"], dtype=float) - _ZERO_C
    liquid, vapour = (100.0 * np.array(series[key], dtype=float) for key in ("x", "y"))
    ax.plot(liquid, celsius, color=_PENS["blue"], label="liquid")
    ax.plot(vapour, celsius, color=_PENS["vermillion"], linestyle=(0, (4, 2)), label="vapour")
    middle = len(celsius) // 2
    ax.annotate("liquid ", (liquid[middle], celsius[middle]), ha="right", va="top")
    ax.annotate(" vapour", (vapour[middle], celsius[middle]), ha="left", va="bottom")
    ax.set_xlabel(f"{name} / mol%")
    ax.set_ylabel("temperature / °C")


def _pressure(ax: Any, series: dict[str, Any]) -> None:
    pressure = np.array(series["pressure_Pa"], dtype=float) / _MMHG
    celsius = np.array(series["boiling_point_K"], dtype=float) - _ZERO_C
    ax.plot(celsius, pressure, color=_PENS["blue"])
    ax.set_yscale("log")
    ax.set_xlabel("boils at / °C")
    ax.set_ylabel("pressure / mmHg")
