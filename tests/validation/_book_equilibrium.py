"""A book's own equilibrium table as the equilibrium of the dynamic still."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MixtureArrays
from laws.stills import ideal_mixture

Floats = npt.NDArray[np.float64]

_TERMS = 7


def _columns(x: Floats) -> Floats:
    """Return d/dx1 of x1 x2 (x1 - x2)^k, k = 0 ... : what each term adds to ln(gamma1/gamma2)."""
    d = 2.0 * x - 1.0
    product = x * (1.0 - x)
    columns = []
    for k in range(_TERMS):
        slope = 2.0 * k * d ** (k - 1) if k else np.zeros_like(x)
        columns.append((1.0 - 2.0 * x) * d**k + product * slope)
    return np.column_stack(columns)


def mixture_of_table(x: npt.ArrayLike, y: npt.ArrayLike, boiling_K: list[float]) -> MixtureArrays:
    """Return a mixture whose vapour is that of a table at one pressure.

    The two stand-ins have one latent heat, so that their volatilities keep one ratio; the terms
    of the pair correction, independent of temperature, bend it to that of the table.

    Args:
        x: (n,) liquid mole fractions of the first, between 0 and 1 [-].
        y: (n,) vapour mole fractions [-].
        boiling_K: of the two stand-ins [K]; only y(x) matters to the amounts.

    Returns:
        Arrays for the kernels; the vapour of the table within 0.004 (asserted).
    """
    liquid, vapour = np.array(x, dtype=float), np.array(y, dtype=float)
    inner = (liquid > 0.0) & (liquid < 1.0)
    liquid, vapour = liquid[inner], vapour[inner]
    said = np.log(vapour / (1.0 - vapour) * (1.0 - liquid) / liquid)
    weight = vapour * (1.0 - vapour)  # dy = y (1 - y) d ln(alpha)
    columns = np.column_stack([np.ones_like(liquid), _columns(liquid)])
    found, *_ = np.linalg.lstsq(columns * weight[:, None], said * weight, rcond=None)
    alpha = np.exp(columns @ found) * liquid / (1.0 - liquid)
    assert np.abs(alpha / (1.0 + alpha) - vapour).max() < 0.004
    latent = found[0] * 8.314462618 / (1.0 / boiling_K[0] - 1.0 / boiling_K[1])
    terms = np.zeros((2, 2, _TERMS, 2))
    terms[0, 1, :, 0] = found[1:]
    return ideal_mixture(boiling_K, latent)._replace(pair_correction=terms)
