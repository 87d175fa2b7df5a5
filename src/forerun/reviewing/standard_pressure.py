"""A boiling temperature read at one pressure, as it would read at 760 mmHg; the exposed stem."""

from __future__ import annotations

import math

from forerun.core.references import Reference
from forerun.substances.correlations import boiling_temperature, vapour_pressure_slope
from forerun.substances.model import Substance

__all__ = [
    "HASS_NEWTON",
    "STEM",
    "SYDNEY_YOUNG",
    "emergent_stem_correction",
    "hass_newton_phi",
    "standard_temperature_hass_newton",
    "standard_temperature_sydney_young",
]

HASS_NEWTON = Reference(
    "hass_newton",
    "H. B. Hass, R. F. Newton, Correction of boiling points to standard pressure, in: CRC Handbook "
    "of Chemistry and Physics",
    provenance="copy of the source seen",
)
SYDNEY_YOUNG = Reference(
    "young_correction",
    "S. Young, Distillation Principles and Processes, Macmillan, 1922, correction for pressure",
    provenance="from memory",
)
STEM = Reference(
    "emergent_stem",
    "Emergent-stem correction, common practice (factor 0.00016 per K for mercury in glass)",
    provenance="copy of the source seen",
)

STANDARD_PRESSURE = 101325.0  # Pa
_ZERO = 273.1  # K, as the equation is printed
_BEND = 0.15  # of the equation
_MERCURY_IN_GLASS = 0.00016  # 1/K, apparent expansion
_NORMAL, _ASSOCIATED = 0.00012, 0.00010  # 1/mmHg
_MMHG = 133.322387415  # Pa


def hass_newton_phi(substance: Substance) -> float:
    """Return the constant of `standard_temperature_hass_newton` for a substance.

    Args:
        substance: the substance.

    Returns:
        phi [-], positive: 5.8 for water, 4.6 to 4.8 for liquids that do not associate.

    Derivation:
        the equation near 760 mmHg, phi = T d(log p)/dT, with the slope of the substance's own
        vapour pressure at its normal boiling point. The handbook gives phi by groups.
    """
    boiling = boiling_temperature(substance, STANDARD_PRESSURE).temperature
    slope = vapour_pressure_slope(boiling, substance.vapour_pressure)
    return boiling * slope / math.log(10.0)


def standard_temperature_hass_newton(temperature: float, pressure: float, phi: float) -> float:
    """Return the boiling temperature at 101325 Pa of what boils at another pressure.

    Args:
        temperature: boiling temperature as read [K].
        pressure: at which it was read [Pa]; valid from about 10 kPa to 150 kPa, further off it
            goes on with a growing error.
        phi: from `hass_newton_phi` [-].

    Returns:
        temperature at 101325 Pa [K].

    Source:
        `HASS_NEWTON`: log(760) - log(p) = phi (tb - t) / (273.1 + t - 0.15 (tb - t)), solved for
        tb.
    """
    lack = math.log10(STANDARD_PRESSURE / pressure)
    celsius = temperature - 273.15
    return temperature + lack * (_ZERO + celsius) / (phi + _BEND * lack)


def standard_temperature_sydney_young(
    temperature: float, pressure: float, associated: bool = False
) -> float:
    """Return the boiling temperature at 101325 Pa by the short rule.

    Args:
        temperature: boiling temperature as read [K].
        pressure: at which it was read [Pa]; valid within about 5 kPa of 101325 Pa.
        associated: whether the liquid associates (water, alcohols, acids).

    Returns:
        temperature at 101325 Pa [K].

    Source:
        `SYDNEY_YOUNG`: dt = 0.00012 (760 - p)(273 + t), with 0.00010 for associated liquids.
    """
    factor = _ASSOCIATED if associated else _NORMAL
    return temperature + factor * (STANDARD_PRESSURE - pressure) / _MMHG * temperature


def emergent_stem_correction(temperature: float, stem_temperature: float, exposed: float) -> float:
    """Return what to add to a mercury thermometer whose thread stands out of the vapour.

    Args:
        temperature: as read [K].
        stem_temperature: mean temperature of the thread outside [K].
        exposed: length of that thread in degrees of its scale [K], not negative.

    Returns:
        correction [K]; negative where the stem is hotter than the bulb.

    Source:
        `STEM`: 0.00016 n (t - t'). Valid for mercury in common glass to about 300 degC.
    """
    return _MERCURY_IN_GLASS * exposed * (temperature - stem_temperature)
