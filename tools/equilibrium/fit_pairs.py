"""Fit the shipped pair corrections to the measured tables, in one command.

    python tools/equilibrium/fit_pairs.py            # writes the data files and the docs table
    python tools/equilibrium/fit_pairs.py --check    # fails if they would change

Deterministic.  Run it again whenever vapour pressures, groups, group tables or the measured
tables change: a correction belongs to its base, and a test compares the two.
"""

from __future__ import annotations

import argparse
import gzip
import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from collect_points import write
from fitting_print import STRAIGHTENED, attempt_printed, printed_sources
from gathering import Attempt, Pair, gather, measured_rows, parted, rows_about, states
from judging import (
    MIXING,
    SPLITTING,
    misses,
    misses_of_lone_fits,
    refusal,
    refusal_of_solubilities,
    splits,
)
from reporting_pairs import docs_page, summary

from forerun.core.errors import CalculationFailed
from forerun.equilibrium.datafiles import load_data
from forerun.equilibrium.fitting import (
    FitSettings,
    fit_pair,
    fit_points,
    settings_for,
)
from forerun.equilibrium.fitting_evidence import Evidence, no_evidence
from forerun.equilibrium.fitting_left_out import LeftOut, leave_out, leave_out_layers
from forerun.equilibrium.fitting_model import BasePoints, no_points
from forerun.equilibrium.fitting_printed import printed_rows
from forerun.equilibrium.fitting_stability import StabilityGrid, stability_grid
from forerun.equilibrium.pairs import (
    base_probe,
    measured_enthalpies,
)

ROOT = Path(__file__).parents[2]
DATA = ROOT / "src/forerun/equilibrium/data"
PAGE = ROOT / "docs/explain/pairs.md"
# What ships of the pairs of which azeotropes are printed, had nobody printed them.
UNPRINTED = ROOT / "tests/validation/data/unprinted_pairs.json.gz"

# Pulls to the base tried for a pair of several papers, see `FitSettings`.
WIDE = FitSettings(spread=0.24, spread_ratio=0.8)
CLOSE = FitSettings(spread=0.05, paper_spread=0.06)
PULLS = (FitSettings(), FitSettings(spread=0.05), CLOSE, settings_for(1), WIDE)
# Where only solubilities were measured: the same without the strong pulls. A looser one predicts
# left-out solubilities better still, but what it says far from their temperatures is worth less.
SOLUBILITY_PULLS = (FitSettings(), WIDE)
# The same where the base splits a pair that mixes, so that it is known to be far off.
MENDING_PULLS = (*PULLS, FitSettings(spread=0.6, spread_ratio=1.0))
# A lone paper this far from the base [K] may choose its pull as several papers do.  Of 212 papers
# of 71 pairs, each taken for the only one, 19 lie so far: fits with the strong pull miss the other
# papers by 1.52 K in the mean and 1.32 K in the median, with the chosen one by 1.49 and 0.90 K.
LONE_FAR_K = 1.5
KIND_WRONG = 1.0  # standard deviations: ln(volatility) at an end at 0, no margin left
COMMON_WEIGHT = 3.0  # papers that the common scatter counts for in the scatter of a pair
# Scatter of a correction from solubilities alone: as a predicted pair whose models agree, since
# nothing tells how well it boils; 0.8 K and 1.4 are those of `forerun.equilibrium.bands`.
UNBOILED_SCATTER_K = 1.4 * 0.8 / 1.2816
QUANTILE = 1.2816  # of a normal distribution that holds 80 % between its ends


def main() -> int:
    """Fit all pairs and write or compare the files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="compare instead of writing")
    check = parser.parse_args().check
    pairs = gather()
    attempts = [attempt(pair) for pair in pairs]
    common, lone = scatters(attempts)
    rows = [record(a, common, lone) for a in attempts if a.refused is None]
    rows.sort(key=lambda r: r["names"])
    judged = verdicts(attempts, common, lone)
    numbers = summary(attempts, rows, judged)
    print(numbers)
    if check:
        same = load_data("pairs.json.gz") == json.loads(json.dumps(rows))
        print("unchanged" if same else "the shipped corrections would change")
        return 0 if same else 1
    text = json.dumps(rows, separators=(",", ":"), sort_keys=True)
    print(write(DATA / "pairs.json.gz", text))
    without = unprinted(pairs, common, lone)
    write_test_data(UNPRINTED, json.dumps(without, separators=(",", ":"), sort_keys=True))
    write(DATA / "pairs_judged.json.gz", json.dumps(judged, separators=(",", ":"), sort_keys=True))
    PAGE.parent.mkdir(parents=True, exist_ok=True)
    PAGE.write_text(docs_page(numbers, rows, judged), encoding="utf-8")
    return 0


def unprinted(pairs: Sequence[Pair], common: float, lone: float) -> list[dict[str, Any]]:
    """Return what would ship of the pairs with a printed azeotrope without any print of them."""
    rows = []
    for pair in pairs:
        if not pair.printed:
            continue
        found = attempt(replace(pair, evidence=measured_rows(pair), printed=()))
        keys = [s.inchikey for s in pair.mixture.substances]
        shipped = record(found, common, lone) if found.refused is None else None
        rows.append({"components": keys, "shipped": shipped})
    return rows


def write_test_data(target: Path, text: str) -> None:
    """Write gzipped text that is the same on every run."""
    target.write_bytes(gzip.compress(text.encode(), compresslevel=9, mtime=0))


def attempt(pair: Pair) -> Attempt:
    """Fit a pair, choose the pull to the base by what is left out, and decide."""
    parts = bool(pair.evidence.solubility.any())
    if pair.points is None and parts:
        found = attempt_solubilities(pair)
        return found if found.refused is None or not pair.printed else attempt_printed(pair)
    if pair.points is None and pair.printed:
        return attempt_printed(pair)
    if pair.points is None:
        return Attempt(pair, None, None, "every table is left out")
    found = attempt_tables(pair)
    if found.refused is None or not pair.printed:
        return found
    return attempt_without_print(pair, found)


def attempt_tables(pair: Pair) -> Attempt:
    """Fit a pair of which boiling points were measured, with all else that is known of it."""
    assert pair.points is not None
    grid = None
    if frozenset(pair.cas) not in SPLITTING and not pair.evidence.solubility.any():
        grid = stability_grid(pair.mixture.arrays)
    evidence = pair.evidence
    for _ in range(STRAIGHTENED if parted(pair) else 1):
        settings, left_out = chosen(
            pair.points, len(pair.papers), grid, evidence, printed=states(pair)
        )
        settings = replace(settings, one_liquid=grid is not None)
        fit = fit_pair(pair.judged.tables, pair.mixture.arrays, settings, evidence)
        evidence = rows_about(pair, fit.terms)
    mixes = bool(pair.mixture.miscible_pairs) or frozenset(pair.cas) in MIXING
    refused = refusal(fit, left_out, len(pair.papers), grid, mixes=mixes)
    return Attempt(pair, fit, left_out, refused, mended=grid is not None and splits(grid))


def attempt_without_print(pair: Pair, refused: Attempt) -> Attempt:
    """Fit the tables alone where print contradicts them; never against a printed kind."""
    bare = attempt_tables(replace(pair, evidence=measured_rows(pair), printed=()))
    kinds = printed_rows(pair.printed, pair.mixture.arrays)
    kinds = kinds.take(kinds.one_sided)
    if bare.refused is not None or bare.fit is None:
        return refused
    left = kinds.gap - kinds.design[:, : bare.fit.terms.size] @ bare.fit.terms.reshape(-1)
    if np.any(left > KIND_WRONG):
        return replace(refused, refused="its tables contradict a kind of azeotrope in print")
    return bare


def attempt_solubilities(pair: Pair) -> Attempt:
    """Fit a pair of which only mutual solubilities were measured, and decide."""
    results = [(s, leave_out_layers(pair.evidence, s)) for s in SOLUBILITY_PULLS]
    settings, left_out = min(results, key=lambda r: r[1].mean_after_K if r[1].groups else np.inf)
    fit = fit_points(no_points(), settings, None, pair.evidence)
    for _ in range(STRAIGHTENED if parted(pair) else 0):
        fit = fit_points(no_points(), settings, None, rows_about(pair, fit.terms))
    none = np.zeros((1, 2))
    before, after = (
        float(np.sqrt(np.mean(pair.evidence.miss_K(t) ** 2))) for t in (none, fit.terms)
    )
    layers = int(np.sum(pair.evidence.solubility)) // 2
    fit = replace(fit, points=layers, rms_before_K=before, rms_after_K=after)
    return Attempt(pair, fit, left_out, refusal_of_solubilities(fit, left_out))


def chosen(
    points: BasePoints,
    papers: int,
    grid: StabilityGrid | None,
    evidence: Evidence,
    *,
    printed: bool = False,
) -> tuple[FitSettings, LeftOut]:
    """Return the settings that predict left-out papers best; one paper leaves no choice ...

    ... unless it lies far from the base, so that the base is known to be poor.
    `printed`: a printed azeotrope stands beside the paper as a second, small one.
    """
    mending = grid is not None and splits(grid)
    tried = (MENDING_PULLS if mending else PULLS) if papers > 1 else (settings_for(1),)
    if papers == 1 and (printed or far(points)):
        tried = (settings_for(1), FitSettings(), WIDE)
    results = [(s, leave_out(points, s, grid, evidence=evidence)) for s in tried]
    return min(results, key=lambda r: r[1].mean_after_K if r[1].groups else np.inf)


def far(points: BasePoints) -> bool:
    """Return whether the base misses the points so far that it deserves no strong pull."""
    return float(np.sqrt(np.mean(misses(points, np.zeros((1, 2))) ** 2))) > LONE_FAR_K


def scatters(attempts: Sequence[Attempt]) -> tuple[float, float]:
    """Return the scatter about a new paper of pairs fitted to several and to one [K].

    The first from the misses on left-out papers, the second from fits to one paper alone of
    pairs that have several; both as the standard deviation whose 80 % band holds 80 %.
    """
    several = [
        float(value)
        for a in attempts
        if a.refused is None and a.left_out is not None and a.left_out.kind == "paper"
        for value in a.left_out.after_K
    ]
    lone = [
        misses_of_lone_fits(a.pair.points, lambda own: chosen(own, 1, None, no_evidence())[0])
        for a in attempts
        if a.pair.points is not None and len(a.pair.papers) > 1
    ]
    common = float(np.sqrt(np.mean(np.minimum(several, 2.0) ** 2)))
    return common, pooled_quantile(lone, 0.8) / QUANTILE


def pooled_quantile(samples: Sequence[np.ndarray], share: float) -> float:
    """Return the quantile of several samples, each counting alike however many points it has."""
    values = np.concatenate(samples)
    weights = np.concatenate([np.full(s.size, 1.0 / s.size) for s in samples])
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order]) / len(samples)
    return float(values[order][np.searchsorted(reached, share)])


def record(a: Attempt, common: float, lone: float) -> dict[str, Any]:
    """Return a correction as it ships."""
    if a.fit is None or a.left_out is None:
        raise CalculationFailed("writing a pair", a.pair.name, "Fit it first.")
    several = len(a.pair.papers) > 1
    boiled = bool(a.pair.papers)
    printed = a.left_out.kind == "printed"
    scatter = lone if boiled else UNBOILED_SCATTER_K
    if several:
        count = a.left_out.after_K.size
        total = COMMON_WEIGHT * common**2 + float(np.sum(a.left_out.after_K**2))
        scatter = float(np.sqrt(total / (COMMON_WEIGHT + count)))
    note = (
        "fitted to several papers together; left-out papers are predicted better than by the base"
        if several
        else "one paper only: pulled strongly to the base"
        if boiled
        else "fitted to the azeotrope in print alone: right there, elsewhere as the models"
        if printed
        else "two liquids, fitted to their compositions alone; misses as boiling temperatures"
    )
    if boiled and a.pair.evidence.solubility.any():
        note += "; mutual solubilities joined the fit"
    if boiled and measured_enthalpies(*a.pair.cas):
        note += "; excess enthalpies joined the fit"
    if joined := printed_sources(a.pair):
        note += "" if printed else "; azeotropes in print joined the fit"
    if a.mended:
        note += "; the base alone would split this pair, which mixes: the fit mends that"
    parts = frozenset(a.pair.cas) in SPLITTING or bool(a.pair.evidence.solubility.any())
    parts = parts or any(row.liquids == 2 for row in a.pair.printed)
    if (boiled or printed) and parts:
        note += "; the pair has two liquids in part of the range"
    mixture = a.pair.mixture
    return {
        "components": [s.inchikey for s in mixture.substances],
        "names": list(mixture.names),
        "terms": np.round(a.fit.terms, 6).tolist(),
        "covariance": [[float(f"{v:.5g}") for v in line] for line in a.fit.covariance],
        "scatter_K": round(scatter, 3),
        "base_models": list(mixture.models),
        "papers": list(a.pair.papers),
        "evidence": list(measured_rows(a.pair).papers),
        "printed": joined,
        "tables": len(a.pair.judged.tables),
        "points": a.fit.points,
        "rms_before_K": round(a.fit.rms_before_K, 3),
        "rms_after_K": round(a.fit.rms_after_K, 3),
        "left_out": a.left_out.kind,
        "left_out_before_K": 0.0 if printed else round(a.left_out.mean_before_K, 3),
        "left_out_after_K": 0.0 if printed else round(a.left_out.mean_after_K, 3),
        "note": note,
        "probe": [round(v, 6) for v in base_probe(mixture.arrays)],
    }


def verdicts(attempts: Sequence[Attempt], common: float, lone: float) -> dict[str, Any]:
    """Return what was not used and why, and the scatters."""
    return {
        "left_out": {n: r for a in attempts for n, r in sorted(a.pair.judged.left_out.items())},
        "refused": {a.pair.name: a.refused for a in attempts if a.refused is not None},
        "several_papers_scatter_K": round(common, 3),
        "single_paper_scatter_K": round(lone, 3),
    }


if __name__ == "__main__":
    sys.exit(main())
