"""A printed heteroazeotrope as rows of a fit, without anybody having measured its two liquids.

Two liquids that boil together hold each component at one activity, and both activities follow
from the model: so do the pressure at the printed temperature and the vapour.  When a coefficient
changes, the layers move as well; how they move follows from the equality of activities by the
implicit function theorem, so that rows are straight in the coefficients about a fit that went
before.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.fitting_model import (
    MOST_TERMS,
    REFERENCE_TEMPERATURE,
    redlich_kister_design,
)
from forerun.equilibrium.kernels import ln_activity
from forerun.equilibrium.liquid_liquid import miscibility_gap

__all__ = ["MovingLayer", "corrected_arrays", "moving_layer"]

Floats = npt.NDArray[np.float64]

_STEP = 1e-4  # share of the lesser mole fraction, half the step of a central difference


@dataclass(frozen=True, slots=True, eq=False)
class MovingLayer:
    """One of two liquids in equilibrium, and how it answers to the coefficients.

    Args:
        fraction: mole fraction of the first component in it [-].
        slope: (10,) derivatives by a0, b0, a1, … [-].
        purest: share of the main component in the purer of the two liquids [-].
        main: which component that is, 0 or 1.
    """

    fraction: float
    slope: Floats
    purest: float
    main: int


def corrected_arrays(mixture: MixtureArrays, terms: Floats) -> MixtureArrays:
    """Return a pair with a correction of its own in place of the one it carries.

    Args:
        mixture: arrays of two components.
        terms: (K, 2) a, b of A_k = a + b (350 K/T - 1) [-], K <= 5.

    Returns:
        The same arrays but for the correction. Not a published model.
    """
    correction = np.zeros((2, 2, MOST_TERMS, 2))
    correction[0, 1, : terms.shape[0]] = terms
    return mixture._replace(pair_correction=correction)


def moving_layer(temperature_K: float, mixture: MixtureArrays, terms: Floats) -> MovingLayer | None:
    """Return the liquid less pure of the two into which a corrected pair parts.

    Args:
        temperature_K: [K].
        mixture: arrays of two components; their pair correction is left out.
        terms: (K, 2) coefficients about which it is taken [-], K <= 5.

    Returns:
        The layer with its derivatives; None where the corrected pair mixes.

    Raises:
        BadInput: not two components.

    Source:
        Derivation: with A(x) = (ln a1, ln a2), A(poor) = A(rich) is differentiated by the
        coefficients c at fixed temperature: A'(poor) dp - A'(rich) dr = (G(rich) - G(poor)) dc,
        where G is d ln gamma/dc of Redlich & Kister, Ind. Eng. Chem. 40 (1948) 345,
        doi:10.1021/ie50458a036.
    """
    pair = corrected_arrays(mixture, terms)
    gap = miscibility_gap(temperature_K, pair)
    if gap is None:
        return None
    ends = np.array([gap.first[0], gap.second[0]])
    tilt = REFERENCE_TEMPERATURE / temperature_K - 1.0
    design = redlich_kister_design(ends, MOST_TERMS)
    design = np.stack([design, tilt * design], axis=3).reshape(2, 2, 2 * MOST_TERMS)
    across = np.stack(
        [_across(temperature_K, gap.first, pair), -_across(temperature_K, gap.second, pair)], axis=1
    )
    moved = np.linalg.solve(across, design[1] - design[0])
    lesser = np.array([gap.first.min(), gap.second.min()])
    here, other = (1, 0) if lesser[1] >= lesser[0] else (0, 1)
    return MovingLayer(
        float(ends[here]), moved[here], float(1.0 - lesser[other]), 0 if other == 1 else 1
    )


def _across(temperature: float, x: Floats, pair: MixtureArrays) -> Floats:
    """D ln a/dx1 of both components, (2,)."""
    step = _STEP * float(x.min())
    scratch = scratch_for(pair)
    sides = []
    for sign in (1.0, -1.0):
        place = x + sign * step * np.array([1.0, -1.0])
        ln_gamma = np.zeros(2)
        ln_activity(temperature, place, pair, scratch, ln_gamma)
        sides.append(ln_gamma + np.log(place))
    slope: Floats = (sides[0] - sides[1]) / (2.0 * step)
    return slope
