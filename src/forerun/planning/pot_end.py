"""What is left in the pot when the product is over, and how hot it boils then."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.bubble import bubble_temperature
from forerun.equilibrium.mixture import Mixture
from forerun.substances.correlations import boiling_temperature

__all__ = ["boils_at", "left_in_pot", "pressure_to_boil_at"]

Floats = npt.NDArray[np.float64]

_LEAST_LEFT = 0.05  # of the wanted component, not waited for; a judgement, no source
_LOWEST, _HIGHEST = 1.0, 1.5e5  # Pa
_HALVINGS = 40


def left_in_pot(
    charge: Floats, mixture: Mixture, pressure: float, wanted: int, recovery: float
) -> Floats:
    """Return the composition of the pot when so much of the wanted component has come over.

    Args:
        charge: (C,) moles in the flask [mol].
        mixture: its substances.
        pressure: at which they are ordered by boiling point [Pa].
        wanted: index of the wanted component.
        recovery: share of it that has come over [-].

    Returns:
        (C,) mole fractions [-].

    Derivation: whatever boils lower than the wanted component is over, whatever boils higher is
    still there; so as a perfect column leaves it, which is the hottest that a pot gets.
    """
    boiling = np.array([boiling_temperature(s, pressure).temperature for s in mixture.substances])
    left = np.where(boiling < boiling[wanted], 0.0, charge)
    left[wanted] *= max(1.0 - recovery, _LEAST_LEFT)
    return np.asarray(left / left.sum(), dtype=np.float64)


def boils_at(left: Floats, mixture: Mixture, pressure: float) -> float:
    """Return the temperature of a pot [K].

    Args:
        left: (C,) mole fractions [-].
        mixture: its substances.
        pressure: in the pot [Pa].
    """
    return bubble_temperature(left, pressure, mixture)[0]


def pressure_to_boil_at(left: Floats, mixture: Mixture, temperature: float) -> float:
    """Return the pressure at which a pot boils at a temperature [Pa].

    Args:
        left: (C,) mole fractions [-].
        mixture: its substances.
        temperature: [K].

    Returns:
        At least 1 Pa; infinite where it is above 1.5 bar, which no bench still sees.
    """
    if boils_at(left, mixture, _HIGHEST) <= temperature:
        return float("inf")
    low, high = np.log(_LOWEST), np.log(_HIGHEST)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if boils_at(left, mixture, float(np.exp(middle))) > temperature:
            high = middle
        else:
            low = middle
    return float(np.exp(low))
