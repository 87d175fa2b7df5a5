"""Activities of a pair as a table over composition and temperature: how it is made and read.

To work out the activities of two liquids from their groups takes some twenty logarithms each time,
and a run asks for them thousands of times.  What depends on the groups is the same for all members
of an ensemble, and of a pair it is a surface: it is worked out once on a grid, and read from
bicubics after that.  With d = x_1 - x_2 and a crowding k the places in composition are even in

    w = d / (1 + k (1 - d^2))

so that they lie 1 + 2 k times as close at the ends, where activities of unlike liquids bend most.
"""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.cubics import cubics, even_slopes
from forerun.numerics.signatures import float64, int64, void
from forerun.still.boiling_groups import by_groups
from forerun.still.boiling_type import BOILED_TYPE, BOILING_TYPE, Boiled, BoilingArrays, boiled_for

__all__ = ["CLOSE", "NO_PLANE", "activity_plane", "look_up"]

Floats = npt.NDArray[np.float64]

CLOSE = 2e-6
"""The table errs by no more in ln gamma in the middle of any cell [-]: 0.1 mK of a boiling point,
a choice."""

NO_PLANE: tuple[Floats, Floats] = (np.zeros((0, 0, 2, 4, 4)), np.zeros(3))
"""A table without intervals, of what has none."""

# Choices of this table; what they cost is measured against `CLOSE` each time one is made.
_PAIR = 2
_COLUMNS = (16, 24, 32, 48, 64, 96, 128, 192, 256)  # intervals in composition, as many as it takes
_CROWDED = (0.0, 0.5, 1.0, 2.0)  # what is tried; gentle liquids want even places
_WIDTH = 4.0  # K, of an interval in temperature
_COLD = 240.0  # K: below it the table may err by more, as the models' own tables do
_LOOKED_AT = np.array([242.0, 302.0, 402.0, 562.0])  # K, to choose the places in composition
_LOOKED_AT_PLACES = np.array([0.0, 0.02, 0.5, 0.98, 1.0])  # to see whether temperatures are close
_HALF = 0.5 ** np.arange(4)  # powers in the middle of an interval


@kernel(
    void(float64[::1], float64[:, ::1], BOILING_TYPE, BOILED_TYPE, float64[:, :, ::1]), fast=True
)
def _at_nodes(
    temperatures: Floats,
    fractions: Floats,
    mixture: BoilingArrays,
    at: Boiled,
    ln_gamma: Floats,
) -> None:
    """Write ln gamma (T, X, C) at all temperatures (T,) [K] and mole fractions (X, C) [-]."""
    for k in range(temperatures.shape[0]):
        for m in range(fractions.shape[0]):
            for i in range(fractions.shape[1]):
                at.each[0, i] = fractions[m, i]
            by_groups(temperatures[k], 0, mixture, at)
            for i in range(fractions.shape[1]):
                ln_gamma[k, m, i] = at.each[1, i]


@kernel(
    void(
        float64,
        int64,
        float64[:, :, :, :, ::1],
        float64[::1],
        float64[:, ::1],
        float64[:, ::1],
    ),
    fast=True,
    inline=True,
)
def look_up(
    temperature: float, slopes: int, plane: Floats, grid: Floats, each: Floats, d_x: Floats
) -> None:
    """Write ln gamma of a pair by the models, and its derivatives if they are wanted.

    Args:
        temperature: [K].
        slopes: 1 with derivatives, 0 without [-].
        plane, grid: from `activity_plane` [-, K].
        each: (3 or more, 2) mole fractions, then results: ln gamma and its slope in temperature
            [-, -, 1/K].
        d_x: (2, 2) result: N d ln gamma_i / d n_k, those of the table [-].

    Validity:
        That of the models, within `CLOSE` above 240 K; below and above the table they stay as at
        its end.

    Derivation: bicubics; x_1 = n_1/N, so that N d x_1/d n_1 = x_2 and N d x_1/d n_2 = -x_1.
    """
    lines, columns = plane.shape[0], plane.shape[1]
    spot = (temperature - grid[0]) / grid[1]
    per_kelvin = 1.0 / grid[1] if 0.0 <= spot <= lines else 0.0
    spot = min(max(spot, 0.0), lines - 1e-9)
    n = min(int(spot), lines - 1) if spot >= 0.0 else 0  # not-a-number stays one, in s
    s = spot - n
    apart = each[0, 0] - each[0, 1]
    crowd = 1.0 + grid[2] * (1.0 - apart * apart)
    spot = 0.5 * columns * (1.0 + apart / crowd)
    m = max(min(int(spot), columns - 1), 0) if spot >= 0.0 else 0
    v = spot - m
    stretch = columns * (1.0 + grid[2] * (1.0 + apart * apart)) / (crowd * crowd)
    for i in range(2):
        value, along, in_t = 0.0, 0.0, 0.0
        for q in range(3, -1, -1):
            a_1, a_2, a_3 = plane[n, m, i, q, 1], plane[n, m, i, q, 2], plane[n, m, i, q, 3]
            along = along * v + value
            value = value * v + ((a_3 * s + a_2) * s + a_1) * s + plane[n, m, i, q, 0]
            in_t = in_t * v + (3.0 * a_3 * s + 2.0 * a_2) * s + a_1
        each[1, i] = value
        each[2, i] = in_t * per_kelvin
        if slopes:
            d_x[i, 0] = each[0, 1] * along * stretch
            d_x[i, 1] = -each[0, 0] * along * stretch


def activity_plane(mixture: BoilingArrays) -> tuple[Floats, Floats]:
    """Return the table of a mixture's models, or none.

    Args:
        mixture: of which the groups and their models count, not the fitted corrections of pairs.

    Returns:
        (N, X, 2, 4, 4) bicubics in N intervals of temperature and X of composition: of each
        component the coefficients of powers in the place in composition, then in temperature [-];
        and (3,) lowest temperature and width of an interval [K], crowding of the places in
        composition [-].  No intervals where there are not two components or no models, or where
        the finest grid is not `CLOSE`.

    Not a published model: a table of what `forerun.still.boiling_groups.by_groups` works out,
    valid where that is.
    """
    if mixture.areas.shape[0] != _PAIR or not mixture.models.shape[0]:
        return NO_PLANE
    lowest, width = mixture.grid.tolist()
    intervals = round(mixture.table.shape[0] * width / _WIDTH)
    nodes = lowest + _WIDTH * np.arange(intervals + 1)
    centres = nodes[:-1] + 0.5 * _WIDTH
    warm = centres > _COLD
    few = _fractions(_LOOKED_AT_PLACES, 0.0)
    off = np.abs(_middles(_models(nodes, few, mixture)) - _models(centres, few, mixture))
    if np.max(off[warm]) > CLOSE:  # no places in composition would help
        return NO_PLANE
    for columns, crowded in itertools.product(_COLUMNS, _CROWDED):
        even = np.arange(columns + 1) / columns
        places, between = _fractions(even, crowded), _fractions(even[:-1] + 0.5 / columns, crowded)
        along, expected = (
            _models(_LOOKED_AT, fractions, mixture).transpose(1, 0, 2)
            for fractions in (places, between)
        )
        if np.max(np.abs(_middles(along) - expected)) > CLOSE:
            continue
        plane = _bicubics(_models(nodes, places, mixture))
        off = np.abs((plane @ _HALF) @ _HALF - _models(centres, between, mixture))
        if np.max(off[warm]) <= CLOSE:
            return plane, np.array([lowest, _WIDTH, crowded])
    return NO_PLANE


def _fractions(places: Floats, crowded: float) -> Floats:
    """Return mole fractions (X, 2) at places in composition (X,), 0 to 1."""
    w, k = 2.0 * places - 1.0, crowded
    apart = 2.0 * (1.0 + k) * w / (1.0 + np.sqrt(1.0 + 4.0 * k * (1.0 + k) * w * w))
    return np.stack([0.5 * (1.0 + apart), 0.5 * (1.0 - apart)], axis=1)


def _models(temperatures: Floats, fractions: Floats, mixture: BoilingArrays) -> Floats:
    """Return ln gamma (T, X, 2) at temperatures (T,) [K] and mole fractions (X, 2) [-]."""
    result = np.zeros((temperatures.size, *fractions.shape))
    _at_nodes(temperatures, fractions, mixture, boiled_for(1, mixture), result)
    return result


def _middles(values: Floats) -> Floats:
    """Return (N, ...) what cubics give in the middle between (N + 1, ...) values at even nodes."""
    return np.tensordot(_HALF, cubics(values, even_slopes(values)), axes=(0, 1))


def _bicubics(values: Floats) -> Floats:
    """Return (N, X, 2, 4, 4) coefficients between (N + 1, X + 1, 2) values at even nodes."""
    in_t = cubics(values, even_slopes(values))
    along = in_t.transpose(2, 0, 1, 3)  # composition first
    both = cubics(along, even_slopes(along))
    return np.ascontiguousarray(both.transpose(2, 0, 4, 1, 3))
