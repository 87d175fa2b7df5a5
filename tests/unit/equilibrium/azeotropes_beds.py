"""Mixtures made up so that their azeotropes and gaps are known on paper."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from forerun.equilibrium.arrays import MixtureArrays, sizes_of
from forerun.equilibrium.printed import PrintedAzeotrope

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


def printed_row(**changed: Any) -> PrintedAzeotrope:
    """A minimum of A and B at 1 atm of which nothing but the kind is printed, or another."""
    values: dict[str, Any] = {
        "components": ("A", "B"),
        "pressure_Pa": ATMOSPHERE,
        "kind": "minimum",
        "temperature_K": None,
        "mole_fraction": None,
        "liquids": 1,
        "source": "a handbook",
        "provenance": "invented for this test",
    }
    return PrintedAzeotrope(**{**values, **changed})
