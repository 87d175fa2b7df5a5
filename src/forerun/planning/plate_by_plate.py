"""What stands on every plate of a column at one moment, stepped from the pot upwards."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.bubble_kernels import bubble_temperature_from

__all__ = ["plates_above"]

Floats = npt.NDArray[np.float64]

_ALL = 0.98  # share of the vapour that is taken; above it nothing returns worth speaking of
_GUESS = 350.0  # K


def plates_above(
    pot: Floats, top: Floats, taken: float, plates: int, pressure: float, mixture: MixtureArrays
) -> tuple[Floats, Floats, Floats]:
    """Return liquid, vapour and temperature of the pot and of every plate above it.

    Args:
        pot: (C,) liquid in the pot, mole fractions [-].
        top: (C,) what is taken off at the head [-]; NaN while nothing is.
        taken: share of the vapour that leaves the pot and is taken off [-], 0 at total reflux.
        plates: above the pot [-].
        pressure: [Pa], the same everywhere.
        mixture: phase equilibrium.

    Returns:
        Liquids and the vapours that rise from them (plates + 1, C) [-], their boiling temperatures
        (plates + 1,) [K], pot first.

    Raises:
        CalculationFailed: a liquid of which no boiling temperature is found.

    Validity: the plates hold nothing, all pass the same vapour; a real column lags behind its
    hold-up, so the uppermost plate need not meet what drips exactly.

    Source:
        McCabe & Thiele, Ind. Eng. Chem. 17 (1925) 605, doi:10.1021/ie50186a023: the balance
        around the top of the column gives the liquid that meets a vapour.
    """
    share = taken if np.isfinite(top).all() and 0.0 < taken < _ALL else 0.0
    scratch = scratch_for(mixture)
    liquid, vapour, guess = np.ascontiguousarray(pot), np.empty_like(pot), _GUESS
    liquids, vapours, temperatures = [], [], []
    for _ in range(plates + 1):
        guess = bubble_temperature_from(liquid, pressure, guess, mixture, scratch, vapour)
        if not np.isfinite(guess):
            raise CalculationFailed(
                "the boiling temperature of a plate",
                f"none at {pressure:.4g} Pa for x = {liquid}",
                "Check the pressure of the sheet.",
            )
        liquids.append(liquid)
        temperatures.append(guess)
        above = vapour / vapour.sum()
        vapours.append(above)
        if share > 0.0:
            above = np.clip((above - share * top) / (1.0 - share), 0.0, None)
            above = above / above.sum() if above.sum() > 0.0 else vapours[-1]
        liquid = np.ascontiguousarray(above)
    return np.array(liquids), np.array(vapours), np.array(temperatures)
