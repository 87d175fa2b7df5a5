"""Measure what docs/explain/review.md claims, on as many invented runs as are asked for.

    python tools/proofs/review_claims.py [RUNS]

Plateaus and gross errors take seconds for a hundred runs, plates about half a minute for each.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from forerun.reviewing.fitting_run import fit_run  # noqa: E402 -- after the path is set
from laws import balance_truth, fit_truth, plateau_truth  # noqa: E402

__all__ = ["main"]

_PLATES_FROM = ("class-pair", "class-pair", "three-on-eight", "class-pair")


def main(arguments: list[str]) -> int:
    """Print one line for each claim; returns the exit code."""
    runs = int(arguments[0]) if arguments else 100
    plateaus = plateau_truth.scored(runs, seed=5)
    wrong = plateaus.reported - plateaus.found
    print(f"plateaus found: {plateaus.found} of {plateaus.made}; reported beside them: {wrong}")
    for mishap in (None, *balance_truth.MISHAPS):
        score = balance_truth.scored(mishap, runs, seed=11)
        print(f"{mishap or 'honest'}: accused {score.accused}, named {score.named} of {score.runs}")
    rng = np.random.default_rng(7)
    inside = 0
    for k in range(max(runs // 5, 2)):
        prepared, log, plates = fit_truth.drawn(rng, _PLATES_FROM[k % len(_PLATES_FROM)])
        fit = fit_run(prepared, log)
        found = None if fit is None else fit.get("plates")
        inside += found is not None and found.low <= plates <= found.high
        print(f"plates inside their 80 % band: {inside} of {k + 1}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
