"""Measured boiling points of a pair, and what a correction does to them.

At a measured temperature the base model and the vapour pressures are fixed numbers, so a point
costs nothing after one look at the base: only the correction moves, and ln gamma is linear in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.kernels import bubble_pressure, ln_activity, ln_vapour_pressure

__all__ = [
    "BasePoints",
    "MeasuredTable",
    "bare_base",
    "base_points",
    "corrected",
    "no_points",
    "redlich_kister_design",
    "temperature_miss",
]

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

REFERENCE_TEMPERATURE = 350.0  # K, as in `kernels`
MOST_TERMS = 5  # Redlich-Kister terms that a fit may use
_STEP_TEMPERATURE = 0.05  # K, half the step of the central difference of ln P
_STEP_FRACTION = 1e-4  # mole fraction, the same for the slope of the bubble line


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredTable:
    """One table of measured boiling points of a pair.

    Args:
        name: what it is called in messages.
        paper: DOI or another name of its origin; tables of one paper share its bias.
        temperature_K: (n,) [K].
        pressure_Pa: (n,) [Pa].
        liquid_fraction: (n,) mole fraction of the first component in the liquid [-].
        vapour_fraction: (n,) the same in the vapour [-], nan where it was not measured; or None.
    """

    name: str
    paper: str
    temperature_K: Floats
    pressure_Pa: Floats
    liquid_fraction: Floats
    vapour_fraction: Floats | None = None

    def __post_init__(self) -> None:
        shapes = {np.shape(v) for v in (self.temperature_K, self.pressure_Pa, self.liquid_fraction)}
        if len(shapes) != 1 or len(next(iter(shapes))) != 1:
            raise BadInput(
                self.name, shapes, "columns of temperature, pressure and x of one length"
            )
        if not all(np.all(v > 0) for v in (self.temperature_K, self.pressure_Pa)):
            raise BadInput(
                self.name, "zero or below", "temperatures [K] and pressures [Pa] above 0"
            )
        x = self.liquid_fraction
        if not np.all((x >= 0.0) & (x <= 1.0)):
            raise BadInput(self.name, float(x[(x < 0) | (x > 1)][0]), "mole fractions from 0 to 1")


@dataclass(frozen=True, slots=True, eq=False)
class BasePoints:
    """The points of several tables with the base model evaluated at each.

    Args:
        temperature_K: (n,) measured [K].
        pressure_Pa: (n,) measured [Pa].
        liquid_fraction: (n,) measured mole fraction of the first component [-].
        vapour_fraction: (n,) the same in the vapour, NaN where it was not measured [-].
        table, paper: (n,) index of the table and of the paper of each point [-].
        ln_partial: (n, 2) ln of gamma times the monomer's vapour pressure over 1 Pa [-].
        root: (n, 2) square root of the dimer's equilibrium constant [Pa^-1/2].
        slope: (n,) d ln P / dT at constant liquid composition [1/K].
        fraction_slope: (n,) dT/dx of the bubble line [K].
    """

    temperature_K: Floats
    pressure_Pa: Floats
    liquid_fraction: Floats
    vapour_fraction: Floats
    table: Integers
    paper: Integers
    ln_partial: Floats
    root: Floats
    slope: Floats
    fraction_slope: Floats

    def take(self, keep: npt.NDArray[np.bool_]) -> BasePoints:
        """Return the points where `keep`, (n,), is true."""
        return BasePoints(*(getattr(self, name)[keep] for name in self.__slots__))

    @property
    def design(self) -> Floats:
        """Return d ln gamma / d A_k of the most terms at every point, (n, 2, 5) [-]."""
        return redlich_kister_design(self.liquid_fraction, MOST_TERMS)

    @property
    def tilt(self) -> Floats:
        """Return 350 K/T - 1, (n,) [-]."""
        return REFERENCE_TEMPERATURE / self.temperature_K - 1.0


def no_points() -> BasePoints:
    """Return points without any, for a pair of which only solubilities were measured."""
    none, index, both = np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros((0, 2))
    return BasePoints(none, none, none, none, index, index, both, both, none, none)


def bare_base(mixture: MixtureArrays) -> MixtureArrays:
    """Return the mixture without any pair correction."""
    return mixture._replace(pair_correction=np.zeros_like(mixture.pair_correction))


def redlich_kister_design(liquid_fraction: Floats, terms: int) -> Floats:
    """Return what a unit of each Redlich-Kister coefficient adds to ln gamma of both components.

    Args:
        liquid_fraction: (n,) mole fraction of the first component [-].
        terms: number K of terms.

    Returns:
        (n, 2, K) d ln gamma_i / d A_k [-] for g_E/RT = x1 x2 sum_k A_k (x1 - x2)^k.

    Validity:
        A pair; any mole fraction from 0 to 1.

    Source:
        Redlich & Kister, Ind. Eng. Chem. 40 (1948) 345, doi:10.1021/ie50458a036, differentiated.
    """
    x1 = np.asarray(liquid_fraction, dtype=float)[:, None]
    x2 = 1.0 - x1
    k = np.arange(terms)
    difference = x1 - x2
    value = difference**k
    slope = k * difference ** np.maximum(k - 1, 0)
    product = x1 * x2
    shift = product * (value + difference * slope)
    first = x2 * value + product * slope - shift
    second = x1 * value - product * slope - shift
    return cast(Floats, np.stack([first, second], axis=1))


def base_points(tables: Sequence[MeasuredTable], mixture: MixtureArrays) -> BasePoints:
    """Evaluate the base model of a pair at every measured point.

    Args:
        tables: the tables, mole fractions in the order of the mixture.
        mixture: a mixture of two components; its pair correction is left out.

    Returns:
        The points in the order of the tables.

    Raises:
        BadInput: the mixture does not have two components, or no table is given.
    """
    components = mixture.vapour_pressure.shape[0]
    if components != 2:
        raise BadInput("mixture", components, "two components")
    if not tables:
        raise BadInput("tables", 0, "at least one table of measured points")
    base = bare_base(mixture)
    scratch = scratch_for(base)
    papers = list(dict.fromkeys(t.paper for t in tables))
    columns: list[list[tuple[float, ...]]] = []
    for index, table in enumerate(tables):
        vapour = table.vapour_fraction
        y = np.full(table.liquid_fraction.shape, np.nan) if vapour is None else vapour
        columns.append(
            [
                (t, p, x, v, index, papers.index(table.paper), *_look(t, x, base, scratch))
                for t, p, x, v in zip(
                    table.temperature_K.tolist(),
                    table.pressure_Pa.tolist(),
                    table.liquid_fraction.tolist(),
                    y.tolist(),
                    strict=True,
                )
            ]
        )
    a = np.array([row for column in columns for row in column])
    return BasePoints(
        a[:, 0],
        a[:, 1],
        a[:, 2],
        a[:, 3],
        a[:, 4].astype(np.int64),
        a[:, 5].astype(np.int64),
        a[:, 6:8],
        a[:, 8:10],
        a[:, 10],
        a[:, 11],
    )


def _look(
    temperature: float, x1: float, base: MixtureArrays, scratch: Floats
) -> tuple[float, float, float, float, float, float]:
    x = np.array([x1, 1.0 - x1])
    ln_gamma = np.zeros(2)
    ln_activity(temperature, x, base, scratch, ln_gamma)
    partial, root = [], []
    for i in range(2):
        pure = float(np.exp(ln_vapour_pressure(i, base.vapour_pressure, temperature)))
        flag, a, b = base.dimerisation[i]
        constant = float(np.exp(a + b / temperature)) if flag != 0.0 else 0.0
        monomer = 2.0 * pure / (1.0 + np.sqrt(1.0 + 4.0 * constant * pure))
        partial.append(float(ln_gamma[i] + np.log(monomer)))
        root.append(float(np.sqrt(constant)))
    slope = (
        _ln_pressure(temperature + _STEP_TEMPERATURE, x1, base, scratch)
        - _ln_pressure(temperature - _STEP_TEMPERATURE, x1, base, scratch)
    ) / (2.0 * _STEP_TEMPERATURE)
    low, high = max(x1 - _STEP_FRACTION, 0.0), min(x1 + _STEP_FRACTION, 1.0)
    across = (
        _ln_pressure(temperature, high, base, scratch)
        - _ln_pressure(temperature, low, base, scratch)
    ) / (high - low)
    return partial[0], partial[1], root[0], root[1], slope, -across / slope


def _ln_pressure(temperature: float, x1: float, base: MixtureArrays, scratch: Floats) -> float:
    y = np.zeros(2)
    x = np.array([x1, 1.0 - x1])
    return float(np.log(bubble_pressure(temperature, x, base, scratch, y)))


def corrected(points: BasePoints, terms: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return pressure and vapour with a correction, and how they answer to its coefficients.

    Args:
        points: the points with their base.
        terms: (K, 2) a, b of A_k = a + b (350 K/T - 1), K <= 5 [-].

    Returns:
        ln of the bubble pressure over 1 Pa (n,), its derivatives (n, 2K) in the order a0, b0,
        a1, …, the vapour fraction of the first component (n,) and its derivatives (n, 2K) [-].

    Source:
        Dimers as in `kernels.bubble_pressure`: Marek & Standart, Collect. Czech. Chem. Commun. 19
        (1954) 1074, doi:10.1135/cccc19541074.
    """
    count = terms.shape[0]
    design = points.design[:, :, :count]
    both = np.stack([design, design * points.tilt[:, None, None]], axis=3)
    design = both.reshape(*both.shape[:2], 2 * count)
    ln_gamma = design @ terms.reshape(-1)
    x = np.stack([points.liquid_fraction, 1.0 - points.liquid_fraction], axis=1)
    monomer = x * np.exp(points.ln_partial + ln_gamma)
    paired = np.sum(points.root * monomer, axis=1)
    pressure = monomer.sum(axis=1) + paired**2
    molecules = monomer * (1.0 + 2.0 * points.root * paired[:, None])
    ln_slope = np.einsum("ni,nic->nc", molecules, design) / pressure[:, None]
    pull = np.einsum("ni,nic->nc", points.root * monomer, design)
    change = (
        molecules[:, :, None] * design
        + (2.0 * points.root * monomer)[:, :, None] * (pull[:, None, :])
    )
    total = molecules.sum(axis=1)
    vapour = molecules[:, 0] / total
    vapour_slope = (change[:, 0] * molecules[:, 1:2] - change[:, 1] * molecules[:, 0:1]) / (
        total[:, None] ** 2
    )
    return np.log(pressure), ln_slope, vapour, vapour_slope


def temperature_miss(points: BasePoints, ln_pressure: Floats) -> Floats:
    """Return calculated minus measured boiling temperature, ln P taken straight in 1/T.

    Args:
        points: the points.
        ln_pressure: (n,) calculated ln(P/Pa) at the measured temperature [-].

    Returns:
        (n,) [K]; exact to first order, and to about 1 % of itself at 10 K.

    Derivation: P falls as exp(-const/T) near the point; valid for misses of a few kelvin.
    """
    t = points.temperature_K
    gap = np.log(points.pressure_Pa) - ln_pressure
    return 1.0 / (1.0 / t - gap / (points.slope * t * t)) - t
