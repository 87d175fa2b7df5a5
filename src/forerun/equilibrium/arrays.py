"""A mixture as the compiled kernels see it: one named tuple of plain arrays.

C components, M activity models, G main groups (the most that any model needs; unused places
hold zero surface), K terms of the pair correction, N temperature intervals.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.numerics.signatures import record

__all__ = ["MIXTURE_TYPE", "MixtureArrays", "scratch_for", "sizes_of"]

Floats = npt.NDArray[np.float64]

SCRATCH_ROWS = 8


class MixtureArrays(NamedTuple):
    """Everything that a bubble pressure needs.

    Args:
        vapour_pressure: (C, 6) A, B, C, D of ln(P/Pa) = A + B/T + C ln T + D T, then the lowest
            and highest temperature [K] of the fit; beyond them ln P goes on straight in 1/T.
        weights: (M,) share of each activity model in the mean of ln gamma [-].
        exponents: (M,) exponent of r in the combinatorial volume fraction, 1 or 3/4 [-].
        volumes: (M, C) van der Waals volumes r [-].
        surfaces: (M, C) van der Waals surfaces q [-].
        group_surfaces: (M, C, G) surface nu Q that a molecule brings in each main group [-].
        grid: (2,) lowest temperature [K] and width of an interval [K] of the two tables.
        interaction: (N, 4, M, G, G) cubic in s = (T - T_n)/width for psi of row on column [-].
        pure_residual: (N, 4, M, C) the same for the residual ln Gamma of a molecule among its
            own kind [-].
        pair_correction: (C, C, K, 2) a, b of A_k = a + b (350 K/T - 1) for i < j in
            g_E/RT = x_i x_j sum_k A_k (x_i - x_j)^k, added to the models [-].
        dimerisation: (C, 3) flag, A, B of ln(K Pa) = A + B/T for the vapour-phase dimer [-, -, K].
        sizes: (M, 3, C) r**exponent, ln(r**exponent) and ln(r/q), see `sizes_of` [-].
    """

    vapour_pressure: Floats
    weights: Floats
    exponents: Floats
    volumes: Floats
    surfaces: Floats
    group_surfaces: Floats
    grid: Floats
    interaction: Floats
    pure_residual: Floats
    pair_correction: Floats
    dimerisation: Floats
    sizes: Floats


MIXTURE_TYPE = record(MixtureArrays, 2, 1, 1, 2, 2, 3, 1, 5, 4, 4, 2, 3)


def sizes_of(volumes: Floats, surfaces: Floats, exponents: Floats) -> Floats:
    """Return what the combinatorial terms need of the molecules alone, so that kernels do not.

    Args:
        volumes: (M, C) van der Waals volumes r [-].
        surfaces: (M, C) van der Waals surfaces q [-].
        exponents: (M,) exponent of r [-].

    Returns:
        (M, 3, C) r**exponent, ln(r**exponent) and ln(r/q) [-]. Not a published model.
    """
    power = volumes ** exponents[:, None]
    return np.ascontiguousarray(
        np.stack([power, np.log(power), np.log(volumes / surfaces)], axis=1)
    )


def scratch_for(mixture: MixtureArrays) -> Floats:
    """Return working space for one caller of the kernels.

    Args:
        mixture: the mixture that will be worked on.

    Returns:
        (8 + G, max(C, G)) zeros [-]. Not a published model.
    """
    _, components, groups = mixture.group_surfaces.shape
    return np.zeros((SCRATCH_ROWS + groups, max(components, groups)))
