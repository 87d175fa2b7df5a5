"""Fit the shipped pair corrections to the measured tables, in one command.

    python tools/equilibrium/fit_pairs.py            # writes the data files and the docs table
    python tools/equilibrium/fit_pairs.py --check    # fails if they would change

Deterministic.  Run it again whenever vapour pressures, groups, group tables or the measured
tables change: a correction belongs to its base, and a test compares the two.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from collect_points import write
from judging import (
    MIXING,
    SPLITTING,
    Judged,
    judge_tables,
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
    PairFit,
    fit_pair,
    fit_points,
    settings_for,
)
from forerun.equilibrium.fitting_evidence import Evidence, rows_of
from forerun.equilibrium.fitting_left_out import LeftOut, leave_out, leave_out_layers
from forerun.equilibrium.fitting_model import BasePoints, bare_base, base_points, no_points
from forerun.equilibrium.fitting_stability import StabilityGrid, stability_grid
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.equilibrium.pairs import (
    base_probe,
    measured_enthalpies,
    measured_solubilities,
    measured_tables,
)
from forerun.substances.catalogue import find

ROOT = Path(__file__).parents[2]
DATA = ROOT / "src/forerun/equilibrium/data"
PAGE = ROOT / "docs/explain/pairs.md"

# Pulls to the base tried for a pair of several papers, see `FitSettings`.
WIDE = FitSettings(spread=0.24, spread_ratio=0.8)
CLOSE = FitSettings(spread=0.05, paper_spread=0.06)
PULLS = (FitSettings(), FitSettings(spread=0.05), CLOSE, settings_for(1), WIDE)
# Where only solubilities were measured: the same without the strong pulls. A looser one predicts
# left-out solubilities better still, but what it says far from their temperatures is worth less.
SOLUBILITY_PULLS = (FitSettings(), WIDE)
# The same where the base splits a pair that mixes, so that it is known to be far off.
MENDING_PULLS = (*PULLS, FitSettings(spread=0.6, spread_ratio=1.0))
COMMON_WEIGHT = 3.0  # papers that the common scatter counts for in the scatter of a pair
# Scatter of a correction from solubilities alone: as a predicted pair whose models agree, since
# nothing tells how well it boils; 0.8 K and 1.4 are those of `forerun.equilibrium.bands`.
UNBOILED_SCATTER_K = 1.4 * 0.8 / 1.2816
QUANTILE = 1.2816  # of a normal distribution that holds 80 % between its ends


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """A pair with what was measured, judged."""

    cas: tuple[str, str]
    mixture: Mixture
    judged: Judged
    points: BasePoints | None
    evidence: Evidence

    @property
    def papers(self) -> tuple[str, ...]:
        """DOIs of the tables that are fitted."""
        return tuple(dict.fromkeys(t.paper for t in self.judged.tables))

    @property
    def name(self) -> str:
        """Both names."""
        return " + ".join(self.mixture.names)


@dataclass(frozen=True, slots=True, eq=False)
class Attempt:
    """A fit of a pair and what became of it."""

    pair: Pair
    fit: PairFit | None
    left_out: LeftOut | None
    refused: str | None
    mended: bool = False


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
    write(DATA / "pairs_judged.json.gz", json.dumps(judged, separators=(",", ":"), sort_keys=True))
    PAGE.parent.mkdir(parents=True, exist_ok=True)
    PAGE.write_text(docs_page(numbers, rows, judged), encoding="utf-8")
    return 0


def gather() -> list[Pair]:
    """Return every measured pair whose components are known, with its base and its tables."""
    order: dict[frozenset[str], tuple[str, str]] = {}
    boiled = load_data("pairs_measured.json.gz")["tables"]
    for row in (*boiled, *load_data("pairs_evidence.json.gz")["solubility"]):
        order.setdefault(frozenset(row["cas"]), (row["cas"][0], row["cas"][1]))
    measured = {frozenset(row["cas"]) for row in boiled}
    pairs = []
    for cas in order.values():
        mixture = mixture_of([find(c) for c in cas], corrections=False)
        if frozenset(cas) not in measured and not mixture.models:
            continue
        bare = bare_base(mixture.arrays)
        if not np.array_equal(bare.pair_correction, mixture.arrays.pair_correction):
            raise CalculationFailed(
                "gathering pairs", f"{cas} has no base of its own", "Report it."
            )
        judged = judge_tables(measured_tables(*cas), mixture.arrays, len(mixture.models))
        points = base_points(judged.tables, mixture.arrays) if judged.tables else None
        evidence = rows_of(measured_solubilities(*cas), measured_enthalpies(*cas), mixture.arrays)
        pairs.append(Pair(cas, mixture, judged, points, evidence))
    return sorted(pairs, key=lambda p: p.name)


def attempt(pair: Pair) -> Attempt:
    """Fit a pair, choose the pull to the base by what is left out, and decide."""
    parts = bool(pair.evidence.solubility.any())
    if pair.points is None and parts:
        return attempt_solubilities(pair)
    if pair.points is None:
        return Attempt(pair, None, None, "every table is left out")
    grid = None
    if frozenset(pair.cas) not in SPLITTING and not parts:
        grid = stability_grid(pair.mixture.arrays)
    settings, left_out = chosen(pair.points, len(pair.papers), grid, pair.evidence)
    settings = replace(settings, one_liquid=grid is not None)
    fit = fit_pair(pair.judged.tables, pair.mixture.arrays, settings, pair.evidence)
    mixes = bool(pair.mixture.miscible_pairs) or frozenset(pair.cas) in MIXING
    refused = refusal(fit, left_out, len(pair.papers), grid, mixes=mixes)
    return Attempt(pair, fit, left_out, refused, mended=grid is not None and splits(grid))


def attempt_solubilities(pair: Pair) -> Attempt:
    """Fit a pair of which only mutual solubilities were measured, and decide."""
    results = [(s, leave_out_layers(pair.evidence, s)) for s in SOLUBILITY_PULLS]
    settings, left_out = min(results, key=lambda r: r[1].mean_after_K if r[1].groups else np.inf)
    fit = fit_points(no_points(), settings, None, pair.evidence)
    none = np.zeros((1, 2))
    before, after = (
        float(np.sqrt(np.mean(pair.evidence.miss_K(t) ** 2))) for t in (none, fit.terms)
    )
    layers = int(np.sum(pair.evidence.solubility)) // 2
    fit = replace(fit, points=layers, rms_before_K=before, rms_after_K=after)
    return Attempt(pair, fit, left_out, refusal_of_solubilities(fit, left_out))


def chosen(
    points: BasePoints, papers: int, grid: StabilityGrid | None, evidence: Evidence
) -> tuple[FitSettings, LeftOut]:
    """Return the settings that predict left-out papers best; one paper leaves no choice."""
    mending = grid is not None and splits(grid)
    tried = (MENDING_PULLS if mending else PULLS) if papers > 1 else (settings_for(1),)
    results = [(s, leave_out(points, s, grid, evidence=evidence)) for s in tried]
    return min(results, key=lambda r: r[1].mean_after_K if r[1].groups else np.inf)


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
        misses_of_lone_fits(a.pair.points, settings_for(1))
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
        else "two liquids, fitted to their compositions alone; misses as boiling temperatures"
    )
    if boiled and a.pair.evidence.solubility.any():
        note += "; mutual solubilities joined the fit"
    if boiled and not a.pair.evidence.solubility.all():
        note += "; excess enthalpies joined the fit"
    if a.mended:
        note += "; the base alone would split this pair, which mixes: the fit mends that"
    if boiled and (frozenset(a.pair.cas) in SPLITTING or a.pair.evidence.solubility.any()):
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
        "evidence": list(a.pair.evidence.papers),
        "tables": len(a.pair.judged.tables),
        "points": a.fit.points,
        "rms_before_K": round(a.fit.rms_before_K, 3),
        "rms_after_K": round(a.fit.rms_after_K, 3),
        "left_out": a.left_out.kind,
        "left_out_before_K": round(a.left_out.mean_before_K, 3),
        "left_out_after_K": round(a.left_out.mean_after_K, 3),
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
