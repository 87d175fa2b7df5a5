"""Reckoners for tests of the process that reckons: they say what they were told, or go wrong."""

from __future__ import annotations

import os
import time

from forerun.core.errors import CalculationFailed
from forerun.running.worker import Reckoned, Share


class Telling:
    """Says what it was told; does what a remark in the last reading asks for."""

    def __init__(self) -> None:
        self.seen: dict[int, int] = {}
        self.sheets: dict[int, str] = {}

    def reckon(self, share: Share) -> Reckoned:
        for number in share.over:
            self.sheets.pop(number)
        if share.sheet is not None:
            self.sheets[share.run_id] = share.sheet.title
        asked = share.readings[-1].reading.remark if share.readings else ""
        if asked == "die":
            os._exit(1)
        if asked == "fail":
            raise ZeroDivisionError("by nothing")
        if asked == "refuse":
            raise CalculationFailed("the forecast", "at 5 min", "Wait.")
        if asked == "dawdle":
            time.sleep(60.0)
        if asked == "again" and share.readings[0].number > 1:
            self.seen.pop(share.run_id)
            return Reckoned(all_again=True)
        self.seen[share.run_id] = self.seen.get(share.run_id, 0) + len(share.readings)
        estimate = {
            "state": "waiting",
            "readings": self.seen[share.run_id],
            "title": self.sheets[share.run_id],
            "runs": sorted(self.sheets),
            "process": os.getpid(),
        }
        return Reckoned(estimate, {"id": "hold-1", "text": "hold"}, ({"name": "none"},))


def telling() -> Telling:
    return Telling()
