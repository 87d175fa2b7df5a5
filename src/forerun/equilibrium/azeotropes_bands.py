"""How far an azeotrope may be off: models against each other, papers against each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.azeotropes_search import SingularPoint
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.mixture import Mixture

__all__ = ["Scatter", "scatter_of"]

Floats = npt.NDArray[np.float64]

EIGHTY = 1.28  # standard deviations to either side of an 80 % band of a normal distribution
PREDICTED_FACTOR = 1.4  # 80 % half-width over the root below; calibration of `bands`
PREDICTED_FLOOR_K = 0.8  # part of the miss that models share; calibration of `bands`
FITTED_SCATTER_K = 0.5  # by how much papers of one pair disagree, where a fit does not tell
UNKNOWN_SPREAD_K = 0.7  # stands for the spread of a single model; calibration of `bands`
# The three below: 148 azeotropes of 60 pairs, from the measured tables by the minimum or maximum of
# a smoothed bubble line, each pair weighing the same; without any fit the bands hold 81 % of the
# temperatures and 78 % of the compositions, with the fits 85 and 81 % (tables that were fitted).
TOP_SHARE = 0.6  # of the band of a boiling point that is left where the boiling curve is flat
SHIFT_FACTOR = 1.2  # what the bands of a volatility are short of
COMPOSITION_FLOOR = 0.015  # mole fraction that papers disagree by however steep the curve
IDEAL_K = 8.0  # 80 % half-width of Raoult's law; calibration of `bands`


@dataclass(frozen=True, slots=True)
class Scatter:
    """80 % half-widths of an azeotrope.

    Args:
        temperature: [K].
        composition: (C,) mole fractions [-].
        ln_volatility: of ln(relative volatility) [-].
        basis: ``fitted`` when all pairs involved are, else ``predicted``.
        agreeing: number of models that show it, and of models asked; None for fitted pairs and
            where there is one model.
    """

    temperature: float
    composition: Floats
    ln_volatility: float
    basis: Literal["fitted", "predicted"]
    agreeing: tuple[int, int] | None


def scatter_of(
    mixture: Mixture,
    point: SingularPoint,
    pressure: float,
    by_model: Sequence[Sequence[SingularPoint]],
    pair: tuple[int, int] | None = None,
) -> Scatter:
    """Return the 80 % half-widths of a singular point.

    Predicted pairs: 1.4 sqrt(s^2 + (0.8 K)^2) with s the standard deviation between models, the
    rule of `forerun.equilibrium.bands` that covered 80 % of measured boiling temperatures; it
    shrinks towards a pure liquid in the same way.  Fitted pairs: the scatter between papers.  Of
    either 0.6 is left at an azeotrope, where the boiling curve is flat in composition.
    An error of the boiling temperature is an error of the partial pressures by d ln P/dT, and
    that moves the composition the more, the flatter ln(relative volatility) runs.

    Args:
        mixture: the mixture.
        point: the azeotrope, or a pure liquid to ask for the volatility of another in it.
        pressure: [Pa].
        by_model: what every activity model finds alone; empty for fitted pairs.
        pair: the pair in question; default all components of the point.

    Returns:
        The half-widths, valid between 10 and 100 kPa as the calibration behind them is.

    Source:
        Propagation of a small error through y(x) = x; the two constants are measured (see their
        comments), 80 % for a normal distribution is common practice.
    """
    members = pair or point.components
    pairs = [p for p in mixture.pairs if p.components in set(combinations(members, 2))]
    twins = [_twin(point, own) for own in by_model]
    there = [t for t in twins if t is not None]
    fitted = all(p.basis == "fitted" for p in pairs)
    spread_x: Floats = np.zeros(point.mole_fraction.size)
    if fitted:
        stated = [p.scatter if p.scatter is not None else FITTED_SCATTER_K for p in pairs]
        half = EIGHTY * max(stated)
    elif any(p.basis == "ideal" for p in pairs):
        half = IDEAL_K
    else:
        spread = UNKNOWN_SPREAD_K
        if len(there) > 1:
            spread = float(np.std([t.temperature_K for t in there], ddof=1))
            spread_x = np.std([t.mole_fraction for t in there], axis=0, ddof=1)
        half = PREDICTED_FACTOR * math.hypot(spread, PREDICTED_FLOOR_K)
    ln_volatility = half * _pressure_slope(mixture, point, pressure)
    return Scatter(
        TOP_SHARE * half * _mixed(point),
        _composition(point, ln_volatility, spread_x),
        ln_volatility,
        "fitted" if fitted else "predicted",
        (len(there), len(twins)) if twins and not fitted else None,
    )


def _twin(point: SingularPoint, others: Sequence[SingularPoint]) -> SingularPoint | None:
    same = (p for p in others if p.components == point.components)
    return min(
        same,
        key=lambda p: float(np.abs(p.mole_fraction - point.mole_fraction).max()),
        default=None,
    )


def _pressure_slope(mixture: Mixture, point: SingularPoint, pressure: float) -> float:
    """D ln P/dT over the liquid (the first of two) [1/K]."""
    arrays = mixture.arrays
    liquid = point.mole_fraction if point.liquids is None else point.liquids[0]
    scratch, y = scratch_for(arrays), np.empty(liquid.size)
    warmer = bubble_pressure(point.temperature_K + 0.1, liquid, arrays, scratch, y)
    colder = bubble_pressure(point.temperature_K - 0.1, liquid, arrays, scratch, y)
    return math.log(warmer / colder) / 0.2


def _mixed(point: SingularPoint) -> float:
    """Share of the half-width that is left close to a pure liquid: f^(1/4), f = 2 (1 - sum x^2)."""
    f = 2.0 * (1.0 - float(point.mole_fraction @ point.mole_fraction))
    return float(min(max(f, 0.0), 1.0) ** 0.25)


def _composition(point: SingularPoint, ln_volatility: float, spread_x: Floats) -> Floats:
    """Half-width of the composition: shift, spread of the models, and what papers disagree by."""
    x = point.mole_fraction
    own = SHIFT_FACTOR * np.hypot(_shift(point, ln_volatility), EIGHTY * spread_x)
    return np.hypot(own, COMPOSITION_FLOOR * np.minimum(1.0, 4.0 * x * (1.0 - x)))


def _shift(point: SingularPoint, ln_volatility: float) -> Floats:
    """How far an error of ln(relative volatility) moves the composition, never beyond half."""
    x = point.mole_fraction
    slowest = min((abs(v) for v in point.inside), default=1.0)
    return np.minimum(x * (1.0 - x) * ln_volatility / max(slowest, 1e-9), 0.5)
