"""Fits of pairs of which nothing but an azeotrope is printed, or too little else is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from gathering import Attempt, Pair, rows_about
from judging import (
    DILUTE_LIMIT,
    DILUTE_PARTED,
    DILUTE_UNKNOWN,
    MIXING,
    SPLITTING,
    misses,
    refusal_of_printed,
    splits,
)

from forerun.equilibrium.fitting import FitSettings, PairFit, fit_points
from forerun.equilibrium.fitting_evidence import Evidence
from forerun.equilibrium.fitting_left_out import LeftOut
from forerun.equilibrium.fitting_model import no_points
from forerun.equilibrium.fitting_printed import printed_points, printed_rows
from forerun.equilibrium.fitting_stability import StabilityGrid, stability_grid
from forerun.equilibrium.pairs import measured_solubilities

__all__ = ["attempt_printed", "printed_sources"]

# With terms of equal size the correction acts near the azeotrope and fades away from it; with the
# falling sizes of other fits it lifts the whole curve.  Print tells little of the rest of a curve:
# the tables of 41 pairs that have both are missed by 0.62 K by the base, by 0.63 K after a fit to
# print alone, by 0.66 K with falling sizes (``check_printed.py``).  So the pull is strong, and the
# first that meets the print within its error is taken.
PRINTED_PULLS = tuple(FitSettings(spread=s, spread_ratio=1.0) for s in (0.08, 0.16, 0.32))
# Where two liquids are printed and no solubility was measured, the models may be wrong by a factor
# of ten about water in the organic liquid, which decides where the two boil.
PARTED_PULLS = (*PRINTED_PULLS, FitSettings(spread=0.64, spread_ratio=1.0))
STRAIGHTENED = 6  # times that the rows of print are taken about the fit before
MET = 1.0  # standard deviations by which a fit may miss print before the pull is loosened
# The same where no model knows the pair, so that the base is Raoult's law.
UNKNOWN_PULLS = (FitSettings(spread=1.5, spread_ratio=0.3),)


def attempt_printed(pair: Pair) -> Attempt:
    """Fit a pair to what is printed of its azeotropes, where no table or too little is known."""
    evidence = pair.evidence
    two = any(row.liquids == 2 for row in pair.printed)
    parts = two or bool(evidence.solubility.any()) or frozenset(pair.cas) in SPLITTING
    grid = None if parts else stability_grid(pair.mixture.arrays)
    nothing = LeftOut("printed", (), np.zeros(0), np.zeros(0))
    if not evidence.gap[~evidence.solubility].size:
        return Attempt(pair, None, None, "what is printed of its azeotrope cannot be fitted")
    unknown = two and not evidence.solubility.any()
    pulls = PARTED_PULLS if unknown else PRINTED_PULLS
    for settings in pulls if pair.mixture.models else UNKNOWN_PULLS:
        fit, evidence = fit_print(pair, settings, grid)
        if meets(evidence, fit.terms):
            break
    points = printed_points(pair.printed, pair.mixture.arrays)
    none = np.zeros((1, 2))
    before, after = (rms(misses(points, t)) for t in (none, fit.terms))
    fit = replace(fit, points=len(points.paper), rms_before_K=before, rms_after_K=after)
    mixes = bool(pair.mixture.miscible_pairs) or frozenset(pair.cas) in MIXING
    known = bool(pair.mixture.models)
    limit = DILUTE_UNKNOWN if not known else DILUTE_PARTED if unknown else DILUTE_LIMIT
    refused = refusal_of_printed(fit, pair.evidence, grid, mixes=mixes, dilute=limit)
    return Attempt(pair, fit, nothing, refused, mended=grid is not None and splits(grid))


def fit_print(
    pair: Pair, settings: FitSettings, grid: StabilityGrid | None
) -> tuple[PairFit, Evidence]:
    """Fit print alone, its rows straightened about each fit anew; return the last rows as well."""
    evidence = pair.evidence
    fit = fit_points(no_points(), settings, grid, evidence)
    for _ in range(STRAIGHTENED):
        evidence = rows_about(pair, fit.terms)
        fit = fit_points(no_points(), settings, grid, evidence)
    return fit, evidence


def meets(evidence: Evidence, terms: np.ndarray) -> bool:
    """Return whether a fit meets all that is printed of azeotropes, within its errors."""
    left = evidence.gap - evidence.design[:, : terms.size] @ terms.reshape(-1)
    off = np.where(evidence.one_sided, left, np.abs(left))
    return bool(np.all(off[~evidence.solubility] <= MET))


def printed_sources(pair: Pair) -> list[str]:
    """Return the sources of the printed azeotropes that gave rows to the fit of a pair."""
    layers = measured_solubilities(*pair.cas)
    rows = printed_rows(pair.printed, pair.mixture.arrays, layers)
    return [rows.papers[k] for k in np.unique(rows.paper).tolist()]


def rms(values: np.ndarray) -> float:
    """Return the root mean square; 0 of nothing."""
    return float(np.sqrt(np.mean(values**2))) if values.size else 0.0
