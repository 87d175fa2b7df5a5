"""The distillation curve in bench units, as terminal and drawing both want it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.reporting.dripping import last_drop
from forerun.still.results import Cut, Trace

__all__ = ["Band", "Curve", "CutMark", "Line", "curve_of"]

Floats = npt.NDArray[np.float64]

_ZERO_C = 273.15  # K, by definition of the Celsius scale
_MINUTE = 60.0  # s
_MILLILITRE = 1e-6  # m3


@dataclass(frozen=True, slots=True)
class Line:
    """One thermometer against time and volume.

    Args:
        name: what stands at the end of the line: head, pot or bath.
        ink: name of its colour, see `forerun.reporting.paper.INKS`.
        dashes: on and off lengths of its pattern, an empty tuple for a solid line [-].
        glyph: the character that draws it where there is nothing better.
        celsius: (n,) readings [°C].
    """

    name: str
    ink: str
    dashes: tuple[int, ...]
    glyph: str
    celsius: Floats


@dataclass(frozen=True, slots=True)
class CutMark:
    """Where a receiver stands on both axes: start and end [min], start and end [mL]."""

    number: int
    start_min: float
    end_min: float
    start_mL: float
    end_mL: float


@dataclass(frozen=True, slots=True)
class Band:
    """The fan of the head thermometer: (m,) places on the axis and (m,) lower, upper [°C]."""

    places: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Curve:
    """Everything that a picture of a run shows.

    Args:
        minutes: (n,) time [min].
        millilitres: (n,) distillate so far [mL].
        lines: the thermometers, the most important last, so that it is drawn on top.
        cuts: the receivers.
        by_time: the fan against time, or None.
        by_volume: the fan against volume, or None.
        without_volume: what stands against volume where there is none.
    """

    minutes: Floats
    millilitres: Floats
    lines: tuple[Line, ...]
    cuts: tuple[CutMark, ...]
    by_time: Band | None = None
    by_volume: Band | None = None
    without_volume: str = "nothing came over"

    def temperatures(self) -> tuple[float, float]:
        """Return the least and the largest reading to show [°C]."""
        shown = [line.celsius for line in self.lines]
        shown += [
            edge
            for band in (self.by_time, self.by_volume)
            if band
            for edge in (band.low, band.high)
        ]
        everything = np.concatenate(shown)
        everything = everything[np.isfinite(everything)]
        return float(everything.min()), float(everything.max())


def curve_of(
    trace: Trace,
    cuts: Sequence[Cut],
    *,
    by_time: tuple[Floats, Floats, Floats] | None = None,
    by_volume: tuple[Floats, Floats, Floats] | None = None,
) -> Curve:
    """Return the curve of one run in bench units.

    Args:
        trace: the states of the run against time, n points.
        cuts: its receivers in order.
        by_time: (m,) time [s] and (m,) lower and upper head temperature [K] of the fan.
        by_volume: (k,) distillate [m3] and (k,) lower and upper head temperature [K] of the fan.

    Returns:
        Bath, pot and head in this order, with the receivers and the fans.
    """
    minutes = trace.time_s / _MINUTE
    lines = (
        Line("bath", "green", (1, 2), ".", trace.bath_temperature_K - _ZERO_C),
        Line("pot", "vermillion", (4, 2), "o", trace.pot_temperature_K - _ZERO_C),
        Line("head", "blue", (), "*", trace.head_temperature_K - _ZERO_C),
    )
    return Curve(
        minutes,
        trace.distillate_volume_m3 / _MILLILITRE,
        lines,
        _marks(cuts, trace),
        _band(by_time, _MINUTE),
        _band(by_volume, _MILLILITRE),
    )


def _marks(cuts: Sequence[Cut], trace: Trace) -> tuple[CutMark, ...]:
    """Where the receivers stand; from the first drop to the last, not from lighting up on."""
    dripped = np.flatnonzero(trace.distillate_volume_m3 > 0.0)
    first = float(trace.time_s[dripped[0]]) if dripped.size else 0.0
    last = last_drop(trace)
    marks = []
    filled = 0.0
    for cut in cuts:
        after = filled + cut.volume_m3 / _MILLILITRE
        start = max(cut.start_s, min(first, cut.end_s))
        end = last if last is not None and start < last < cut.end_s else cut.end_s
        marks.append(CutMark(cut.number, start / _MINUTE, end / _MINUTE, filled, after))
        filled = after
    return tuple(marks)


def _band(given: tuple[Floats, Floats, Floats] | None, unit: float) -> Band | None:
    if given is None:
        return None
    places, low, high = given
    known = np.isfinite(low) & np.isfinite(high)
    if not known.any():
        return None
    return Band(places[known] / unit, low[known] - _ZERO_C, high[known] - _ZERO_C)
