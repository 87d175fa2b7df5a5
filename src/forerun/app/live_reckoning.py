"""What the process beside the server reckons of each live run: findings of its log so far."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from forerun.app.diagnose import FEWEST
from forerun.records.interface import Entry
from forerun.records.readings import Reading, Readings, readings_of
from forerun.running.worker import Reckoned, Share
from forerun.sheets.model import RunSheet

if TYPE_CHECKING:
    from forerun.still.from_sheet import Prepared
    from forerun.still.results import Run

__all__ = ["LiveReckoner", "live_reckoner"]

_REMARKS = ("odd", "note")


@dataclass(slots=True)
class _Log:
    """All that is known of one run."""

    sheet: RunSheet
    prepared: Prepared
    foreseen: Run
    readings: dict[int, Reading] = field(default_factory=dict)
    entries: dict[int, Entry] = field(default_factory=dict)

    def take_in(self, share: Share) -> None:
        """Add what is new; what is corrected goes."""
        for stored in share.readings:
            self.readings[stored.number] = stored.reading
            self.readings.pop(stored.reading.corrects or 0, None)
        for entry in share.entries:
            self.entries[entry.number] = entry
            self.entries.pop(entry.corrects or 0, None)

    def standing(self) -> Readings:
        """Return the log in order of time, what was said beside it as remarks."""
        said = [
            Reading(float(e.data["time_s"]), remark=str(e.data["text"]), origin="said")
            for e in self.entries.values()
            if e.kind in _REMARKS
        ]
        return readings_of([*self.readings.values(), *said])


class LiveReckoner:
    """Keeps the log of each run and reckons on it."""

    def __init__(self) -> None:
        self._logs: dict[int, _Log] = {}

    def reckon(self, share: Share) -> Reckoned:
        """Take in what is new of a run and return where it stands.

        Args:
            share: what is new.

        Raises:
            CalculationFailed: the sheet's own run did not finish.
        """
        if share.sheet is not None:
            self._logs[share.run_id] = _log_of(share.sheet)
        log = self._logs[share.run_id]
        log.take_in(share)
        return Reckoned(None, None, tuple(_findings(log)))


def live_reckoner() -> LiveReckoner:
    """Return a reckoner, with the kernels at hand."""
    from forerun.app.ready import kernels_ready

    os.environ.setdefault("OMP_NUM_THREADS", "1")
    kernels_ready()
    return LiveReckoner()


def _log_of(sheet: RunSheet) -> _Log:
    from forerun.still.from_sheet import prepare
    from forerun.still.run import run_still

    prepared = prepare(sheet)
    return _Log(sheet, prepared, run_still(prepared.still))


def _findings(log: _Log) -> list[dict[str, Any]]:
    from forerun.reporting.findings import finding_objects
    from forerun.running.case import case_of
    from forerun.running.checks import check_readings
    from forerun.running.diagnosing import diagnose_case

    usable = check_readings(log.standing()).readings
    if len(usable) < FEWEST:
        return []
    return finding_objects(diagnose_case(case_of(log.prepared, log.foreseen.trace, usable)))
