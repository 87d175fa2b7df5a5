"""The clock of a run: counted from its start, never stepping, with the room's clock beside it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["LARGEST_STEP", "Moment", "RunClock"]

LARGEST_STEP = 2.0
"""Seconds by which the room's clock may leave ours before that is noted as a step [s]."""


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment by both clocks.

    Args:
        run_s: since the start of the run [s].
        utc_s: since 1970-01-01 by the clock of the room [s].
    """

    run_s: float
    utc_s: float


class RunClock:
    """Counts a run's seconds by a clock that no one sets.

    Args:
        known: a moment of which both times are known: the start, or the last one noted.
        pace: seconds of the run in a second of the room [-].
        least_s: what the clock has shown already; it never shows less [s].
        steady: seconds of a clock that never steps.
        room: seconds since 1970-01-01 by the clock of the room.
    """

    def __init__(
        self,
        known: Moment,
        pace: float = 1.0,
        least_s: float = 0.0,
        steady: Callable[[], float] = time.monotonic,
        room: Callable[[], float] = time.time,
    ) -> None:
        self.pace = pace
        self._steady, self._room = steady, room
        self._steady_start = steady()
        utc_s = room()
        away = known.run_s + pace * (utc_s - known.utc_s)
        self._run_start = max(away, least_s, 0.0)
        self.went_back = away < least_s
        """Whether the room's clock claims that the run is younger than it has been already."""
        self._noted = Moment(self._run_start, utc_s)

    def now(self) -> Moment:
        """Return this moment."""
        passed = self._steady() - self._steady_start
        return Moment(self._run_start + self.pace * passed, self._room())

    def step(self) -> float:
        """Return by how much the room's clock was set since the last call that found so [s].

        Returns:
            0 where it kept pace with ours to 2 s.
        """
        now = self.now()
        passed = (now.run_s - self._noted.run_s) / self.pace
        apart = now.utc_s - self._noted.utc_s - passed
        if abs(apart) <= LARGEST_STEP:
            return 0.0
        self._noted = now
        return apart
