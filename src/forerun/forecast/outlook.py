"""From now on: how long and how much until the receiver is changed, and until the end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forerun.forecast.bands import Interval, first_drop_band, interval
from forerun.still.results import Run

__all__ = ["Outlook", "outlook_of"]


@dataclass(frozen=True, slots=True)
class Outlook:
    """What lies ahead of a running still.

    Args:
        now_s: since the start of heating [s].
        switch: number of the receiver that is taken away next; None when no member changes one
            any more.
        probability: share of the members that reach that switch before they end [-].
        time_s: from now to the switch, over the members that reach it [s]; None where none does.
        volume_m3: distillate from now to the switch [m3]; None where none reaches it.
        first_drop_s: when the first drop falls, or fell, since the start of heating [s].
        end_s: when the run ends, since the start of heating [s].
    """

    now_s: float
    switch: int | None
    probability: float
    time_s: Interval | None
    volume_m3: Interval | None
    first_drop_s: Interval | None
    end_s: Interval | None


def outlook_of(runs: Sequence[Run], now_s: float, receiver: int | None = None) -> Outlook:
    """Return what lies ahead.

    Args:
        runs: members that fit the record, at least one.
        now_s: since the start of heating [s].
        receiver: number of the one in place now; None takes that of most members.

    Returns:
        Bands over the members.
    """
    changes = [_changes_after(run, now_s) for run in runs]
    if receiver is None:
        seen = Counter(next(iter(found)) for found in changes if found)
        receiver = seen.most_common(1)[0][0] if seen else None
    times, volumes = [], []
    for run, found in zip(runs, changes, strict=True):
        if receiver in found:
            end = found[receiver]
            times.append(end - now_s)
            along = np.interp([now_s, end], run.trace.time_s, run.trace.distillate_volume_m3)
            volumes.append(float(along[1] - along[0]))
    return Outlook(
        now_s=now_s,
        switch=receiver,
        probability=len(times) / len(runs),
        time_s=interval(times),
        volume_m3=interval(volumes),
        first_drop_s=first_drop_band(runs),
        end_s=interval([float(run.trace.time_s[-1]) for run in runs]),
    )


def _changes_after(run: Run, now_s: float) -> dict[int, float]:
    """Return number and time of every change of the receiver that is still to come."""
    return {cut.number: cut.end_s for cut in run.cuts[:-1] if cut.end_s > now_s}
