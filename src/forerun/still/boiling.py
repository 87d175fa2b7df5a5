"""Pressure over the liquid of a stage, with all its derivatives, compiled.

The same equations as `forerun.equilibrium.kernels.bubble_pressure` (held equal by a test),
arranged for a Jacobian.  With Q_g = sum_k x_k q_kg, s_ig = sum_h q_ih psi_hg and
S_g = sum_k x_k s_kg the residual part of a model of the UNIFAC family reads

    ln gamma_i = q_i (1 + ln Q) - sum_g [q_ig ln S_g + s_ig Q_g / S_g] - pure_i

so that only the table of s over temperature is needed, and the derivatives follow in closed form.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MixtureArrays
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, record, void

__all__ = ["BOILING_TYPE", "BoilingArrays", "boil", "boiling_arrays", "boiling_scratch"]

Floats = npt.NDArray[np.float64]

_REFERENCE_TEMPERATURE = 350.0  # K, as in `equilibrium.kernels`
_HALF_COORDINATION = 5.0  # half the lattice coordination number, Abrams & Prausnitz (1975)
_TRACE = 1e-300
_NOTHING = 1e-30  # mol: a stage without liquid, met only in a step that will be rejected
_HOTTEST, _COLDEST = 1500.0, 100.0  # K, keeps exponents finite in a step that will be rejected


class BoilingArrays(NamedTuple):
    """A mixture arranged for the still: models of no weight and empty groups left out.

    Args:
        vapour_pressure: (C, 6) as in `MixtureArrays`.
        weights: (M,) share of each model [-].
        logs: (M, 5, C) r, q, r**exponent, ln r**exponent and ln(r/q) of the components [-].
        group_surfaces: (M, C, G) surface in each main group [-].
        grid: (2,) lowest temperature and width of an interval [K].
        reach: (N, 4, M, C, G) cubics in the place inside an interval for s_ig [-].
        pure_residual: (N, 4, M, C) cubics for ln Gamma of the pure components [-].
        pair_correction: (C, C, K, 2) as in `MixtureArrays`.
        dimerisation: (C, 3) as in `MixtureArrays`.
    """

    vapour_pressure: Floats
    weights: Floats
    logs: Floats
    group_surfaces: Floats
    grid: Floats
    reach: Floats
    pure_residual: Floats
    pair_correction: Floats
    dimerisation: Floats


BOILING_TYPE = record(BoilingArrays, 2, 1, 3, 3, 1, 5, 4, 4, 2)


def boiling_arrays(mixture: MixtureArrays) -> BoilingArrays:
    """Return the mixture arranged for the still.

    Args:
        mixture: as the equilibrium room gives it.

    Returns:
        Its arrays; C-contiguous copies.
    """
    used = np.flatnonzero(mixture.weights != 0.0)
    surfaces = mixture.group_surfaces[used]
    groups = np.flatnonzero(surfaces.any(axis=(0, 1)))
    surfaces = surfaces[:, :, groups]
    interaction = mixture.interaction[:, :, used][..., groups, :][..., groups]
    r, q = mixture.volumes[used], mixture.surfaces[used]
    power = r ** mixture.exponents[used][:, None]
    logs = np.stack([r, q, power, np.log(power), np.log(r / q)], axis=1)
    return BoilingArrays(
        vapour_pressure=np.ascontiguousarray(mixture.vapour_pressure),
        weights=np.ascontiguousarray(mixture.weights[used]),
        logs=np.ascontiguousarray(logs),
        group_surfaces=np.ascontiguousarray(surfaces),
        grid=np.ascontiguousarray(mixture.grid),
        reach=np.ascontiguousarray(np.einsum("mih,nkmhg->nkmig", surfaces, interaction)),
        pure_residual=np.ascontiguousarray(mixture.pure_residual[:, :, used]),
        pair_correction=np.ascontiguousarray(mixture.pair_correction),
        dimerisation=np.ascontiguousarray(mixture.dimerisation),
    )


def boiling_scratch(mixture: BoilingArrays) -> Floats:
    """Return working space for one caller of `boil`.

    Args:
        mixture: from `boiling_arrays` [SI].

    Returns:
        (9 + 2 C, max(C, G)) zeros [any]. Valid for any mixture.

    Not a published model: storage.
    """
    _, components, groups = mixture.group_surfaces.shape
    return np.zeros((9 + 2 * components, max(components, groups)))


@kernel(
    void(float64, float64[::1], float64[:, :, :, ::1], float64[::1], float64[:, ::1], float64[::1])
)
def _add_pairs(
    temperature: float, x: Floats, pairs: Floats, ln_g: Floats, d_x: Floats, d_t: Floats
) -> None:
    """Add Redlich-Kister terms, and their derivatives if d_x has any rows.

    The excess energy g(x) has the Hessian H; ln gamma of the extensive N g has the derivatives
    N d ln gamma_i / d n_k = H_ik - u_i - u_k + x.u with u = H x.
    """
    components = x.shape[0]
    terms = pairs.shape[2]
    slopes = d_x.shape[0] > 0
    tilt = _REFERENCE_TEMPERATURE / temperature - 1.0
    bend = -_REFERENCE_TEMPERATURE / (temperature * temperature)
    shift = 0.0
    shift_t = 0.0
    touched = False
    for i in range(components):
        for j in range(i + 1, components):
            d = x[i] - x[j]
            value, slope, curve = 0.0, 0.0, 0.0
            value_t, slope_t = 0.0, 0.0
            for k in range(terms - 1, -1, -1):
                b = pairs[i, j, k, 1]
                curve = curve * d + 2.0 * slope
                slope = slope * d + value
                value = value * d + pairs[i, j, k, 0] + b * tilt
                slope_t = slope_t * d + value_t
                value_t = value_t * d + b * bend
            if value == 0.0 and slope == 0.0 and value_t == 0.0:
                continue
            touched = True
            product = x[i] * x[j]
            ln_g[i] += x[j] * value + product * slope
            ln_g[j] += x[i] * value - product * slope
            shift += product * (value + d * slope)
            if slopes:
                d_t[i] += x[j] * value_t + product * slope_t
                d_t[j] += x[i] * value_t - product * slope_t
                shift_t += product * (value_t + d * slope_t)
                h_ii = 2.0 * x[j] * slope + product * curve
                h_jj = -2.0 * x[i] * slope + product * curve
                h_ij = value + d * slope - product * curve
                u_i = h_ii * x[i] + h_ij * x[j]
                u_j = h_ij * x[i] + h_jj * x[j]
                common = x[i] * u_i + x[j] * u_j
                for a in range(components):
                    for b_ in range(components):
                        d_x[a, b_] += common
                    d_x[a, i] -= u_i
                    d_x[a, j] -= u_j
                    d_x[i, a] -= u_i
                    d_x[j, a] -= u_j
                d_x[i, i] += h_ii
                d_x[j, j] += h_jj
                d_x[i, j] += h_ij
                d_x[j, i] += h_ij
    if touched:
        for i in range(components):
            ln_g[i] -= shift
            if slopes:
                d_t[i] -= shift_t


@kernel(
    void(
        float64,
        float64[::1],
        BOILING_TYPE,
        float64[:, ::1],
        float64[::1],
        float64[:, ::1],
        float64[::1],
    )
)
def _activity(  # noqa: C901, PLR0912, PLR0915 -- one formula in one pass over the models
    temperature: float,
    x: Floats,
    mixture: BoilingArrays,
    scratch: Floats,
    ln_g: Floats,
    d_x: Floats,
    d_t: Floats,
) -> None:
    """Write ln gamma; with rows in d_x also N d ln gamma_i / d n_k and d ln gamma_i / d T."""
    components = x.shape[0]
    models, _, groups = mixture.group_surfaces.shape
    slopes = d_x.shape[0] > 0
    for i in range(components):
        ln_g[i] = 0.0
        if slopes:
            d_t[i] = 0.0
            for k in range(components):
                d_x[i, k] = 0.0
    intervals = mixture.reach.shape[0]
    place = (temperature - mixture.grid[0]) / mixture.grid[1]
    inside = 0.0 <= place <= intervals
    place = min(max(place, 0.0), intervals - 1e-9)
    n = int(place) if place >= 0.0 else 0  # not-a-number from a trial step stays one, in s
    s = place - n
    per_kelvin = 1.0 / mixture.grid[1] if inside else 0.0
    # rows of scratch: Q_g, S_g, S'_g, ln S_g, Q_g/S_g, then s_ig and s'_ig
    own, reach, reach_t, log_reach, ratio = 0, 1, 2, 3, 4
    table = mixture.reach
    logs = mixture.logs  # r, q, r**exponent, ln r**exponent, ln(r/q)
    areas = mixture.group_surfaces
    pure = mixture.pure_residual
    first, first_t = 5, 5 + components
    for m in range(models):
        weight = mixture.weights[m]
        volume, surface, scaled = 0.0, 0.0, 0.0
        for i in range(components):
            volume += x[i] * logs[m, 0, i]
            surface += x[i] * logs[m, 1, i]
            scaled += x[i] * logs[m, 2, i]
        ln_scaled = math.log(scaled)
        ln_sv = math.log(surface / volume)
        for g in range(groups):
            scratch[own, g] = 0.0
            scratch[reach, g] = 0.0
            scratch[reach_t, g] = 0.0
        total = 0.0
        for i in range(components):
            for g in range(groups):
                scratch[own, g] += x[i] * areas[m, i, g]
                scratch[first + i, g] = (
                    (table[n, 3, m, i, g] * s + table[n, 2, m, i, g]) * s + table[n, 1, m, i, g]
                ) * s + table[n, 0, m, i, g]
                scratch[reach, g] += x[i] * scratch[first + i, g]
            if slopes:
                for g in range(groups):
                    scratch[first_t + i, g] = (
                        (3.0 * table[n, 3, m, i, g] * s + 2.0 * table[n, 2, m, i, g]) * s
                        + table[n, 1, m, i, g]
                    ) * per_kelvin
                    scratch[reach_t, g] += x[i] * scratch[first_t + i, g]
        for g in range(groups):
            total += scratch[own, g]
            scratch[reach, g] = max(scratch[reach, g], _TRACE)
            scratch[log_reach, g] = math.log(scratch[reach, g])
            scratch[ratio, g] = scratch[own, g] / scratch[reach, g]
        ln_total = math.log(total) if total > 0.0 else 0.0
        for i in range(components):
            w = logs[m, 2, i] / scaled
            rho = logs[m, 0, i] / volume * surface / logs[m, 1, i]
            value = (
                1.0
                - w
                + logs[m, 3, i]
                - ln_scaled
                - _HALF_COORDINATION * logs[m, 1, i] * (1.0 - rho + logs[m, 4, i] + ln_sv)
            )
            value -= ((pure[n, 3, m, i] * s + pure[n, 2, m, i]) * s + pure[n, 1, m, i]) * s
            value -= pure[n, 0, m, i]
            for g in range(groups):
                value += (
                    areas[m, i, g] * (1.0 + ln_total - scratch[log_reach, g])
                    - scratch[first + i, g] * scratch[ratio, g]
                )
            ln_g[i] += weight * value
            if not slopes:
                continue
            value = (
                -((3.0 * pure[n, 3, m, i] * s + 2.0 * pure[n, 2, m, i]) * s + pure[n, 1, m, i])
                * per_kelvin
            )
            q_i = 0.0
            for g in range(groups):
                q_i += areas[m, i, g]
                value -= scratch[first_t + i, g] * scratch[ratio, g]
                value += (
                    (scratch[first + i, g] * scratch[ratio, g] - areas[m, i, g])
                    * scratch[reach_t, g]
                    / scratch[reach, g]
                )
            d_t[i] += weight * value
            for k in range(i + 1):
                w_k = logs[m, 2, k] / scaled
                value = (1.0 - w) * (1.0 - w_k) - _HALF_COORDINATION * logs[m, 1, i] * (
                    1.0 - rho
                ) * (logs[m, 1, k] / surface - logs[m, 0, k] / volume)
                q_k = 0.0
                for g in range(groups):
                    q_k += areas[m, k, g]
                    value -= (
                        areas[m, i, g] * scratch[first + k, g]
                        + scratch[first + i, g] * areas[m, k, g]
                        - scratch[ratio, g] * scratch[first + i, g] * scratch[first + k, g]
                    ) / scratch[reach, g]
                if total > 0.0:
                    value += q_i * q_k / total
                d_x[i, k] += weight * value
                if k != i:
                    d_x[k, i] += weight * value
    _add_pairs(temperature, x, mixture.pair_correction, ln_g, d_x, d_t)


@kernel(float64(float64, int64, float64[:, ::1], float64[::1]))
def _root_slope(temperature: float, i: int, dimerisation: Floats, root: Floats) -> float:
    """Return d sqrt(K_i) / dT of the dimer of component i; zero where there is none."""
    slope: float = -0.5 * root[i] * dimerisation[i, 2] / (temperature * temperature)
    return slope


@kernel(
    float64(
        float64,
        float64[::1],
        BOILING_TYPE,
        float64[:, ::1],
        float64[::1],
        float64[::1],
        float64[:, ::1],
        float64[::1],
        float64[:, ::1],
    )
)
def boil(  # noqa: C901, PLR0912, PLR0915 -- value and derivatives share every term
    temperature: float,
    moles: Floats,
    mixture: BoilingArrays,
    scratch: Floats,
    y: Floats,
    d_pressure: Floats,
    d_y: Floats,
    flow: Floats,
    d_x: Floats,
) -> float:
    """Return the pressure over a liquid; write the vapour, and derivatives if there is room.

    Partial pressures are continued straight through zero moles, so that a trace which the
    integrator has made slightly negative is driven back.

    Args:
        temperature: [K].
        moles: (C,) liquid [mol]; at least one positive.
        mixture: from `boiling_arrays` [SI].
        scratch: (9 + 2 C, max(C, G)) working space [any].
        y: (C,) result: vapour mole fractions, a dimer counted as two molecules [-].
        d_pressure: (C + 1,) result: dP/dn_k at constant T [Pa/mol], then dP/dT [Pa/K].
        d_y: (C, C + 1) result: dy_i/dn_k [1/mol] and dy_i/dT [1/K].
        flow: (C,) working space [any].
        d_x: (C, C) working space [any]; with no rows the derivatives are not calculated.

    Returns:
        Pressure [Pa].

    Validity:
        As `forerun.equilibrium.kernels.bubble_pressure`: up to about 2 bar.

    Source:
        Fredenslund, Jones & Prausnitz, AIChE J. 21 (1975) 1086, doi:10.1002/aic.690210607;
        Marek & Standart, Collect. Czech. Chem. Commun. 19 (1954) 1074,
        doi:10.1135/cccc19541074; derivatives: own differentiation, tested against differences.
    """
    components = moles.shape[0]
    slopes = d_x.shape[0] > 0
    temperature = min(max(temperature, _COLDEST), _HOTTEST)
    top = scratch.shape[0] - 4
    x, ln_g, d_t, root = (
        scratch[top, :components],
        scratch[top + 1, :components],
        scratch[top + 2, :components],
        scratch[top + 3, :components],
    )
    amount = 0.0
    for i in range(components):
        amount += max(moles[i], 0.0)
    inverse = 1.0 / max(amount, _NOTHING)
    for i in range(components):
        x[i] = max(moles[i], 0.0) * inverse if amount > _NOTHING else 1.0 / components
    _activity(temperature, x, mixture, scratch, ln_g, d_x, d_t)
    ln_temperature = math.log(temperature)
    pressure, paired = 0.0, 0.0
    for i in range(components):
        fit = mixture.vapour_pressure
        a, b, c, d = fit[i, 0], fit[i, 1], fit[i, 2], fit[i, 3]
        low, high = fit[i, 4], fit[i, 5]
        if low <= temperature <= high:
            ln_p = a + b / temperature + c * ln_temperature + d * temperature
            ln_p_t = (-b / temperature + c) / temperature + d
        else:  # straight in 1/T beyond the range of the fit
            edge = min(max(temperature, low), high)
            slope = b - c * edge - d * edge * edge
            ln_p = a + b / edge + c * math.log(edge) + d * edge
            ln_p += slope * (1.0 / temperature - 1.0 / edge)
            ln_p_t = -slope / (temperature * temperature)
        p = math.exp(ln_p)
        root[i] = 0.0
        if mixture.dimerisation[i, 0] != 0.0:
            constant = math.exp(
                mixture.dimerisation[i, 1] + mixture.dimerisation[i, 2] / temperature
            )
            wide = math.sqrt(1.0 + 4.0 * constant * p)
            # monomer over the pure liquid: 2 p / (1 + wide); its logarithm falls with ln(K p)
            damping = 2.0 * constant * p / (wide * (1.0 + wide))
            ln_k_t = -mixture.dimerisation[i, 2] / (temperature * temperature)
            p = 2.0 * p / (1.0 + wide)
            ln_p_t -= damping * (ln_p_t + ln_k_t)
            root[i] = math.sqrt(constant)
        # moles to partial pressure: p_i = n_i strength_i
        d_t[i] += ln_p_t
        flow[i] = math.exp(ln_g[i]) * p * inverse
        y[i] = moles[i] * flow[i]
        pressure += y[i]
        paired += root[i] * y[i]
    if slopes:
        for i in range(components):
            p_i = y[i]
            for k in range(components):
                d_y[i, k] = p_i * inverse * (d_x[i, k] - 1.0)
            d_y[i, i] += flow[i]
            d_y[i, components] = p_i * d_t[i]
    if paired != 0.0:  # the pressure counts a dimer once, the moles twice
        if slopes:
            for k in range(components + 1):
                column = 0.0
                for i in range(components):
                    column += root[i] * d_y[i, k]
                    if k == components:
                        column += _root_slope(temperature, i, mixture.dimerisation, root) * y[i]
                d_pressure[k] = column
            for i in range(components):
                for k in range(components + 1):
                    d_y[i, k] *= 1.0 + 2.0 * root[i] * paired
                    d_y[i, k] += 2.0 * y[i] * root[i] * d_pressure[k]
                bend = _root_slope(temperature, i, mixture.dimerisation, root)
                d_y[i, components] += 2.0 * y[i] * bend * paired
        for i in range(components):
            y[i] *= 1.0 + 2.0 * root[i] * paired
    elif slopes:
        for k in range(components + 1):
            d_pressure[k] = 0.0
    total = pressure + 2.0 * paired * paired
    if slopes:
        for k in range(components + 1):
            column = 0.0
            for i in range(components):
                column += d_y[i, k]
            d_pressure[k] = column - 2.0 * paired * d_pressure[k]
            for i in range(components):
                d_y[i, k] = (d_y[i, k] - y[i] / total * column) / total
    for i in range(components):
        y[i] /= total
    return pressure + paired * paired
