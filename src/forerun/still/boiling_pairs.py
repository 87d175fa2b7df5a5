"""Fitted corrections of pairs in the liquid of a stage, with all their derivatives, compiled."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void

__all__ = ["add_pairs"]

Floats = npt.NDArray[np.float64]

_REFERENCE_TEMPERATURE = 350.0  # K, as in `equilibrium.kernels`


@kernel(
    void(float64, int64, float64[:, ::1], float64[:, :, :, ::1], float64[:, ::1]),
    fast=True,
    inline=True,
)
def add_pairs(
    temperature: float, slopes: int, each: Floats, pair_correction: Floats, d_x: Floats
) -> None:
    """Add Redlich-Kister terms to ln gamma, and to its derivatives if they are wanted.

    The excess energy g(x) has the Hessian H; ln gamma of the extensive N g has the derivatives
    N d ln gamma_i / d n_k = H_ik - u_i - u_k + x.u with u = H x.

    Args:
        temperature: [K].
        slopes: 1 with derivatives, 0 without [-].
        each: (3 or more, C) mole fractions, ln gamma and its slope in temperature [-, -, 1/K];
            the last two are added to.
        pair_correction: (C, C, K, 2) as in `MixtureArrays`.
        d_x: (C, C) N d ln gamma_i / d n_k, added to [-].

    Validity:
        That of the fits.

    Source:
        Redlich & Kister, Ind. Eng. Chem. 40 (1948) 345, doi:10.1021/ie50458a036; derivatives: own
        differentiation, tested against differences.
    """
    components, terms = pair_correction.shape[1], pair_correction.shape[2]
    tilt = _REFERENCE_TEMPERATURE / temperature - 1.0
    bend = -_REFERENCE_TEMPERATURE / (temperature * temperature)
    shift = 0.0
    shift_t = 0.0
    touched = False
    for i in range(components):
        for j in range(i + 1, components):
            x_i, x_j = each[0, i], each[0, j]
            d = x_i - x_j
            value, slope, curve = 0.0, 0.0, 0.0
            value_t, slope_t = 0.0, 0.0
            for k in range(terms - 1, -1, -1):
                b = pair_correction[i, j, k, 1]
                curve = curve * d + 2.0 * slope
                slope = slope * d + value
                value = value * d + pair_correction[i, j, k, 0] + b * tilt
                slope_t = slope_t * d + value_t
                value_t = value_t * d + b * bend
            if value == 0.0 and slope == 0.0 and value_t == 0.0:
                continue
            touched = True
            product = x_i * x_j
            each[1, i] += x_j * value + product * slope
            each[1, j] += x_i * value - product * slope
            shift += product * (value + d * slope)
            if slopes:
                each[2, i] += x_j * value_t + product * slope_t
                each[2, j] += x_i * value_t - product * slope_t
                shift_t += product * (value_t + d * slope_t)
                h_ii = 2.0 * x_j * slope + product * curve
                h_jj = -2.0 * x_i * slope + product * curve
                h_ij = value + d * slope - product * curve
                u_i = h_ii * x_i + h_ij * x_j
                u_j = h_ij * x_i + h_jj * x_j
                common = x_i * u_i + x_j * u_j
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
            each[1, i] -= shift
            if slopes:
                each[2, i] -= shift_t
