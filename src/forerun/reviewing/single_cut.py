"""Every single cut of a run: from which to which volume, how much of the wanted one, how pure.

Volumes are those that were read off the receiver. A cut is what came over between the moments at
which they were read, so that a drop that missed the receiver moves nobody's composition.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.records.readings import Readings
from forerun.still.results import Run

__all__ = ["Cuts", "SingleCut", "cuts_foreseen", "cuts_of"]

Floats = npt.NDArray[np.float64]

_POINTS = 121  # volumes between which cuts are looked for
_HALF = 0.5  # of all that comes over of the wanted one


@dataclass(frozen=True, slots=True)
class SingleCut:
    """One receiver, put in place and taken away.

    Args:
        start_m3: distillate read when it is put in place [m3].
        end_m3: distillate read when it is taken away [m3].
        recovery: share of what was charged of the wanted component [-].
        purity: of it in the receiver, in the basis that was asked for [-]; 0 for an empty one.
    """

    start_m3: float
    end_m3: float
    recovery: float
    purity: float


@dataclass(frozen=True, slots=True)
class Cuts:
    """What comes over in a run, by the volumes that were read.

    Args:
        volume_m3: (n,) rising, from nothing to all [m3].
        over: (n, C) of each component by then, counted in the basis [mol, kg or m3].
        wanted: index of the wanted component.
        charged: of it in the flask at the beginning [mol, kg or m3].
    """

    volume_m3: Floats
    over: Floats
    wanted: int
    charged: float

    def cut(self, start_m3: float, end_m3: float) -> SingleCut:
        """Return what one receiver holds.

        Args:
            start_m3: distillate when it is put in place [m3].
            end_m3: distillate when it is taken away [m3].
        """
        gained = self._by(end_m3) - self._by(start_m3)
        all_ = float(gained.sum())
        if end_m3 <= start_m3 or all_ <= 0.0:
            return SingleCut(start_m3, end_m3, 0.0, 0.0)
        own = float(gained[self.wanted])
        return SingleCut(start_m3, end_m3, own / self.charged, own / all_)

    def best(self, purity: float) -> SingleCut:
        """Return the cut that holds most of the wanted one and is as pure as asked.

        Args:
            purity: the aim [-]. Where the glass cannot give it for half of what comes over of the
                wanted one, the purest cut of that half stands for it.
        """
        recovery, pure = self._all()
        enough = recovery >= _HALF * float(recovery.max())
        target = min(purity, float(pure[enough].max()))
        k = int(np.argmax(np.where(pure >= target - 1e-12, recovery, -1.0)))
        first, last = divmod(k, self.volume_m3.size)
        return self.cut(float(self.volume_m3[first]), float(self.volume_m3[last]))

    def _all(self) -> tuple[Floats, Floats]:
        """Return recovery and purity of all cuts by first and last volume; nothing for none."""
        gained = self.over[None, :, :] - self.over[:, None, :]
        all_, own = gained.sum(axis=2), gained[:, :, self.wanted]
        pure = np.divide(own, all_, out=np.zeros_like(all_), where=all_ > 1e-12 * self.charged)
        later = np.triu(np.ones(all_.shape, dtype=bool), 1)
        return np.where(later, own / self.charged, 0.0), np.where(later, pure, 0.0)

    def _by(self, volume: float) -> Floats:
        return np.array([np.interp(volume, self.volume_m3, amount) for amount in self.over.T])


def cuts_of(run: Run, readings: Readings, wanted: int, weights: Floats) -> Cuts:
    """Return the single cuts of a run whose log was read.

    Args:
        run: what happened.
        readings: the log, with distillate.
        wanted: index of the wanted component.
        weights: (C,) what one mole of each component counts in the basis [-, kg/mol or m3/mol].

    Returns:
        Volumes from nothing to all [m3], and what had come over by each.

    Raises:
        BadInput: a log in which no distillate is read.
    """
    read = readings.channel("distillate_m3")
    known = np.isfinite(read)
    if not known.any() or float(read[known].max()) <= 0.0:
        raise BadInput("log", "no distillate", "a log in which something comes over")
    rising = np.maximum.accumulate(read[known])
    times = readings.time_s[known]
    volume = np.linspace(0.0, float(rising[-1]), _POINTS)
    first = np.minimum(np.searchsorted(rising, volume), times.size - 1)
    moments = times[first]
    moments[0] = 0.0
    moments[-1] = float(run.trace.time_s[-1])
    return _cuts(run, volume, moments, wanted, weights)


def cuts_foreseen(run: Run, wanted: int, weights: Floats) -> Cuts:
    """Return the single cuts of a run whose receivers are read without error.

    Args:
        run: what happens.
        wanted: index of the wanted component.
        weights: (C,) what one mole of each component counts in the basis [-, kg/mol or m3/mol].

    Returns:
        Volumes from nothing to all [m3], and what had come over by each.

    Raises:
        BadInput: a run in which nothing comes over.
    """
    rising = np.maximum.accumulate(run.trace.distillate_volume_m3)
    if not float(rising[-1]) > 0.0:
        raise BadInput("sheet", "no distillate", "a sheet with which something comes over")
    volume = np.linspace(0.0, float(rising[-1]), _POINTS)
    first = np.minimum(np.searchsorted(rising, volume), rising.size - 1)
    return _cuts(run, volume, run.trace.time_s[first], wanted, weights)


def _cuts(run: Run, volume: Floats, moments: Floats, wanted: int, weights: Floats) -> Cuts:
    so_far = _so_far(run) * weights
    over = np.array([np.interp(moments, run.trace.time_s, amount) for amount in so_far.T]).T
    charged = float(run.ledger.charge_mol[wanted] * weights[wanted])
    return Cuts(volume, over, wanted, charged)


def _so_far(run: Run) -> Floats:
    """Return what has come over of each component by the times of the trace [mol]."""
    trace = run.trace
    flow = trace.distillate_rate_mol_s[:, None] * np.nan_to_num(trace.distillate_mole_fraction)
    steps = 0.5 * (flow[1:] + flow[:-1]) * np.diff(trace.time_s)[:, None]
    return np.vstack([np.zeros(flow.shape[1]), np.cumsum(steps, axis=0)])
