"""`forerun erase`: all that is kept of a run, taken away for good."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from forerun.core.errors import BadInput
from forerun.core.provenance import signed
from forerun.records.interface import RunStore
from forerun.records.library import open_store
from forerun.reporting.paper import Paper

__all__ = ["Erased", "erase"]


@dataclass(frozen=True, slots=True)
class Erased:
    """What went.

    Args:
        run: its number, which stays taken.
        rows: how many rows went.
        overwritten: whether what went is gone from the files of the store, too.
    """

    run: int
    rows: int
    overwritten: bool

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read."""
        later = (
            "The files of the store are cleared of it when it is next written to or closed by "
            "whoever has it open now."
        )
        return (
            "Copies of the database that were made before, and what was exported, still hold it.",
            *(() if self.overwritten else (later,)),
        )

    def to_json(self) -> dict[str, Any]:
        """Return number and rows."""
        return signed({"run": self.run, "erased": self.rows, "overwritten": self.overwritten})

    def printed(self, paper: Paper) -> list[str]:
        """Return what went, in a line for a person."""
        return [
            paper.spelled(
                f"Run {self.run} is erased: sheet, title, code and {self.rows} rows of readings "
                "and entries. What it has shown of a column stays in that passport."
            )
        ]


def erase(run: str, sure: bool, reason: str = "") -> Erased:
    """Take all that is kept of an ended run away for good.

    Args:
        run: its number, or the code of a bench.
        sure: nothing is done without.
        reason: stays with its number, for good; none where left out.

    Raises:
        BadInput: no such run, one that goes on, not sure, or a reason that is too long.
    """
    with open_store() as store:
        number = _number(store, run)
        row = store.run(number)
        if not sure:
            what = f"run {number}, {row.readings} readings"
            raise BadInput("--yes", "nothing", f"--yes: it erases {what} for good")
        rows = store.erase(number, reason)
        overwritten = store.scrub()
    return Erased(number, rows, overwritten)


def _number(store: RunStore, run: str) -> int:
    return int(run) if run.isascii() and run.isdigit() else store.joined(run)
