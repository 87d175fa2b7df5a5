"""Everything that was weighed, read or analysed as one linear system under the balances.

Unknown: the mass of every component at every place. Measured: charges, masses, volumes,
compositions; the forecast stands in, with wide bands, where nothing was measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

__all__ = ["LOST", "Measured", "System", "solve_system", "system_of"]

Floats = npt.NDArray[np.float64]

LOST = "lost"
"""The place of what evaporated, stayed in joints, or was never accounted for."""


@dataclass(frozen=True, slots=True)
class Measured:
    """One measured number, linear in the unknown masses.

    Args:
        label: in words, e.g. ``mass of cut 2``.
        kind: ``charge``, ``mass``, ``volume``, ``composition`` or ``prior`` (nobody measured it).
        place: receiver or place; empty for a charge.
        weights: (P C,) coefficients of the unknowns, place by place [unit of the value per kg].
        value: [kg, m3 or, for a composition, kg].
        sigma: one standard deviation [as the value].
        fractions: (C,) a of a composition sum a w = share [unit of the share]; empty otherwise.
        share: of a composition [see fractions].
        share_sigma: one standard deviation of the share [as the share].
    """

    label: str
    kind: str
    place: str
    weights: Floats
    value: float
    sigma: float
    fractions: Floats
    share: float = 0.0
    share_sigma: float = 0.0


@dataclass(frozen=True, slots=True)
class System:
    """A solved system.

    Args:
        places: receivers first, then pot, column, trap, lost.
        components: names.
        measured: the rows.
        masses: (P, C) adjusted masses [kg], none negative.
        covariance: (P C, P C) of the masses [kg2].
        adjusted: (R,) every measured value as the adjusted masses give it [as the value].
        residual: (R,) measured minus adjusted, before negative masses were set to zero [as the
            value].
        residual_sigma: (R,) standard deviation of the residual [as the value].
        chi_square: sum of (residual / sigma)^2 [-].
        degrees: rows beyond the unknowns [-].
    """

    places: tuple[str, ...]
    components: tuple[str, ...]
    measured: tuple[Measured, ...]
    masses: Floats
    covariance: Floats
    adjusted: Floats
    residual: Floats
    residual_sigma: Floats
    chi_square: float
    degrees: int


def system_of(
    places: Sequence[str], components: Sequence[str], measured: Sequence[Measured]
) -> System:
    """Return the masses that agree best with everything measured.

    Args:
        places: P places.
        components: C names.
        measured: R rows; together they must determine every unknown.

    Returns:
        The solution; compositions weigh by the mass of their place, found by iteration.

    Source:
        weighted least squares under linear balances: Kuehn & Davidson, Chem. Eng. Prog. 57 (1961)
        44 (from memory). Valid while errors are small enough to be linear.
    """
    rows = tuple(measured)
    guess = solve_system(places, components, rows)
    for _ in range(3):
        held = dict(zip(places, np.maximum(guess.masses.sum(axis=1), 1e-6), strict=True))
        rows = tuple(
            replace(row, sigma=row.share_sigma * held[row.place])
            if row.kind == "composition"
            else row
            for row in rows
        )
        guess = solve_system(places, components, rows)
    return guess


def solve_system(
    places: Sequence[str], components: Sequence[str], measured: Sequence[Measured]
) -> System:
    """Solve once, with the standard deviations as they are.

    Args:
        places: P places.
        components: C names.
        measured: R rows.

    Returns:
        The solution.

    Derivation:
        normal equations of least squares; residuals and their covariance
        V_r = V - A (A' V^-1 A)^-1 A' before the signs of the masses are looked at, since the tests
        of gross errors rest on the linear solution. Valid for independent normal errors.
    """
    matrix = np.array([row.weights for row in measured])
    value = np.array([row.value for row in measured])
    sigma = np.array([row.sigma for row in measured])
    scaled, target = matrix / sigma[:, None], value / sigma
    covariance = np.linalg.pinv(scaled.T @ scaled, rcond=1e-14, hermitian=True)
    masses = covariance @ (scaled.T @ target)
    residual = value - matrix @ masses
    fitted = np.einsum("ij,jk,ik->i", matrix, covariance, matrix)
    residual_sigma = np.sqrt(np.maximum(sigma**2 - fitted, 0.0))
    real = _not_negative(scaled, target, masses)
    shape = (len(places), len(components))
    return System(
        places=tuple(places),
        components=tuple(components),
        measured=tuple(measured),
        masses=real.reshape(shape),
        covariance=covariance,
        adjusted=matrix @ real,
        residual=residual,
        residual_sigma=residual_sigma,
        chi_square=float(np.sum((residual / sigma) ** 2)),
        degrees=max(len(measured) - masses.size, 0),
    )


def _not_negative(scaled: Floats, target: Floats, masses: Floats) -> Floats:
    """Return the best masses of which none is negative.

    Source: active set of Lawson & Hanson, Solving Least Squares Problems, Prentice-Hall, 1974, as
    SciPy has it.
    """
    if (masses >= 0.0).all():
        return masses
    from scipy.optimize import nnls  # noqa: PLC0415 -- slow to load, seldom needed

    return np.asarray(nnls(scaled, target)[0], dtype=np.float64)
