"""Plates and volatilities from boiling points alone: closed formulas, nothing heavy to load."""

from __future__ import annotations

import math

__all__ = [
    "GAS_CONSTANT",
    "TROUTON_ENTROPY",
    "relative_volatility_trouton1884",
    "stages_fenske1932",
]

TROUTON_ENTROPY = 88.0  # J/mol/K, of vaporisation of an ordinary liquid; common practice
GAS_CONSTANT = 8.314462618  # J/mol/K, CODATA 2018


def stages_fenske1932(relative_volatility: float, distillate: float, residue: float) -> float:
    """Return the equilibrium stages that part two substances at total reflux.

    Args:
        relative_volatility: of the lighter over the heavier, constant, above 1 [-].
        distillate: mole fraction of the lighter at the top [-].
        residue: mole fraction of the lighter in the pot [-].

    Returns:
        Stages, the pot counted as one [-].

    Source:
        Fenske, M. R., Ind. Eng. Chem. 24 (1932) 482, doi:10.1021/ie50269a003.
    """
    parted = distillate / (1.0 - distillate) * (1.0 - residue) / residue
    return math.log(parted) / math.log(relative_volatility)


def relative_volatility_trouton1884(
    boiling_light: float, boiling_heavy: float, entropy: float = TROUTON_ENTROPY
) -> float:
    """Return the relative volatility that two boiling points suggest where nothing else is known.

    Args:
        boiling_light: boiling point of the lighter at the pressure [K].
        boiling_heavy: boiling point of the heavier [K].
        entropy: of vaporisation [J/mol/K].

    Returns:
        Relative volatility over an equimolar ideal liquid that boils at the pressure [-].

    Source:
        Trouton, F., Phil. Mag. 18 (1884) 54 (the rule); ln P = s/R (1 - Tb/T) for both liquids
        and Raoult's law; valid for liquids that neither associate nor mix with heat.
    """
    low, high = boiling_light, boiling_heavy
    for _ in range(80):
        middle = 0.5 * (low + high)
        pressures = [
            math.exp(entropy / GAS_CONSTANT * (1.0 - tb / middle))
            for tb in (boiling_light, boiling_heavy)
        ]
        if 0.5 * sum(pressures) > 1.0:
            high = middle
        else:
            low = middle
    return math.exp(entropy / GAS_CONSTANT * (boiling_heavy - boiling_light) / (0.5 * (low + high)))
