"""Whether the corrected forecast keeps its word on runs that it has not seen; writes the figures.

    python tools/proofs/live.py [--runs N] [--equal N] [--jobs N] [--first SEED] [--only SHEET]

Each run is a simulated bench that is not what its sheet says.  Its log is read as at the bench:
the estimate is asked at three moments between the change of receivers before and the next one,
then more and more often until it calls.  The receiver is then changed at the true moment.
"""

from __future__ import annotations

import argparse
import functools
import json
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
from live_figures import CLOSE_M3, CLOSE_S, MEMBERS, Asked, Call, summary
from live_page import write_page

from forerun.forecast.drawing import Prior, prior_of
from forerun.forecast.scores import crps_fair
from forerun.records.readings import Readings
from forerun.running.estimating import Estimator
from forerun.running.instructing import CALL_AT
from forerun.running.members import Members
from forerun.running.simulated import SimulatedLog, simulated_log
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.from_sheet import Prepared, prepare

__all__ = ["followed", "main"]

ROOT = Path(__file__).resolve().parents[2]
FIGURES = ROOT / "docs" / "explain" / "live.json"
SHEETS = (
    "class-pair",
    "spirit",
    "wet-ethyl-acetate",
    "workshop-blend",
    "reduced-pressure",
    "simple-still",
    "three-on-eight",
)
COSTLY = {
    "three-on-eight": 0.1,
    "wet-ethyl-acetate": 0.35,
}  # share of the runs that the others have
SHARES = (0.2, 0.5, 0.8)
BENCHES = (
    (("head_K", "pot_K", "bath_K", "pressure_Pa", "distillate_m3"), 10.0),
    (("head_K", "bath_K", "distillate_m3"), 10.0),
    (("head_K", "distillate_m3"), 120.0),  # typed every two minutes
)
_KEPT_EVERY = 5
_EAGER = 0.7  # of the time that is foreseen to pass until the estimate is asked again
_LEAST_S = 30.0
_LONGEST = 0.25  # of the time since the receiver before, likewise
_SHORTEST = 0.01  # likewise
_MOST_ASKED = 60
_TOLD = 0.5  # share of the members that reach the switch, from which on a time is told
_EARLIER_SEED = 50_000


@cache
def made_ready(sheet: str) -> tuple[RunSheet, Prepared, Prior]:
    """Return a sheet, made ready, and what is not known of it."""
    loaded = load(sheet)
    prepared = prepare(loaded)
    return loaded, prepared, prior_of(prepared)


def followed(sheet: str, seed: int, richer: bool) -> list[Call]:
    """Return the calls of one run."""
    loaded, prepared, prior = made_ready(sheet)
    channels, every_s = BENCHES[seed % len(BENCHES)]
    log = simulated_log(
        loaded, seed, every_s=every_s, richer=richer, channels=channels, prior=prior
    )
    before = simulated_log(loaded, seed + _EARLIER_SEED, every_s=60.0, richer=richer, prior=prior)
    estimator = Estimator(prepared, MEMBERS, threads=1)
    first = log.truth.run.first_drop_s
    since = first if first is not None else 0.0
    calls = []
    changed = 0.0
    for switch in log.truth.switches:
        call = _called(estimator, log, before, switch.receiver, (since, changed), seed)
        call.sheet = sheet
        calls.append(call)
        since = changed = switch.time_s
    return calls


def _called(
    estimator: Estimator,
    log: SimulatedLog,
    before: SimulatedLog,
    receiver: int,
    from_s: tuple[float, float],
    seed: int,
) -> Call:
    since, changed = from_s
    true = log.truth.switches[receiver - 1]
    end = float(log.truth.run.trace.time_s[-1])
    last = [s for s in before.truth.switches if s.receiver == receiver]
    call = Call("", seed, receiver, seed % len(BENCHES), np.nan, np.nan, np.nan)
    if last:
        call.last_m3 = last[0].volume_m3 - true.volume_m3
    fixed = [since + share * (true.time_s - since) for share in SHARES]
    now = fixed.pop(0)
    for _ in range(_MOST_ASKED):
        asked, members, due = _asked(estimator, log, receiver, changed, now, since)
        asked = _beside(asked, last[0].time_s if last else None, true.time_s)
        call.asked.append(asked)
        if due >= CALL_AT:
            call.called = True
            break
        if now >= end:
            break
        now = fixed.pop(0) if fixed else min(now + _pause(members, now, since), end)
    if not call.called:
        now = end
    call.late_s = now - true.time_s
    call.late_m3 = _volume(log, now) - true.volume_m3
    return call


def _pause(members: Members, now: float, since: float) -> float:
    """Return how long not to ask; at the bench it is asked every 10 s, which would take weeks."""
    reached = members.switch_s[np.isfinite(members.switch_s)]
    early = float(np.quantile(reached, 0.1)) - now if reached.size else 0.0
    least = max(_LEAST_S, _SHORTEST * (now - since))
    return min(max(_EAGER * early, least), max(least, _LONGEST * (now - since)))


def _volume(log: SimulatedLog, time_s: float) -> float:
    trace = log.truth.run.trace
    return float(np.interp(time_s, trace.time_s, trace.distillate_volume_m3))


def _asked(
    estimator: Estimator,
    log: SimulatedLog,
    receiver: int,
    changed: float,
    now: float,
    since: float,
) -> tuple[Asked, Members, float]:
    read = Readings(tuple(r for r in log.readings.rows if r.time_s <= now))
    estimate = estimator.estimate(read, now, receiver=receiver, changed_s=changed)
    members = estimator.members
    true = log.truth.switches[receiver - 1]
    ahead = true.time_s - now
    mine = members.switch_s[np.isfinite(members.switch_s)] - now
    theirs = estimator.uncorrected(now, receiver, changed)
    theirs = theirs[np.isfinite(theirs)] - now
    reached = mine.size / members.switch_s.size
    if reached < _TOLD or theirs.size < 2 or estimate.next_switch is None:
        quantiles, sigma, mean = np.full(5, np.nan), np.nan, np.nan
        crps, crps_before, middle = np.nan, np.nan, np.nan
    else:
        quantiles = np.quantile(mine, (0.05, 0.1, 0.5, 0.9, 0.95))
        sigma, mean, crps = float(mine.std(ddof=1)), float(mine.mean()), crps_fair(mine, ahead)
        crps_before, middle = crps_fair(theirs, ahead), float(np.median(theirs))
    every = _every(members.switch_s - now)
    near = abs(ahead) <= CLOSE_S or abs(true.volume_m3 - _volume(log, now)) <= CLOSE_M3
    switch = estimate.next_switch
    within, due = (0.0, 0.0) if switch is None else (switch.within, switch.due)
    asked = Asked(
        (now - since) / max(true.time_s - since, 1.0),
        ahead,
        *(float(q) for q in quantiles),
        sigma_s=sigma,
        mean_s=mean,
        reached=reached,
        every90_s=(every[0], every[3]),
        every80_s=(every[1], every[2]),
        within=within,
        due=due,
        was_within=near,
        was_due=ahead <= 0.0,
        crps_s=crps,
        crps_before_s=crps_before,
        error_before_s=middle - ahead,
        error_last_s=np.nan,
        state=estimate.state,
        misfit=estimate.misfit,
        took_s=estimate.took_s,
    )
    return asked, members, due


def _every(ahead: np.ndarray) -> list[float]:
    """Return quantiles among all members, those that never come being later than all others [s]."""
    never = float(np.finfo(np.float32).max)
    found = np.quantile(np.nan_to_num(ahead, nan=never), (0.05, 0.1, 0.9, 0.95))
    return [float(q) if q < 1e-6 * never else np.inf for q in found]


def _beside(asked: Asked, last_s: float | None, true_s: float) -> Asked:
    values = asdict(asked)
    values["error_last_s"] = np.nan if last_s is None else last_s - true_s
    return Asked(**values)


def _one(job: tuple[str, int, bool]) -> list[Call]:
    sheet, seed, richer = job
    return followed(sheet, seed, richer)


def measured(
    jobs: list[tuple[str, int, bool]], workers: int, keep: Callable[[list[Call]], None]
) -> list[Call]:
    """Return the calls of all jobs; what is known so far is kept now and then."""
    calls: list[Call] = []
    with ProcessPoolExecutor(workers) as pool:
        for n, found in enumerate(pool.map(_one, jobs), 1):
            calls += found
            late = [f"{call.late_s:.0f}{'' if call.called else ' (end)'}" for call in found]
            print(n, "of", len(jobs), *jobs[n - 1][:2], *late, flush=True)
            if n % _KEPT_EVERY == 0 and calls:
                keep(calls)
    keep(calls)
    return calls


def kept_calls(place: Path) -> list[Call]:
    """Return the calls whose estimates a run of this proof kept."""
    rows = json.loads(place.read_text(encoding="utf-8"))
    return [Call(**{**row, "asked": [Asked(**a) for a in row["asked"]]}) for row in rows]


def jobs_of(runs: int, first: int, richer: bool, only: str | None) -> list[tuple[str, int, bool]]:
    """Return so many runs over the sheets, the costly ones less often."""
    sheets = (only,) if only else SHEETS
    weights = [COSTLY.get(sheet, 1.0) for sheet in sheets]
    counts = [round(runs * weight / sum(weights)) for weight in weights]
    most = max(counts)
    return [
        (sheet, first + k, richer)
        for k in range(most)
        for sheet, count in zip(sheets, counts, strict=True)
        if k < count
    ]


def main() -> int:
    """Run everything and write the figures."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--runs", type=int, default=210)
    words.add_argument("--equal", type=int, default=60)
    words.add_argument("--jobs", type=int, default=2)
    words.add_argument(
        "--first", type=int, default=20_000, help="seeds below 10,000 are for tuning"
    )
    words.add_argument("--only", choices=SHEETS)
    words.add_argument("--out", type=Path, default=FIGURES)
    words.add_argument(
        "--with", dest="before", type=Path, nargs="*", default=(),
        help="estimates of earlier runs (--raw) that are counted in",
    )  # fmt: skip
    words.add_argument("--raw", type=Path, help="also every estimate, one JSON for each kind")
    given = words.parse_args()
    started = time.monotonic()
    report: dict[str, object] = (
        json.loads(given.out.read_text(encoding="utf-8")) if given.out.exists() else {}
    )

    def keep(label: str, calls: list[Call]) -> None:
        report[label] = {
            **summary(calls),
            "date": date.today().isoformat(),
            "first_seed": min((call.seed for call in calls), default=given.first),
            "took_s": round(time.monotonic() - started),
        }
        if given.raw is not None:
            raw = given.raw.with_stem(f"{given.raw.stem}-{label}")
            raw.write_text(json.dumps([asdict(call) for call in calls]), encoding="utf-8")
        given.out.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
        if given.out == FIGURES and "richer" in report:
            write_page(report, MEMBERS)

    earlier = [call for place in given.before for call in kept_calls(place)]
    if earlier:
        keep("richer", earlier)
    for label, runs, richer in (("richer", given.runs, True), ("equal", given.equal, False)):
        if runs:
            jobs = jobs_of(runs, given.first, richer, given.only)
            measured(jobs, given.jobs, functools.partial(keep, label))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
