"""Nodes and saddles of the residue-curve map, and the balance that they must keep."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import Literal

from forerun.equilibrium.azeotropes_search import SingularPoint

__all__ = ["index_balance", "kind_of", "stability_of", "unbalanced_faces"]

Kind = Literal["minimum", "maximum", "saddle"]
NodeType = Literal["unstable node", "stable node", "saddle"]
Members = tuple[int, ...]


def kind_of(point: SingularPoint) -> Kind:
    """Return minimum, maximum or saddle of the boiling temperature among the components present.

    Args:
        point: an azeotrope; its eigenvalues are those of 1 - dy/dx [-].

    Source:
        Residue curves run from low to high temperature: Doherty & Perkins, Chem. Eng. Sci. 33
        (1978) 281, doi:10.1016/0009-2509(78)80086-4.
    """
    if all(value > 0.0 for value in point.inside):
        return "minimum"
    return "maximum" if all(value < 0.0 for value in point.inside) else "saddle"


def stability_of(point: SingularPoint, members: Members | None = None) -> NodeType:
    """Return whether residue curves leave a point, end there or pass by.

    Args:
        point: a pure liquid or an azeotrope; its eigenvalues are those of 1 - dy/dx [-].
        members: only the curves of the mixtures of these components; default of all.

    Source:
        Doherty & Perkins, Chem. Eng. Sci. 33 (1978) 281, doi:10.1016/0009-2509(78)80086-4.
    """
    values = _eigenvalues(point, members)
    if all(value > 0.0 for value in values):
        return "unstable node"
    return "stable node" if all(value < 0.0 for value in values) else "saddle"


def _eigenvalues(point: SingularPoint, members: Members | None) -> tuple[float, ...]:
    """Eigenvalues of a point within a face that holds it."""
    if members is None:
        return point.eigenvalues
    absent = [k for k in range(point.mole_fraction.size) if k not in point.components]
    outer = point.eigenvalues[len(point.components) - 1 :]
    kept = (value for k, value in zip(absent, outer, strict=True) if k in members)
    return (*point.inside, *kept)


def index_balance(
    points: Sequence[SingularPoint], components: int, members: Members | None = None
) -> int:
    """Return by how much a set of singular points misses the balance of indices; 0 is right.

    Mirroring the simplex in all its faces gives a sphere, on which the indices of a vector field
    add up to the Euler number; a point with k components present appears 2^k times:
    sum 2^k (+1 or -1) = 1 + (-1)^(C-1), the sign that of the product of the eigenvalues.

    Args:
        points: all pure liquids and azeotropes.
        components: their number C [-].
        members: balance only the face of these components; default all.

    Returns:
        Left side minus right side [-].  Zero does not prove completeness: a node and a saddle
        that were both missed cancel, which is why every face has to balance by itself.

    Source:
        Rule of azeotropy of Zharov and Serafimov as the survey of Kiva, Hilmen & Skogestad, Chem.
        Eng. Sci. 58 (2003) 1903, doi:10.1016/S0009-2509(03)00045-9, section 4.3, has it; ternary
        rule 2 N3 - 2 S3 + N2 - S2 + N1 = 2: Doherty & Perkins, Chem. Eng. Sci. 34 (1979) 1401,
        doi:10.1016/0009-2509(79)85164-9 (both from memory; the form for any C also follows from
        the derivation above).
    """
    inside = set(range(components) if members is None else members)
    total = 0
    for point in points:
        if set(point.components) <= inside:
            sign = (-1) ** sum(value < 0.0 for value in _eigenvalues(point, members))
            total += sign * 2 ** len(point.components)
    return int(total - 1 - (-1) ** (len(inside) - 1))


def unbalanced_faces(points: Sequence[SingularPoint], components: int) -> list[Members]:
    """Return the sets of two and more components whose nodes and saddles do not balance.

    Args:
        points: all pure liquids and azeotropes.
        components: their number C [-].

    Returns:
        Small sets first; a set that only inherits the imbalance of a smaller one is named too.

    Source:
        `index_balance` in every face of the simplex: the residue curves of a mixture that lacks
        a component are those of the mixture of the others.
    """
    return [
        members
        for size in range(2, components + 1)
        for members in combinations(range(components), size)
        if index_balance(points, components, members) != 0
    ]
