"""Where a measured table has its azeotrope, each table reduced alone by Barker's method.

    python tools/equilibrium/azeotropes_of_tables.py acetonitrile water

Pressures or temperatures alone tell the azeotrope through Gibbs and Duhem: three, four and five
Redlich-Kister terms over the group models are fitted to one table at a time, hardly pulled.  A
parabola through the highest pressures, which are not symmetric about it, lies up to 0.05 off.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace

from judging import SPLITTING

from forerun.equilibrium.azeotropes_search import singular_points
from forerun.equilibrium.fitting import FitSettings, fit_points
from forerun.equilibrium.fitting_layers import corrected_arrays
from forerun.equilibrium.fitting_model import MeasuredTable, base_points
from forerun.equilibrium.fitting_stability import stability_grid
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.equilibrium.pairs import measured_tables
from forerun.substances.catalogue import find

TERMS = (3, 4, 5)
ALONE = FitSettings(
    spread=2.0,
    spread_ratio=1.0,
    tilt_spread=0.1,
    paper_offset_K=0.02,
    paper_spread=1e-3,
    temperature_noise_K=0.02,
    fraction_noise=1e-3,
    freedom=1000.0,
)


def main(first: str, second: str) -> None:
    """Print the azeotropes of every table of a pair."""
    mixture = mixture_of([find(first), find(second)], corrections=False)
    for table in measured_tables(*(s.cas for s in mixture.substances)):
        pressure = float(table.pressure_Pa.max())
        for terms, x, temperature, miss in reductions(mixture, table, pressure):
            print(
                f"{table.name} ({table.paper}), {pressure / 1e3:.4g} kPa, {terms} terms: "
                f"x {x:.3f}, {temperature - 273.15:.2f} °C; table met within {miss:.2f} K"
            )


def reductions(
    mixture: Mixture, table: MeasuredTable, pressure: float
) -> Iterator[tuple[int, float, float, float]]:
    """Yield the number of terms, x and T [K] of the azeotrope and the rms of the table [K]."""
    pair = frozenset(s.cas for s in mixture.substances)
    grid = None if pair in SPLITTING else stability_grid(mixture.arrays)
    points = base_points([table], mixture.arrays)
    for terms in TERMS:
        fit = fit_points(points, replace(ALONE, terms=terms), grid)
        for found in singular_points(corrected_arrays(mixture.arrays, fit.terms), pressure):
            if len(found.components) == 2:
                yield terms, float(found.mole_fraction[0]), found.temperature_K, fit.rms_after_K


if __name__ == "__main__":
    main(*sys.argv[1:])
