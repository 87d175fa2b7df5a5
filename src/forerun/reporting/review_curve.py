"""The readings of a run as a curve for terminal, drawing and paper."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.reporting.curve import Curve, CutMark, Line
from forerun.reviewing.observed import received
from forerun.reviewing.review import Review

__all__ = ["curve_of_readings"]

Floats = npt.NDArray[np.float64]

_ZERO_C = 273.15  # K
_STYLES = (
    ("bath", "bath_K", "green", (1, 2), "."),
    ("pot", "pot_K", "vermillion", (4, 2), "o"),
    ("head", "head_K", "blue", (), "*"),
)


def curve_of_readings(review: Review) -> Curve | None:
    """Return what was read, in bench units.

    Args:
        review: of the run.

    Returns:
        Every thermometer that was read, straight between its readings; None where none was, or
        at one moment only.
    """
    log = review.readings
    times = log.time_s
    if times.size < 2 or times[-1] <= times[0]:
        return None
    lines = []
    for name, channel, ink, dashes, glyph in _STYLES:
        values = log.channel(channel)
        if np.isfinite(values).any():
            lines.append(Line(name, ink, dashes, glyph, _between(times, values) - _ZERO_C))
    if not lines:
        return None
    volume = received(log).volume_m3
    read = bool(np.isfinite(volume).any())
    if not read:
        volume = np.zeros(times.size)
    millilitres = np.nan_to_num(_between(times, volume)) * 1e6
    words = "nothing came over" if read else "no volume was read"
    return Curve(times / 60.0, millilitres, tuple(lines), _marks(review), without_volume=words)


def _between(times: Floats, values: Floats) -> Floats:
    """Return values at every time, straight between readings, nothing beyond the last."""
    read = np.isfinite(values)
    return np.interp(times, times[read], values[read], left=np.nan, right=np.nan)


def _marks(review: Review) -> tuple[CutMark, ...]:
    marks, filled = [], 0.0
    for cut in review.observed:
        gained = 0.0 if np.isnan(cut.volume_m3) else cut.volume_m3 * 1e6
        marks.append(
            CutMark(cut.number, cut.start_s / 60.0, cut.end_s / 60.0, filled, filled + gained)
        )
        filled += gained
    return tuple(marks)
