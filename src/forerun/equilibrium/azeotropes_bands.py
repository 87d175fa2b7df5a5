"""How far an azeotrope may be off: models against each other, papers against each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import NormalDist
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.azeotropes_search import SingularPoint
from forerun.equilibrium.band_rules import (
    AZEOTROPE_SHIFT,
    EIGHTY,
    Rule,
    ln_volatility_half_width,
    rule_of,
    top_half_width,
)
from forerun.equilibrium.mixture import Mixture, PairBasis

__all__ = ["Scatter", "end_half_width", "existence", "ln_volatility", "rule_in", "scatter_of"]

Floats = npt.NDArray[np.float64]

_NORMAL = NormalDist()
_WATER = "XLYOFNOQVPJJNP-UHFFFAOYSA-N"


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
    mixture: Mixture, point: SingularPoint, by_model: Sequence[Sequence[SingularPoint]]
) -> Scatter:
    """Return the 80 % half-widths of an azeotrope.

    The temperature by the rule of its pairs, narrower than that of a boiling point since the curve
    is flat there.  An error of ln(relative volatility) moves the composition the more, the flatter
    that runs; 0.31 of the half-width at the pure ends is what does so.

    Args:
        mixture: the mixture.
        point: the azeotrope.
        by_model: what every activity model finds alone; empty for fitted pairs.

    Returns:
        The half-widths; for three and more components by analogy with pairs.

    Source:
        Propagation of a small error through y(x) = x; widths: `forerun.equilibrium.band_rules`.
    """
    pairs = _pairs_of(mixture, point.components)
    twins = [_twin(point, own) for own in by_model]
    there = [t for t in twins if t is not None]
    spread = None
    if len(there) > 1:
        spread = float(np.std([t.temperature_K for t in there], ddof=1))
    f = 2.0 * (1.0 - float(point.mole_fraction @ point.mole_fraction))
    fitted = all(p.basis == "fitted" for p in pairs)
    ends = [end_half_width(mixture, p, k, by_model) for p in pairs for k in p.components]
    return Scatter(
        top_half_width([rule_in(mixture, p) for p in pairs], spread, min(max(f, 0.0), 1.0)),
        AZEOTROPE_SHIFT * _shift(point, max(ends)),
        max(ends),
        "fitted" if fitted else "predicted",
        (len(there), len(twins)) if twins and not fitted else None,
    )


def end_half_width(
    mixture: Mixture,
    pair: PairBasis,
    pure: int,
    by_model: Sequence[Sequence[SingularPoint]],
    *,
    of_truth: bool = False,
) -> float:
    """Return the 80 % half-width of ln(y/x) of one component infinitely dilute in the other.

    Args:
        mixture: the mixture.
        pair: the two.
        pure: index of the one that is nearly pure.
        by_model: what every activity model finds alone.
        of_truth: of the true value instead of the next paper's: papers of a pair scatter
            independently, so that the mean of n is known sqrt(n) times better.

    Returns:
        Half-width [-], > 0; for more than two components by analogy.

    Source:
        `forerun.equilibrium.band_rules`.
    """
    absent = next(k for k in pair.components if k != pure)
    values = [
        ln_volatility(point, absent)
        for own in by_model
        for point in own
        if point.components == (pure,)
    ]
    spread = float(np.std(values, ddof=1)) if len(values) > 1 else None
    width = ln_volatility_half_width(rule_in(mixture, pair), spread)
    return width / math.sqrt(max(pair.papers, 1)) if of_truth else width


def existence(
    at_ends: tuple[float, float], half_widths: tuple[float, float]
) -> tuple[float, float]:
    """Return how likely a pair has a minimum and a maximum azeotrope.

    With ln(y/x) of the other at both pure ends above zero there is a minimum, with both below zero
    a maximum, else none.  An error of the activity model moves both the same way, so the end that
    is nearer to changing decides.

    Args:
        at_ends: ln(y/x) of the infinitely dilute component at each pure end [-].
        half_widths: 80 % half-widths of these [-].

    Returns:
        Probability of a minimum and of a maximum [-].

    Validity:
        One liquid, one azeotrope at most.

    Source:
        Normal distribution of the error; how far it holds stands in docs/explain/bands.md.
    """
    low = int(np.argmin(at_ends))
    sigma = [width / EIGHTY for width in half_widths]
    minimum = _NORMAL.cdf(at_ends[low] / sigma[low])
    maximum = _NORMAL.cdf(-at_ends[1 - low] / sigma[1 - low])
    return minimum, maximum


def ln_volatility(point: SingularPoint, absent: int) -> float:
    """Return ln(y/x) of an absent component at infinite dilution in a point.

    Args:
        point: an azeotrope or a pure liquid.
        absent: index of a component that is not in it.

    Returns:
        ln of the volatility relative to the point [-]; exact for the model.

    Derivation: the eigenvalue of the residue-curve map towards that component is 1 - y/x.
    """
    missing = [k for k in range(point.mole_fraction.size) if k not in point.components]
    value = point.eigenvalues[len(point.components) - 1 + missing.index(absent)]
    return math.log(max(1.0 - value, 1e-300))


def _pairs_of(mixture: Mixture, members: tuple[int, ...]) -> list[PairBasis]:
    return [p for p in mixture.pairs if p.components in set(combinations(members, 2))]


def rule_in(mixture: Mixture, pair: PairBasis) -> Rule:
    """Return the rule of a pair of a mixture: acids and water have ones of their own.

    Args:
        mixture: the mixture.
        pair: one of its pairs.

    Returns:
        The rule.

    Source:
        `forerun.equilibrium.band_rules`.
    """
    acid = any(mixture.arrays.dimerisation[k, 0] != 0.0 for k in pair.components)
    aqueous = any(mixture.substances[k].inchikey == _WATER for k in pair.components)
    return rule_of(pair, associating=acid, aqueous=aqueous)


def _twin(point: SingularPoint, others: Sequence[SingularPoint]) -> SingularPoint | None:
    same = (p for p in others if p.components == point.components)
    return min(
        same,
        key=lambda p: float(np.abs(p.mole_fraction - point.mole_fraction).max()),
        default=None,
    )


def _shift(point: SingularPoint, ln_volatility: float) -> Floats:
    """How far an error of ln(relative volatility) moves the composition, never beyond half."""
    x = point.mole_fraction
    slowest = min((abs(v) for v in point.inside), default=1.0)
    return np.minimum(x * (1.0 - x) * ln_volatility / max(slowest, 1e-9), 0.5)
