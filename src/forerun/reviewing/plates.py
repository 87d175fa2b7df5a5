"""Plates of a column at total reflux, from what stands at its two ends."""

from __future__ import annotations

import math
from collections.abc import Callable

from forerun.core.errors import BadInput
from forerun.core.references import Reference
from forerun.planning.plates import stages_fenske1932

__all__ = [
    "BEATTY_CALINGAERT",
    "FENSKE",
    "hetp",
    "plates_beatty_calingaert1934",
    "plates_fenske1932",
    "plates_fenske_spread",
    "plates_stepped",
]

FENSKE = Reference(
    "fenske1932",
    "M. R. Fenske, Ind. Eng. Chem. 24 (1932) 482, fractionation of straight-run gasoline",
    "10.1021/ie50269a003",
    "from memory",
)
BEATTY_CALINGAERT = Reference(
    "beatty_calingaert1934",
    "H. A. Beatty, G. Calingaert, Ind. Eng. Chem. 26 (1934) 504, fractional equilibrium of "
    "hydrocarbon mixtures (heptane + methylcyclohexane)",
    "10.1021/ie50293a008",
    "from memory",
)

_HEPTANE_METHYLCYCLOHEXANE = 1.07  # relative volatility at 760 mmHg, from memory
_MOST = 200


def plates_fenske1932(top: float, pot: float, relative_volatility: float) -> float:
    """Return theoretical plates between pot and head at total reflux.

    Args:
        top: mole fraction of the lighter component at the head [-], between 0 and 1.
        pot: mole fraction of it in the pot [-], between 0 and 1.
        relative_volatility: constant along the column, or the geometric mean of both ends [-],
            above 1.

    Returns:
        plates without the pot, which is one more stage [-].

    Raises:
        BadInput: a mole fraction not between 0 and 1, or a relative volatility not above 1.

    Source:
        `FENSKE`: (n + 1) ln alpha = ln [x_top / (1 - x_top) (1 - x_pot) / x_pot].
    """
    for name, value in (("head", top), ("pot", pot)):
        if not 0.0 < value < 1.0:
            raise BadInput(name, value, "a mole fraction between 0 and 1")
    if not relative_volatility > 1.0:
        raise BadInput("relative volatility", relative_volatility, "a number above 1")
    return stages_fenske1932(relative_volatility, top, pot) - 1.0


def plates_fenske_spread(
    top: float,
    pot: float,
    relative_volatility: float,
    top_sigma: float,
    pot_sigma: float,
    volatility_sigma: float,
) -> float:
    """Return the standard deviation of `plates_fenske1932`.

    Args:
        top: mole fraction at the head [-], between 0 and 1.
        pot: mole fraction in the pot [-], between 0 and 1.
        relative_volatility: [-], above 1.
        top_sigma: standard deviation of ``top`` [-].
        pot_sigma: standard deviation of ``pot`` [-].
        volatility_sigma: standard deviation of the relative volatility [-].

    Returns:
        standard deviation of the number of plates [-].

    Derivation:
        first order in each input, valid while each is well inside its range.
    """
    log = math.log(relative_volatility)
    stages = (_logit(top) - _logit(pot)) / log
    parts = (
        top_sigma / (top * (1.0 - top)) / log,
        pot_sigma / (pot * (1.0 - pot)) / log,
        stages * volatility_sigma / (relative_volatility * log),
    )
    return math.hypot(*parts)


def plates_beatty_calingaert1934(top: float, pot: float) -> float:
    """Return plates at total reflux from the usual test mixture, heptane + methylcyclohexane.

    Args:
        top: mole fraction of heptane at the head [-], between 0 and 1.
        pot: mole fraction of heptane in the pot [-], between 0 and 1.

    Returns:
        plates without the pot [-].

    Raises:
        BadInput: a mole fraction not between 0 and 1.

    Source:
        `BEATTY_CALINGAERT`: the relation of Fenske with a relative volatility of 1.07 at 760 mmHg.
    """
    return plates_fenske1932(top, pot, _HEPTANE_METHYLCYCLOHEXANE)


def plates_stepped(top: float, pot: float, vapour: Callable[[float], float]) -> float:
    """Return plates at total reflux by stepping along the equilibrium of the pair.

    Args:
        top: mole fraction of the first component at the head [-], between 0 and 1.
        pot: mole fraction of it in the pot [-], between 0 and 1.
        vapour: gives the vapour's mole fraction over a liquid of the given one [-].

    Returns:
        plates without the pot; the last step counts as its share in ln[x/(1 - x)] [-].

    Raises:
        BadInput: the head cannot be reached, as beyond an azeotrope.

    Derivation:
        at total reflux the vapour between two plates has the composition of the liquid that
        falls through it, so each equilibrium is one step; valid for any pair.
    """
    x = pot
    for stage in range(_MOST):
        y = vapour(x)
        rise = _logit(y) - _logit(x)
        if (top >= pot) != (rise > 0.0) or abs(rise) < 1e-6:
            break
        if (y >= top) == (top >= pot):
            return stage - 1 + (_logit(top) - _logit(x)) / rise
        x = y
    raise BadInput("head", top, "a mole fraction that this pair can reach from the pot")


def hetp(height: float, plates: float) -> float:
    """Return the height that does the work of one theoretical plate.

    Args:
        height: of the packing, or of the column where it is effective [m], positive.
        plates: that it was found to have [-], positive.

    Returns:
        height [m].

    Derivation:
        the quotient, by definition.
    """
    return height / plates


def _logit(x: float) -> float:
    return math.log(x / (1.0 - x))
