"""The one place for what is known about misses: 80 % half-widths by what a number rests on.

Every constant is the result of ``tools/equilibrium/calibrate_bands.py``: quantiles of the misses on
pairs that took no part, papers weighing alike within a pair and pairs within the whole.  The page
``docs/explain/bands.md`` shows how far they hold.  Bands, azeotropes and forecasts read them here.

Where several models speak, the miss grows as the root of their disagreement: models that agree are
often wrong together, models that disagree widely are seldom as wrong as that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from forerun.equilibrium.coverage import PairBasis

__all__ = [
    "EIGHTY",
    "Origin",
    "Rule",
    "boiling_half_width",
    "ln_pressure_half_width",
    "ln_volatility_half_width",
    "origin_of",
    "rule_of",
    "top_half_width",
    "vapour_half_width",
]

Origin = Literal["several papers", "one paper", "models", "one model", "ideal"]

EIGHTY = 1.2815515655446004  # standard deviations to either side of 80 % of a normal distribution
SCATTER_UNKNOWN_K = 0.5  # by how much papers of one pair disagree, where a fit does not tell
LONE_SPREAD = 0.5  # stands for the spread of one model, in K and, over 5, in ln volatility [K]
AZEOTROPE_SHIFT = 0.31  # of the half-width of ln volatility at the pure ends that moves the top


@dataclass(frozen=True, slots=True)
class Rule:
    """How the half-widths of one origin follow from the spread s of the models.

    Args:
        floor_K, root_K: boiling temperature: sqrt(floor^2 sqrt(f) + root^2 s) [K, K^1/2]; where
            several papers are fitted the floor does not fade and holds the vapour pressures.
        vapour_floor, vapour_root: vapour composition: (y (1 - y))^3/4 sqrt(floor^2 + root^2 s) with
            s of ln(y/(1 - y)) [-].
        end_floor, end_root: ln of the relative volatility at infinite dilution, with its s [-].
        top_floor_K, top_root_K: temperature of an azeotrope, as the boiling temperature [K, K^1/2].
        end_middle: ln gamma at infinite dilution to be expected beyond what is computed: not zero
            where no model knows the pair, since most liquids rather repel each other [-].
    """

    floor_K: float
    root_K: float
    vapour_floor: float
    vapour_root: float
    end_floor: float
    end_root: float
    top_floor_K: float
    top_root_K: float
    end_middle: float = 0.0


_RULES: dict[Origin, Rule] = {
    "models": Rule(0.45, 1.80, 0.032, 0.261, 0.195, 0.435, 0.38, 0.71),
    "one model": Rule(0.45, 1.80, 0.032, 0.261, 0.195, 0.435, 0.38, 0.71),
    "one paper": Rule(0.33, 1.30, 0.036, 0.164, 0.173, 0.307, 0.33, 0.50),
    # vapour and dilute ends: per kelvin of the scatter between the papers of the pair
    "several papers": Rule(0.40, 0.48, 0.069, 0.0, 0.31, 0.0, 0.30, 0.20),
    # Raoult's law over all measured pairs; dilute ends those whose layers were measured as well
    "ideal": Rule(8.0, 0.0, 0.38, 0.0, 1.5, 0.0, 8.0, 0.0, 0.8),
}
# Width and middle of ln gamma at dilute ends in their place where one of the two is water.
_AQUEOUS_END, _AQUEOUS_MIDDLE = 2.8, 2.5
_ACID_FLOOR_K = 1.1  # in place of the floor of predicted pairs with a carboxylic acid
_LN_ATMOSPHERE = math.log(101325.0)
_LOW_PRESSURE, _LOW_PRESSURE_POWER = 0.007, 1.8  # of ln(1 atm/P)
_CARRIED, _CARRIED_PER_K = 0.09, 0.0025  # beyond the last measured point, and for each kelvin


def origin_of(pair: PairBasis) -> Origin:
    """Return what the band of a pair rests on.

    Args:
        pair: a pair of a mixture.

    Returns:
        ``several papers`` or ``one paper`` of measured boiling points, ``models`` that are compared
        with each other (also where only the compositions of two liquids or an azeotrope in print
        were fitted), ``one model`` that speaks alone, or ``ideal`` where none does.

    Not a published model: a classification.
    """
    if pair.basis == "ideal" or (not pair.models and pair.papers == 0):
        return "ideal"
    if pair.basis == "fitted" and pair.papers > 0:
        return "several papers" if pair.papers > 1 else "one paper"
    return "models" if len(pair.models) > 1 else "one model"


def rule_of(pair: PairBasis, *, associating: bool = False, aqueous: bool = False) -> Rule:
    """Return the rule of a pair, scaled by its scatter where papers were compared.

    Args:
        pair: a pair of a mixture.
        associating: whether a component pairs up in the vapour (carboxylic acids).
        aqueous: whether one of the two is water; matters where no model knows the pair.

    Returns:
        The rule.

    Source:
        Own calibration, see the head of this module.
    """
    origin = origin_of(pair)
    rule = _RULES[origin]
    if origin == "ideal" and aqueous:
        return replace(rule, end_floor=_AQUEOUS_END, end_middle=_AQUEOUS_MIDDLE)
    if origin == "several papers":
        scatter = SCATTER_UNKNOWN_K if pair.scatter is None else pair.scatter
        return Rule(
            rule.floor_K,
            rule.root_K,
            rule.vapour_floor * scatter,
            0.0,
            rule.end_floor * scatter,
            0.0,
            rule.top_floor_K,
            rule.top_root_K,
        )
    if associating and origin in {"models", "one model"}:
        return replace(rule, floor_K=_ACID_FLOOR_K)
    return rule


def boiling_half_width(pair: PairBasis, rule: Rule, spread: float | None, mixed: float) -> float:
    """Return the half-width of a boiling temperature without that of the vapour pressures.

    Args:
        pair: the pair.
        rule: from `rule_of`.
        spread: standard deviation between models at this liquid [K]; None where one speaks.
        mixed: f = 2 (1 - sum x^2), at most 1: 0 in a pure liquid [-].

    Returns:
        80 % half-width [K].

    Validity:
        Binaries between 1 and 400 kPa; more components by analogy.

    Source:
        Own calibration, see the head of this module.
    """
    faded = math.sqrt(max(mixed, 0.0))
    if origin_of(pair) == "several papers":
        faded = 1.0 if mixed > 0.0 else 0.0  # papers disagree about pure ends as much
    known = LONE_SPREAD * faded if spread is None else spread
    return math.sqrt(rule.floor_K**2 * faded + rule.root_K**2 * known)


def vapour_half_width(rule: Rule, spread: float | None, fraction: float) -> float:
    """Return the half-width of a vapour mole fraction.

    Args:
        rule: from `rule_of`.
        spread: standard deviation between models of ln(y/(1 - y)) [-]; None where one speaks.
        fraction: y [-].

    Returns:
        80 % half-width [-], for a binary.

    Source:
        Own calibration, see the head of this module.
    """
    known = LONE_SPREAD / 5.0 if spread is None else spread
    inside = max(fraction * (1.0 - fraction), 0.0)
    return float(inside**0.75 * math.sqrt(rule.vapour_floor**2 + rule.vapour_root**2 * known))


def ln_volatility_half_width(rule: Rule, spread: float | None) -> float:
    """Return the half-width of ln(relative volatility) of one liquid infinitely dilute in another.

    Args:
        rule: from `rule_of`.
        spread: standard deviation between models of the same [-]; None where one speaks.

    Returns:
        80 % half-width [-].

    Source:
        Own calibration, see the head of this module.
    """
    known = LONE_SPREAD / 5.0 if spread is None else spread
    return math.sqrt(rule.end_floor**2 + rule.end_root**2 * known)


def top_half_width(rules: Iterable[Rule], spread: float | None, mixed: float) -> float:
    """Return the half-width of an azeotrope's temperature: the widest of its pairs.

    Args:
        rules: of the pairs of its components, from `rule_of`.
        spread: standard deviation between the azeotropes of the models [K]; None where fewer than
            two show it.
        mixed: f = 2 (1 - sum x^2), at most 1 [-].

    Returns:
        80 % half-width [K]; smaller than that of a boiling point, since the curve is flat there.

    Source:
        Own calibration, see the head of this module.
    """
    known = LONE_SPREAD if spread is None else spread
    faded = math.sqrt(max(mixed, 0.0))
    widths = [math.sqrt(r.top_floor_K**2 * faded + r.top_root_K**2 * known) for r in rules]
    return max(widths, default=0.0)


def ln_pressure_half_width(
    ln_pressure: float, spread: float, temperature: float, reach: tuple[float, float]
) -> float:
    """Return the half-width of the ln of a vapour pressure.

    The spread between sources is that near 1 atm; towards lower pressures they part, and a curve
    that is carried beyond its data is worse again.

    Args:
        ln_pressure: ln(P/Pa) of the curve at the temperature [-].
        spread: relative spread between the sources, one standard deviation [-].
        temperature: [K].
        reach: lowest and highest temperature that a source reaches [K].

    Returns:
        80 % half-width of ln P [-].

    Validity:
        Between 0.1 and 130 kPa.

    Source:
        Own calibration: 2,160 points of 238 liquids at 0.1 to 13 kPa by curves that did not see
        their paper (``tools/substances/hold_back.py``), see docs/explain/bands.md.
    """
    below = max(_LN_ATMOSPHERE - ln_pressure, 0.0)
    beyond = max(reach[0] - temperature, temperature - reach[1], 0.0)
    carried = _CARRIED + _CARRIED_PER_K * beyond if beyond > 0.0 else 0.0
    low = _LOW_PRESSURE * below**_LOW_PRESSURE_POWER
    return math.sqrt((EIGHTY * spread) ** 2 + low**2 + carried**2)
