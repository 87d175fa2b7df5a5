"""What a running still does for certain: bath and pressure as they were read until now, as planned
from then on, and no end by the clock, which a hand can overrun.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from forerun.records.readings import Readings
from forerun.still.inputs import StillInput
from forerun.still.results import Trace

__all__ = ["as_driven", "outlasting", "same_drive"]

Floats = npt.NDArray[np.float64]

_FEWEST = 2
_KNOTS = 60  # of a measured course; the bath is slower than that
_LATEST = 3  # readings whose median stands for now
_FURTHEST_K = 40.0  # a hand that turned the dial further than this has another plan
_AHEAD = 3600.0  # s, as far as two courses are compared
_SAME_K, _SAME_SHARE = 1.0, 0.003  # of the bath, and of the pressure
_FACTOR = (0.2, 5.0)  # of the planned pressure
_LONGER = 1.5  # than the sheet's time, and again whenever 0.8 of that is over
_OVER = 0.8


def as_driven(
    still: StillInput, readings: Readings, until_s: float, planned: Trace | None = None
) -> StillInput:
    """Return a run whose bath and pressure are those that were read.

    Args:
        still: the run as the sheet has it.
        readings: what may steer it.
        until_s: readings up to then are used [s].
        planned: the sheet's own run; needed where a hand leads the bath by a rule.

    Returns:
        The same run; after the last reading the bath keeps its distance from the plan, the
        pressure its ratio to it. What was never read stays as planned.
    """
    bath = _read(readings, "bath_K", until_s)
    pressure = _read(readings, "pressure_Pa", until_s)
    changed = still
    if bath is not None:
        plan = still.bath_temperature
        if still.bath_rule is not None and planned is not None:
            plan = np.column_stack([planned.time_s, planned.bath_temperature_K])
        shift = float(np.clip(bath[-1, 1] - _at(plan, bath[-1, 0]), -_FURTHEST_K, _FURTHEST_K))
        later = _after(plan, bath[-1, 0])
        later[:, 1] += shift
        course = np.vstack([bath, later])
        changed = replace(changed, bath_temperature=course, bath_rule=None)
    if pressure is not None:
        plan = still.pressure
        ratio = float(np.clip(pressure[-1, 1] / _at(plan, pressure[-1, 0]), *_FACTOR))
        later = _after(plan, pressure[-1, 0])
        later[:, 1] *= ratio
        changed = replace(changed, pressure=np.vstack([pressure, later]))
    return changed


def outlasting(still: StillInput, now_s: float = 0.0) -> StillInput:
    """Return a run that its sheet's clock does not end.

    What is due after that time is foreseen too: a still that is slow, or a hand that goes on, is
    not at its end because the planned time is over. A residue or a head that ends the run does.

    Args:
        still: the run as the sheet has it.
        now_s: since the start of the run [s].

    Returns:
        The same run with a later latest end, which grows in leaps.
    """
    end = _LONGER * still.stop.time_s
    while now_s > _OVER * end:
        end *= _LONGER
    return replace(still, stop=replace(still.stop, time_s=end))


def same_drive(one: StillInput, other: StillInput, now_s: float) -> bool:
    """Return whether bath, pressure and latest end are the same run as far as a hood can tell.

    Args:
        one: a run as it was driven.
        other: the same a while later.
        now_s: since the start of the run [s].
    """
    if (one.bath_rule is None) != (other.bath_rule is None) or one.stop != other.stop:
        return False
    times = np.linspace(0.0, now_s + _AHEAD, _KNOTS)
    baths, pressures = (
        [np.interp(times, course[:, 0], course[:, 1]) for course in courses]
        for courses in (
            (one.bath_temperature, other.bath_temperature),
            (one.pressure, other.pressure),
        )
    )
    if np.max(np.abs(baths[0] - baths[1])) > _SAME_K:
        return False
    return bool(np.max(np.abs(pressures[0] / pressures[1] - 1.0)) < _SAME_SHARE)


def _read(readings: Readings, channel: str, until_s: float) -> Floats | None:
    """Return times and medians of a channel, None where it was hardly read."""
    times, values = readings.time_s, readings.channel(channel)
    known = np.isfinite(values) & (times >= 0.0) & (times <= until_s)
    if np.count_nonzero(known) < _FEWEST:
        return None
    times, values = times[known], values[known]
    number = np.arange(times.size)
    if times.size > _KNOTS:
        edges = np.linspace(times[0], times[-1], _KNOTS + 1)
        number = np.clip(np.searchsorted(edges, times, side="right") - 1, 0, _KNOTS - 1)
    blocks = [number == k for k in np.unique(number)]
    rows = [(float(times[b].mean()), float(np.median(values[b]))) for b in blocks]
    knots = np.array([*rows, (float(times[-1]), float(np.median(values[-_LATEST:])))])
    return np.asarray(knots[np.append(True, np.diff(knots[:, 0]) > 0.0)])


def _at(course: Floats, time: float) -> float:
    return float(np.interp(time, course[:, 0], course[:, 1]))


def _after(course: Floats, time: float) -> Floats:
    """Return the rest of a course, beginning a second after a time."""
    start = time + 1.0
    rest = course[course[:, 0] > start]
    if rest.shape[0] > 4 * _KNOTS:
        rest = rest[:: rest.shape[0] // (2 * _KNOTS)]
    return np.vstack([[start, _at(course, start)], rest])
