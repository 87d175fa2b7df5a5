"""What a mixture is to the kernels of the still, and what they write when it boils."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.numerics.signatures import float64, record

__all__ = [
    "BOILED_TYPE",
    "BOILING_TYPE",
    "ENTHALPY_UNIT",
    "LATENT_LOWEST",
    "REFERENCE_TEMPERATURE",
    "Boiled",
    "BoilingArrays",
    "boiled_for",
]

Floats = npt.NDArray[np.float64]

ENTHALPY_UNIT = 4e4  # J/mol, the size of a latent heat
REFERENCE_TEMPERATURE = 298.15  # K, where heat capacities are given and enthalpy is zero
LATENT_LOWEST = 180.0  # K, where the table of latent heats begins; its intervals are of 1 K


class BoilingArrays(NamedTuple):
    """A mixture arranged for the still; C components, M models of any weight, G groups of any use.

    P = M G places hold one group of one model each.

    Args:
        vapour_pressure: (C, 6) as in `MixtureArrays`.
        dimerisation: (C, 3) as in `MixtureArrays`.
        grid: (2,) lowest temperature and width of an interval of `table` [K].
        table: (N, 4, C P + C) cubics in the place inside an interval: for each component and
            place the surface of its groups times psi, s_ig [-]; then for each component the
            weighted sum of ln Gamma of the pure liquid [-].
        areas: (C, P) surface in each place [-].
        weight: (P,) share of the place's model [-].
        models: (M, 1 + 6 C) share of the model, then of the components r, q, r**exponent,
            ln r**exponent, ln(r/q) and the sum of the surfaces [-].
        pair_correction: (C, C, K, 2) as in `MixtureArrays`.
        latent: (L, 4, C) cubics for the latent heats [`ENTHALPY_UNIT`] over intervals of 1 K.
        gap_grid: (4,) as `grid`, of `gap` [K]; then ln(x1/x2) from which either liquid counts as
            saturated although it holds less, beyond all reach where it is the gap that counts [-].
        gap: (L, 4, 4) cubics for the two liquids of a pair: ln(x1/x2) of one and of the other [-],
            ln activity of the first and of the second in both [-]; not-a-number where the pair
            mixes; no rows where it always does, or where there are more than two components.
        diluent: what does not distil, in the pot [mol].
        plane, plane_grid: activities of a pair that is one liquid, and where they stand, from
            `activity_plane` [-; K and -]; no intervals for all else.
    """

    vapour_pressure: Floats
    dimerisation: Floats
    grid: Floats
    table: Floats
    areas: Floats
    weight: Floats
    models: Floats
    pair_correction: Floats
    latent: Floats
    gap_grid: Floats
    gap: Floats
    diluent: float
    plane: Floats
    plane_grid: Floats


BOILING_TYPE = record(
    BoilingArrays,
    *("C 6", "C 3", "2", "* 4 *", "C *", "*", "* *", "C C * 2", "* 4 C", "4", "* 4 4"),
    float64,
    "* * 2 4 4",
    "3",
)


class Boiled(NamedTuple):
    """What `forerun.still.boiling.boil` writes of S stages, and its working space; B = C + 1.

    Args:
        temperature: (S,) given to it [K].
        over: (S,) pressure over the liquid [Pa].
        y: (S, C) vapour mole fractions, a dimer counted as two molecules [-].
        latent: (2, S, C) latent heats and their slopes [E/mol, E/mol/K].
        d_over: (S, B) dP/dn_k at constant T [Pa/mol], then dP/dT [Pa/K].
        d_y: (S, C, B) dy_i/dn_k [1/mol] and dy_i/dT [1/K].
        looked: (2, K) a line of the table and its slope [as `BoilingArrays.table`].
        places: (8, P) sums over the groups [-].
        each: (8, C) of each component [any].
        d_x: (C, C) N d ln gamma_i / d n_k [-].
        turned: (C, P) s_ig over S_g [-].
    """

    temperature: Floats
    over: Floats
    y: Floats
    latent: Floats
    d_over: Floats
    d_y: Floats
    looked: Floats
    places: Floats
    each: Floats
    d_x: Floats
    turned: Floats


BOILED_TYPE = record(
    Boiled,
    *("S", "S", "S C", "2 S C", "S B", "S C B", "2 *", "8 *", "8 C", "C C", "C *"),
)


def boiled_for(stages: int, mixture: BoilingArrays) -> Boiled:
    """Return space for what `boil` writes.

    Args:
        stages: S [-].
        mixture: from `boiling_arrays` [SI].

    Returns:
        Zeros of the shapes of `Boiled` [any]. Valid for any mixture.

    Not a published model: storage.
    """
    components, places = mixture.areas.shape
    b = components + 1
    return Boiled(
        temperature=np.zeros(stages),
        over=np.zeros(stages),
        y=np.zeros((stages, components)),
        latent=np.zeros((2, stages, components)),
        d_over=np.zeros((stages, b)),
        d_y=np.zeros((stages, components, b)),
        looked=np.zeros((2, mixture.table.shape[2])),
        places=np.zeros((8, places)),
        each=np.zeros((8, components)),
        d_x=np.zeros((components, components)),
        turned=np.zeros((components, places)),
    )
