"""How far head and pot stand from the forecast at the same volume, the pressure allowed for.

A temperature against volume hardly depends on how fast the run goes, so these differences speak
of composition, pressure and thermometers, not of heat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.running.case import Case
from forerun.running.courses import Course

__all__ = [
    "Apart",
    "apart_from",
    "pot_over",
    "rate_before",
    "risen_over",
    "usual_rate",
]

Floats = npt.NDArray[np.float64]

_EARLIEST = 0.02  # of the charge: before, the head is still warming
_LATEST = 0.97  # of the forecast's last volume: beyond, the curve is its end
_STANDS = 0.1  # of the usual rate: less is no distilling, and the head then says nothing
_POINTS = 41


@dataclass(frozen=True, slots=True)
class Apart:
    """How far a log stands from each of several simulated runs, along what has come over.

    Args:
        head: (K, n) head minus that of the run at the same volume, pressure allowed for [K].
        pot: (K, n) the same of the pot; not-a-number where it was not read [K].
        begin_s: when the first of these volumes had come over [s].
    """

    head: Floats
    pot: Floats
    begin_s: float


def pot_over(case: Case) -> Floats:
    """Return pot minus forecast at the same volume [K], not-a-number where none can be had.

    Args:
        case: the log.
    """
    return _over(case, case.pot, case.foreseen_pot)


def _over(case: Case, read: Floats, foreseen: Floats) -> Floats:
    if case.foreseen_volume.size < 3:
        return np.full(case.time.size, np.nan)
    expected = np.interp(case.volume, case.foreseen_volume, foreseen)
    with_pressure = np.nan_to_num(case.pressure - case.planned, nan=0.0)
    found = read - expected - float(np.mean(case.boiling_slope)) * with_pressure
    inside = (case.volume > _EARLIEST * case.charge) & (case.volume < _LATEST * case.final_volume)
    return np.where(inside, found, np.nan)


def risen_over(case: Case, values: Floats, seconds: float) -> Floats:
    """Return how much a channel has risen over a time [its unit], not-a-number at the start.

    Args:
        case: whose grid is meant.
        values: (n,) the channel.
        seconds: [s].
    """
    lag = max(int(seconds / case.step), 1)
    found = np.full(case.time.size, np.nan)
    found[lag:] = values[lag:] - values[:-lag]
    return found


def rate_before(case: Case, time: float, over: float = 900.0, gap: float = 60.0) -> float:
    """Return how fast it dripped before a moment [m3/s]; not-a-number where it did not drip.

    Args:
        case: the log.
        time: the moment [s].
        over: how far back is looked [s].
        gap: of which the last is left out [s].
    """
    inside = (case.time >= time - over) & (case.time <= time - gap)
    rates = case.rate[inside & (case.rate > 1e-10)]
    return float(np.median(rates)) if rates.size else float("nan")


def usual_rate(case: Case) -> float:
    """Return the usual rate while it drips [m3/s]; not-a-number where it never did.

    Args:
        case: the log.
    """
    on = case.rate[np.isfinite(case.rate) & (case.rate > 1e-10)]
    return float(np.median(on)) if on.size else float("nan")


def apart_from(
    case: Case, courses: Sequence[Course], begin: float, end: float, least: float
) -> Apart | None:
    """Return how far a log stands from simulated runs, None where too little has come over.

    Args:
        case: the log.
        courses: the runs.
        begin: share of the forecast's last volume from which on is looked [-].
        end: the same, until which is looked [-].
        least: share of the charge that has to have come over between the two [-].
    """
    on = np.isfinite(case.volume) & np.isfinite(case.head)
    on &= (case.volume > begin * case.final_volume) & (case.volume < end * case.final_volume)
    on &= ~(case.rate < _STANDS * usual_rate(case))
    if not courses or on.sum() < 8 or np.ptp(case.volume[on]) < least * case.charge:
        return None
    order = np.argsort(case.volume[on], kind="stable")
    volume = case.volume[on][order]
    even = np.linspace(volume[0], volume[-1], _POINTS)
    pressed = np.nan_to_num((case.pressure - case.planned)[on], nan=0.0)
    pressed *= float(np.mean(case.boiling_slope))
    head = np.interp(even, volume, (case.head[on] - pressed)[order])
    pot = np.interp(even, volume, (case.pot[on] - pressed)[order])
    return Apart(
        np.array([head - np.interp(even, c.volume, c.head) for c in courses]),
        np.array([pot - np.interp(even, c.volume, c.pot) for c in courses]),
        float(case.time[on][0]),
    )
