"""Pure liquids as the compiled kernels see them: one named tuple of plain arrays."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.numerics.signatures import record
from forerun.substances.model import Substance

__all__ = ["LIQUIDS_TYPE", "LiquidArrays", "liquid_arrays"]

Floats = npt.NDArray[np.float64]


class LiquidArrays(NamedTuple):
    """Pure-liquid constants of C components.

    Args:
        molar_mass: (C,) [kg/mol].
        heat_capacity: (C, 2) c0 [J/mol/K], c1 [J/mol/K2] of c0 + c1 (T - 298.15 K).
        latent_heat: (C, 4) value [J/mol], reference temperature [K], critical temperature [K],
            exponent [-] of Watson's rule.
        molar_volume: (C, 3) v0 [m3/mol], v1 [m3/mol/K], v2 [m3/mol/K2] in t = T - 293.15 K.
        melting_point: (C,) [K]; not-a-number where none is known, so that no comparison holds.
    """

    molar_mass: Floats
    heat_capacity: Floats
    latent_heat: Floats
    molar_volume: Floats
    melting_point: Floats


LIQUIDS_TYPE = record(LiquidArrays, "C", "C 2", "C 4", "C 3", "C")


def liquid_arrays(substances: Sequence[Substance]) -> LiquidArrays:
    """Return the arrays of some substances, in their order.

    Args:
        substances: C of them, from the catalogue.

    Returns:
        C-contiguous float64 arrays as `LiquidArrays` says.
    """
    heats = [
        (
            s.latent_heat.value,
            s.latent_heat.reference_temperature,
            s.critical_temperature.value,
            s.latent_heat.exponent,
        )
        for s in substances
    ]
    melting = [np.nan if s.melting_point is None else s.melting_point.value for s in substances]
    volumes = [(s.molar_volume.v0, s.molar_volume.v1, s.molar_volume.v2) for s in substances]
    return LiquidArrays(
        np.array([s.molar_mass for s in substances]),
        np.array([(s.heat_capacity.c0, s.heat_capacity.c1) for s in substances]).reshape(-1, 2),
        np.array(heats).reshape(-1, 4),
        np.array(volumes).reshape(-1, 3),
        np.array(melting),
    )
