"""Boiling and dew points, boiling curves and relative volatility of a mixture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.bubble_kernels import bubble_temperature_from
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.mixture import Mixture

__all__ = [
    "BoilingCurve",
    "boiling_curve",
    "bubble_temperature",
    "dew_temperature",
    "relative_volatility",
]

Floats = npt.NDArray[np.float64]

_GUESS = 350.0  # K, any start will do
_TRACE = 1e-9  # mole fraction that stands for infinite dilution
_DEW_AGREEMENT = 1e-10  # of ln y
_DEW_STEPS = 100
_LONGEST_STEP = 2.0  # in ln x, keeps Newton's method inside the liquid


@dataclass(frozen=True, slots=True)
class BoilingCurve:
    """Boiling temperature and vapour of a binary against the first component.

    Args:
        pressure: [Pa].
        x: (n,) mole fraction of the first component in the liquid [-].
        y: (n,) the same in the vapour [-].
        temperature: (n,) boiling temperature [K].
    """

    pressure: float
    x: Floats
    y: Floats
    temperature: Floats


def bubble_temperature(
    x: npt.ArrayLike, pressure: float, mixture: Mixture, guess: float = _GUESS
) -> tuple[float, Floats]:
    """Return the boiling temperature of a liquid and the vapour that rises from it.

    Args:
        x: (C,) liquid mole fractions [-], none negative, summing to 1.
        pressure: [Pa], > 0; gas non-ideality is left out, so below about 2 bar.
        mixture: the mixture, taken as one liquid.
        guess: temperature to start from [K].

    Returns:
        Temperature [K] and vapour mole fractions (C,) [-].

    Raises:
        BadInput: for fractions that are none or a pressure that is not positive.
        CalculationFailed: when no temperature between 50 and 2000 K gives the pressure.

    Source:
        Modified Raoult's law, see `forerun.equilibrium.kernels.bubble_pressure`.
    """
    composition = _fractions(x, mixture, "x")
    _positive(pressure)
    return _boil(composition, pressure, mixture.arrays, guess)


def _boil(
    x: Floats, pressure: float, arrays: MixtureArrays, guess: float = _GUESS
) -> tuple[float, Floats]:
    y = np.empty_like(x)
    temperature = bubble_temperature_from(x, pressure, guess, arrays, scratch_for(arrays), y)
    if not np.isfinite(temperature):
        raise CalculationFailed(
            "the boiling temperature",
            f"no temperature between 50 and 2000 K gives {pressure:.4g} Pa at x = {x}",
            "Check the pressure and the vapour pressures of the components.",
        )
    return temperature, y


def dew_temperature(
    y: npt.ArrayLike, pressure: float, mixture: Mixture, guess: float = _GUESS
) -> tuple[float, Floats]:
    """Return the dew temperature of a vapour and the first liquid that forms.

    Newton's method in ln x on ln y(x) at the given pressure, started by substitution.  Where two
    liquids are possible one of the dew points is returned, the one that substitution leads to.

    Args:
        y: (C,) vapour mole fractions [-], none negative, summing to 1.
        pressure: [Pa], > 0, below about 2 bar.
        mixture: the mixture, its liquid taken as one.
        guess: temperature to start from [K].

    Returns:
        Temperature [K] and liquid mole fractions (C,) [-].

    Raises:
        BadInput: for fractions that are none or a pressure that is not positive.
        CalculationFailed: when no liquid was found whose vapour this is.

    Source:
        Modified Raoult's law, see `forerun.equilibrium.kernels.bubble_pressure`.
    """
    vapour = _fractions(y, mixture, "y")
    _positive(pressure)
    present = np.flatnonzero(vapour > 0.0)
    target = np.log(vapour[present])
    x = _first_liquid(vapour, pressure, mixture.arrays, guess)
    miss, temperature = _vapour_miss(x, present, target, pressure, mixture.arrays, guess)
    for _ in range(_DEW_STEPS):
        if np.abs(miss).max() < _DEW_AGREEMENT:
            return temperature, x
        step = _newton_step(x, present, target, miss, pressure, mixture.arrays, temperature)
        x, miss, temperature = _walk(
            x, step, miss, present, target, pressure, mixture.arrays, temperature
        )
    raise CalculationFailed(
        "the dew temperature",
        f"vapour {vapour}, {pressure:.4g} Pa, ln y off by {np.abs(miss).max():.2g}",
        "The vapour may lie over two liquids; look at the azeotropes of the mixture.",
    )


def _first_liquid(vapour: Floats, pressure: float, arrays: MixtureArrays, guess: float) -> Floats:
    """Return a liquid near the dew point: a few rounds of x <- x y_wanted/y(x)."""
    x = vapour.copy()
    for _ in range(8):
        _, y = _boil(x, pressure, arrays, guess)
        x = np.where(vapour > 0.0, x * vapour / np.maximum(y, 1e-300), 0.0)
        x /= x.sum()
    return x


def _vapour_miss(
    x: Floats,
    present: npt.NDArray[np.intp],
    target: Floats,
    pressure: float,
    arrays: MixtureArrays,
    guess: float,
) -> tuple[Floats, float]:
    temperature, y = _boil(x, pressure, arrays, guess)
    return np.log(np.maximum(y[present], 1e-300)) - target, temperature


def _newton_step(
    x: Floats,
    present: npt.NDArray[np.intp],
    target: Floats,
    miss: Floats,
    pressure: float,
    arrays: MixtureArrays,
    guess: float,
) -> Floats:
    """Return the change of ln x of the components present."""
    jacobian = np.empty((len(present), len(present)))
    for column, i in enumerate(present):
        shifted = x.copy()
        shifted[i] *= 1.0 + 1e-6
        shifted /= shifted.sum()
        after, _ = _vapour_miss(shifted, present, target, pressure, arrays, guess)
        jacobian[:, column] = (after - miss) / 1e-6
    # scaling all x by one factor changes nothing: the least-squares step ignores that direction
    step = np.asarray(np.linalg.lstsq(jacobian, -miss, rcond=1e-9)[0], dtype=np.float64)
    return np.clip(step, -_LONGEST_STEP, _LONGEST_STEP)


def _walk(
    x: Floats,
    step: Floats,
    miss: Floats,
    present: npt.NDArray[np.intp],
    target: Floats,
    pressure: float,
    arrays: MixtureArrays,
    guess: float,
) -> tuple[Floats, Floats, float]:
    """Go along the step, shortened until the miss shrinks; else one round of substitution."""
    size = np.abs(miss).max()
    for shorter in range(6):
        trial = x.copy()
        trial[present] *= np.exp(0.5**shorter * step)
        trial /= trial.sum()
        after, temperature = _vapour_miss(trial, present, target, pressure, arrays, guess)
        if np.abs(after).max() < size:
            return trial, after, temperature
    trial = x.copy()
    trial[present] *= np.exp(-miss)
    trial /= trial.sum()
    after, temperature = _vapour_miss(trial, present, target, pressure, arrays, guess)
    return trial, after, temperature


def boiling_curve(mixture: Mixture, pressure: float, points: int = 101) -> BoilingCurve:
    """Return boiling temperature and vapour of a binary over the whole range of liquids.

    Args:
        mixture: of two components, taken as one liquid.
        pressure: [Pa], > 0, below about 2 bar.
        points: number of liquids, evenly spaced from 0 to 1, at least 2.

    Returns:
        The curve in the first component.

    Raises:
        BadInput: for another number of components, fewer than two points or no pressure.

    Source:
        Modified Raoult's law, see `forerun.equilibrium.kernels.bubble_pressure`.
    """
    if len(mixture.substances) != 2:
        raise BadInput("mixture", ", ".join(mixture.names), "two substances for a boiling curve")
    if points < 2:
        raise BadInput("points", points, "at least 2")
    _positive(pressure)
    x = np.linspace(0.0, 1.0, points)
    y, temperature = np.empty(points), np.empty(points)
    guess = _GUESS
    for k, value in enumerate(x):
        guess, vapour = _boil(np.array([value, 1.0 - value]), pressure, mixture.arrays, guess)
        y[k], temperature[k] = vapour[0], guess
    return BoilingCurve(pressure, x, y, temperature)


def relative_volatility(
    x: npt.ArrayLike, temperature: float, mixture: Mixture, first: int = 0, second: int = 1
) -> float:
    """Return (y_1/x_1)/(y_2/x_2) over a liquid.

    Args:
        x: (C,) liquid mole fractions [-], summing to 1; zeros are taken as infinite dilution.
        temperature: [K].
        mixture: the mixture.
        first: index of the component in the numerator.
        second: index of the other.

    Returns:
        Relative volatility [-].

    Raises:
        BadInput: for fractions that are none.

    Source:
        Definition; any textbook of distillation (common practice, no source).
    """
    composition = np.maximum(_fractions(x, mixture, "x"), _TRACE)
    composition /= composition.sum()
    y = np.empty_like(composition)
    bubble_pressure(temperature, composition, mixture.arrays, mixture.scratch(), y)
    return float(y[first] / composition[first] * composition[second] / y[second])


def _fractions(values: npt.ArrayLike, mixture: Mixture, field: str) -> Floats:
    fractions = np.array(values, dtype=np.float64)
    accepted = f"{len(mixture.substances)} mole fractions, none negative, that sum to 1"
    if fractions.shape != (len(mixture.substances),):
        raise BadInput(field, values, accepted)
    if not np.isfinite(fractions).all() or (fractions < 0.0).any():
        raise BadInput(field, values, accepted)
    if abs(fractions.sum() - 1.0) > 1e-6:
        raise BadInput(field, values, accepted)
    normal: Floats = fractions / fractions.sum()
    return normal


def _positive(pressure: float) -> None:
    if not (np.isfinite(pressure) and pressure > 0.0):
        raise BadInput("pressure", pressure, "a pressure above zero")
