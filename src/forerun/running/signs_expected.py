"""How far head and pot stand from the forecast at the same volume, the pressure allowed for.

A temperature against volume hardly depends on how fast the run goes, so these differences speak
of composition, pressure and thermometers, not of heat.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.running.case import Case

__all__ = ["head_over", "pot_over", "rate_before", "risen_over"]

Floats = npt.NDArray[np.float64]

_EARLIEST = 0.02  # of the charge: before, the head is still warming
_LATEST = 0.97  # of the forecast's last volume: beyond, the curve is its end


def head_over(case: Case) -> Floats:
    """Return head minus forecast at the same volume [K], not-a-number where none can be had.

    Args:
        case: the log.
    """
    return _over(case, case.head, case.foreseen_head)


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
