"""Stills for the laws: ideal mixtures with exact answers, and a rig that is easy to change."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from forerun.equilibrium.arrays import MixtureArrays, sizes_of
from forerun.still.inputs import StillInput, Stop
from forerun.substances.liquids import LiquidArrays

GAS_CONSTANT = 8.314462618  # J/mol/K, CODATA 2018, exact


def ideal_mixture(boiling_K: list[float], latent_J_mol: float = 32e3) -> MixtureArrays:
    """Return an ideal mixture whose relative volatilities do not depend on temperature."""
    c = len(boiling_K)
    b = -latent_J_mol / GAS_CONSTANT
    vapour = np.zeros((c, 6))
    vapour[:, 0] = np.log(101325.0) - b / np.array(boiling_K)
    vapour[:, 1], vapour[:, 4], vapour[:, 5] = b, 200.0, 700.0
    return MixtureArrays(
        vapour_pressure=vapour,
        weights=np.zeros(1),
        exponents=np.ones(1),
        volumes=np.ones((1, c)),
        surfaces=np.ones((1, c)),
        group_surfaces=np.zeros((1, c, 1)),
        grid=np.array([250.0, 300.0]),
        interaction=np.zeros((1, 4, 1, 1, 1)),
        pure_residual=np.zeros((1, 4, 1, c)),
        pair_correction=np.zeros((c, c, 1, 2)),
        dimerisation=np.zeros((c, 3)),
        sizes=sizes_of(np.ones((1, c)), np.ones((1, c)), np.ones(1)),
    )


def volatility(boiling_K: list[float], latent_J_mol: float = 32e3) -> float:
    """Return the relative volatility of the first over the second component."""
    inverse = 1.0 / boiling_K[0] - 1.0 / boiling_K[1]
    return float(np.exp(-latent_J_mol / GAS_CONSTANT * inverse) ** -1)


def liquids(components: int) -> LiquidArrays:
    """Return liquids of a common kind; every one a little different."""
    k = np.arange(components)
    ones = np.ones(components)
    return LiquidArrays(
        molar_mass=0.08 + 0.01 * k,
        heat_capacity=np.column_stack([170.0 + 10.0 * k, 0.3 * ones]),
        latent_heat=np.column_stack([32e3 * ones, 350.0 * ones, 540.0 + 10.0 * k, 0.38 * ones]),
        molar_volume=np.column_stack([(1.1 + 0.1 * k) * 1e-4, 1.3e-7 * ones, 1e-10 * ones]),
        melting_point=np.full(components, 200.0),
    )


def still(boiling_K: list[float], plates: int = 0, **changes: Any) -> StillInput:
    """Return a run of an equimolar mole of ideal liquids, with any field changed."""
    c = len(boiling_K)
    base = StillInput(
        names=tuple("abcdefgh"[:c]),
        mixture=ideal_mixture(boiling_K),
        liquids=liquids(c),
        charge_mol=np.full(c, 1.0 / c),
        plates=plates,
        holdup_m3=0.5e-6 * plates,
        bath_temperature=np.array([[0.0, 293.15], [1200.0, 385.0], [5400.0, 410.0]]),
        pressure=np.array([[0.0, 101325.0]]),
        stop=Stop(time_s=5400.0, residue_m3=8e-6),
    )
    return replace(base, **changes)


WITHOUT_LOSS: dict[str, Any] = {
    "pot_loss_W_K": 0.0,
    "column_loss_W_K": 0.0,
    "head_loss_W_K": 0.0,
    "head_glass_J_K": 0.0,
    "column_glass_J_K": 0.0,
}
