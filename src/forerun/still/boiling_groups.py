"""Activities in the liquid of a stage from the groups of its molecules, with their derivatives.

With Q_g = sum_k x_k q_kg, s_ig = sum_h q_ih psi_hg and S_g = sum_k x_k s_kg the residual part of a
model of the UNIFAC family reads

    ln gamma_i = q_i (1 + ln Q) - sum_g [q_ig ln S_g + s_ig Q_g / S_g] - pure_i

so that only the table of s over temperature is needed, and the derivatives follow in closed form.
All models are taken together: a place p is one group of one model.
"""

from __future__ import annotations

import math

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void
from forerun.still.boiling_type import BOILED_TYPE, BOILING_TYPE, Boiled, BoilingArrays

__all__ = ["by_groups"]

_HALF_COORDINATION = 5.0  # half the lattice coordination number, Abrams & Prausnitz (1975)
_TRACE = 1e-300


@kernel(
    void(float64, int64, BOILING_TYPE, BOILED_TYPE),
    fast=True,
    inline=True,
)
def by_groups(  # noqa: C901, PLR0912, PLR0915 -- value and derivatives share every term
    temperature: float, slopes: int, mixture: BoilingArrays, at: Boiled
) -> None:
    """Write ln gamma of the models, and its derivatives if they are wanted.

    Args:
        temperature: [K].
        slopes: 1 with derivatives, 0 without [-].
        mixture: from `boiling_arrays` [SI].
        at: of its `each` the first row, mole fractions, is read; the next two, ln gamma and its
            slope in temperature, and `d_x` are written [see `Boiled`].

    Validity:
        That of the models; below and above the table they stay as at its end.

    Source:
        Fredenslund, Jones & Prausnitz, AIChE J. 21 (1975) 1086, doi:10.1002/aic.690210607;
        Weidlich & Gmehling, Ind. Eng. Chem. Res. 26 (1987) 1372, doi:10.1021/ie00067a018;
        derivatives: own differentiation, tested against differences.
    """
    c, places = mixture.areas.shape
    models = mixture.models.shape[0]
    lines, _, columns = mixture.table.shape
    table, areas, weight, constants = mixture.table, mixture.areas, mixture.weight, mixture.models
    looked, place, each, d_x, turned = at.looked, at.places, at.each, at.d_x, at.turned
    lowest, width = mixture.grid[0], mixture.grid[1]
    in_pure = c * places
    # rows of `place`: Q_g, S_g, S'_g, ln S_g, Q_g/S_g, weighted
    spot = (temperature - lowest) / width
    inside = 0.0 <= spot <= lines
    spot = min(max(spot, 0.0), lines - 1e-9)
    n = min(int(spot), lines - 1) if spot >= 0.0 else 0  # not-a-number stays one, in s
    s = spot - n
    for k in range(columns):
        looked[0, k] = ((table[n, 3, k] * s + table[n, 2, k]) * s + table[n, 1, k]) * s + table[
            n, 0, k
        ]
    if slopes:
        per_kelvin = 1.0 / width if inside else 0.0
        for k in range(columns):
            looked[1, k] = (
                (3.0 * table[n, 3, k] * s + 2.0 * table[n, 2, k]) * s + table[n, 1, k]
            ) * per_kelvin

    for p in range(places):
        q_p, s_p = 0.0, 0.0
        for i in range(c):
            q_p += each[0, i] * areas[i, p]
            s_p += each[0, i] * looked[0, i * places + p]
        place[0, p] = q_p
        s_p = max(s_p, _TRACE)
        place[1, p] = s_p
        place[3, p] = math.log(s_p)
        place[4, p] = q_p / s_p
    for i in range(c):
        each[1, i] = -looked[0, in_pure + i]
        each[2, i] = 0.0
    if slopes:
        for p in range(places):
            s_t = 0.0
            for i in range(c):
                s_t += each[0, i] * looked[1, i * places + p]
            place[2, p] = s_t / place[1, p]
            place[5, p] = 1.0 / place[1, p]
        for i in range(c):
            each[2, i] = -looked[1, in_pure + i]
            for p in range(places):
                turned[i, p] = looked[0, i * places + p] * place[5, p]
                each[2, i] -= weight[p] * (
                    looked[1, i * places + p] * place[4, p]
                    + (areas[i, p] - looked[0, i * places + p] * place[4, p]) * place[2, p]
                )
            for k in range(i + 1):
                total = 0.0
                for p in range(places):
                    total += weight[p] * (
                        areas[i, p] * turned[k, p]
                        + turned[i, p] * areas[k, p]
                        - place[0, p] * turned[i, p] * turned[k, p]
                    )
                d_x[i, k] = -total
    for i in range(c):
        total = 0.0
        for p in range(places):
            total += weight[p] * (
                areas[i, p] * place[3, p] + looked[0, i * places + p] * place[4, p]
            )
        each[1, i] -= total
    for m in range(models):
        volume, surface, scaled, area = 0.0, 0.0, 0.0, 0.0
        for i in range(c):
            volume += each[0, i] * constants[m, 1 + i]
            surface += each[0, i] * constants[m, 1 + c + i]
            scaled += each[0, i] * constants[m, 1 + 2 * c + i]
            area += each[0, i] * constants[m, 1 + 5 * c + i]
        ln_scaled = math.log(scaled)
        ln_sv = math.log(surface / volume)
        ln_area = math.log(area) if area > 0.0 else 0.0
        share = constants[m, 0]
        for i in range(c):
            w = constants[m, 1 + 2 * c + i] / scaled
            q = constants[m, 1 + c + i]
            rho = constants[m, 1 + i] / volume * surface / q
            each[1, i] += share * (
                1.0
                - w
                + constants[m, 1 + 3 * c + i]
                - ln_scaled
                - _HALF_COORDINATION * q * (1.0 - rho + constants[m, 1 + 4 * c + i] + ln_sv)
                + constants[m, 1 + 5 * c + i] * (1.0 + ln_area)
            )
            if slopes:
                in_area = constants[m, 1 + 5 * c + i] / area if area > 0.0 else 0.0
                for k in range(i + 1):
                    d_x[i, k] += share * (
                        (1.0 - w) * (1.0 - constants[m, 1 + 2 * c + k] / scaled)
                        - _HALF_COORDINATION
                        * q
                        * (1.0 - rho)
                        * (constants[m, 1 + c + k] / surface - constants[m, 1 + k] / volume)
                        + in_area * constants[m, 1 + 5 * c + k]
                    )
    if slopes:
        for i in range(c):
            for k in range(i):
                d_x[k, i] = d_x[i, k]
