"""Pressure over the liquid of every stage, with all its derivatives, compiled.

The same equations as `forerun.equilibrium.kernels.bubble_pressure` (held equal by a test),
arranged for a Jacobian.  Of a pair that always mixes the models' activities stand in a table over
composition and temperature, see `forerun.still.activity_plane`; of all others they are worked out
from the groups each time.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void
from forerun.still.activity_plane import look_up
from forerun.still.boiling_groups import by_groups
from forerun.still.boiling_pairs import add_pairs
from forerun.still.boiling_type import (
    BOILED_TYPE,
    BOILING_TYPE,
    LATENT_LOWEST,
    Boiled,
    BoilingArrays,
)

__all__ = ["boil"]

Floats = npt.NDArray[np.float64]

_TRACE = 1e-300
_HOTTEST, _COLDEST = 1500.0, 100.0  # K, keeps exponents finite in a step that will be rejected
_SOFT = 0.4  # in ln(x1/x2): half the width over which a liquid becomes saturated
_NOWHERE = 1e9  # beyond half of this nothing is softened
_BLEND = 0.02  # in ln(x1/x2): how far inside a gap two liquids are taken in full
_OWED = 1e-3  # of its vapour pressure: less than nothing never takes off more, a choice
_NOTHING = 1e-30  # mol: a stage without liquid, met only in a step that will be rejected


@kernel(void(int64, float64, int64, BOILING_TYPE, BOILED_TYPE), fast=True)
def _tie(  # noqa: PLR0912, PLR0915 -- value and derivatives share every term
    n: int, s: float, slopes: int, mixture: BoilingArrays, at: Boiled
) -> None:
    """Put the activities of a tie line into `each` and `d_x` where a pair stands as two liquids."""
    each, d_x, gap = at.each, at.d_x, mixture.gap
    low = ((gap[n, 3, 0] * s + gap[n, 2, 0]) * s + gap[n, 1, 0]) * s + gap[n, 0, 0]
    high = ((gap[n, 3, 1] * s + gap[n, 2, 1]) * s + gap[n, 1, 1]) * s + gap[n, 0, 1]
    x_0, x_1 = max(each[0, 0], _TRACE), max(each[0, 1], _TRACE)
    logit = math.log(x_0 / x_1)
    # which of the two liquids is more: the one poor in the first component, or in the second
    poor = 0 if 2.0 * logit < low + high else 1
    edge = high if poor else low
    soft = mixture.gap_grid[2 + poor]
    softened = -0.5 * _NOWHERE < soft < 0.5 * _NOWHERE
    if not (softened or low < logit < high):
        return
    edge_t = (
        (3.0 * gap[n, 3, poor] * s + 2.0 * gap[n, 2, poor]) * s + gap[n, 1, poor]
    ) / mixture.gap_grid[1]
    if softened:
        # f: ln activity of the poor component under its value at saturation; g: how far the other
        # one is that of the single liquid; u: how far from saturation, falling outwards
        u = soft - logit if poor else logit - soft
        f, f_u, g, g_u = 0.0, 0.0, 0.0, 0.0
        if u < -_SOFT:
            f, f_u, g = u, 1.0, 1.0
        elif u < _SOFT:
            part = (_SOFT - u) / (2.0 * _SOFT)
            f, f_u = -part * part * _SOFT, part
            g, g_u = part * part * (3.0 - 2.0 * part), -3.0 * part * (1.0 - part) / _SOFT
        rich = 1 - poor
        x_poor, x_rich = (x_1, x_0) if poor else (x_0, x_1)
        # ln of the rich one's fraction at the gap, and its slope with temperature
        away = -edge if poor else edge
        ln_rich = -math.log1p(math.exp(away))
        rich_t = -math.exp(away + ln_rich) * (-edge_t if poor else edge_t)
        for i in range(2):
            tied = ((gap[n, 3, 2 + i] * s + gap[n, 2, 2 + i]) * s + gap[n, 1, 2 + i]) * s + gap[
                n, 0, 2 + i
            ]
            tied_t = (
                (3.0 * gap[n, 3, 2 + i] * s + 2.0 * gap[n, 2, 2 + i]) * s + gap[n, 1, 2 + i]
            ) / mixture.gap_grid[1]
            if i == poor:
                # u - ln x_poor = -ln x_rich - |soft|, which stays finite where nothing is left
                if f_u == 1.0:
                    each[1, i] = tied - math.log(x_rich) + (soft if poor else -soft)
                else:
                    each[1, i] = tied + f - math.log(x_poor)
            else:
                each[1, i] = tied - g * ln_rich - (1.0 - g) * math.log(x_rich)
            if slopes:
                each[2, i] = tied_t if i == poor else tied_t - g * rich_t
        if slopes:
            gone = 0.0 if f_u == 1.0 else (f_u - 1.0) / x_poor
            d_x[poor, poor] = gone + 1.0
            d_x[poor, rich] = 1.0 - f_u / x_rich
            apart = math.log(x_rich) - ln_rich
            d_x[rich, poor] = 1.0 - g + (g_u * apart / x_poor if g_u != 0.0 else 0.0)
            d_x[rich, rich] = (g - 1.0) / x_rich + 1.0 - g - g_u * apart / x_rich
        return
    # just inside the gap the two answers are blended, so that nothing jumps where a table and an
    # equation part in the fifth digit
    inside_by = high - logit if poor else logit - low
    mix, mix_l = 1.0, 0.0
    if inside_by < _BLEND:
        part = inside_by / _BLEND
        mix = part * part * (3.0 - 2.0 * part)
        mix_l = 6.0 * part * (1.0 - part) / _BLEND
        if poor:
            mix_l = -mix_l
    for i in range(2):
        x_i = x_1 if i else x_0
        tied = ((gap[n, 3, 2 + i] * s + gap[n, 2, 2 + i]) * s + gap[n, 1, 2 + i]) * s + gap[
            n, 0, 2 + i
        ]
        more = tied - math.log(x_i) - each[1, i]
        each[1, i] += mix * more
        if slopes:
            tied_t = (
                (3.0 * gap[n, 3, 2 + i] * s + 2.0 * gap[n, 2, 2 + i]) * s + gap[n, 1, 2 + i]
            ) / mixture.gap_grid[1]
            each[2, i] += mix * (tied_t - each[2, i]) - more * mix_l * edge_t
            for k in range(2):  # x gamma does not change with the amounts
                d_x[i, k] += mix * (1.0 - d_x[i, k])
            d_x[i, i] -= mix / x_i
            d_x[i, 0] += more * mix_l / x_0
            d_x[i, 1] -= more * mix_l / x_1


@kernel(
    void(int64, int64, int64, float64[:, ::1], BOILING_TYPE, BOILED_TYPE), fast=True, inline=True
)
def boil(  # noqa: C901, PLR0912, PLR0915 -- value and derivatives share every term
    first: int, end: int, slopes: int, moles: Floats, mixture: BoilingArrays, at: Boiled
) -> None:
    """Write the pressure over the liquids of some stages, the vapour, and derivatives if wanted.

    Partial pressures are continued straight through zero moles, so that a trace which the
    integrator has made slightly negative is driven back; further down they level off.

    Args:
        first, end: stages from the first to the one before the end [-].
        slopes: 1 with derivatives, 0 without [-].
        moles: (S, C) or wider, the first C count [mol].
        mixture: from `boiling_arrays` [SI].
        at: its `temperature` is read, the rest is written [see `Boiled`].

    Validity:
        As `forerun.equilibrium.kernels.bubble_pressure`: up to about 2 bar.

    Source:
        Fredenslund, Jones & Prausnitz, AIChE J. 21 (1975) 1086, doi:10.1002/aic.690210607;
        Marek & Standart, Collect. Czech. Chem. Commun. 19 (1954) 1074,
        doi:10.1135/cccc19541074; derivatives: own differentiation, tested against differences.
    """
    c = mixture.vapour_pressure.shape[0]
    planes = mixture.plane.shape[0]
    pairs = mixture.pair_correction
    each, d_x = at.each, at.d_x
    out_y, d_y, d_over, latent = at.y, at.d_y, at.d_over, at.latent
    # rows of `each`: x, ln gamma, its slope in T, flow; the rest belongs to `streams`
    fit, dimer, heats = mixture.vapour_pressure, mixture.dimerisation, mixture.latent
    gap_lines = mixture.gap.shape[0]
    for j in range(first, end):
        temperature = min(max(at.temperature[j], _COLDEST), _HOTTEST)
        # less than nothing, where a stiff method looks beyond an empty plate, is seen in a mirror
        total, amount = 0.0, 0.0
        for i in range(c):
            total += moles[j, i]
        sign = -1.0 if total < 0.0 and j > 0 else 1.0
        for i in range(c):
            amount += max(sign * moles[j, i], 0.0)
        inverse = sign / max(amount, _NOTHING)
        # a diluent in the pot thins the liquid; among themselves its liquids are as ever
        thin = sign / max(amount + (mixture.diluent if j == 0 else 0.0), _NOTHING)
        for i in range(c):
            full = amount > _NOTHING
            each[0, i] = max(sign * moles[j, i], 0.0) * sign * inverse if full else 1.0 / c
        if c == 2 and planes > 0:
            look_up(temperature, slopes, mixture.plane, mixture.plane_grid, each, d_x)
        else:
            by_groups(temperature, slopes, mixture, at)
        add_pairs(temperature, slopes, each, pairs, d_x)

        # two liquids: the activities are those of their tie line, whatever the amounts
        if gap_lines > 0:
            spot = (temperature - mixture.gap_grid[0]) / mixture.gap_grid[1]
            if 0.0 <= spot < gap_lines:
                _tie(int(spot), spot - int(spot), slopes, mixture, at)

        # latent heats, pressure and vapour; rows 4 to 7 of `each`: d ln p/dT, root, its slope, bend
        spot = min(max(temperature - LATENT_LOWEST, 0.0), float(heats.shape[0]))
        n = min(int(spot), heats.shape[0] - 1) if spot >= 0.0 else 0
        s = spot - n
        ln_temperature, cold = math.log(temperature), 1.0 / temperature
        pressure, paired = 0.0, 0.0
        for i in range(c):
            latent[0, j, i] = (
                (heats[n, 3, i] * s + heats[n, 2, i]) * s + heats[n, 1, i]
            ) * s + heats[n, 0, i]
            latent[1, j, i] = (3.0 * heats[n, 3, i] * s + 2.0 * heats[n, 2, i]) * s + heats[n, 1, i]
            low, high = fit[i, 4], fit[i, 5]
            if low <= temperature <= high:
                ln_p = fit[i, 0] + fit[i, 1] * cold + fit[i, 2] * ln_temperature
                ln_p += fit[i, 3] * temperature
                ln_p_t = (fit[i, 2] - fit[i, 1] * cold) * cold + fit[i, 3]
            else:  # straight in 1/T beyond the range of the fit
                edge = min(max(temperature, low), high)
                bend = fit[i, 1] - fit[i, 2] * edge - fit[i, 3] * edge * edge
                ln_p = fit[i, 0] + fit[i, 1] / edge + fit[i, 2] * math.log(edge) + fit[i, 3] * edge
                ln_p += bend * (cold - 1.0 / edge)
                ln_p_t = -bend * cold * cold
            each[5, i] = 0.0
            each[6, i] = 0.0
            monomer = 1.0
            if dimer[i, 0] != 0.0:
                constant = math.exp(dimer[i, 1] + dimer[i, 2] * cold)
                bound = constant * math.exp(ln_p)
                wide = math.sqrt(1.0 + 4.0 * bound)
                # monomer over the pure liquid: 2 p / (1 + wide); its logarithm falls with ln(K p)
                ln_k_t = -dimer[i, 2] * cold * cold
                ln_p_t -= 2.0 * bound / (wide * (1.0 + wide)) * (ln_p_t + ln_k_t)
                monomer = 2.0 / (1.0 + wide)
                each[5, i] = math.sqrt(constant)
                each[6, i] = 0.5 * each[5, i] * ln_k_t
            each[4, i] = ln_p_t
            # moles to partial pressure: p_i = n_i flow_i
            each[3, i] = math.exp(each[1, i] + ln_p) * monomer * thin
            out_y[j, i] = moles[j, i] * each[3, i]
            each[7, i] = 1.0
            if out_y[j, i] < 0.0:
                # straight from zero on, then level: where an activity coefficient is a thousand,
                # what an error leaves below nothing would hold the pressure down by as much again
                least = _OWED * math.exp(ln_p) * monomer
                beyond = math.expm1(out_y[j, i] / least)
                each[7, i] = 1.0 + beyond
                out_y[j, i] = least * beyond
            pressure += out_y[j, i]
            paired += each[5, i] * out_y[j, i]
        if slopes:
            for i in range(c):
                flow = each[7, i] * each[3, i]  # less than it, where less than nothing levels off
                straight = moles[j, i] * flow
                for k in range(c):
                    d_y[j, i, k] = straight * (inverse * d_x[i, k] - thin)
                d_y[j, i, i] += flow
                d_y[j, i, c] = straight * each[2, i] + out_y[j, i] * each[4, i]
        if paired != 0.0:  # the pressure counts a dimer once, the moles twice
            if slopes:
                for k in range(c + 1):
                    column = 0.0
                    for i in range(c):
                        column += each[5, i] * d_y[j, i, k]
                        if k == c:
                            column += each[6, i] * out_y[j, i]
                    d_over[j, k] = column
                for i in range(c):
                    root = each[5, i]
                    for k in range(c + 1):
                        d_y[j, i, k] *= 1.0 + 2.0 * root * paired
                        d_y[j, i, k] += 2.0 * out_y[j, i] * root * d_over[j, k]
                    d_y[j, i, c] += 2.0 * out_y[j, i] * each[6, i] * paired
            for i in range(c):
                out_y[j, i] *= 1.0 + 2.0 * each[5, i] * paired
        elif slopes:
            for k in range(c + 1):
                d_over[j, k] = 0.0
        total = 1.0 / (pressure + 2.0 * paired * paired)
        if slopes:
            for k in range(c + 1):
                column = 0.0
                for i in range(c):
                    column += d_y[j, i, k]
                d_over[j, k] = column - 2.0 * paired * d_over[j, k]
                column *= total
                for i in range(c):
                    d_y[j, i, k] = (d_y[j, i, k] - out_y[j, i] * column) * total
        for i in range(c):
            out_y[j, i] *= total
        at.over[j] = pressure + paired * paired
