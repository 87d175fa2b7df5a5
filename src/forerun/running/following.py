"""One run followed while it drips: estimate, findings and the instruction that rests on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forerun.records.interface import Entry
from forerun.records.readings import Readings
from forerun.reviewing.findings import Diagnosis
from forerun.running.alarm_limits import limits_of
from forerun.running.alarms import Alarm
from forerun.running.checks import check_readings
from forerun.running.diagnosing import Diagnoser
from forerun.running.estimate import Estimate
from forerun.running.estimating import Drops, Estimator
from forerun.running.instructing import Moment, instructed
from forerun.running.instruction import Answer, Instruction
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import prepare
from forerun.still.run import run_still

__all__ = ["FEWEST", "Followed", "Follower"]

FEWEST = 3
"""Readings below which nothing odd can be told from what is usual [-]."""


_ROUNDS = 2  # an answer now, and the rest of the way with the next one


@dataclass(frozen=True, slots=True)
class Followed:
    """Where a run stands.

    Args:
        estimate: by the corrected forecast.
        instruction: what to do.
        diagnosis: what is odd, and why; None where there are too few readings to tell.
    """

    estimate: Estimate
    instruction: Instruction
    diagnosis: Diagnosis | None


class Follower:
    """Follows one run.

    Args:
        sheet: of the run.
        members: of the ensemble, 8 to 1,024.
        threads: how many runs at a time; None for one on each processor.

    Raises:
        BadInput: members out of range.
        CalculationFailed: the sheet's own run did not finish.
    """

    def __init__(self, sheet: RunSheet, members: int = 48, threads: int | None = None) -> None:
        self._prepared = prepare(sheet)
        self._planned = run_still(self._prepared.still).trace
        self._diagnoser = Diagnoser(self._prepared, self._planned, threads)
        self._limits = limits_of(sheet)
        self._estimator = Estimator(self._prepared, members, threads=threads, rounds=_ROUNDS)
        self._before: Instruction | None = None

    def follow(
        self,
        readings: Readings,
        now_s: float,
        entries: Sequence[Entry] = (),
        alarms: Sequence[Alarm] = (),
    ) -> Followed:
        """Return where the run stands.

        Args:
            readings: all that still stand, in order of time.
            now_s: since the start of the run [s].
            entries: what was said beside them, corrections applied.
            alarms: that stand.

        Raises:
            CalculationFailed: hardly a member finished.
        """
        receiver, changed_s = _in_place(entries)
        estimate = self._estimator.estimate(
            readings,
            now_s,
            receiver=receiver,
            changed_s=changed_s,
            drops=_drops(entries),
            drops_per_m3=_drops_per_m3(entries),
        )
        usable = check_readings(readings).readings
        diagnosis = self._diagnosis(usable, entries)
        bath, head, pot = (_newest(usable, name) for name in ("bath_K", "head_K", "pot_K"))
        moment = Moment(
            now_s,
            estimate,
            self._limits,
            alarms,
            () if diagnosis is None else diagnosis.findings,
            bath_K=self._planned_bath(now_s) if bath is None else bath,
            head_K=head,
            pot_K=self._pot(now_s) if pot is None else pot,
            planned_bath_K=None if bath is None else self._planned_bath(now_s),
            planned_rate_m3_s=self._planned_rate(estimate),
            answers=_answers(entries),
            tested=_tested(entries),
        )
        self._before = instructed(moment, self._before)
        return Followed(estimate, self._before, diagnosis)

    def _diagnosis(self, usable: Readings, entries: Sequence[Entry]) -> Diagnosis | None:
        if len(usable) < FEWEST:
            return None
        return self._diagnoser.diagnose(usable, answers=_tested(entries))

    def _planned_bath(self, now_s: float) -> float | None:
        still = self._prepared.still
        if still.bath_rule is not None:
            return None
        plan = still.bath_temperature
        return float(np.interp(now_s, plan[:, 0], plan[:, 1]))

    def _pot(self, now_s: float) -> float:
        """Return what the members have in the pot [K]."""
        at = [
            np.interp(now_s, run.trace.time_s, run.trace.pot_temperature_K)
            for run in self._estimator.belief.runs
        ]
        return float(np.median(at))

    def _planned_rate(self, estimate: Estimate) -> float | None:
        """Return the rate of the sheet's own run when as much had come over [m3/s]."""
        volumes, times = self._planned.distillate_volume_m3, self._planned.time_s
        now = float(np.interp(estimate.now_s, estimate.time_s, estimate.distillate_m3.p50))
        if not 0.0 < now < float(volumes[-1]):
            return None
        k = min(max(int(np.searchsorted(volumes, now)), 1), volumes.size - 1)
        start, end = max(k - 1, 0), min(k + 1, volumes.size - 1)
        passed = float(times[end] - times[start])
        return float(volumes[end] - volumes[start]) / passed if passed > 0.0 else None


def _in_place(entries: Sequence[Entry]) -> tuple[int, float]:
    """Return the receiver in place, and since when [s]."""
    away = [e for e in entries if e.kind == "switched"]
    if not away:
        return 1, 0.0
    last = max(away, key=lambda e: (int(e.data["receiver"]), float(e.data["time_s"])))
    return int(last.data["receiver"]) + 1, float(last.data["time_s"])


def _drops(entries: Sequence[Entry]) -> list[Drops]:
    return [
        Drops(float(e.data["time_s"]), float(e.data["count"]), float(e.data["over_s"]))
        for e in entries
        if e.kind == "drops"
    ]


def _drops_per_m3(entries: Sequence[Entry]) -> float | None:
    said = [float(e.data["value"]) for e in entries if e.kind == "drops_per_mL"]
    return 1e6 * said[-1] if said else None


def _answers(entries: Sequence[Entry]) -> dict[str, Answer]:
    return {
        str(e.data["instruction"]): Answer(str(e.data["answer"]), float(e.data["time_s"]))
        for e in entries
        if e.kind == "answer"
    }


def _tested(entries: Sequence[Entry]) -> dict[str, str]:
    return {str(e.data["finding"]): str(e.data["answer"]) for e in entries if e.kind == "test"}


def _newest(readings: Readings, channel: str) -> float | None:
    values = readings.channel(channel)
    known = values[np.isfinite(values)]
    return float(known[-1]) if known.size else None
