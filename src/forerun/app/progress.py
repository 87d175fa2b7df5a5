"""Progress on stderr for whatever takes longer than a second."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    import rich.progress

__all__ = ["Progress"]

_PATIENCE = 0.8  # s without a sign of life that nobody minds


class Progress:
    """A bar that appears only when work takes long, and only on a terminal.

    Args:
        what: what is being done, in a few words.

    Call it with the number of parts done and the number of all parts.
    """

    def __init__(self, what: str) -> None:
        self._what = what
        self._started = time.monotonic()
        self._bar: rich.progress.Progress | None = None
        self._told = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        problem: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._bar is not None:
            self._bar.stop()

    def __call__(self, done: int, total: int) -> None:
        """Show how far the work is.

        Args:
            done: parts that are finished [-].
            total: all parts [-].
        """
        if self._bar is None and time.monotonic() - self._started < _PATIENCE:
            return
        if not sys.stderr.isatty():
            self._tell(total)
            return
        bar = self._bar or self._shown()
        bar.update(bar.task_ids[0], completed=done, total=total)

    def _tell(self, total: int) -> None:
        """Say once, where a bar would only fill a log, what the time goes into."""
        if not self._told:
            self._told = True
            print(f"{self._what}: {total} parts", file=sys.stderr)

    def _shown(self) -> rich.progress.Progress:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, TextColumn
        from rich.progress import Progress as Bar

        columns = (TextColumn("{task.description}"), BarColumn(bar_width=20), MofNCompleteColumn())
        self._bar = Bar(*columns, console=Console(stderr=True), transient=True)
        self._bar.add_task(self._what, total=None)
        self._bar.start()
        return self._bar
