"""What a source of readings is: it parses, and leaves the judging of values to the run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

__all__ = ["Row", "Source", "SourceLost"]

Row = Mapping[str, Any]
"""One reading as a run is sent it: headings of `forerun.records.readings.HEADINGS`, and time."""


class SourceLost(Exception):  # noqa: N818 -- it is no fault: the source may come back
    """A device or file is not there, or not any more; it may come back."""


class Source(Protocol):
    """Something that gives readings.

    Args:
        name: under which its readings are kept.
        by_hand: whether a person sends them, slowly.
    """

    name: str
    by_hand: bool

    def open(self) -> None:
        """Take hold of it; called again after it was lost.

        Raises:
            SourceLost: it is not there.
            BadInput: it never will be, as it was asked for.
        """

    def read(self) -> Sequence[Row]:
        """Return what came since the last time, at once; nothing where nothing came.

        What cannot be understood comes as a row with a ``remark``, so that it is kept.

        Raises:
            SourceLost: it is gone.
        """

    def close(self) -> None:
        """Let go of it; may be called at any time."""
