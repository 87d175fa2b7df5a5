"""A search for azeotropes that is repeated, more finely, until nodes and saddles balance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forerun.equilibrium.arrays import MixtureArrays
from forerun.equilibrium.azeotropes_search import SingularPoint, face_points, singular_points
from forerun.equilibrium.azeotropes_topology import unbalanced_faces

__all__ = ["BalancedPoints", "balanced_points"]

Members = tuple[int, ...]

_FINER = (2, 4)  # factors on the divisions of the search, one after the other
_FINEST = {4: 3, 5: 2}  # where a finer grid would take seconds
_SAME = 1e-4  # mole fraction below which two solutions are one


@dataclass(frozen=True, slots=True)
class BalancedPoints:
    """Singular points and how well they balance.

    Args:
        points: all that were found, coldest first.
        unbalanced: sets of components whose nodes and saddles do not balance in the end.
        settled: sets that did not balance at first.
    """

    points: tuple[SingularPoint, ...]
    unbalanced: tuple[Members, ...]
    settled: tuple[Members, ...]


def balanced_points(
    mixture: MixtureArrays, pressure: float, miscible: frozenset[tuple[int, int]] = frozenset()
) -> BalancedPoints:
    """Return all singular points; search again where they cannot be all.

    Args:
        mixture: arrays of 2 to 5 components.
        pressure: [Pa].
        miscible: as for `azeotropes_search.singular_points`.

    Returns:
        The points, and where the index balance failed at first or still does.

    Validity:
        Pressures below about 2 bar; up to five components.

    Source:
        `azeotropes_topology.index_balance` in every face, smallest first.
    """
    count = mixture.vapour_pressure.shape[0]
    points = singular_points(mixture, pressure, miscible)
    first = smallest = _smallest(unbalanced_faces(points, count))
    for finer in _FINER:
        for face in smallest:
            factor = min(finer, _FINEST.get(len(face), finer))
            points = _joined(points, face_points(mixture, pressure, face, miscible, factor))
        faces = unbalanced_faces(points, count)
        smallest = _smallest(faces)
        first += [face for face in smallest if face not in first]
        if not faces:
            break
    ordered = sorted(points, key=lambda p: p.temperature_K)
    settled = tuple(face for face in first if face not in smallest)
    return BalancedPoints(tuple(ordered), tuple(smallest), settled)


def _smallest(faces: Sequence[Members]) -> list[Members]:
    """Return the faces that hold no other of them: a larger one may only inherit the fault."""
    return [f for f in faces if not any(set(g) < set(f) for g in faces)]


def _joined(old: Sequence[SingularPoint], new: Sequence[SingularPoint]) -> list[SingularPoint]:
    joined = list(old)
    for point in new:
        twins = (p for p in joined if p.components == point.components)
        if not any(np.abs(p.mole_fraction - point.mole_fraction).max() < _SAME for p in twins):
            joined.append(point)
    return joined
