"""A solution of the equations of an azeotrope, and how residue curves run around it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.azeotropes_kernels import boiling, two_liquid_boiling
from forerun.equilibrium.kernels import bubble_pressure

__all__ = ["Solution", "inner_eigenvalues", "outer_eigenvalues", "second_share"]

Floats = npt.NDArray[np.float64]

_TRACE = 1e-9  # mole fraction that stands for infinite dilution


@dataclass(frozen=True, slots=True)
class Solution:
    """A solution inside one face, in the numbering of that face.

    Args:
        temperature: [K].
        x: (C,) overall liquid = vapour [-].
        liquids: mole fractions (C,) of the two liquids, or None for one [-].
        flattened: a split that the models claim for a miscible mixture was levelled out.
    """

    temperature: float
    x: Floats
    liquids: tuple[Floats, Floats] | None
    flattened: bool = False


def inner_eigenvalues(
    pressure: float, mixture: MixtureArrays, solution: Solution
) -> tuple[float, ...]:
    """Return the eigenvalues of 1 - dy/dx within the face, by central differences.

    Args:
        pressure: [Pa].
        mixture: arrays of the components of the face.
        solution: an azeotrope or a pure liquid.

    Returns:
        Real parts [-], ascending; none for a pure liquid.

    Validity:
        As the mixture; pressures below about 2 bar.

    Source:
        Doherty & Perkins, Chem. Eng. Sci. 33 (1978) 281, doi:10.1016/0009-2509(78)80086-4.
    """
    x = solution.x
    count = x.size
    if count == 1:
        return ()
    if count == 2 and (solution.liquids is not None or solution.flattened):
        return (1.0,)  # the vapour over two liquids does not change with their amounts
    scratch = scratch_for(mixture)
    derivative = np.empty((count - 1, count - 1))
    for j in range(count - 1):
        step = 1e-4 * min(x[j], x[-1])
        ends = []
        for sign in (1.0, -1.0):
            z = x.copy()
            z[j] += sign * step
            z[-1] -= sign * step
            ends.append(_vapour(pressure, z, solution, mixture, scratch))
        derivative[:, j] = (ends[0] - ends[1])[:-1] / (2.0 * step)
    return tuple(float(v) for v in sorted(np.linalg.eigvals(np.eye(count - 1) - derivative).real))


def _vapour(
    pressure: float, z: Floats, near: Solution, mixture: MixtureArrays, scratch: Floats
) -> Floats:
    y = np.empty_like(z)
    if near.liquids is None:
        boiling(pressure, z, near.temperature, mixture, scratch, y)
        return y
    ln_k = np.log(near.liquids[1] / near.liquids[0])
    spare = np.empty((2, z.size))
    two_liquid_boiling(
        pressure, z, near.temperature, mixture, scratch, ln_k, spare[0], spare[1], y, np.empty(1)
    )
    return y


def outer_eigenvalues(
    mixture: MixtureArrays, members: tuple[int, ...], solution: Solution
) -> tuple[float, ...]:
    """Return 1 - y_j/z_j at infinite dilution for every absent component j.

    Args:
        mixture: arrays of all components.
        members: those that are present.
        solution: an azeotrope or a pure liquid, in the numbering of the face.

    Returns:
        One eigenvalue [-] for each absent component, in their order.

    Validity:
        As the mixture; pressures below about 2 bar.

    Source:
        Doherty & Perkins, Chem. Eng. Sci. 33 (1978) 281, doi:10.1016/0009-2509(78)80086-4.
    """
    count = mixture.vapour_pressure.shape[0]
    absent = [j for j in range(count) if j not in members]
    if not absent:
        return ()
    scratch, y = scratch_for(mixture), np.empty(count)
    liquids = solution.liquids or (solution.x,)
    volatility = []
    for liquid in liquids:
        x = np.zeros(count)
        x[list(members)] = liquid
        x[absent] = _TRACE
        bubble_pressure(solution.temperature, x / x.sum(), mixture, scratch, y)
        volatility.append(y[absent] / (_TRACE / x.sum()))
    if len(liquids) == 1:
        return tuple(float(1.0 - k) for k in volatility[0])
    share = second_share(solution)
    spread = (1.0 - share) / volatility[0] + share / volatility[1]
    return tuple(float(1.0 - 1.0 / k) for k in spread)


def second_share(solution: Solution) -> float:
    """Return the moles of second liquid per mole of both.

    Args:
        solution: a heteroazeotrope.

    Returns:
        From 0 to 1 for an overall liquid between both [-].

    Validity:
        Two different liquids.

    Source:
        The lever rule (common practice, no source).
    """
    assert solution.liquids is not None
    first, second = solution.liquids
    widest = int(np.argmax(np.abs(second - first)))
    return float((solution.x[widest] - first[widest]) / (second[widest] - first[widest]))
