"""Leave out a paper before anything is chosen: what choosing by left-out papers flatters.

    python tools/equilibrium/check_choice.py

For every pair of three or more papers, each paper is put aside; strength and acceptance are then
decided by leaving out papers among the rest, and the paper put aside is predicted by what would
have shipped.  Also printed: how many of its points lie within the 80 % band.
"""

from __future__ import annotations

import numpy as np
from fit_pairs import QUANTILE, Pair, chosen, gather
from judging import MIXING, SPLITTING, misses, refusal

from forerun.equilibrium.datafiles import load_data
from forerun.equilibrium.fitting import fit_points
from forerun.equilibrium.fitting_evidence import no_evidence
from forerun.equilibrium.fitting_model import BasePoints
from forerun.equilibrium.fitting_stability import stability_grid

GROSS_K = 2.0  # a paper that misses by more counts as this, as in the fits
BARE = np.zeros((1, 2))


def main() -> None:
    """Print the two tables."""
    pairs = [p for p in gather() if p.points is not None]
    scatter = load_data("pairs_judged.json.gz")
    nested = [row for p in pairs if len(p.papers) > 2 and (row := put_aside(p, scatter))]
    before, after, inside = (np.array(v) for v in zip(*nested, strict=True))
    print(
        f"{len(nested)} pairs of three or more papers, mean over pairs [K]: base "
        f"{before.mean():.3f}, what would have shipped {after.mean():.3f}; medians "
        f"{np.median(before):.3f}, {np.median(after):.3f}; better {np.mean(after < before):.0%}, "
        f"worse {np.mean(after > before):.0%}; within the 80 % band {np.nanmean(inside):.0%}"
    )
    lone = [lone_coverage(p.points, scatter) for p in pairs if p.points and len(p.papers) > 1]
    print(f"fits to one paper alone: within the 80 % band {np.mean(lone):.0%} ({len(lone)} pairs)")


def put_aside(pair: Pair, scatter: dict[str, float]) -> tuple[float, float, float]:
    """Return mean miss of base and of what would have shipped [K], and the share in the band."""
    points = pair.points
    assert points is not None
    grid = None
    if frozenset(pair.cas) not in SPLITTING and not pair.evidence.solubility.any():
        grid = stability_grid(pair.mixture.arrays)
    mixes = bool(pair.mixture.miscible_pairs) or frozenset(pair.cas) in MIXING
    rows = []
    for paper in np.unique(points.paper).tolist():
        rest, seen = points.take(points.paper != paper), points.take(points.paper == paper)
        papers = int(np.unique(rest.paper).size)
        settings, left_out = chosen(rest, papers, grid, pair.evidence)
        fit = fit_points(rest, settings, grid, pair.evidence)
        ships = refusal(fit, left_out, papers, grid, mixes=mixes) is None
        miss = misses(seen, fit.terms if ships else BARE)
        width = QUANTILE * scatter["several_papers_scatter_K"]
        inside = float(np.mean(np.abs(miss) <= width)) if ships else np.nan
        rows.append((rms(misses(seen, BARE)), rms(miss), inside))
    before, after, share = (np.array(v) for v in zip(*rows, strict=True))
    known = share[np.isfinite(share)]
    return float(before.mean()), float(after.mean()), float(known.mean()) if known.size else np.nan


def lone_coverage(points: BasePoints, scatter: dict[str, float]) -> float:
    """Return the share of other papers' points within the band of a fit to one paper."""
    width = QUANTILE * scatter["single_paper_scatter_K"]
    shares = []
    for paper in np.unique(points.paper).tolist():
        own = points.take(points.paper == paper)
        fit = fit_points(own, chosen(own, 1, None, no_evidence())[0])
        other = points.take(points.paper != paper)
        shares.append(float(np.mean(np.abs(misses(other, fit.terms)) <= width)))
    return float(np.mean(shares))


def rms(miss: np.ndarray) -> float:
    """Return the root mean square, gross misses capped [K]."""
    return min(float(np.sqrt(np.mean(miss**2))), GROSS_K)


if __name__ == "__main__":
    main()
