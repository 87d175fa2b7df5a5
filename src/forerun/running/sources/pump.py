"""Readings from a source to a run: what is lost is looked for again, gaps are said."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence

from forerun.core.errors import BadInput
from forerun.running.sources.interface import Row, Source, SourceLost

__all__ = ["Pump"]

_POLL = 0.2  # s
_AGAIN = 1.0  # s between two attempts to open what was lost


class Pump:
    """Passes on what a source gives, in a thread of its own.

    Args:
        source: of the readings.
        deliver: takes rows; called from the thread.
        tell: takes a sentence when the source is lost and when it is back.
        poll_s: between two looks [s].
    """

    def __init__(
        self,
        source: Source,
        deliver: Callable[[Sequence[Row]], None],
        tell: Callable[[str], None],
        poll_s: float = _POLL,
    ) -> None:
        self._source, self._deliver, self._tell, self._poll = source, deliver, tell, poll_s
        self._stop = threading.Event()
        self.problem: BaseException | None = None
        self._thread = threading.Thread(
            target=self._work, name=f"source {source.name}", daemon=True
        )
        self._thread.start()

    def close(self) -> None:
        """Stop, and let go of the source."""
        self._stop.set()
        self._thread.join()

    def _work(self) -> None:
        lost_at: float | None = None
        is_open = False
        try:
            while not self._stop.is_set():
                try:
                    if not is_open:
                        self._source.open()
                        is_open = True
                    rows = self._source.read()
                except SourceLost as problem:
                    is_open = False
                    if lost_at is None:
                        lost_at = time.monotonic()
                        self._tell(f"{self._source.name} is not there ({problem}): looking again.")
                    self._stop.wait(_AGAIN)
                    continue
                if lost_at is not None:
                    gap = time.monotonic() - lost_at
                    self._tell(f"{self._source.name} is back after {gap:.0f} s.")
                    lost_at = None
                if rows:
                    self._deliver(rows)
                self._stop.wait(self._poll)
        except BadInput as problem:
            self.problem = problem
        finally:
            self._source.close()
