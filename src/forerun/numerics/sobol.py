"""Points that fill a cube evenly, without the half second that a library of statistics needs."""

from __future__ import annotations

import functools
from importlib.resources import files

import numpy as np
import numpy.typing as npt

__all__ = ["MOST_DIMENSIONS", "sobol_points"]

Whole = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

MOST_DIMENSIONS = 200
"""Dimensions for which direction numbers are on file [-]."""

_BITS = 30
_PLACES = np.arange(_BITS - 1, -1, -1)  # of the bits of a number, the largest first


@functools.cache
def _directions() -> Whole:
    """Return the (`MOST_DIMENSIONS`, 30) direction numbers, as shares of 2**30.

    Source:
        Joe and Kuo, SIAM J. Sci. Comput. 30 (2008) 2635, doi:10.1137/070709359 (their numbers);
        recurrence: Bratley and Fox, ACM Trans. Math. Softw. 14 (1988) 88,
        doi:10.1145/42288.214372 (from memory).
    """
    table = files("forerun.numerics").joinpath("data/sobol_directions.tsv").read_text("utf-8")
    lines = [line.split("\t") for line in table.splitlines() if not line.startswith("#")]
    return np.array([_extended(int(p), [int(m) for m in ms.split()]) for _, p, ms in lines])


def _extended(polynomial: int, first: list[int]) -> list[int]:
    """Return 30 direction numbers of a dimension from the first few."""
    degree = polynomial.bit_length() - 1
    m = list(first)
    while len(m) < _BITS:
        if degree == 0:
            m.append(1)
            continue
        k = len(m)
        new = m[k - degree] ^ (m[k - degree] << degree)
        for i in range(1, degree):
            if polynomial >> (degree - i) & 1:
                new ^= m[k - i] << i
        m.append(new)
    return [number << place for number, place in zip(m, _PLACES.tolist(), strict=True)]


def sobol_points(dimensions: int, members: int, seed: int) -> Floats:
    """Return scrambled Sobol points.

    Args:
        dimensions: of the cube, 1 to `MOST_DIMENSIONS`.
        members: number of points, >= 1; a power of two is filled evenly.
        seed: makes the scrambling reproducible.

    Returns:
        (members, dimensions) points in [0, 1) [-]; more of the same seed begin with the fewer.

    Raises:
        ValueError: more dimensions than are on file.

    Source:
        Sobol, USSR Comput. Math. Math. Phys. 7 (1967) 86, doi:10.1016/0041-5553(67)90144-9;
        scrambled by a random triangular matrix and a shift: Matousek, J. Complexity 14 (1998) 527,
        doi:10.1006/jcom.1998.0489 (from memory).
    """
    if not 0 < dimensions <= MOST_DIMENSIONS:
        raise ValueError(f"{dimensions} dimensions; there are numbers for 1 to {MOST_DIMENSIONS}")
    # drawn as scipy.stats.qmc.Sobol does: the same seed gives the same points
    random = np.random.default_rng(seed).spawn(1)[0]
    shift = _drawn(random, dimensions) @ (1 << np.arange(_BITS))
    triangles = np.tril(_drawn(random, dimensions, _BITS))
    triangles[:, range(_BITS), range(_BITS)] = 1
    bits = _directions()[:dimensions, :, None] >> _PLACES & 1
    mixed = (np.einsum("dpk,dck->dcp", triangles, bits) % 2 << _PLACES).sum(axis=2)
    points = np.empty((members, dimensions), dtype=np.int64)
    points[0] = shift
    for n in range(1, members):
        lowest_zero = (~(n - 1) & n).bit_length() - 1
        points[n] = points[n - 1] ^ mixed[:, lowest_zero]
    return np.ldexp(points.astype(np.float64), -_BITS)


def _drawn(random: np.random.Generator, *shape: int) -> Whole:
    return random.integers(2, size=(*shape, _BITS), dtype=np.uint32).astype(np.int64)
