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
from dataclasses import asdict, dataclass, field
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
from live_page import write_page

from forerun.forecast.drawing import Prior, prior_of
from forerun.forecast.scores import bootstrap_interval, crps_fair
from forerun.records.readings import Readings
from forerun.running.estimating import Estimator
from forerun.running.instructing import CALL_AT
from forerun.running.members import Members
from forerun.running.simulated import SimulatedLog, simulated_log
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.from_sheet import Prepared, prepare

__all__ = ["Asked", "Call", "followed", "main", "summary"]

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
CLOSE_M3, CLOSE_S = 2e-6, 120.0
_KEPT_EVERY = 5
_EAGER = 0.7  # of the time that is foreseen to pass until the estimate is asked again
_LEAST_S = 30.0
_LONGEST = 0.25  # of the time since the receiver before, likewise
_SHORTEST = 0.01  # likewise
_MOST_ASKED = 60
_TOLD = 0.5  # share of the members that reach the switch, from which on a time is told
MEMBERS = 40
_EARLIER_SEED = 50_000


@dataclass(frozen=True, slots=True)
class Asked:
    """One estimate beside the truth.

    Args:
        share: of the wait for the switch that is over [-].
        ahead_s: true time to the switch [s].
        low90_s, low80_s, middle_s, high80_s, high90_s: of the members [s].
        sigma_s: their standard deviation [s].
        mean_s: their mean [s].
        reached: share of the members that come to the switch at all [-]. A time is told where it is
            most of them, as at the bench; otherwise the times above are not-a-number.
        within, due: probabilities that were stated [-].
        was_within, was_due: whether so it was.
        crps_s: of the corrected forecast [s].
        crps_before_s: of the forecast before the run [s].
        error_before_s, error_last_s: of that forecast's middle, and of the run before on the same
            sheet [s].
        state: what the estimate said of itself.
        misfit: of readings and members [-].
        took_s: [s].
    """

    share: float
    ahead_s: float
    low90_s: float
    low80_s: float
    middle_s: float
    high80_s: float
    high90_s: float
    sigma_s: float
    mean_s: float
    reached: float
    within: float
    due: float
    was_within: bool
    was_due: bool
    crps_s: float
    crps_before_s: float
    error_before_s: float
    error_last_s: float
    state: str
    misfit: float
    took_s: float


@dataclass(slots=True)
class Call:
    """One switch of one run: how it was foreseen and when it was called.

    Args:
        sheet: name.
        seed: of the run.
        receiver: that was full.
        bench: which channels were read, and how often.
        late_s: call less truth [s]; the end of the run less truth where none was made before, since
            the receiver is taken away then.
        late_m3: the same in distillate [m3].
        called: whether a call was made.
        last_m3: how far off the volume of the run before would have been [m3].
        asked: estimates on the way.
    """

    sheet: str
    seed: int
    receiver: int
    bench: int
    late_s: float
    late_m3: float
    last_m3: float
    asked: list[Asked] = field(default_factory=list)
    called: bool = False

    @property
    def close(self) -> bool:
        """Whether the call is within 2 mL or 2 min."""
        return abs(self.late_s) <= CLOSE_S or abs(self.late_m3) <= CLOSE_M3


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


def _beside(asked: Asked, last_s: float | None, true_s: float) -> Asked:
    values = asdict(asked)
    values["error_last_s"] = np.nan if last_s is None else last_s - true_s
    return Asked(**values)


# --- figures


def summary(calls: list[Call]) -> dict[str, object]:
    """Return the figures of calls."""
    asked = [a for call in calls for a in call.asked]
    usable = [
        ((call.sheet, call.seed), a) for call in calls for a in call.asked if np.isfinite(a.sigma_s)
    ]
    close = np.array([call.close for call in calls], dtype=float)
    by_volume = np.array([abs(call.last_m3) <= CLOSE_M3 for call in calls], dtype=float)
    found: dict[str, object] = {
        "runs": len({(call.sheet, call.seed) for call in calls}),
        "switches": len(calls),
        "close": _with_interval(close),
        "never_called": sum(not call.called for call in calls),
        "close_as_last_run": _with_interval(by_volume),
        "sheets": {
            sheet: [
                len([c for c in calls if c.sheet == sheet]),
                float(np.mean([c.close for c in calls if c.sheet == sheet])),
            ]
            for sheet in sorted({call.sheet for call in calls})
        },
        "benches": {
            str(bench): float(np.mean([c.close for c in calls if c.bench == bench]))
            for bench in sorted({call.bench for call in calls})
        },
        "within": _reliable([(a.within, a.was_within) for a in asked]),
        "due": _reliable([(a.due, a.was_due) for a in asked]),
        "took_s": [float(q) for q in np.quantile([a.took_s for a in asked], (0.5, 0.95))],
    }
    stages = {
        "0.2 of the wait": (0.15, 0.25),
        "0.5 of the wait": (0.45, 0.55),
        "0.8 of the wait": (0.75, 0.8001),
        "later": (0.8001, 1.0),
        "first three": (0.15, 0.8001),
    }
    early = [a for a in asked if 0.15 <= a.share <= 0.8001]
    found["not_told"] = [sum(not np.isfinite(a.sigma_s) for a in early), len(early)]
    found["stages"] = {
        name: _stage([(run, a) for run, a in usable if low <= a.share <= high])
        for name, (low, high) in stages.items()
    }
    return found


def _stage(moments: list[tuple[tuple[str, int], Asked]]) -> dict[str, object]:
    if len(moments) < 3:
        return {}
    asked = [a for _, a in moments]
    ahead = np.array([a.ahead_s for a in asked])
    low90, low80, middle, high80, high90 = (
        np.array([getattr(a, name) for a in asked])
        for name in ("low90_s", "low80_s", "middle_s", "high80_s", "high90_s")
    )
    scaled = np.array([(a.middle_s - a.ahead_s) / max(a.sigma_s, 1e-9) for a in asked])
    gain = np.array([a.crps_before_s - a.crps_s for a in asked])
    against_last = np.array([abs(a.error_last_s) - abs(a.middle_s - a.ahead_s) for a in asked])
    against_last = against_last[np.isfinite(against_last)]
    return {
        "moments": len(asked),
        "median_error_s": float(np.median(np.abs(middle - ahead))),
        "median_error_before_s": float(np.median([abs(a.error_before_s) for a in asked])),
        "median_width80_s": float(np.median(high80 - low80)),
        "coverage_80": _with_interval(((low80 <= ahead) & (ahead <= high80)).astype(float)),
        "coverage_90": _with_interval(((low90 <= ahead) & (ahead <= high90)).astype(float)),
        "spread_skill": _spread_skill(moments),
        "spread_skill_all_reach": _spread_skill([(r, a) for r, a in moments if a.reached >= 1.0]),
        "all_reach": sum(a.reached >= 1.0 for a in asked),
        "own_spread_skill": float(1.0 / np.sqrt(np.mean(scaled**2))),
        "crps_gain_s": _with_interval(gain),
        "gain_on_last_run_s": _with_interval(against_last) if against_last.size > 2 else None,
    }


def _spread_skill(moments: list[tuple[tuple[str, int], Asked]]) -> list[float]:
    """Return root mean variance over root mean square error of the mean, with an interval.

    Runs are drawn for it, not moments: those of one run err alike.

    Source: Fortin and others, J. Hydrometeorol. 15 (2014) 1708, doi:10.1175/JHM-D-14-0008.1.
    """
    _, run = np.unique([f"{sheet} {seed}" for (sheet, seed), _ in moments], return_inverse=True)
    variance, square = (
        np.bincount(run, values)
        for values in (
            [a.sigma_s**2 * (MEMBERS + 1.0) / MEMBERS for _, a in moments],
            [(a.mean_s - a.ahead_s) ** 2 for _, a in moments],
        )
    )
    picked = np.random.default_rng(1).integers(0, variance.size, (2000, variance.size))
    ratios = np.sqrt(variance[picked].sum(axis=1) / square[picked].sum(axis=1))
    middle = float(np.sqrt(variance.sum() / square.sum()))
    return [middle, *(float(q) for q in np.quantile(ratios, (0.05, 0.95)))]


def _with_interval(values: np.ndarray) -> list[float]:
    return [float(values.mean()), *bootstrap_interval(values, seed=1)]


def _reliable(pairs: list[tuple[float, bool]]) -> dict[str, object]:
    """Return stated and happened shares in fifths of the stated probability."""
    stated = np.array([p for p, _ in pairs])
    happened = np.array([h for _, h in pairs], dtype=float)
    fifth = np.minimum((stated * 5.0).astype(int), 4)
    bins = [
        [
            int((fifth == k).sum()),
            float(stated[fifth == k].mean()),
            float(happened[fifth == k].mean()),
        ]
        for k in range(5)
        if (fifth == k).any()
    ]
    gap = sum(n * abs(s - h) for n, s, h in bins) / stated.size
    return {"bins": bins, "mean_gap": gap, "brier": float(np.mean((stated - happened) ** 2))}


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
