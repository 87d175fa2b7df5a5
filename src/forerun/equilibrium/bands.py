"""How far a computed boiling temperature or vapour can be trusted, and on what that rests.

The widths are those of `forerun.equilibrium.band_rules`; here they meet a mixture.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.equilibrium.band_rules import (
    Origin,
    boiling_half_width,
    ln_pressure_half_width,
    origin_of,
    rule_of,
    vapour_half_width,
)
from forerun.equilibrium.bubble import bubble_temperature
from forerun.equilibrium.bubble_kernels import bubble_temperature_from
from forerun.equilibrium.mixture import Mixture, PairBasis

__all__ = ["BoilingBand", "VapourBand", "boiling_band", "vapour_band"]

Floats = npt.NDArray[np.float64]

_TRACE = 1e-12  # keeps logarithms finite


@dataclass(frozen=True, slots=True)
class BoilingBand:
    """An 80 % band of a boiling temperature.

    Args:
        half_width: [K].
        spread: standard deviation between the models, each alone [K]; None with fewer than two.
        origin: one sentence: what the band rests on.
    """

    half_width: float
    spread: float | None
    origin: str


@dataclass(frozen=True, slots=True, eq=False)
class VapourBand:
    """An 80 % band of the vapour over a boiling liquid.

    Args:
        half_width: (C,) of the mole fractions [-].
        origin: one sentence: what the band rests on.
    """

    half_width: Floats
    origin: str


def boiling_band(x: npt.ArrayLike, pressure: float, mixture: Mixture) -> BoilingBand:
    """Return the 80 % band of the boiling temperature of a liquid.

    Each pair has a width by what it rests on (`band_rules`), which ends in that of the vapour
    pressures at the pure liquids; pairs count by x_i x_j.  Where a vapour-pressure curve is carried
    beyond its data, that widens the band.

    Args:
        x: (C,) liquid mole fractions [-], summing to 1.
        pressure: [Pa], > 0, below about 2 bar.
        mixture: the mixture, taken as one liquid.

    Returns:
        The band; calibrated for binaries between 1 and 400 kPa, for more components by analogy.

    Raises:
        BadInput: for fractions that are none or a pressure that is not positive.
        CalculationFailed: when the liquid has no boiling point.

    Source:
        Own calibration, see `forerun.equilibrium.band_rules`.
    """
    temperature, _ = bubble_temperature(x, pressure, mixture)
    composition = np.array(x, dtype=np.float64)
    alone = _alone(composition, pressure, temperature, mixture)
    spread = None if alone is None else float(np.std(alone[0], ddof=1))
    mixed = min(max(2.0 * (1.0 - float(composition @ composition)), 0.0), 1.0)
    vapour, carried = _vapour_width(composition, temperature, mixture)
    variance, total = 0.0, 0.0
    for pair in mixture.pairs:
        share = float(np.prod(composition[list(pair.components)]))
        rule = rule_of(pair, associating=_associating(pair, mixture))
        # papers of a pair disagree about its vapour pressures too
        ends = carried if origin_of(pair) == "several papers" else vapour
        variance += share * (boiling_half_width(pair, rule, spread, mixed) ** 2 + ends**2)
        total += share
    width = math.sqrt(variance / total) if total > 0.0 else vapour
    return BoilingBand(width, spread, _origin(mixture.pairs, beyond=carried > 0.0))


def vapour_band(x: npt.ArrayLike, pressure: float, mixture: Mixture) -> VapourBand:
    """Return the 80 % band of the composition of the vapour over a boiling liquid.

    Args:
        x: (C,) liquid mole fractions [-], summing to 1.
        pressure: [Pa], > 0, below about 2 bar.
        mixture: the mixture, taken as one liquid.

    Returns:
        The band; calibrated for binaries, for more components each against all others by the widest
        of its pairs.

    Raises:
        BadInput: for fractions that are none or a pressure that is not positive.
        CalculationFailed: when the liquid has no boiling point.

    Source:
        Own calibration, see `forerun.equilibrium.band_rules`.
    """
    temperature, y = bubble_temperature(x, pressure, mixture)
    composition = np.array(x, dtype=np.float64)
    alone = _alone(composition, pressure, temperature, mixture)
    width = np.zeros(composition.size)
    for pair in mixture.pairs:
        if min(composition[list(pair.components)]) <= 0.0:
            continue
        rule = rule_of(pair, associating=_associating(pair, mixture))
        for k in pair.components:
            spread = None
            if alone is not None:
                own = np.clip(alone[1][:, k], _TRACE, 1.0 - _TRACE)
                spread = float(np.std(np.log(own / (1.0 - own)), ddof=1))
            width[k] = max(width[k], vapour_half_width(rule, spread, float(y[k])))
    return VapourBand(width, _origin(mixture.pairs, beyond=False))


def _associating(pair: PairBasis, mixture: Mixture) -> bool:
    return any(mixture.arrays.dimerisation[k, 0] != 0.0 for k in pair.components)


def _alone(
    x: Floats, pressure: float, temperature: float, mixture: Mixture
) -> tuple[Floats, Floats] | None:
    """Return boiling temperature (M,) and vapour (M, C) of every model alone; None for one."""
    count = len(mixture.models)
    if count < 2:
        return None
    found, vapour = np.empty(count), np.empty((count, x.size))
    for m in range(count):
        found[m] = bubble_temperature_from(
            x, pressure, temperature, mixture.alone(m), mixture.scratch(), vapour[m]
        )
    if not np.isfinite(found).all():
        raise CalculationFailed(
            "the spread between models",
            f"a model alone has no boiling point at {pressure:.4g} Pa, x = {x}",
            "Check the pressure and the composition.",
        )
    return found, vapour


def _vapour_width(x: Floats, temperature: float, mixture: Mixture) -> tuple[float, float]:
    """Return the half-width that the vapour pressures give, and that of carrying them on [K]."""
    total, carried = 0.0, 0.0
    here = (temperature, temperature)
    for share, substance in zip(x, mixture.substances, strict=True):
        fit = substance.vapour_pressure
        a, b, c, d = fit.coefficients
        slope = -b / temperature**2 + c / temperature + d
        value = a + b / temperature + c * math.log(temperature) + d * temperature
        reach = fit.data_low, fit.data_high
        width = ln_pressure_half_width(value, fit.spread, temperature, reach)
        inside = ln_pressure_half_width(value, fit.spread, temperature, here)
        total += float(share) * width / slope
        carried += float(share) * math.sqrt(max(width**2 - inside**2, 0.0)) / slope
    return total, carried


_ORIGINS: dict[Origin, str] = {
    "several papers": "scatter between the papers of fitted pairs",
    "one paper": "usual miss on other papers of pairs that were fitted to one",
    "models": "disagreement of the activity models",
    "one model": "usual miss of an activity model, since one speaks alone",
    "ideal": "usual miss of Raoult's law for pairs that no model knows",
}


def _origin(pairs: Iterable[PairBasis], *, beyond: bool) -> str:
    there = {origin_of(pair) for pair in pairs}
    parts = [text for origin, text in _ORIGINS.items() if origin in there]
    parts.append("spread of the vapour pressures")
    if beyond:
        parts.append("a vapour-pressure curve carried beyond its data")
    return "; ".join(parts)
