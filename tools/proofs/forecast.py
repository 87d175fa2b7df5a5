"""Whether forecasts keep their word: coverage, spread over skill, scores; writes the page of it.

    python tools/proofs/forecast.py [--truths N] [--members N] [--threads N]

Truths are runs that the forecast has not seen: drawn from its own prior, and from a still that
differs from its description.  One truth is one run; readings of one run hang together.  What is
said after a fit is measured by `fits.py`, which writes its part of the same page.
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np

from forerun.forecast.drawing import draw_member, normal_points, prior_of
from forerun.forecast.ensemble import run_ensemble
from forerun.forecast.scores import (
    bootstrap_interval,
    covered,
    crps_fair,
    ecdf_band,
    probability_integral,
    spread_skill,
)
from forerun.reporting.scale import axis_over
from forerun.reporting.svg import area, document, polyline, straight, text
from forerun.running.simulated_truth import richer_truth
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.inputs import StillInput
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = [
    "Kept",
    "ensemble_of",
    "figures",
    "kept_promises",
    "main",
    "outcome",
    "outcomes",
    "then_of",
    "write_page",
    "written",
]

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "explain" / "forecast.md"
FIGURES = ROOT / "docs" / "explain" / "forecast.json"
PLOT = ROOT / "docs" / "pictures" / "forecast-honesty.svg"
SHEETS = (
    "simple-still",
    "class-pair",
    "reduced-pressure",
    "spirit",
    "workshop-blend",
    "three-on-eight",
)
QUANTITIES = ("first drop", "first switch", "distillate by then", "purity of cut 1")
BANDS = (0.5, 0.8, 0.9)


@dataclass
class Kept:
    """Ensembles and truths of one quantity over all sheets, scaled by each ensemble's spread."""

    members: list[np.ndarray] = field(default_factory=list)
    truths: list[float] = field(default_factory=list)
    raw: list[tuple[str, np.ndarray, float]] = field(default_factory=list)

    def add(self, sheet: str, members: np.ndarray, truth: float) -> None:
        """Take one run in; a quantity that does not vary says nothing of a band."""
        spread = float(members.std(ddof=1))
        if not np.isfinite(truth) or spread <= 0.0:
            return
        self.members.append((members - members.mean()) / spread)
        self.truths.append((truth - float(members.mean())) / spread)
        self.raw.append((sheet, members, truth))


def outcome(run: Run, then_s: float) -> tuple[float, float, float, float]:
    """Return the four quantities; what is never reached counts as the end of the run.

    Times are taken as logarithms: heat paths are log-normal, so times are skewed, and a few very
    late runs would decide what spread and error are.
    """
    end = float(run.trace.time_s[-1])
    first = end if run.first_drop_s is None else run.first_drop_s
    switch = run.cuts[0].end_s if run.cuts else end
    full = bool(run.cuts) and run.cuts[0].amount_mol > 0.0
    purity = float(run.cuts[0].mole_fraction[0]) if full else np.nan
    over = float(np.interp(then_s, run.trace.time_s, run.trace.distillate_volume_m3))
    return float(np.log(first)), float(np.log(switch)), over, purity


def outcomes(inputs: list[StillInput], threads: int, then_s: float) -> np.ndarray:
    """Return (n, 4) quantities of the runs that finished."""
    runs = run_ensemble(inputs, threads)
    return np.array([outcome(run, then_s) for run in runs if isinstance(run, Run)])


@cache
def own_run(sheet: str) -> Run:
    """Return the run of a sheet with its own values."""
    return run_still(prepare(load(sheet)).still)


def then_of(sheet: str) -> float:
    """Return when the sheet's own run changes its first receiver [s]."""
    return own_run(sheet).cuts[0].end_s


@cache
def ensemble_of(sheet: str, members: int, seed: int, threads: int) -> np.ndarray:
    """Return the (N, 4) quantities of a sheet's members, once for all truths."""
    prior = prior_of(prepare(load(sheet)))
    points = normal_points(len(prior.unknowns), members, seed)
    return outcomes([draw_member(prior, z) for z in points], threads, then_of(sheet))


def kept_promises(
    sheets: tuple[str, ...], truths: int, members: int, threads: int, strange: bool
) -> dict[str, Kept]:
    """Return ensembles and truths of every quantity, so many truths for each sheet."""
    kept = {name: Kept() for name in QUANTITIES}
    for n, sheet in enumerate(sheets):
        prior = prior_of(prepare(load(sheet)))
        ensemble = ensemble_of(sheet, members, 100 + n, threads)
        random = np.random.default_rng(1000 + n + 500 * strange)
        inputs = [
            richer_truth(prior, random)
            if strange
            else draw_member(prior, random.standard_normal(len(prior.unknowns)))
            for _ in range(truths)
        ]
        happened = outcomes(inputs, threads, then_of(sheet))
        for k, name in enumerate(QUANTITIES):
            column = ensemble[:, k]
            column = column[np.isfinite(column)]
            for truth in happened[:, k]:
                kept[name].add(sheet, column, float(truth))
    return kept


def figures(kept: Kept, climatology: dict[str, np.ndarray] | None = None) -> dict[str, object]:
    """Return the figures of one quantity."""
    size = min(m.size for m in kept.members)
    members = np.array([m[:size] for m in kept.members])
    truths = np.array(kept.truths)
    runs = truths.size
    found: dict[str, object] = {"runs": runs, "members": size}
    for share in BANDS:
        inside = covered(members, truths, share)
        low, high = bootstrap_interval(inside.astype(float), seed=1)
        found[f"coverage_{round(100 * share)}"] = [float(inside.mean()), low, high]
    found["spread_skill"] = spread_skill(members, truths)
    ratios = [spread_skill(members[p], truths[p]) for p in _resampled(runs)]
    found["spread_skill_interval"] = [float(q) for q in np.quantile(ratios, (0.05, 0.95))]
    pit = probability_integral(members, truths, seed=2)
    places, low_band, high_band = ecdf_band(runs, 0.9, seed=3)
    ecdf = np.searchsorted(np.sort(pit), places, side="right") / runs
    found["pit_inside"] = bool(np.all((low_band <= ecdf) & (ecdf <= high_band)))
    found["pit"] = {
        "places": places.tolist(),
        "low": low_band.tolist(),
        "high": high_band.tolist(),
        "ecdf": ecdf.tolist(),
    }
    if climatology is not None:
        ours = np.array([crps_fair(m, t) / m.std(ddof=1) for _, m, t in kept.raw])
        theirs = np.array([crps_fair(climatology[s], t) / m.std(ddof=1) for s, m, t in kept.raw])
        picks = _resampled(runs)
        ratio = [1.0 - ours[p].mean() / theirs[p].mean() for p in picks]
        found["crps_gain"] = [
            float(1.0 - ours.mean() / theirs.mean()),
            *(float(q) for q in np.quantile(ratio, (0.05, 0.95))),
        ]
    return found


def _resampled(runs: int) -> np.ndarray:
    return np.random.default_rng(4).integers(0, runs, (1000, runs))


def _elsewhere(kept: Kept) -> dict[str, np.ndarray]:
    """Return for each sheet what happened on all the others: what is known without a forecast."""
    sheets = {sheet for sheet, _, _ in kept.raw}
    return {
        sheet: np.array([truth for other, _, truth in kept.raw if other != sheet])
        for sheet in sheets
    }


def main() -> int:
    """Run everything, write figures, plot and page."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--truths", type=int, default=68, help="for each sheet")
    words.add_argument("--members", type=int, default=128)
    words.add_argument("--threads", type=int, default=2)
    given = words.parse_args()
    started = time.monotonic()
    report = json.loads(FIGURES.read_text(encoding="utf-8")) if FIGURES.exists() else {}
    report |= {
        "date": date.today().isoformat(),
        "command": f"python tools/proofs/forecast.py --truths {given.truths} "
        f"--members {given.members} --threads {given.threads}",
        "sheets": list(SHEETS),
    }
    for label, strange in (("own", False), ("strange", True)):
        kept = kept_promises(SHEETS, given.truths, given.members, given.threads, strange)
        report[label] = {name: figures(one, _elsewhere(one)) for name, one in kept.items()}
        _keep(report, label, started)
    return 0


def _keep(report: dict[str, object], label: str, started: float) -> None:
    """Write what is known so far."""
    took = round(time.monotonic() - started)
    print(label, f"{took} s", flush=True)
    report["took_s"] = took
    FIGURES.write_text(written(report), encoding="utf-8")
    write_page()


def written(report: dict[str, object]) -> str:
    """Return figures as they are kept."""
    return json.dumps(_rounded(report), indent=1) + "\n"


def _rounded(value: object) -> object:
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_rounded(inner) for inner in value]
    return round(value, 4) if isinstance(value, float) else value


# --- the page


def write_page() -> None:
    """Write the page and its plot from the figures."""
    report = json.loads(FIGURES.read_text(encoding="utf-8"))
    PLOT.write_text(_plot(report), encoding="utf-8")
    head, _, _ = PAGE.read_text(encoding="utf-8").partition(MARK)
    PAGE.write_text(head + MARK + "\n\n" + _tables(report), encoding="utf-8")


MARK = "<!-- from here on written by tools/proofs/forecast.py -->"
_TITLES = {
    "own": "Truths drawn from the forecast's own prior",
    "strange": "Truths from a still that differs from the description",
    "fitted_own": "After fitting readings, truths from the prior",
    "fitted_strange": "After fitting readings, truths from another still",
}


def _tables(report: dict) -> str:
    lines = [
        f"Measured on {report['date']} with `{report['command']}` ({report['took_s']} s). "
        f"{_fits_words(report)}In brackets 90 % intervals by drawing runs anew (bootstrap).",
        "",
        "![ECDF of where truths fall](../pictures/forecast-honesty.svg)",
    ]
    for label, title in _TITLES.items():
        if label not in report:
            continue
        lines += ["", f"## {title}", ""]
        lines += [
            "| quantity | runs | 50 % band holds | 80 % band holds | 90 % band holds "
            "| spread/skill | PIT in 90 % band | CRPS gained |",
            "|---|---|---|---|---|---|---|---|",
        ]
        for name, one in report[label].items():
            cells = [name, str(one["runs"])]
            cells += [_with_interval(one[f"coverage_{s}"], 100.0, 0) for s in (50, 80, 90)]
            cells.append(
                _with_interval([one["spread_skill"], *one["spread_skill_interval"]], 1.0, 2)
            )
            cells.append("yes" if one["pit_inside"] else "**no**")
            gain = one.get("crps_gain")
            cells.append("–" if gain is None else _with_interval(gain, 100.0, 0) + " %")
            lines.append("| " + " | ".join(cells) + " |")
        lines += _learned_words(report, label)
    return "\n".join(lines) + "\n"


def _fits_words(report: dict) -> str:
    fits = report["fits"]
    return f"Fits were measured by themselves ({fits['date']}, `{fits['command']}`). "


def _learned_words(report: dict, label: str) -> list[str]:
    """Return how much narrower fits made what was not known, and what they said of themselves."""
    told = report["fits"].get(label)
    if told is None:
        return []
    widths = ", ".join(f"{name} {ratio:.2f}" for name, ratio in told["narrower"].items())
    return [
        "",
        f"Standard deviation after the fit over that before, middle run: {widths}. "
        f"{told['unexplained']} runs were called not explained, {told['unsettled']} fits had not "
        f"settled. {told['took_s']} s of processor time.",
    ]


def _with_interval(values: list[float], scale: float, decimals: int) -> str:
    middle, low, high = (f"{scale * v:.{decimals}f}" for v in values)
    return f"{middle} ({low}–{high})"


def _plot(report: dict) -> str:
    labels = [label for label in _TITLES if label in report]
    wide, high, gap = 300.0, 250.0, 70.0
    parts = []
    for n, label in enumerate(labels):
        left = 60.0 + (n % 2) * (wide + gap)
        top = 40.0 + (n // 2) * (high + gap)
        parts.append(text(left, top - 12.0, _TITLES[label], size=13.0, weight=600))
        axis = axis_over(0.0, 1.0, 5)
        for tick in axis.ticks:
            parts.append(
                straight(
                    left, top + high * (1 - tick), left + wide, top + high * (1 - tick), pen="pale"
                )
            )
            parts.append(
                text(
                    left - 6.0,
                    top + high * (1 - tick) + 4.0,
                    axis.label(tick),
                    size=11.0,
                    anchor="end",
                )
            )
            parts.append(
                text(
                    left + wide * tick,
                    top + high + 16.0,
                    axis.label(tick),
                    size=11.0,
                    anchor="middle",
                )
            )
        pens = zip(report[label].items(), ("blue", "vermillion", "green", "black"), strict=False)
        dashes = (None, "7 3", "2 3", "9 3 2 3")
        for k, ((name, one), pen) in enumerate(pens):
            x = left + wide * np.array(one["pit"]["places"])
            if k == 0:
                low, up = (np.array(one["pit"][side]) for side in ("low", "high"))
                parts.append(area(x, top + high * (1 - low), top + high * (1 - up), pen="grey"))
            y = top + high * (1 - np.array(one["pit"]["ecdf"]))
            parts.append(polyline(x, y, pen=pen, dashes=dashes[k]))
            parts.append(text(left + 8.0, top + 16.0 + 15.0 * k, name, size=11.0, pen=pen))
    rows = (len(labels) + 1) // 2
    return document(
        760,
        int(40 + rows * (high + gap)),
        "Where truths fall in their forecasts",
        "Cumulative share of runs against the place of the truth in its ensemble; an honest "
        "forecast stays in the grey band nine times in ten.",
        parts,
    )


if __name__ == "__main__":
    raise SystemExit(main())
