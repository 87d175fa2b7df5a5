"""What the process beside the server reckons of each live run: estimate, instruction, findings."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from forerun.records.interface import Entry
from forerun.records.readings import Reading, Readings, readings_of
from forerun.running.thinned import Thinned
from forerun.running.worker import Reckoned, Share

if TYPE_CHECKING:
    from forerun.running.following import Follower

__all__ = ["LiveReckoner", "live_reckoner"]

_REMARKS = ("odd", "note")


@dataclass(slots=True)
class _Log:
    """All that is known of one run."""

    follower: Follower
    readings: Thinned = field(default_factory=Thinned)
    entries: dict[int, Entry] = field(default_factory=dict)

    def take_in(self, share: Share) -> bool:
        """Add what is new; what is corrected goes. Return whether that was possible."""
        for entry in share.entries:
            self.entries[entry.number] = entry
            self.entries.pop(entry.corrects or 0, None)
        return self.readings.add(share.readings)

    def standing(self) -> Readings:
        """Return the log in order of time, what was said beside it as remarks."""
        said = [
            Reading(float(e.data["time_s"]), remark=str(e.data["text"]), origin="said")
            for e in self.entries.values()
            if e.kind in _REMARKS
        ]
        return readings_of([*self.readings.readings(), *said])


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
        from forerun.reporting.findings import finding_objects
        from forerun.running.following import Follower

        for number in share.over:
            self._logs.pop(number, None)
        if share.sheet is not None:
            self._logs[share.run_id] = _Log(Follower(share.sheet))
        log = self._logs[share.run_id]
        if not log.take_in(share):
            log.readings = Thinned()
            return Reckoned(all_again=True)
        found = log.follower.follow(
            log.standing(), share.now_s, tuple(log.entries.values()), share.alarms
        )
        findings = [] if found.diagnosis is None else finding_objects(found.diagnosis)
        return Reckoned(
            found.estimate.to_json(), dict(found.instruction.to_json()), tuple(findings)
        )


def live_reckoner() -> LiveReckoner:
    """Return a reckoner, with the kernels at hand, in a process of its own."""
    from forerun.app.memory import give_back_what_is_large
    from forerun.app.ready import kernels_ready

    give_back_what_is_large()
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    kernels_ready()
    return LiveReckoner()
