"""Mixtures made up so that their azeotropes and gaps are known on paper."""

from __future__ import annotations

import math

import numpy as np

from forerun.equilibrium.arrays import MixtureArrays, sizes_of

ATMOSPHERE = 101325.0
SLOPE = 10.6  # L/(R Tb), the same for every made-up liquid


def margules(boiling_points, pairs) -> MixtureArrays:
    """Ideal liquids with Redlich-Kister pairs {(i, j): [A0, A1, …]} that ignore temperature."""
    count = len(boiling_points)
    vapour = np.zeros((count, 6))
    for i, temperature in enumerate(boiling_points):
        vapour[i] = [math.log(ATMOSPHERE) + SLOPE, -SLOPE * temperature, 0.0, 0.0, 100.0, 1000.0]
    correction = np.zeros((count, count, 3, 2))
    for (i, j), terms in pairs.items():
        correction[i, j, : len(terms), 0] = terms
    return MixtureArrays(
        vapour_pressure=vapour,
        weights=np.zeros(1),
        exponents=np.ones(1),
        volumes=np.ones((1, count)),
        surfaces=np.ones((1, count)),
        group_surfaces=np.ones((1, count, 1)),
        grid=np.array([180.0, 1000.0]),
        interaction=np.zeros((1, 4, 1, 1, 1)),
        pure_residual=np.zeros((1, 4, 1, count)),
        pair_correction=correction,
        dimerisation=np.zeros((count, 3)),
        sizes=sizes_of(np.ones((1, count)), np.ones((1, count)), np.ones(1)),
    )
