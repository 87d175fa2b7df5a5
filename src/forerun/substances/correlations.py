"""Pure-component correlations: one published relation, one function."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from forerun.core.errors import BadInput
from forerun.substances.model import (
    Dimerisation,
    HeatCapacity,
    LatentHeat,
    MolarVolume,
    Substance,
    VapourPressureFit,
)

__all__ = [
    "SMALLEST_BAND_K",
    "BoilingPoint",
    "boiling_temperature",
    "density",
    "dimerisation_constant",
    "heat_capacity_linear",
    "latent_heat_watson1943",
    "molar_volume_quadratic",
    "refractive_index_slope_lorentz_lorenz",
    "vapour_pressure",
    "vapour_pressure_slope",
]

NORMAL_QUANTILE_90 = 1.2815515655446004  # bands run from the 10 % to the 90 % quantile
# Beyond the range the heat of vaporisation is taken as constant. It changes by about 10 % over
# 60 K of a typical liquid (Watson); half of that change is the error of the mean slope.
SLOPE_CHANGE_PER_KELVIN = 0.05 / 60.0
# Half-width of the narrowest 80 % band. 590 pure ends of the measured boiling tables that the
# package carries (the paper of each stands there) lie a median of 0.08 K from our boiling points;
# 0.15 K holds 80 % of a normal distribution with that median.
SMALLEST_BAND_K = 0.15
LOWEST_PRESSURE, HIGHEST_PRESSURE = 1.0e-3, 1.0e7  # Pa, where a bracket is still looked for


@dataclass(frozen=True, slots=True)
class BoilingPoint:
    """Where a pure liquid boils.

    Args:
        temperature: [K].
        low: 10 % quantile [K].
        high: 90 % quantile [K].
        state: ``ok``; ``extrapolated`` beyond the range of the vapour-pressure fit; ``solid``
            below the melting point, where the liquid would be supercooled.
    """

    temperature: float
    low: float
    high: float
    state: Literal["ok", "extrapolated", "solid"]


def vapour_pressure(temperature: float, fit: VapourPressureFit) -> float:
    """Return the vapour pressure of a pure liquid.

    Args:
        temperature: [K], > 0; beyond the range of the fit ln P goes on straight in 1/T.
        fit: the substance's fit.

    Returns:
        vapour pressure [Pa], continuous with its slope everywhere.

    Source:
        Form: Kirchhoff's equation with a linear term, as discussed in Poling, Prausnitz &
        O'Connell, The Properties of Gases and Liquids, 5th ed. (2001), section 7-3; coefficients:
        own fit to the sources that the fit names.
    """
    return math.exp(_ln_pressure(temperature, fit))


def vapour_pressure_slope(temperature: float, fit: VapourPressureFit) -> float:
    """Return d ln P / d T of a pure liquid.

    Args:
        temperature: [K], > 0; beyond the range of the fit d ln P / d(1/T) is constant.
        fit: the substance's fit.

    Returns:
        relative slope of the vapour pressure [1/K].

    Derivation:
        of `vapour_pressure`, from -(B - C T - D T^2)/T^2.
    """
    return -_slope_in_inverse(temperature, fit) / temperature**2


def boiling_temperature(
    substance: Substance, pressure: float, field: str = "pressure"
) -> BoilingPoint:
    """Return the temperature at which a pure liquid boils, with its band.

    Args:
        substance: the substance.
        pressure: absolute pressure [Pa], from 1e-3 to 1e7 and below the critical one.
        field: where the pressure stands, for the message.

    Returns:
        temperature and 80 % band [K] and whether the fit covers it; outside the fit the band
        grows with the distance to it.

    Raises:
        BadInput: the pressure is not positive, or not below the critical pressure.

    Derivation:
        `vapour_pressure` solved for T between brackets that close from both sides; the band is
        the relative spread between sources over the slope d ln P / d T, and never less than
        `SMALLEST_BAND_K`, since sources that agree better have copied each other.
    """
    critical = substance.critical_pressure.value
    if not LOWEST_PRESSURE <= pressure < min(critical, HIGHEST_PRESSURE):
        raise BadInput(
            field,
            f"{pressure:g} Pa",
            f"a pressure from {LOWEST_PRESSURE:g} Pa to {min(critical, HIGHEST_PRESSURE):.3g} Pa, "
            f"the critical pressure of {substance.name}",
        )
    fit = substance.vapour_pressure
    temperature = _solve(math.log(pressure), fit)
    outside = max(fit.data_low - temperature, temperature - fit.data_high, 0.0)
    error = fit.spread + outside * SLOPE_CHANGE_PER_KELVIN * outside * vapour_pressure_slope(
        temperature, fit
    )
    slope = vapour_pressure_slope(temperature, fit)
    if fit.method == "estimated":  # the error of the boiling point, which the pressure follows
        error += fit.temperature_spread * slope - fit.spread
    half = max(NORMAL_QUANTILE_90 * error / slope, SMALLEST_BAND_K)
    melting = substance.melting_point
    state: Literal["ok", "extrapolated", "solid"] = "extrapolated" if outside > 0.0 else "ok"
    if melting is not None and temperature < melting.value:
        state = "solid"
    return BoilingPoint(temperature, temperature - half, temperature + half, state)


def latent_heat_watson1943(
    temperature: float, heat: LatentHeat, critical_temperature: float
) -> float:
    """Return the heat of vaporisation at another temperature.

    Args:
        temperature: [K], valid from the melting point to 0.98 Tc; 0 at and above Tc.
        heat: value, reference temperature and exponent.
        critical_temperature: Tc [K].

    Returns:
        heat of vaporisation [J/mol], per mole of monomer where the vapour associates.

    Source:
        Watson, K. M., Ind. Eng. Chem. 35 (1943) 398, doi:10.1021/ie50400a004.
    """
    left = max(critical_temperature - temperature, 0.0)
    whole = critical_temperature - heat.reference_temperature
    return float(heat.value * (left / whole) ** heat.exponent)


def heat_capacity_linear(temperature: float, capacity: HeatCapacity) -> float:
    """Return the heat capacity of the liquid.

    Args:
        temperature: [K], valid from the melting point to about the normal boiling point.
        capacity: the two coefficients.

    Returns:
        molar heat capacity of the saturated liquid [J/mol/K].

    Source:
        Not a published model: a straight line through the values of the sources named in
        ``capacity.sources``.
    """
    return capacity.c0 + capacity.c1 * (temperature - 298.15)


def molar_volume_quadratic(temperature: float, volume: MolarVolume) -> float:
    """Return the molar volume of the saturated liquid.

    Args:
        temperature: [K], valid from 273 K to about 0.85 Tc.
        volume: the three coefficients.

    Returns:
        molar volume [m3/mol].

    Source:
        Not a published model: a parabola through the values of the sources named in
        ``volume.sources``, mostly one density and the temperature function of Rackett,
        J. Chem. Eng. Data 15 (1970) 514, doi:10.1021/je60047a012.
    """
    t = temperature - 293.15
    return volume.v0 + t * (volume.v1 + t * volume.v2)


def density(temperature: float, substance: Substance) -> float:
    """Return the density of the saturated liquid.

    Args:
        temperature: [K], valid from 273 K to about 0.85 Tc.
        substance: the substance.

    Returns:
        density [kg/m3].

    Derivation:
        molar mass over `molar_volume_quadratic`.
    """
    return substance.molar_mass / molar_volume_quadratic(temperature, substance.molar_volume)


def refractive_index_slope_lorentz_lorenz(substance: Substance) -> float | None:
    """Return how the refractive index changes with temperature at 20 degC.

    Args:
        substance: the substance.

    Returns:
        dn/dT [1/K], None where no refractive index is on file; valid from about 10 to 40 degC,
        up to a quarter too steep, and wrong for water near 0 degC.

    Derivation:
        (n^2 - 1)/(n^2 + 2) times the molar volume stays the same while the liquid expands
        (Lorentz, Ann. Phys. 245 (1880) 641; Lorenz, Ann. Phys. 247 (1880) 70), so that
        dn/dT = -(n^2 - 1)(n^2 + 2)/(6 n) d ln v/dT.
    """
    if substance.refractive_index is None:
        return None
    n = substance.refractive_index.value
    expansion = substance.molar_volume.v1 / substance.molar_volume.v0
    return -(n * n - 1.0) * (n * n + 2.0) / (6.0 * n) * expansion


def dimerisation_constant(temperature: float, dimerisation: Dimerisation) -> float:
    """Return the equilibrium constant of the vapour-phase dimer, p_dimer / p_monomer^2.

    Args:
        temperature: [K], valid from about 293 to 430 K.
        dimerisation: the two coefficients.

    Returns:
        constant [1/Pa].

    Source:
        Marek, J.; Standart, G., Collect. Czech. Chem. Commun. 19 (1954) 1074,
        doi:10.1135/cccc19541074; coefficients: the sources named in ``dimerisation.sources``.
    """
    a, b = dimerisation.coefficients
    return math.exp(a + b / temperature)


def _ln_pressure(temperature: float, fit: VapourPressureFit) -> float:
    a, b, c, d = fit.coefficients
    inside = min(max(temperature, fit.temperature_low), fit.temperature_high)
    value = a + b / inside + c * math.log(inside) + d * inside
    return value + _slope_in_inverse(inside, fit) * (1.0 / temperature - 1.0 / inside)


def _slope_in_inverse(temperature: float, fit: VapourPressureFit) -> float:
    _, b, c, d = fit.coefficients
    inside = min(max(temperature, fit.temperature_low), fit.temperature_high)
    return b - c * inside - d * inside * inside


def _solve(ln_pressure: float, fit: VapourPressureFit) -> float:
    """Solve for T by the Illinois form of false position in 1/T, where ln P is almost straight."""
    low, high = 1.0 / 3000.0, 1.0 / 20.0
    above = _ln_pressure(1.0 / low, fit) - ln_pressure
    below = _ln_pressure(1.0 / high, fit) - ln_pressure
    at = low
    for _ in range(200):
        at = (low * below - high * above) / (below - above)
        miss = _ln_pressure(1.0 / at, fit) - ln_pressure
        if abs(miss) < 1e-12 or high - low < 1e-16:
            break
        if miss > 0.0:
            low, above = at, miss
            below *= 0.5
        else:
            high, below = at, miss
            above *= 0.5
    return 1.0 / at
