"""What a fault of a simulated bench starts from, and what it leaves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.forecast.drawing import Prior
from forerun.running.simulated_reading import Channels
from forerun.still.inputs import StillInput
from forerun.still.results import Run

__all__ = ["Faulty", "Standing", "halted", "led_by", "ramp"]

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Standing:
    """A run that goes well, to which something will be done.

    Args:
        prior: what is not known about the sheet.
        given: the true still.
        run: what it does undisturbed.
        random: source of chance.
    """

    prior: Prior
    given: StillInput
    run: Run
    random: np.random.Generator

    @property
    def over_m3(self) -> float:
        """Distillate of the undisturbed run [m3]."""
        return float(self.run.trace.distillate_volume_m3[-1])

    def when(self, share: float) -> float:
        """Return when this share of the distillate had come over undisturbed [s]."""
        trace = self.run.trace
        volume = trace.distillate_volume_m3
        return float(trace.time_s[int(np.searchsorted(volume, share * volume[-1]))])

    def drawn(self, low: float, high: float) -> float:
        """Return a value between two [their unit], all alike likely."""
        return float(self.random.uniform(low, high))

    def some_time(self, low: float = 0.15, high: float = 0.6) -> float:
        """Return a moment while it drips, between two shares of the distillate [s]."""
        return self.when(self.drawn(low, high))


@dataclass(frozen=True, slots=True)
class Faulty:
    """What a fault makes of a run.

    Args:
        given: the still with the fault.
        start_s: when it begins [s].
        also: changes channels where the model has no word for the fault, None where it has.
        remarks: what somebody would write down, each with its time [s].
        unread: channels without which this fault is what it is.
        found_again: share of the mass that is found at the end [-].
        in_trap: share of the vapour lost that the trap holds [-].
    """

    given: StillInput
    start_s: float = 0.0
    also: Callable[[Channels], None] | None = None
    remarks: tuple[tuple[float, str], ...] = ()
    unread: frozenset[str] = frozenset()
    found_again: float = 1.0
    in_trap: float = 1.0


def ramp(time: Floats, begin: float, length: float) -> Floats:
    """Return 0 before, 1 after, straight between.

    Args:
        time: (n,) [s].
        begin: [s].
        length: [s].
    """
    return np.clip((time - begin) / length, 0.0, 1.0)


def halted(true: Channels, begin: float, end: float = np.inf, kept: float = 0.0) -> None:
    """Let less drip from a moment on, until another.

    Args:
        true: whose distillate is changed.
        begin: [s].
        end: [s].
        kept: share of the rate that is left [-].
    """
    time, volume = true["time_s"], true["distillate_m3"]
    first, last = (float(np.interp(t, time, volume)) for t in (begin, min(end, time[-1])))
    lost = np.clip(volume, first, last) - first
    true["distillate_m3"] = volume - (1.0 - kept) * lost


def led_by(standing: Standing, change: Callable[[Floats, Floats], Floats]) -> StillInput:
    """Return the still with its bath led otherwise, whatever led it before.

    Args:
        standing: the run that goes well.
        change: makes of times [s] and bath [K] another bath [K].
    """
    trace = standing.run.trace
    end = standing.given.stop.time_s
    times = np.arange(0.0, end + 30.0, 30.0)
    bath = np.interp(times, trace.time_s, trace.bath_temperature_K)
    if standing.given.bath_rule is None:
        course = standing.given.bath_temperature
        bath = np.interp(times, course[:, 0], course[:, 1])
    changed = np.column_stack([times, change(times, bath)])
    return replace(standing.given, bath_temperature=changed, bath_rule=None)
