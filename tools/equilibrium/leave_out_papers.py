"""Fit pairs of several papers without each paper, and to each paper alone.

    python tools/equilibrium/leave_out_papers.py

What the bands of fitted pairs are calibrated on: the terms of both fits for every paper, written to
tests/validation/data/left_out_fits.json.gz.  Run it after `fit_pairs.py`.
"""

from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any

import numpy as np
from fit_pairs import COMMON_WEIGHT, Pair, chosen, gather
from judging import MIXING, SPLITTING, refusal

from forerun.equilibrium.datafiles import load_data
from forerun.equilibrium.fitting import fit_points
from forerun.equilibrium.fitting_evidence import no_evidence
from forerun.equilibrium.fitting_stability import stability_grid

OUT = Path(__file__).parents[2] / "tests/validation/data/left_out_fits.json.gz"


def main() -> None:
    """Write the file."""
    common = load_data("pairs_judged.json.gz")["several_papers_scatter_K"]
    rows: list[dict[str, Any]] = []
    for pair in gather():
        if pair.points is not None and len(pair.papers) > 1:
            rows += of_pair(pair, common)
    text = json.dumps(rows, separators=(",", ":"))
    OUT.write_bytes(gzip.compress(text.encode(), compresslevel=9, mtime=0))
    print(f"{len(rows)} papers of {len({tuple(r['cas']) for r in rows})} pairs")


def of_pair(pair: Pair, common: float) -> list[dict[str, Any]]:
    """Return one row for every paper of a pair."""
    points = pair.points
    assert points is not None
    grid = None
    if frozenset(pair.cas) not in SPLITTING and not pair.evidence.solubility.any():
        grid = stability_grid(pair.mixture.arrays)
    settings, left_out = chosen(points, len(pair.papers), grid, pair.evidence)
    fit = fit_points(points, settings, grid, pair.evidence)
    mixes = bool(pair.mixture.miscible_pairs) or frozenset(pair.cas) in MIXING
    ships = refusal(fit, left_out, len(pair.papers), grid, mixes=mixes) is None
    missed = dict(zip(left_out.groups, left_out.after_K.tolist(), strict=True))
    rows = []
    for index, paper in enumerate(pair.papers):
        own = points.paper == index
        others = [v for k, v in missed.items() if k != index]
        total = COMMON_WEIGHT * common**2 + float(np.sum(np.square(others)))
        without = fit_points(points.take(~own), settings, grid, pair.evidence)
        lone, _ = chosen(points.take(own), 1, grid, no_evidence())
        alone = fit_points(points.take(own), lone, grid)
        rows.append(
            {
                "cas": list(pair.cas),
                "paper": paper,
                "papers": len(pair.papers),
                "ships": ships,
                "without": np.round(without.terms, 5).tolist(),
                "alone": np.round(alone.terms, 5).tolist(),
                "scatter_K": round(float(np.sqrt(total / (COMMON_WEIGHT + len(others)))), 4),
            }
        )
    return rows


if __name__ == "__main__":
    main()
