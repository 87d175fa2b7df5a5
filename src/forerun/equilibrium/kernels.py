"""Activity, association and bubble pressure, compiled.

The residual term of every model of the UNIFAC family depends on a subgroup only through the
surface that it adds to its main group, so the sums run over main groups.  All that depends on
temperature alone stands in tables of cubics: 98 % of the interactions within 1e-7 of the formula,
the worst within 1e-5 above 250 K (tested).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MIXTURE_TYPE, SCRATCH_ROWS, MixtureArrays
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void

__all__ = ["bubble_pressure", "ln_activity", "ln_vapour_pressure"]

Floats = npt.NDArray[np.float64]

_REFERENCE_TEMPERATURE = 350.0  # K, where the second coefficient of a pair correction vanishes
_COORDINATION = 10.0  # lattice coordination number of UNIQUAC, Abrams & Prausnitz (1975)
_ROWS = SCRATCH_ROWS  # from here on scratch holds the interactions at this temperature
_TRACE = 1e-300  # keeps logarithms of empty sums finite


@kernel(float64(int64, float64[:, ::1], float64))
def ln_vapour_pressure(i: int, coefficients: Floats, temperature: float) -> float:
    """Return ln(P/Pa) of pure component i, straight in 1/T outside the fitted range.

    Args:
        i: index of the component.
        coefficients: (C, 6) as in `MixtureArrays.vapour_pressure`.
        temperature: [K], > 0.

    Returns:
        ln of the vapour pressure over 1 Pa [-]; continuous with its slope everywhere.

    Validity:
        Within the fitted range as good as the fit; beyond it a warning belongs to the answer.

    Source:
        Form of the equation: Poling, Prausnitz & O'Connell, The Properties of Gases and Liquids,
        5th ed. (2001), section 7-3; coefficients: own fits, see `forerun.substances`.
    """
    a, b, c, d, low, high = coefficients[i]
    inside: float = min(max(temperature, low), high)
    value: float = a + b / inside + c * math.log(inside) + d * inside
    slope: float = b - c * inside - d * inside * inside  # d ln P / d(1/T)
    return value + slope * (1.0 / temperature - 1.0 / inside)


@kernel(void(float64, float64[::1], float64[:, :, :, ::1], float64[::1]))
def _add_pair_corrections(
    temperature: float, x: Floats, coefficients: Floats, ln_gamma: Floats
) -> None:
    """Add the Redlich-Kister terms of all pairs; derivation: d(n g)/dn_l of the sum over pairs."""
    components = x.shape[0]
    terms = coefficients.shape[2]
    tilt = _REFERENCE_TEMPERATURE / temperature - 1.0
    shift = 0.0
    for i in range(components):
        for j in range(i + 1, components):
            difference = x[i] - x[j]
            value = 0.0
            slope = 0.0
            for k in range(terms - 1, -1, -1):
                a = coefficients[i, j, k, 0] + coefficients[i, j, k, 1] * tilt
                slope = slope * difference + value
                value = value * difference + a
            if value == 0.0 and slope == 0.0:
                continue
            product = x[i] * x[j]
            ln_gamma[i] += x[j] * value + product * slope
            ln_gamma[j] += x[i] * value - product * slope
            shift += product * (value + difference * slope)
    if shift != 0.0:
        for i in range(components):
            ln_gamma[i] -= shift


@kernel(void(float64, float64[::1], MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def ln_activity(  # noqa: C901, PLR0912 -- one pass over the models, split it would hide the sums
    temperature: float, x: Floats, mixture: MixtureArrays, scratch: Floats, ln_gamma: Floats
) -> None:
    """Write ln gamma of every component: mean of the models plus the pair corrections.

    Args:
        temperature: [K]; the tables are held constant beyond their ends.
        x: (C,) liquid mole fractions [-], summing to 1, none negative.
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        ln_gamma: (C,) result [-].

    Source:
        Fredenslund, Jones & Prausnitz, AIChE J. 21 (1975) 1086, doi:10.1002/aic.690210607;
        Weidlich & Gmehling, Ind. Eng. Chem. Res. 26 (1987) 1372, doi:10.1021/ie00067a018.
    """
    components = x.shape[0]
    models, _, groups = mixture.group_surfaces.shape
    for i in range(components):
        ln_gamma[i] = 0.0

    intervals = mixture.interaction.shape[0]
    place = (temperature - mixture.grid[0]) / mixture.grid[1]
    if not place >= 0.0:  # also what is not a number: it must not point outside the table
        place = 0.0
    place = min(place, intervals - 1e-9)
    n = int(place)
    s = place - n
    theta, sums, share, psi = scratch[0], scratch[1], scratch[2], scratch[3]
    sizes = mixture.sizes  # r**exponent, ln r**exponent, ln(r/q)
    table, pure = mixture.interaction, mixture.pure_residual

    for m in range(models):
        weight = mixture.weights[m]
        if weight == 0.0:
            continue
        # combinatorial part
        volume = 0.0
        surface = 0.0
        scaled = 0.0
        for i in range(components):
            volume += x[i] * mixture.volumes[m, i]
            surface += x[i] * mixture.surfaces[m, i]
            scaled += x[i] * sizes[m, 0, i]
        ln_scaled = math.log(scaled)
        ln_compact = math.log(surface / volume)
        for i in range(components):
            q = mixture.surfaces[m, i]
            ratio = mixture.volumes[m, i] / volume * surface / q
            ln_gamma[i] += weight * (
                1.0
                - sizes[m, 0, i] / scaled
                + sizes[m, 1, i]
                - ln_scaled
                - 0.5 * _COORDINATION * q * (1.0 - ratio + sizes[m, 2, i] + ln_compact)
            )
        # residual part over main groups
        total = 0.0
        for g in range(groups):
            theta[g] = 0.0
            sums[g] = 0.0
        for i in range(components):
            for g in range(groups):
                theta[g] += x[i] * mixture.group_surfaces[m, i, g]
        for g in range(groups):
            total += theta[g]
        for h in range(groups):
            part = theta[h] / total
            for g in range(groups):
                value = (
                    (table[n, 3, m, h, g] * s + table[n, 2, m, h, g]) * s + table[n, 1, m, h, g]
                ) * s + table[n, 0, m, h, g]
                scratch[_ROWS + h, g] = value
                sums[g] += part * value
        for g in range(groups):
            sums[g] = max(sums[g], _TRACE)
            share[g] = theta[g] / (total * sums[g])
        for g in range(groups):
            value = 1.0 - math.log(sums[g])
            for h in range(groups):
                value -= share[h] * scratch[_ROWS + g, h]
            psi[g] = value
        for i in range(components):
            residual = -(
                ((pure[n, 3, m, i] * s + pure[n, 2, m, i]) * s + pure[n, 1, m, i]) * s
                + pure[n, 0, m, i]
            )
            for g in range(groups):
                residual += mixture.group_surfaces[m, i, g] * psi[g]
            ln_gamma[i] += weight * residual

    _add_pair_corrections(temperature, x, mixture.pair_correction, ln_gamma)


@kernel(float64(float64, float64[::1], MIXTURE_TYPE, float64[:, ::1], float64[::1]))
def bubble_pressure(
    temperature: float, x: Floats, mixture: MixtureArrays, scratch: Floats, y: Floats
) -> float:
    """Return the pressure over a liquid and write the vapour that rises from it.

    Carboxylic acids pair up in the vapour: the monomer's partial pressure p_i follows from the
    liquid, the dimers from p_i and their constants (mixed dimers: K_ij = 2 sqrt(K_i K_j)), and
    everything stays explicit: P = sum p_i + (sum sqrt(K_i) p_i)^2.

    Args:
        temperature: [K].
        x: (C,) liquid mole fractions [-], summing to 1, none negative.
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        y: (C,) result: vapour mole fractions, each dimer counted as two molecules [-].

    Returns:
        Bubble pressure [Pa]. Poynting and gas non-ideality are left out (below 2 bar).

    Source:
        Marek & Standart, Collect. Czech. Chem. Commun. 19 (1954) 1074, doi:10.1135/cccc19541074.
    """
    components = x.shape[0]
    ln_gamma = scratch[4]
    ln_activity(temperature, x, mixture, scratch, ln_gamma[:components])
    pressure = 0.0
    paired = 0.0
    root = scratch[5]
    for i in range(components):
        p = math.exp(ln_vapour_pressure(i, mixture.vapour_pressure, temperature))
        root[i] = 0.0
        if mixture.dimerisation[i, 0] != 0.0:
            constant = math.exp(
                mixture.dimerisation[i, 1] + mixture.dimerisation[i, 2] / temperature
            )
            p = 2.0 * p / (1.0 + math.sqrt(1.0 + 4.0 * constant * p))
            root[i] = math.sqrt(constant)
        y[i] = x[i] * math.exp(ln_gamma[i]) * p
        pressure += y[i]
        paired += root[i] * y[i]
    amount = 0.0
    for i in range(components):
        y[i] *= 1.0 + 2.0 * root[i] * paired
        amount += y[i]
    for i in range(components):
        y[i] /= amount
    return pressure + paired * paired
