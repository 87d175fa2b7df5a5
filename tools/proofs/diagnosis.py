"""How often a diagnosis names the true cause, and how often it cries wolf; figures as JSON.

    python tools/proofs/diagnosis.py [--faulty N] [--healthy N] [--pairs N] [--seed FIRST] [--equal]

Logs come from simulated benches (`forerun.running.simulated`); thresholds were tuned on seeds
below 10000 and on what seeds from 10000 to 50000 showed: judge on others.  What is true of a run
without anybody's doing is left out before causes are ranked, in faulty runs, too.  A log is
diagnosed as it stands when its name is still of use, a healthy one at six moments, each of which
may cry wolf.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.forecast.drawing import Prior, prior_of
from forerun.records.readings import Readings
from forerun.running.case import Weighed
from forerun.running.checks import check_readings
from forerun.running.diagnosing import Diagnoser, ranked
from forerun.running.simulated import SimulatedLog, simulated_log
from forerun.running.simulated_faults import FAULTS, possible_faults
from forerun.running.simulated_truth import working_plates
from forerun.sheets.reading import read_text
from forerun.sheets.resolving import load, resolve
from forerun.still.from_sheet import prepare
from forerun.still.results import Trace
from forerun.still.run import run_still

__all__ = ["SHEETS", "false_alarms", "judged", "leak_or_end", "main"]

ROOT = Path(__file__).resolve().parents[2]
FIGURES = ROOT / "docs" / "explain" / "diagnosis.json"
FIRST_JUDGED = 10_000
EVERY_S = (2.0, 5.0, 10.0, 15.0)
MOMENTS = 6
LEAST_SHOWN_S = 300.0
BY_ACCOUNT = {"lost_mass", "gained_mass"}
AGAIN, MOST_AGAIN = 1_000_000, 20
_MADE = Path(__file__).parent / "diagnosis_sheets"
SHEETS = ("simple-still", "class-pair", "reduced-pressure", "workshop-blend", "three-on-eight")


@dataclass(frozen=True)
class Judged:
    """One faulty run: what was wrong, where, and what was named."""

    fault: str
    sheet: str
    seed: int
    named: tuple[str, ...]

    @property
    def place(self) -> int:
        """Place of the true cause among those named, 0 where it was not."""
        return self.named.index(self.fault) + 1 if self.fault in self.named else 0


def sheets() -> tuple[str, ...]:
    """Return names of the ready sheets and paths of those made for this proof."""
    return (*SHEETS, *(str(path) for path in sorted(_MADE.glob("*.toml"))))


@cache
def prior_for(sheet: str) -> Prior:
    """Return what is not known about a sheet."""
    read = resolve(read_text(Path(sheet).read_text("utf-8"))) if "/" in sheet else load(sheet)
    return prior_of(prepare(read))


@cache
def foreseen(sheet: str) -> Trace:
    """Return the forecast of a sheet."""
    return run_still(prior_for(sheet).prepared.still).trace


@cache
def diagnoser(sheet: str) -> Diagnoser:
    """Return what diagnoses logs of a sheet."""
    return Diagnoser(prior_for(sheet).prepared, foreseen(sheet))


def charge_of(sheet: str) -> float:
    """Return the charge of a sheet [m3]."""
    return sum(p.volume_m3 for p in prior_for(sheet).prepared.sheet.charge)


@cache
def boils_as_a_blend(sheet: str) -> bool:
    """Return whether the charge has a constant-boiling blend, however close to a boiling point."""
    prepared = prior_for(sheet).prepared
    pressure = float(prepared.still.pressure[0, 1])
    return len(prepared.sheet.charge) > 1 and bool(
        find_azeotropes(prepared.mixture, pressure).azeotropes
    )


def true_besides(log: SimulatedLog, sheet: str) -> set[str]:
    """Return what is true of a run without anybody's doing: naming it is no mistake.

    A blend that the charge has; a pot that the sheet itself empties; a first drop twenty
    minutes late; a head that falls by 5 K because the bath drives nothing more over; a column whose
    plates the load has halved.
    """
    run, prepared = log.truth.run, prior_for(sheet).prepared
    found = set()
    if "azeotrope" in possible_faults(prepared) or boils_as_a_blend(sheet):
        found.add("azeotrope")
    if run.residue.volume_m3 < 0.125 * charge_of(sheet):
        found.add("near_dry")
    late = foreseen(sheet).time_s[foreseen(sheet).distillate_volume_m3 > 0.0][0] + 1200.0
    if run.first_drop_s is None or run.first_drop_s > late:
        found.add("heat_loss")
    head = np.maximum.accumulate(run.trace.head_temperature_K)
    if float((head - run.trace.head_temperature_K).max()) > 5.0:
        found.add("light_exhausted")
    works, foreseen_to = (
        working_plates(given, trace)
        for given, trace in ((log.truth.given, run.trace), (prepared.still, foreseen(sheet)))
    )
    if works <= 0.5 * foreseen_to:
        found.add("too_few_plates")
    return found


def named(
    sheet: str, readings: Readings, weighed: Weighed | None, besides: set[str]
) -> tuple[str, ...]:
    """Return causes by rank, leaving out findings that are true besides."""
    found = diagnoser(sheet).diagnose(check_readings(readings).readings, weighed)
    kept = tuple(f for f in found.findings if f.name not in besides)
    return tuple(cause.name for cause in ranked(replace(found, findings=kept)))


def until(readings: Readings, end: float) -> Readings:
    """Return what of a log had been read by then."""
    return replace(readings, rows=tuple(r for r in readings.rows if r.time_s <= end))


def made(sheet: str, seed: int, fault: str | None, richer: bool) -> SimulatedLog:
    """Return a simulated log, read as often as its seed says."""
    every = EVERY_S[seed % len(EVERY_S)]
    prior = prior_for(sheet)
    return simulated_log(prior.prepared.sheet, seed, fault, every, richer=richer, prior=prior)


def shown(sheet: str, seed: int, fault: str, richer: bool) -> tuple[SimulatedLog, int]:
    """Return the first log with this fault that goes on for five minutes after it began.

    A run that ends with its fault, or before it, has nothing to be diagnosed; faults that only the
    account at the end can show are always shown.
    """
    for again in range(MOST_AGAIN):
        drawn = seed + AGAIN * again
        log = made(sheet, drawn, fault, richer)
        end = float(log.readings.time_s[-1])
        if fault in BY_ACCOUNT or (log.truth.start_s or 0.0) < end - LEAST_SHOWN_S:
            return log, drawn
    raise RuntimeError(f"{fault} does not show in {sheet}, seed {seed}")


def judged(count: int, first: int, richer: bool) -> list[Judged]:
    """Return so many faulty runs judged, faults in turn, sheets at random among those that can."""
    found = []
    names = list(FAULTS)
    for k in range(count):
        fault, seed = names[k % len(names)], first + k
        can = [s for s in sheets() if fault in possible_faults(prior_for(s).prepared)]
        sheet = can[int(np.random.default_rng(seed).integers(len(can)))]
        log, seed = shown(sheet, seed, fault, richer)
        end = min(log.truth.damage_s or np.inf, log.readings.time_s[-1])
        weighed = log.weighed if end >= log.readings.time_s[-1] else None
        besides = true_besides(log, sheet) - {fault}
        causes = named(sheet, until(log.readings, end), weighed, besides)
        found.append(Judged(fault, Path(sheet).stem, seed, causes))
    return found


def false_alarms(count: int, first: int, richer: bool) -> list[tuple[str, int, str]]:
    """Return sheet, seed and cause of each healthy run in which something was named."""
    found = []
    names = sheets()
    for k in range(count):
        sheet, seed = names[k % len(names)], first + 5000 + k
        log = made(sheet, seed, None, richer)
        besides = true_besides(log, sheet)
        for n in range(1, MOMENTS + 1):
            end = log.readings.time_s[-1] * n / MOMENTS
            weighed = log.weighed if n == MOMENTS else None
            causes = named(sheet, until(log.readings, end), weighed, besides)
            if causes:
                found.append((Path(sheet).stem, seed, causes[0]))
                break
    return found


def leak_or_end(count: int, first: int, richer: bool) -> dict[str, int]:
    """Return how often leaks and ends of a fraction were taken for each other, of so many each."""
    confused = Counter({"leak": 0, "light_exhausted": 0})
    both = {"leak", "light_exhausted"}
    can = [s for s in sheets() if both <= set(possible_faults(prior_for(s).prepared))]
    for k in range(count):
        for fault in sorted(both):
            sheet, seed = can[k % len(can)], first + 8000 + k
            log = made(sheet, seed, fault, richer)
            end = log.readings.time_s[-1]
            start = log.truth.start_s or 0.0
            causes = named(sheet, until(log.readings, min(end, start + 1800.0)), None, set())
            rank = [c for c in causes if c in both]
            confused[fault] += bool(rank) and rank[0] != fault
    return dict(confused)


def report(
    runs: list[Judged], wolves: list[tuple[str, int, str]], healthy: int
) -> dict[str, object]:
    """Return the figures."""
    by_fault: dict[str, list[Judged]] = defaultdict(list)
    for run in runs:
        by_fault[run.fault].append(run)
    return {
        "runs": len(runs),
        "first": sum(r.place == 1 for r in runs) / max(len(runs), 1),
        "first_two": sum(r.place in {1, 2} for r in runs) / max(len(runs), 1),
        "healthy": healthy,
        "false_alarms": len(wolves) / max(healthy, 1),
        "alarms": dict(Counter(cause for _, _, cause in wolves)),
        "faults": {
            fault: {
                "runs": len(some),
                "first": sum(r.place == 1 for r in some),
                "first_two": sum(r.place in {1, 2} for r in some),
                "unnamed": sum(not r.named for r in some),
                "taken_for": dict(Counter(r.named[0] for r in some if r.named and r.place != 1)),
            }
            for fault, some in by_fault.items()
        },
    }


def main() -> int:
    """Judge, and print or keep the figures."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--faulty", type=int, default=414)
    words.add_argument("--healthy", type=int, default=200)
    words.add_argument("--pairs", type=int, default=50)
    words.add_argument("--seed", type=int, default=FIRST_JUDGED)
    words.add_argument("--equal", action="store_true", help="truths of the forecast's own kind")
    words.add_argument("--keep", action="store_true", help="write the figures")
    words.add_argument("--list", action="store_true", help="print each run that was not named")
    given = words.parse_args()
    started = time.monotonic()
    richer = not given.equal
    runs = judged(given.faulty, given.seed, richer)
    wolves = false_alarms(given.healthy, given.seed, richer)
    figures = report(runs, wolves, given.healthy)
    figures["confused"] = leak_or_end(given.pairs, given.seed, richer)
    figures["took_s"] = round(time.monotonic() - started)
    figures["date"] = date.today().isoformat()
    if given.list:
        for run in runs:
            if run.place != 1:
                print(run.fault, run.sheet, run.seed, run.named)
        for wolf in wolves:
            print("alarm", *wolf)
    print(json.dumps(figures, indent=1))
    if given.keep:
        kept = json.loads(FIGURES.read_text("utf-8")) if FIGURES.exists() else {}
        kept["equal" if given.equal else "richer"] = figures
        FIGURES.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
