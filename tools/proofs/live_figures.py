"""What was asked of the corrected forecast, what came true, and the figures made of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from forerun.forecast.scores import bootstrap_interval

__all__ = ["CLOSE_M3", "CLOSE_S", "MEMBERS", "Asked", "Call", "summary"]

CLOSE_M3, CLOSE_S = 2e-6, 120.0
MEMBERS = 40
_DRAWS = 2000


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
        every90_s, every80_s: low and high end among all members, one that never comes to the switch
            counted as later than all others, so that an end may be infinite [s].
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
    every90_s: tuple[float, float]
    every80_s: tuple[float, float]
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


def summary(calls: list[Call]) -> dict[str, object]:
    """Return the figures of calls."""
    asked = [a for call in calls for a in call.asked]
    usable = [
        ((call.sheet, call.seed), a) for call in calls for a in call.asked if np.isfinite(a.sigma_s)
    ]
    runs = np.array([f"{call.sheet} {call.seed}" for call in calls for _ in call.asked])
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
        "within": _reliable([(a.within, a.was_within) for a in asked], runs),
        "due": _reliable([(a.due, a.was_due) for a in asked], runs),
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
        "coverage_80_every": _with_interval(_holds([a.every80_s for a in asked], ahead)),
        "coverage_90_every": _with_interval(_holds([a.every90_s for a in asked], ahead)),
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
    picked = np.random.default_rng(1).integers(0, variance.size, (_DRAWS, variance.size))
    ratios = np.sqrt(variance[picked].sum(axis=1) / square[picked].sum(axis=1))
    middle = float(np.sqrt(variance.sum() / square.sum()))
    return [middle, *(float(q) for q in np.quantile(ratios, (0.05, 0.95)))]


def _holds(bands: list[tuple[float, float]], ahead: np.ndarray) -> np.ndarray:
    low, high = np.array(bands, dtype=float).T
    return ((low <= ahead) & (ahead <= high)).astype(float)


def _with_interval(values: np.ndarray) -> list[float]:
    return [float(values.mean()), *bootstrap_interval(values, seed=1)]


def _reliable(pairs: list[tuple[float, bool]], runs: np.ndarray) -> dict[str, object]:
    """Return stated and happened shares in fifths of the stated probability.

    Of each fifth: how many, stated, happened, and a 90 % interval of what happened less what was
    stated; runs are drawn for it, not moments.
    """
    stated = np.array([p for p, _ in pairs])
    happened = np.array([h for _, h in pairs], dtype=float)
    fifth = np.minimum((stated * 5.0).astype(int), 4)
    bins = [
        [
            int((fifth == k).sum()),
            float(stated[fifth == k].mean()),
            float(happened[fifth == k].mean()),
            *_gap_interval((happened - stated)[fifth == k], runs[fifth == k]),
        ]
        for k in range(5)
        if (fifth == k).any()
    ]
    gap = sum(b[0] * abs(b[1] - b[2]) for b in bins) / stated.size
    return {"bins": bins, "mean_gap": gap, "brier": float(np.mean((stated - happened) ** 2))}


def _gap_interval(gaps: np.ndarray, runs: np.ndarray) -> list[float]:
    _, run = np.unique(runs, return_inverse=True)
    total, count = np.bincount(run, gaps), np.bincount(run)
    picked = np.random.default_rng(1).integers(0, count.size, (_DRAWS, count.size))
    means = total[picked].sum(axis=1) / count[picked].sum(axis=1)
    return [float(q) for q in np.quantile(means, (0.05, 0.95))]
