"""The path of a liquid that boils away without a column, compiled."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MIXTURE_TYPE, MixtureArrays
from forerun.equilibrium.azeotropes_kernels import boiling, two_liquid_boiling
from forerun.equilibrium.liquid_liquid_splitting import find_split
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64

__all__ = ["residue_path"]

Floats = npt.NDArray[np.float64]

_TOLERANCE = 1e-6  # mole fraction, of one step
_LONGEST = 0.02  # mole fraction that one step may cover
_EDGE = 0.003  # mole fraction within which the edge of the two liquids is met
_FIRST = 0.01  # in ln(amount)
_SMALLEST = 1e-10  # in ln(amount), a step below which the path is given up
_STANDING = 1e-9  # |x - y| of a point that does not move
_UNSTABLE = -1e-8  # tangent-plane distance over RT
_LEAST = 1e-14  # mole fraction that stands for none
_TRIES = 20  # steps tried for each row of the result, at most


@kernel(
    float64(
        float64,
        float64[::1],
        float64,
        int64,
        MIXTURE_TYPE,
        float64[:, ::1],
        float64[:, ::1],
        float64[::1],
        float64[::1],
    )
)
def _boil(
    pressure: float,
    z: Floats,
    guess: float,
    two: int,
    mixture: MixtureArrays,
    scratch: Floats,
    liquids: Floats,
    y: Floats,
    share: Floats,
) -> float:
    """Return the boiling temperature [K] and write vapour and share of the second liquid.

    liquids: (3, C) ln(x_second/x_first) and both liquids, kept from call to call; share is -1 over
    one liquid.
    """
    if two == 1:
        return two_liquid_boiling(
            pressure, z, guess, mixture, scratch, liquids[0], liquids[1], liquids[2], y, share
        )
    share[0] = -1.0
    return boiling(pressure, z, guess, mixture, scratch, y)


@kernel(
    float64(
        float64,
        float64[::1],
        float64,
        MIXTURE_TYPE,
        float64[:, ::1],
        float64[:, ::1],
        float64[::1],
        float64[::1],
    )
)
def _boil_apart(
    pressure: float,
    z: Floats,
    guess: float,
    mixture: MixtureArrays,
    scratch: Floats,
    liquids: Floats,
    y: Floats,
    share: Floats,
) -> float:
    """Boil a liquid as two where one is unstable; NaN where it stands as one."""
    share[0] = find_split(guess, z, _UNSTABLE, mixture, scratch, liquids[0], liquids[1], liquids[2])
    if math.isnan(share[0]):
        return math.nan
    temperature = _boil(pressure, z, guess, 1, mixture, scratch, liquids, y, share)
    if not 0.0 <= share[0] <= 1.0:
        return math.nan
    return temperature


@kernel(
    int64(
        float64,
        float64[::1],
        float64,
        float64,
        int64,
        MIXTURE_TYPE,
        float64[:, ::1],
        float64[:, ::1],
        float64,
        float64[:, ::1],
    )
)
def residue_path(  # noqa: C901, PLR0912, PLR0915 -- step, its error and the edge of two liquids
    pressure: float,
    start: Floats,
    guess: float,
    direction: float,
    splits: int,
    mixture: MixtureArrays,
    scratch: Floats,
    goals: Floats,
    close: float,
    path: Floats,
) -> int:
    """Follow dx/d(ln amount boiled) = x - y from a liquid, towards heavy or towards light ends.

    Args:
        pressure: [Pa].
        start: (C,) liquid, all positive [-].
        guess: temperature to start from [K].
        direction: +1 as a still goes, -1 back [-].
        splits: 1 where two liquids may occur, else 0 [-].
        mixture: the mixture.
        scratch: working space from `scratch_for`.
        goals: (G, C) points at which the path may end [-].
        close: distance at which an end counts as reached [-].
        path: (N, C + 3) result: liquid [-], temperature [K], share of the second liquid (-1 over
            one) [-] and ln of the amount that is left over that of the start [-].

    Returns:
        Rows written; negative when the last of them lies at a goal [-].

    Validity:
        Pressures below about 2 bar; the edge of the two liquids is met within 0.003.

    Source:
        Residue curve: Doherty & Perkins, Chem. Eng. Sci. 33 (1978) 281,
        doi:10.1016/0009-2509(78)80086-4; steps: Bogacki & Shampine, Appl. Math. Lett. 2 (1989)
        321, doi:10.1016/0893-9659(89)90079-7 (from memory).
    """
    components = start.shape[0]
    rows = path.shape[0]
    x, new, y = np.empty(components), np.empty(components), np.empty(components)
    slope = np.empty((4, components))
    liquids = np.empty((3, components))
    share = np.empty(1)
    total = 0.0
    for i in range(components):
        x[i] = max(start[i], _LEAST)
        total += x[i]
    for i in range(components):
        x[i] /= total
    two = 0
    temperature = _boil(pressure, x, guess, 0, mixture, scratch, liquids, y, share)
    if math.isnan(temperature):
        return 0
    if splits == 1:
        apart = _boil_apart(pressure, x, temperature, mixture, scratch, liquids, y, share)
        if math.isnan(apart):
            temperature = _boil(pressure, x, temperature, 0, mixture, scratch, liquids, y, share)
        else:
            temperature, two = apart, 1
    amount = 0.0
    step = _FIRST
    count = 0
    fresh = True
    for _ in range(rows * _TRIES):
        if fresh:
            for i in range(components):
                path[count, i] = x[i]
                slope[0, i] = direction * (x[i] - y[i])
            path[count, components] = temperature
            path[count, components + 1] = share[0]
            path[count, components + 2] = amount
            count += 1
            for g in range(goals.shape[0]):
                away = 0.0
                for i in range(components):
                    away = max(away, abs(x[i] - goals[g, i]))
                if away < close:
                    return -count
            if count == rows:
                break
        fresh = False
        speed = 0.0
        for i in range(components):
            speed = max(speed, abs(slope[0, i]))
        if speed < _STANDING or step < _SMALLEST:
            break
        step = min(step, _LONGEST / speed)
        hot = temperature
        for stage in range(1, 4):
            total = 0.0
            for i in range(components):
                if stage == 1:
                    moved = 0.5 * slope[0, i]
                elif stage == 2:
                    moved = 0.75 * slope[1, i]
                else:
                    moved = (2.0 * slope[0, i] + 3.0 * slope[1, i] + 4.0 * slope[2, i]) / 9.0
                new[i] = max(x[i] + step * moved, _LEAST)
                total += new[i]
            for i in range(components):
                new[i] /= total
            hot = _boil(pressure, new, hot, two, mixture, scratch, liquids, y, share)
            if math.isnan(hot):
                break
            for i in range(components):
                slope[stage, i] = direction * (new[i] - y[i])
        if math.isnan(hot):
            step *= 0.25
            if two == 1 and step * speed < 1e-6:  # the second liquid ends here
                two = 0
                temperature = _boil(
                    pressure, x, temperature, 0, mixture, scratch, liquids, y, share
                )
                for i in range(components):
                    slope[0, i] = direction * (x[i] - y[i])
                step = _EDGE
            continue
        error = 0.0
        for i in range(components):
            error = max(
                error,
                step
                * abs(
                    -5.0 / 72.0 * slope[0, i]
                    + slope[1, i] / 12.0
                    + slope[2, i] / 9.0
                    - 0.125 * slope[3, i]
                ),
            )
        factor = 0.9 * (_TOLERANCE / max(error, 1e-30)) ** (1.0 / 3.0)
        factor = min(max(factor, 0.2), 3.0)
        if error > _TOLERANCE:
            step *= factor
            continue
        if two == 1 and not 0.0 <= share[0] <= 1.0:
            if step * speed > _EDGE:
                step *= 0.5
                continue
            two = 0
            hot = _boil(pressure, new, hot, 0, mixture, scratch, liquids, y, share)
            if math.isnan(hot):
                break
        elif two == 0 and splits == 1:
            apart = _boil_apart(pressure, new, hot, mixture, scratch, liquids, y, share)
            if math.isnan(apart):
                hot = _boil(pressure, new, hot, 0, mixture, scratch, liquids, y, share)
            elif step * speed > _EDGE:
                step *= 0.5
                continue
            else:
                hot, two = apart, 1
        amount -= direction * step
        temperature = hot
        for i in range(components):
            x[i] = new[i]
        step *= factor
        fresh = True
    return count
