"""Density and refractive index of mixtures, and measured curves of either."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.core.references import Reference

__all__ = [
    "LORENTZ_LORENZ",
    "MeasuredCurve",
    "density_ideal",
    "index_at_20",
    "index_lorentz_lorenz",
    "refraction",
]

Floats = npt.NDArray[np.float64]

LORENTZ_LORENZ = Reference(
    "lorentz_lorenz",
    "H. A. Lorentz, Ann. Phys. 245 (1880) 641; L. Lorenz, Ann. Phys. 247 (1880) 70: additive "
    "specific refraction (n2 - 1)/(n2 + 2)/density",
    provenance="from memory",
)
_WATER, _ORGANIC = -1.0e-4, -4.5e-4  # 1/K, change of n with temperature; common practice, no source


def refraction(index: float) -> float:
    """Return (n^2 - 1)/(n^2 + 2).

    Args:
        index: refractive index [-], above 1.

    Returns:
        refraction [-].

    Source:
        `LORENTZ_LORENZ`. Valid for any liquid.
    """
    square = index * index
    return (square - 1.0) / (square + 2.0)


def density_ideal(mass_fractions: Floats, densities: Floats) -> float:
    """Return the density of a mixture whose volumes add up.

    Args:
        mass_fractions: (C,) [-], summing to 1.
        densities: (C,) of the pure liquids at the same temperature [kg/m3].

    Returns:
        density [kg/m3].

    Derivation:
        mass over the sum of the volumes; exact for ideal mixing.
    """
    return 1.0 / float(mass_fractions @ (1.0 / densities))


def index_lorentz_lorenz(
    mass_fractions: Floats, densities: Floats, indices: Floats, density: float
) -> float:
    """Return the refractive index of a mixture.

    Args:
        mass_fractions: (C,) [-], summing to 1.
        densities: (C,) of the pure liquids [kg/m3].
        indices: (C,) of the pure liquids [-].
        density: of the mixture [kg/m3], measured or from `density_ideal`.

    Returns:
        refractive index [-].

    Source:
        `LORENTZ_LORENZ`; valid to about 0.0005 for liquids that do not react, from memory.
    """
    square = indices * indices
    whole = density * float(mass_fractions @ ((square - 1.0) / (square + 2.0) / densities))
    return float(np.sqrt((1.0 + 2.0 * whole) / (1.0 - whole)))


def index_at_20(index: float, temperature: float, water: float = 0.0) -> float:
    """Return a refractive index as it would be at 20 degC.

    Args:
        index: as read [-].
        temperature: of the sample [K]; valid between 283 and 313 K.
        water: mass fraction of water [-].

    Returns:
        refractive index at 20 degC [-].

    Source:
        common practice, no source: -0.00045 per K for organic liquids, -0.0001 for water.
    """
    slope = _ORGANIC + water * (_WATER - _ORGANIC)
    return index - slope * (temperature - 293.15)


@dataclass(frozen=True, slots=True)
class MeasuredCurve:
    """A property of a pair against composition, as somebody measured it.

    Args:
        fractions: (n,) mass fraction of the first component [-], rising.
        values: (n,) the property [its unit].
        sigma: one standard deviation of a value [its unit].
        temperature_K: of all points [K].
        reference: where it was measured.
    """

    fractions: Floats
    values: Floats
    sigma: float
    temperature_K: float
    reference: Reference

    def fraction(self, value: float) -> float:
        """Return the composition [-] that has a value.

        Raises:
            BadInput: outside the curve, or where two compositions have this value.
        """
        found = self._crossings(value)
        low, high = float(np.min(self.values)), float(np.max(self.values))
        if not found:
            raise BadInput("value", f"{value:g}", f"a value on the curve, {low:g} to {high:g}")
        if len(found) > 1:
            many = " and ".join(f"{100.0 * w:.1f} wt%" for w in found)
            raise BadInput("value", f"{value:g}", f"a value that one mixture has; {many} have it")
        return found[0]

    def slope(self, fraction: float) -> float:
        """Return the slope of the curve at a composition [unit of the property]."""
        k = int(np.clip(np.searchsorted(self.fractions, fraction), 1, self.fractions.size - 1))
        rise = self.values[k] - self.values[k - 1]
        return float(rise / (self.fractions[k] - self.fractions[k - 1]))

    def _crossings(self, value: float) -> list[float]:
        found: list[float] = []
        off = self.values - value
        for k in range(off.size - 1):
            if off[k] == 0.0:
                found.append(float(self.fractions[k]))
            elif (off[k] > 0.0) != (off[k + 1] > 0.0) and off[k + 1] != 0.0:
                share = off[k] / (off[k] - off[k + 1])
                found.append(
                    float(self.fractions[k] + share * (self.fractions[k + 1] - self.fractions[k]))
                )
        if off[-1] == 0.0:
            found.append(float(self.fractions[-1]))
        return found
