"""How far a computed boiling temperature can be trusted, and on what that rests.

Calibrated on the 9,248 mixed points of 660 measured boiling tables (281 pairs, NIST TRC ThermoML
archive, doi:10.18434/mds2-2422; each pair weighing the same) without any fitted correction: the
predicted band covers 80 % of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.equilibrium.bubble import bubble_temperature
from forerun.equilibrium.bubble_kernels import bubble_temperature_from
from forerun.equilibrium.mixture import Mixture, PairBasis

__all__ = ["BoilingBand", "boiling_band"]

Floats = npt.NDArray[np.float64]

_WIDTH = 1.4  # half-width over the root of spread and floor
_FLOOR = 0.8  # K, what models that agree still miss by in the middle of the range
_LONE_SPREAD = 0.7  # K, stands for the spread where one model speaks alone
_IDEAL = 8.0  # K, 80 % of points miss Raoult's law by less in the middle of the range
_NORMAL = 1.28  # 80 % of a normal distribution lie within this many standard deviations


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


def boiling_band(x: npt.ArrayLike, pressure: float, mixture: Mixture) -> BoilingBand:
    """Return the 80 % band of the boiling temperature of a liquid.

    Each pair has a width: 1.28 times the scatter between papers where it was fitted;
    1.4 sqrt(s^2 + (0.8 K)^2 sqrt(f)) from the spread s of the models where it is predicted;
    8 K sqrt(f) where it is taken as ideal.  f = 2 (1 - sum x^2), at most 1, makes the width end in
    that of the vapour pressures at the pure liquids.  Pairs count by x_i x_j.

    Args:
        x: (C,) liquid mole fractions [-], summing to 1.
        pressure: [Pa], > 0, below about 2 bar.
        mixture: the mixture, taken as one liquid.

    Returns:
        The band; calibrated for binaries between 10 and 100 kPa, for more components by analogy.

    Raises:
        BadInput: for fractions that are none or a pressure that is not positive.
        CalculationFailed: when the liquid has no boiling point.

    Source:
        Own calibration, see the head of this module.
    """
    temperature, _ = bubble_temperature(x, pressure, mixture)
    composition = np.array(x, dtype=np.float64)
    spread = _spread(composition, pressure, temperature, mixture)
    mixed = min(2.0 * (1.0 - float(composition @ composition)), 1.0)
    variance, total = 0.0, 0.0
    for pair in mixture.pairs:
        share = float(np.prod(composition[list(pair.components)]))
        variance += share * _pair_variance(pair, spread, max(mixed, 0.0))
        total += share
    width = variance / total if total > 0.0 else 0.0
    width += _vapour_width(composition, temperature, mixture) ** 2
    return BoilingBand(float(np.sqrt(width)), spread, _origin(mixture.pairs, spread))


def _spread(x: Floats, pressure: float, temperature: float, mixture: Mixture) -> float | None:
    if len(mixture.models) < 2:
        return None
    y = np.empty_like(x)
    found = [
        bubble_temperature_from(x, pressure, temperature, mixture.alone(m), mixture.scratch(), y)
        for m in range(len(mixture.models))
    ]
    if not np.isfinite(found).all():
        raise CalculationFailed(
            "the spread between models",
            f"a model alone has no boiling point at {pressure:.4g} Pa, x = {x}",
            "Check the pressure and the composition.",
        )
    return float(np.std(found, ddof=1))


def _pair_variance(pair: PairBasis, spread: float | None, mixed: float) -> float:
    """Return the square of a pair's half-width [K2]."""
    if pair.basis == "ideal":
        return _IDEAL**2 * mixed
    if pair.basis == "fitted" and pair.scatter is not None:
        return float((_NORMAL * pair.scatter) ** 2 * np.sqrt(mixed))
    known = spread if spread is not None else _LONE_SPREAD * np.sqrt(mixed)
    return float(_WIDTH**2 * (known**2 + _FLOOR**2 * np.sqrt(mixed)))


def _vapour_width(x: Floats, temperature: float, mixture: Mixture) -> float:
    """Return the half-width that the vapour pressures give: spread over d ln P/dT [K]."""
    total = 0.0
    for share, substance in zip(x, mixture.substances, strict=True):
        _, b, c, d = substance.vapour_pressure.coefficients
        slope = -b / temperature**2 + c / temperature + d
        total += float(share) * _NORMAL * substance.vapour_pressure.spread / slope
    return total


def _origin(pairs: Iterable[PairBasis], spread: float | None) -> str:
    bases = {pair.basis for pair in pairs}
    parts = []
    if "fitted" in bases:
        parts.append("scatter between the papers of fitted pairs")
    if "predicted" in bases and spread is not None:
        parts.append("disagreement of the activity models")
    if "predicted" in bases and spread is None:
        parts.append("usual miss of an activity model, since one speaks alone")
    if "ideal" in bases:
        parts.append("usual miss of Raoult's law for pairs that no model knows")
    return "; ".join([*parts, "spread of the vapour pressures"])
