"""What else speaks of a pair: mutual solubilities and excess enthalpies.

Both are linear in the coefficients of a Redlich-Kister correction once the base is evaluated at
the measured places, so that they enter a fit as plain rows: a gap and a design, both divided by
the standard deviation of the gap.  Two liquids in equilibrium have equal activities; the excess
enthalpy is the slope of the excess Gibbs energy with temperature (Gibbs-Helmholtz).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.fitting_model import (
    MOST_TERMS,
    REFERENCE_TEMPERATURE,
    bare_base,
    redlich_kister_design,
)
from forerun.equilibrium.kernels import ln_activity, ln_vapour_pressure

__all__ = ["Evidence", "ExcessEnthalpy", "MutualSolubility", "no_evidence", "rows_of"]

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

GAS_CONSTANT = 8.314462618  # J/mol/K, CODATA 2018
_STEP = 0.5  # K, half the step of the central differences in temperature
# Standard deviations below: what papers of one pair differ by, and what a few terms cannot follow.
_ACTIVITY_NOISE = 0.08  # of ln activity between two layers [-]
_SOLUBILITY_NOISE = 5e-4  # of a small mole fraction [-]
_ENTHALPY_NOISE = 0.04  # of h_E/RT [-]: 100 J/mol at room temperature


@dataclass(frozen=True, slots=True, eq=False)
class MutualSolubility:
    """Compositions of two liquids in equilibrium, measured in one paper.

    Args:
        paper: DOI.
        temperature_K: (n,) [K].
        poor, rich: (n,) mole fraction of the first component in the layer poor and rich in it [-].
    """

    paper: str
    temperature_K: Floats
    poor: Floats
    rich: Floats

    def __post_init__(self) -> None:
        if not np.all((self.poor > 0.0) & (self.poor < self.rich) & (self.rich < 1.0)):
            raise BadInput(self.paper, "layers", "0 < poor < rich < 1 in mole fractions")


@dataclass(frozen=True, slots=True, eq=False)
class ExcessEnthalpy:
    """Excess enthalpies of one paper.

    Args:
        paper: DOI.
        temperature_K: (n,) [K].
        liquid_fraction: (n,) mole fraction of the first component [-].
        excess_enthalpy: (n,) [J/mol].
    """

    paper: str
    temperature_K: Floats
    liquid_fraction: Floats
    excess_enthalpy: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """Rows of a fit besides the boiling points, in standard deviations.

    Args:
        design: (n, 10) change of each quantity by a0, b0, a1, … [-].
        gap: (n,) measured minus base [-].
        paper: (n,) index of the paper [-].
        per_K: (n,) standard deviations of a well-known layer that a kelvin of boiling temperature
            is worth; NaN for enthalpies [1/K].
        papers: DOIs.
        one_sided: (n,) rows that count only while the gap is above zero: what the fit should
            reach at least.
    """

    design: Floats
    gap: Floats
    paper: Integers
    per_K: Floats
    papers: tuple[str, ...]
    one_sided: Flags

    def take(self, keep: npt.NDArray[np.bool_]) -> Evidence:
        """Return the rows where `keep`, (n,), is true."""
        return Evidence(
            self.design[keep],
            self.gap[keep],
            self.paper[keep],
            self.per_K[keep],
            self.papers,
            self.one_sided[keep],
        )

    def joined(self, other: Evidence) -> Evidence:
        """Return the rows of both; the papers of `other` are counted after its own."""
        return Evidence(
            np.concatenate([self.design, other.design]),
            np.concatenate([self.gap, other.gap]),
            np.concatenate([self.paper, other.paper + len(self.papers)]),
            np.concatenate([self.per_K, other.per_K]),
            (*self.papers, *other.papers),
            np.concatenate([self.one_sided, other.one_sided]),
        )

    @property
    def solubility(self) -> npt.NDArray[np.bool_]:
        """Return which rows are solubilities, (n,) [-]."""
        return np.isfinite(self.per_K)

    def miss_K(self, terms: Floats) -> Floats:
        """Return the miss of the solubility rows as an error of a boiling temperature.

        Args:
            terms: (K, 2) coefficients [-], K <= 5.

        Returns:
            (m,) difference of ln activity between the layers over d ln P/dT, less for a component
            so dilute that its share is not well known [K].
        """
        flat = np.asarray(terms, dtype=float).reshape(-1)
        known = self.solubility
        left: Floats = self.gap[known] - self.design[known][:, : flat.size] @ flat
        return left / self.per_K[known]


def no_evidence() -> Evidence:
    """Return an evidence without rows."""
    none = np.zeros(0)
    index, flags = none.astype(np.int64), none.astype(np.bool_)
    return Evidence(np.zeros((0, 2 * MOST_TERMS)), none, index, none, (), flags)


def rows_of(
    solubilities: Sequence[MutualSolubility],
    enthalpies: Sequence[ExcessEnthalpy],
    mixture: MixtureArrays,
) -> Evidence:
    """Return solubilities and enthalpies of a pair as rows of a fit.

    Args:
        solubilities, enthalpies: measured, mole fractions in the order of the mixture.
        mixture: a mixture of two components; its pair correction is left out.

    Returns:
        Two rows for each pair of layers, one for each enthalpy.

    Raises:
        BadInput: the mixture does not have two components.

    Source:
        Equal activities and the Gibbs-Helmholtz equation, e.g. Prausnitz, Lichtenthaler & Gomes
        de Azevedo, Molecular Thermodynamics of Fluid-Phase Equilibria, 3rd ed. (1999), chapters 2
        and 6 (from memory).
    """
    if mixture.vapour_pressure.shape[0] != 2:
        raise BadInput("mixture", mixture.vapour_pressure.shape[0], "two components")
    base = bare_base(mixture)
    named = [*(s.paper for s in solubilities), *(h.paper for h in enthalpies)]
    papers = tuple(dict.fromkeys(named))
    parts = [no_evidence()]
    parts += [_layers(s, papers.index(s.paper), base) for s in solubilities]
    parts += [_enthalpies(h, papers.index(h.paper), base) for h in enthalpies]
    return Evidence(
        np.concatenate([p.design for p in parts]),
        np.concatenate([p.gap for p in parts]),
        np.concatenate([p.paper for p in parts]),
        np.concatenate([p.per_K for p in parts]),
        papers,
        np.concatenate([p.one_sided for p in parts]),
    )


def _tilted(x: Floats, temperature: Floats) -> Floats:
    """Return d ln gamma / d (a0, b0, a1, …), (n, 2, 10)."""
    design = redlich_kister_design(x, MOST_TERMS)
    tilt = REFERENCE_TEMPERATURE / temperature - 1.0
    both = np.stack([design, design * tilt[:, None, None]], axis=3)
    return both.reshape(x.size, 2, 2 * MOST_TERMS)


def _ln_gamma(x: Floats, temperature: Floats, base: MixtureArrays) -> Floats:
    scratch = scratch_for(base)
    result = np.zeros((x.size, 2))
    for row, t, v in zip(result, temperature.tolist(), x.tolist(), strict=True):
        ln_activity(t, np.array([v, 1.0 - v]), base, scratch, row)
    return result


def _layers(measured: MutualSolubility, paper: int, base: MixtureArrays) -> Evidence:
    """Ln of activity in the poor layer minus that in the rich one, which should vanish."""
    t = measured.temperature_K
    sides = [np.stack([x, 1.0 - x], axis=1) for x in (measured.poor, measured.rich)]
    ln_a = [np.log(side) + _ln_gamma(side[:, 0].copy(), t, base) for side in sides]
    design = _tilted(measured.poor, t) - _tilted(measured.rich, t)
    small = np.minimum(*sides)
    noise = np.hypot(_ACTIVITY_NOISE, _SOLUBILITY_NOISE / small)
    slope = np.array([[_slope(i, v, base) for i in range(2)] for v in t.tolist()])
    gap = (ln_a[1] - ln_a[0]) / noise
    return Evidence(
        (design / noise[:, :, None]).reshape(-1, 2 * MOST_TERMS),
        gap.reshape(-1),
        np.full(gap.size, paper, dtype=np.int64),
        (slope / _ACTIVITY_NOISE).reshape(-1),
        (),
        np.zeros(gap.size, dtype=np.bool_),
    )


def _slope(i: int, temperature: float, base: MixtureArrays) -> float:
    """D ln P/dT of a pure component [1/K]."""
    up, down = (
        float(ln_vapour_pressure(i, base.vapour_pressure, temperature + s * _STEP))
        for s in (1.0, -1.0)
    )
    return (up - down) / (2.0 * _STEP)


def _enthalpies(measured: ExcessEnthalpy, paper: int, base: MixtureArrays) -> Evidence:
    """h_E/RT = -T d(g_E/RT)/dT; of the terms only b remains: x1 x2 b (x1 - x2)^k 350 K/T."""
    t, x = measured.temperature_K, measured.liquid_fraction
    shares = np.stack([x, 1.0 - x], axis=1)
    gibbs = [np.sum(shares * _ln_gamma(x, t + s * _STEP, base), axis=1) for s in (1.0, -1.0)]
    of_base = -t * (gibbs[0] - gibbs[1]) / (2.0 * _STEP)
    wanted = measured.excess_enthalpy / (GAS_CONSTANT * t)
    design = np.zeros((x.size, 2 * MOST_TERMS))
    for k in range(MOST_TERMS):
        design[:, 2 * k + 1] = x * (1.0 - x) * (2.0 * x - 1.0) ** k * REFERENCE_TEMPERATURE / t
    return Evidence(
        design / _ENTHALPY_NOISE,
        (wanted - of_base) / _ENTHALPY_NOISE,
        np.full(x.size, paper, dtype=np.int64),
        np.full(x.size, np.nan),
        (),
        np.zeros(x.size, dtype=np.bool_),
    )
