"""What every store of runs offers: rows are added, never changed; corrections are new rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from forerun.records.readings import Reading

__all__ = ["Entry", "Kept", "Outcome", "RunRow", "RunStore", "Sent", "StoredReading"]


@dataclass(frozen=True, slots=True)
class RunRow:
    """One run of the store.

    Args:
        id: its number, from 1.
        title: of its sheet.
        sheet: the sheet as it was when the run was started, as text.
        started_utc_s: when [s since 1970-01-01].
        ended_utc_s: when it was closed, None while it goes on [s since 1970-01-01].
        readings: how many are stored, corrections included [-].
        code: by which a bench joins it; empty for a run that was not live.
        pace: seconds of the run in a second of the room [-].
    """

    id: int
    title: str
    sheet: str
    started_utc_s: float
    ended_utc_s: float | None
    readings: int
    code: str = ""
    pace: float = 1.0


@dataclass(frozen=True, slots=True)
class Sent:
    """By what a sender names one sending, so that sending it again stores nothing twice.

    Args:
        origin: who sent it.
        sequence: its number or name among all that this sender sent to the run.
        digest: of what was sent; the same name for something else is refused.
    """

    origin: str
    sequence: str
    digest: str = ""


@dataclass(frozen=True, slots=True)
class Kept:
    """Where what was sent is stored.

    Args:
        first: number of its first row.
        last: number of its last row; below ``first`` where there was nothing to store.
        again: whether it had been stored before.
    """

    first: int
    last: int
    again: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one act of several.

    Args:
        value: what it returned.
        problem: what it raised instead; then it left nothing behind.
    """

    value: object = None
    problem: Exception | None = None


@dataclass(frozen=True, slots=True)
class StoredReading:
    """A reading with its number.

    Args:
        number: within its run, from 1, without gaps.
        reading: the reading.
        stored_utc_s: when it was committed [s since 1970-01-01].
    """

    number: int
    reading: Reading
    stored_utc_s: float


@dataclass(frozen=True, slots=True)
class Entry:
    """Anything else that belongs to a run: a cut, an assay, a decision at a gate, a note.

    Args:
        number: within its run, from 1, over all kinds.
        kind: ``cut``, ``assay``, ``sheet``, ``gate``, ``override``, ``note``, ``advice``,
            ``score`` or another word of the caller.
        data: plain values.
        stored_utc_s: when it was committed [s since 1970-01-01].
        corrects: number of the entry that this one replaces, None for a new one.
    """

    number: int
    kind: str
    data: Mapping[str, Any]
    stored_utc_s: float
    corrects: int | None = None


class RunStore(Protocol):
    """Where runs are kept.  Every call returns only after what it added is on disk."""

    def start_run(
        self, sheet: str, title: str = "", *, live: bool = False, pace: float = 1.0
    ) -> int:
        """Open a run and return its number; a live one is given a code to join it by."""

    def end_run(self, run_id: int) -> None:
        """Close a run; closing it twice changes nothing."""

    def runs(self) -> tuple[RunRow, ...]:
        """Return all runs, the oldest first."""

    def run(self, run_id: int) -> RunRow:
        """Return one run."""

    def joined(self, code: str) -> int:
        """Return the number of the run that has a code, of several the newest."""

    def append(self, run_id: int, readings: Sequence[Reading]) -> int:
        """Add readings, all of them or none, and return the number of the last stored one."""

    def append_once(
        self, run_id: int, readings: Sequence[Reading], sent: Sent | None = None
    ) -> Kept:
        """Add readings unless they were stored before, and return where they are."""

    def readings(
        self, run_id: int, after: int = 0, *, corrected: bool = False
    ) -> tuple[StoredReading, ...]:
        """Return the readings with a higher number; with ``corrected`` those that still stand."""

    def add(
        self, run_id: int, kind: str, data: Mapping[str, Any], corrects: int | None = None
    ) -> int:
        """Add an entry and return its number."""

    def add_once(
        self,
        run_id: int,
        kind: str,
        data: Mapping[str, Any],
        corrects: int | None = None,
        sent: Sent | None = None,
    ) -> Kept:
        """Add an entry unless it was stored before, and return where it is."""

    def together(self, acts: Sequence[Callable[[], object]]) -> tuple[Outcome, ...]:
        """Do several acts and wait for the disk once; one that fails does not undo the others."""

    def entries(
        self, run_id: int, kind: str | None = None, after: int = 0, *, corrected: bool = False
    ) -> tuple[Entry, ...]:
        """Return entries of one kind or of all; with ``corrected`` those that still stand."""

    def keep_passport(self, name: str, data: Mapping[str, Any], run_id: int | None = None) -> int:
        """Add a measured state of a physical item and return its number."""

    def passports(self, name: str) -> tuple[Entry, ...]:
        """Return every state of an item, the oldest first; empty for one never measured."""

    def passport_names(self) -> tuple[str, ...]:
        """Return the names of all items that were measured, in alphabetical order."""

    def erase(self, run_id: int, reason: str = "") -> int:
        """Take all that is kept of an ended run away for good; return how many rows went.

        Args:
            run_id: number of the run.
            reason: stays in the entry that says so; none where left out.
        """

    def scrub(self) -> bool:
        """Write over what was erased; return whether it is gone from the files by now."""

    def close(self) -> None:
        """Let go of the file."""
