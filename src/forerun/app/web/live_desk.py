"""Where live runs are kept while the page is served: opened when first needed."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Container
from typing import Any

from forerun.app.live_reckoning import live_reckoner
from forerun.running.live import LiveRun
from forerun.running.live_runs import LiveRuns
from forerun.running.worker import Reckoner, Worker

__all__ = ["LiveDesk"]

_FRESH = 0.5  # s for which a look at all benches is good enough
_ENDED_SHOWN = 12 * 3600.0  # s for which an ended run stays in the list of the wall


class LiveDesk:
    """The live runs of this server.

    Args:
        opened: opens them.
        make: makes what reckons where each stands, in a process beside this one; None for
            nothing of the kind.
    """

    def __init__(
        self,
        opened: Callable[[], LiveRuns] | None = None,
        make: Callable[[], Reckoner] | None = live_reckoner,
    ) -> None:
        self._open, self._make = opened or _of_this_user, make
        self._lock = threading.Lock()
        self._runs: LiveRuns | None = None
        self._worker: Worker | None = None
        self._seen: tuple[float, list[dict[str, Any]]] = (0.0, [])

    @property
    def runs(self) -> LiveRuns:
        """The runs, taken up again the first time.

        Raises:
            BadInput: the folder of this user's records cannot be used.
        """
        with self._lock:
            if self._runs is None:
                self._runs = self._open()
                if self._make is not None:
                    self._worker = Worker(self._runs, self._make)
            return self._runs

    def close(self) -> None:
        """Store what was asked for, and stop reckoning."""
        with self._lock:
            if self._worker is not None:
                self._worker.close()
            if self._runs is not None:
                self._runs.close()

    def run(self, run_id: int) -> LiveRun:
        """Return a run.

        Args:
            run_id: its number.

        Raises:
            BadInput: no live run has it.
        """
        return self.runs.run(run_id)

    def shown(self) -> list[LiveRun]:
        """Return the runs that go on or ended today, the oldest first."""
        earliest = time.time() - _ENDED_SHOWN
        return [
            self.runs.run(row.id)
            for row in self.runs.rows()
            if row.ended_utc_s is None or row.ended_utc_s > earliest
        ]

    def wall(self, own: Container[int] | None = None) -> list[dict[str, Any]]:
        """Return one line for each run that goes on or ended today, the oldest first.

        Args:
            own: numbers of the runs that the asker may see; None for all.
        """
        lines = self._lines()
        return lines if own is None else [line for line in lines if line["id"] in own]

    def _lines(self) -> list[dict[str, Any]]:
        from forerun.running.live_objects import summary_object

        at, seen = self._seen
        if time.monotonic() - at < _FRESH:
            return seen
        lines = [summary_object(run) for run in self.shown()]
        self._seen = (time.monotonic(), lines)
        return lines


def _of_this_user() -> LiveRuns:
    from forerun.app.sheet import load
    from forerun.records.library import open_store

    return LiveRuns(open_store, load)
