"""Newton's method on the equations of an azeotrope with one liquid and with two, compiled."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MIXTURE_TYPE, MixtureArrays
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.liquid_liquid_kernels import ln_activities, solve_small
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import boolean, float64, int64

__all__ = ["azeotrope_newton", "heteroazeotrope_newton"]

Floats = npt.NDArray[np.float64]

_NEWTON = 1e-9  # residual at which an azeotrope counts as found


@kernel(
    float64(
        float64,
        int64,
        float64[::1],
        MIXTURE_TYPE,
        float64[:, ::1],
        float64[::1],
    )
)
def _residual(
    pressure: float,
    liquids: int,
    unknown: Floats,
    mixture: MixtureArrays,
    scratch: Floats,
    residual: Floats,
) -> float:
    """Write what an azeotrope must bring to zero; return the largest magnitude.

    One liquid: unknown = ln x (C), T/100.  Two: ln of the amounts of both (2 C), T/100.
    """
    size = unknown.shape[0]
    components = (size - 1) // liquids
    temperature = 100.0 * unknown[size - 1]
    if not 50.0 < temperature < 2000.0:
        return math.nan
    x, y = np.empty(components), np.empty(components)
    total = 0.0
    for i in range(components):
        x[i] = math.exp(unknown[i])
        total += x[i]
    for i in range(components):
        x[i] /= total
    p = bubble_pressure(temperature, x, mixture, scratch, y)
    residual[size - 1] = math.log(p / pressure)
    if liquids == 1:
        for i in range(components):
            residual[i] = math.log(y[i]) - unknown[i]
    else:
        other, a, b = np.empty(components), np.empty(components), np.empty(components)
        ln_activities(temperature, x, mixture, scratch, a)
        total = 0.0
        for i in range(components):
            other[i] = math.exp(unknown[components + i])
            total += other[i]
        for i in range(components):
            other[i] /= total
        ln_activities(temperature, other, mixture, scratch, b)
        for i in range(components):
            residual[i] = a[i] - b[i]
            amount = math.exp(unknown[i]) + math.exp(unknown[components + i])
            residual[components + i] = math.log(y[i]) - math.log(amount)
    largest = 0.0
    for k in range(size):
        if not math.isfinite(residual[k]):
            return math.nan
        largest = max(largest, abs(residual[k]))
    return largest


@kernel(boolean(float64, int64, float64[::1], MIXTURE_TYPE, float64[:, ::1]))
def _newton(  # noqa: C901, PLR0912 -- Jacobian, step and its halving belong together
    pressure: float, liquids: int, unknown: Floats, mixture: MixtureArrays, scratch: Floats
) -> bool:
    """Newton with halved steps on `_residual`; replaces unknown."""
    size = unknown.shape[0]
    residual, shifted = np.empty(size), np.empty(size)
    jacobian, step, trial = np.empty((size, size)), np.empty(size), np.empty(size)
    now = _residual(pressure, liquids, unknown, mixture, scratch, residual)
    for _ in range(50):
        if math.isnan(now):
            return False
        if now < _NEWTON:
            return True
        for j in range(size):
            for k in range(size):
                trial[k] = unknown[k]
            trial[j] += 1e-6
            if math.isnan(_residual(pressure, liquids, trial, mixture, scratch, shifted)):
                return False
            for k in range(size):
                jacobian[k, j] = (shifted[k] - residual[k]) / 1e-6
        for k in range(size):
            step[k] = -residual[k]
        if not solve_small(jacobian, step):
            return False
        largest = 0.0
        for k in range(size):
            largest = max(largest, abs(step[k]) * (4.0 if k == size - 1 else 1.0))
        factor = min(1.0, 1.0 / largest) if largest > 0.0 else 1.0
        after = math.nan
        for _ in range(8):
            for k in range(size):
                trial[k] = unknown[k] + factor * step[k]
            after = _residual(pressure, liquids, trial, mixture, scratch, shifted)
            if after < now:
                break
            factor *= 0.5
        if not after < now:
            return False
        now = after
        for k in range(size):
            unknown[k], residual[k] = trial[k], shifted[k]
    return False


@kernel(float64(float64, float64[::1], float64, MIXTURE_TYPE, float64[:, ::1]))
def azeotrope_newton(
    pressure: float, x: Floats, guess: float, mixture: MixtureArrays, scratch: Floats
) -> float:
    """Move a composition to a homogeneous azeotrope (y = x) nearby.

    Args:
        pressure: [Pa].
        x: (C,) guess, all positive; replaced by the azeotrope [-].
        guess: temperature to start from [K].
        mixture: the mixture.
        scratch: working space from `scratch_for`.

    Returns:
        Temperature [K]; NaN when there is none on the way.

    Derivation:
        y_i(x, T) = x_i and P(x, T) = P in the unknowns ln x_i and T: at the solution the x_i add
        up to 1 since the y_i do.  Newton's method, steps halved until the residual falls.
    """
    components = x.shape[0]
    unknown = np.empty(components + 1)
    for i in range(components):
        unknown[i] = math.log(x[i])
    unknown[components] = guess / 100.0
    if not _newton(pressure, 1, unknown, mixture, scratch):
        return math.nan
    for i in range(components):
        x[i] = math.exp(unknown[i])
    return float(100.0 * unknown[components])


@kernel(
    float64(float64, float64[::1], float64[::1], float64, float64, MIXTURE_TYPE, float64[:, ::1])
)
def heteroazeotrope_newton(
    pressure: float,
    first: Floats,
    second: Floats,
    share: float,
    guess: float,
    mixture: MixtureArrays,
    scratch: Floats,
) -> float:
    """Move two liquids to a heteroazeotrope nearby: both in equilibrium, y = their mixture.

    Args:
        pressure: [Pa].
        first: (C,) guess of the first liquid; replaced by amounts per mole of both [-].
        second: (C,) guess of the second liquid; replaced by amounts per mole of both [-].
        share: guess of the moles of second liquid per mole of liquid [-].
        guess: temperature to start from [K].
        mixture: the mixture.
        scratch: working space from `scratch_for`.

    Returns:
        Temperature [K]; NaN when there is none on the way.

    Validity:
        Positive fractions; the result is NaN when both liquids become the same.

    Derivation:
        Equal activities of both liquids and y_i = their summed amounts, in the logarithms of all
        amounts and T; Newton's method, steps halved until the residual falls.
    """
    components = first.shape[0]
    unknown = np.empty(2 * components + 1)
    for i in range(components):
        unknown[i] = math.log(max(first[i] * (1.0 - share), 1e-30))
        unknown[components + i] = math.log(max(second[i] * share, 1e-30))
    unknown[2 * components] = guess / 100.0
    if not _newton(pressure, 2, unknown, mixture, scratch):
        return math.nan
    apart, a, b = 0.0, 0.0, 0.0
    for i in range(components):
        first[i] = math.exp(unknown[i])
        second[i] = math.exp(unknown[components + i])
        a += first[i]
        b += second[i]
    for i in range(components):
        apart = max(apart, abs(first[i] / a - second[i] / b))
    if apart < 1e-4:
        return math.nan
    return float(100.0 * unknown[2 * components])
