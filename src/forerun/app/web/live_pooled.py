"""All benches of this server together: curves, plates, who stands apart; codes alone, no titles."""

from __future__ import annotations

import sys
import threading
import time
import traceback
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from forerun.app.pool import Bench, bench_of
from forerun.app.web.live_desk import LiveDesk
from forerun.core.errors import BadInput
from forerun.records.readings import Readings, readings_of
from forerun.reporting.class_pooled import PooledClass
from forerun.reviewing.pooled import pooled
from forerun.running.checks import check_readings
from forerun.running.live import LiveRun

__all__ = ["Together"]

_FRESH = 3.0  # s for which an answer is good enough


@dataclass(frozen=True, slots=True)
class _Class:
    """Runs of the same substances."""

    substances: tuple[str, ...]
    found: PooledClass | None
    waiting: tuple[str, ...]
    out: tuple[str, ...]
    unusable: Mapping[str, str]

    def to_json(self) -> dict[str, Any]:
        whole = {} if self.found is None else self.found.to_json()
        empty: dict[str, Any] = {"finding": "", "benches": [], "distillate_m3": [], "head_K": None}
        return {
            **{key: whole.get(key, value) for key, value in empty.items()},
            "substances": list(self.substances),
            "waiting": list(self.waiting),
            "out": list(self.out),
            "unusable": dict(self.unusable),
        }


class Together:
    """The runs of a server, pooled; what takes seconds is done one after another, beside.

    Args:
        desk: that has the runs.
    """

    def __init__(self, desk: LiveDesk) -> None:
        self._desk = desk
        self._lock = threading.Lock()
        self._known: dict[int, tuple[int, Bench]] = {}
        self._waiting: list[LiveRun] = []
        self._thread: threading.Thread | None = None
        self._seen: tuple[float, list[_Class]] = (-_FRESH, [])

    def classes(self) -> list[dict[str, Any]]:
        """Return the runs that go on or ended today, those of the same substances together."""
        return [one.to_json() for one in self._now()]

    def table(self, number: int) -> str:
        """Return one class as CSV.

        Args:
            number: its place in the list, from 0.

        Raises:
            BadInput: no such class, or nothing has come over in it yet.
        """
        found = self._now()
        pooled_class = found[number].found if number < len(found) else None
        if pooled_class is None:
            raise BadInput("class", number, "the place of a class in which something has come over")
        return pooled_class.csv()

    def forget(self) -> None:
        """Look anew when next asked."""
        self._seen = (-_FRESH, [])

    def _now(self) -> list[_Class]:
        at, seen = self._seen
        if time.monotonic() - at < _FRESH:
            return seen
        groups: dict[tuple[str, ...], list[LiveRun]] = {}
        for run in self._desk.shown():
            if run.sheet is not None:
                groups.setdefault(tuple(sorted(run.sheet.names)), []).append(run)
        largest = sorted(groups.items(), key=lambda item: -len(item[1]))
        found = [self._class(names, runs) for names, runs in largest]
        self._seen = (time.monotonic(), found)
        return found

    def _class(self, names: tuple[str, ...], runs: list[LiveRun]) -> _Class:
        out = [run for run in runs if run.is_out()]
        logs: dict[str, Readings] = {}
        unusable: dict[str, str] = {}
        for run in (run for run in runs if run not in out):
            log = check_readings(readings_of(run.standing())).readings
            try:
                pooled({run.code: log})
            except BadInput:
                unusable[run.code] = "nothing has come over yet"
            else:
                logs[run.code] = log
        known = {run.code: self._looked_at(run) for run in runs if run.code in logs}
        plates = {c: b.plates for c, b in known.items() if b is not None and b.plates is not None}
        signs = {
            c: b.diagnosis for c, b in known.items() if b is not None and b.diagnosis is not None
        }
        ended = {run.code for run in runs if run.ended_utc_s is not None}
        return _Class(
            names,
            PooledClass("", pooled(logs, plates, signs), signs, unusable) if logs else None,
            tuple(code for code, bench in known.items() if bench is None and code in ended),
            tuple(run.code for run in out),
            unusable,
        )

    def _looked_at(self, run: LiveRun) -> Bench | None:
        """Return what is known of a bench beside its curve; asked for once the run has ended."""
        known = self._known.get(run.id)
        if known is not None and known[0] == run.readings_stored:
            return known[1]
        if run.ended_utc_s is not None:
            with self._lock:
                known = self._known.get(run.id)  # it may just have come
                if known is not None and known[0] == run.readings_stored:
                    return known[1]
                if run not in self._waiting:
                    self._waiting.append(run)
                if self._thread is None:
                    self._thread = threading.Thread(target=self._work, name="class", daemon=True)
                    self._thread.start()
        return None if known is None else known[1]

    def _work(self) -> None:
        while True:
            with self._lock:
                if not self._waiting:
                    self._thread = None
                    return
                run = self._waiting[0]
            stored = run.readings_stored
            bench = _looked_into(run)
            with self._lock:
                self._known[run.id] = (stored, bench)
                self._waiting.remove(run)
            self.forget()


def _looked_into(run: LiveRun) -> Bench:
    if run.sheet is None:
        return Bench(None, None)
    try:
        return bench_of(run.sheet, check_readings(readings_of(run.standing())).readings)
    except Exception:  # one bench must not keep the class from its curves
        traceback.print_exc(file=sys.stderr)
        return Bench(None, None)
