"""Whether a fitted pair stays in one liquid phase, and stays sane where it is dilute."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.fitting_model import (
    MOST_TERMS,
    REFERENCE_TEMPERATURE,
    bare_base,
    redlich_kister_design,
)
from forerun.equilibrium.kernels import ln_activity

__all__ = ["StabilityGrid", "dilute_corrections", "stability_grid"]

Floats = npt.NDArray[np.float64]

GRID_TEMPERATURES = (280.0, 300.0, 320.0, 340.0, 360.0, 380.0, 400.0, 420.0)  # K
_STEP = 1e-5  # mole fraction, half the step of the central difference
_MARGIN = 0.01  # d ln a1/d ln x1 that a mixing pair keeps at least [-]


@dataclass(frozen=True, slots=True, eq=False)
class StabilityGrid:
    """d ln a1/d ln x1 of the base over composition and temperature, and how terms change it.

    A liquid that is stable against small splits has d ln a1/d ln x1 > 0 everywhere; for a pair
    that is the sign of d2g/dx2, and everywhere on a fine grid it rules out any split.

    Args:
        temperature_K, liquid_fraction: (n,) the places [K], [-].
        base: (n,) of the base alone [-].
        design: (n, 5, 2) change by a unit of a, b of each term [-].
    """

    temperature_K: Floats
    liquid_fraction: Floats
    base: Floats
    design: Floats

    @property
    def gap(self) -> Floats:
        """Return what the correction must add to reach the margin, (n,) [-]."""
        return _MARGIN - self.base

    def design_of(self, terms: int) -> Floats:
        """Return the design for the first terms, (n, 2K) in the order a0, b0, a1, … [-]."""
        return self.design[:, :terms].reshape(self.base.size, 2 * terms)

    def stability(self, terms: Floats) -> Floats:
        """Return d ln a1/d ln x1 with a correction.

        Args:
            terms: (K, 2) or (2K,) coefficients [-], K <= 5.

        Returns:
            (n,) [-]; below 0 the liquid splits.

        Source:
            Gibbs' condition of stability, e.g. Prausnitz, Lichtenthaler & Gomes de Azevedo,
            Molecular Thermodynamics of Fluid-Phase Equilibria, 3rd ed. (1999), section 6.12
            (from memory).
        """
        flat = np.asarray(terms, dtype=float).reshape(-1)
        return cast(Floats, self.base + self.design_of(flat.size // 2) @ flat)

    def short_of_margin(self, terms: Floats) -> npt.NDArray[np.bool_]:
        """Return where the stability lies below the margin, (n,) [-]."""
        return self.stability(terms) < _MARGIN


def stability_grid(mixture: MixtureArrays) -> StabilityGrid:
    """Evaluate the stability of a pair's base over composition, 280 to 420 K.

    Args:
        mixture: a mixture of two components; its pair correction is left out.

    Returns:
        The grid: 55 compositions, closer together near the ends, at eight temperatures.

    Source:
        As `StabilityGrid.stability`.
    """
    base = bare_base(mixture)
    scratch = scratch_for(base)
    x = np.concatenate([[0.001, 0.003, 0.006], np.linspace(0.01, 0.99, 49), [0.994, 0.997, 0.999]])
    places = [(t, v) for t in GRID_TEMPERATURES for v in x.tolist()]
    temperature = np.array([p[0] for p in places])
    fraction = np.array([p[1] for p in places])
    base_values = np.array([_stability(t, v, base, scratch) for t, v in places])
    up, down = (redlich_kister_design(fraction + s * _STEP, MOST_TERMS)[:, 0] for s in (1.0, -1.0))
    slope = fraction[:, None] * (up - down) / (2.0 * _STEP)
    tilt = REFERENCE_TEMPERATURE / temperature - 1.0
    return StabilityGrid(
        temperature, fraction, base_values, np.stack([slope, slope * tilt[:, None]], axis=2)
    )


def _stability(temperature: float, x1: float, base: MixtureArrays, scratch: Floats) -> float:
    ln_gamma = np.zeros(2)
    ends = []
    for x in (x1 + _STEP, x1 - _STEP):
        ln_activity(temperature, np.array([x, 1.0 - x]), base, scratch, ln_gamma)
        ends.append(float(ln_gamma[0]))
    return 1.0 + x1 * (ends[0] - ends[1]) / (2.0 * _STEP)


def dilute_corrections(terms: Floats) -> Floats:
    """Return what a correction adds to ln gamma of each component at infinite dilution.

    Args:
        terms: (K, 2) a, b of each term [-].

    Returns:
        (8, 2) from 280 to 420 K in steps of 20 K, for the first component in the second and the
        reverse [-].

    Source:
        Limits of Redlich & Kister, Ind. Eng. Chem. 40 (1948) 345, doi:10.1021/ie50458a036.
    """
    tilt = REFERENCE_TEMPERATURE / np.array(GRID_TEMPERATURES) - 1.0
    a = terms[:, 0][None, :] + terms[:, 1][None, :] * tilt[:, None]
    sign = (-1.0) ** np.arange(terms.shape[0])
    return cast(Floats, np.stack([(a * sign).sum(axis=1), a.sum(axis=1)], axis=1))
