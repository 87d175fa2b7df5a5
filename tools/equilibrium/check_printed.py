"""Does an azeotrope in print tell anything about the rest of the curve?

    python tools/equilibrium/check_printed.py

For every pair that has tables as well as a printed azeotrope, the print alone is fitted and the
tables are predicted, with terms of falling and of equal size.  Over pairs: rms of the tables [K].
"""

from __future__ import annotations

import numpy as np
from fitting_print import PRINTED_PULLS, fit_print, rms
from gathering import Pair, gather, measured_rows, states
from judging import SPLITTING, misses

from forerun.equilibrium.fitting import FitSettings
from forerun.equilibrium.fitting_stability import stability_grid

BARE = np.zeros((1, 2))
FALLING = FitSettings(spread=PRINTED_PULLS[0].spread)


def main() -> None:
    """Print the comparison, then every pair."""
    pairs = [p for p in gather() if p.points is not None and states(p)]
    rows = [(p.name, *predicted(p)) for p in pairs if not measured_rows(p).solubility.any()]
    for k, what in enumerate(("base", "terms of falling size", "terms of equal size"), start=1):
        values = np.array([r[k] for r in rows])
        print(f"{what}: mean {values.mean():.2f}, median {np.median(values):.2f} K")
    for name, *values in rows:
        print(f"  {name}: " + ", ".join(f"{v:.2f}" for v in values))


def predicted(pair: Pair) -> tuple[float, float, float]:
    """Return the rms of the tables of a pair by the base and by both fits to print alone [K]."""
    assert pair.points is not None
    grid = None
    if frozenset(pair.cas) not in SPLITTING:
        grid = stability_grid(pair.mixture.arrays)
    fits = [fit_print(pair, s, grid)[0].terms for s in (FALLING, PRINTED_PULLS[0])]
    base, falling, equal = (rms(misses(pair.points, t)) for t in (BARE, *fits))
    return base, falling, equal


if __name__ == "__main__":
    main()
