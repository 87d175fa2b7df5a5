"""Nodes and saddles of the residue-curve map, and the balance that they must keep."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from forerun.equilibrium.azeotropes_search import SingularPoint

__all__ = ["index_balance", "kind_of", "stability_of"]

Kind = Literal["minimum", "maximum", "saddle"]
NodeType = Literal["unstable node", "stable node", "saddle"]


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


def stability_of(point: SingularPoint) -> NodeType:
    """Return whether residue curves of the whole mixture leave a point, end there or pass by.

    Args:
        point: a pure liquid or an azeotrope; its eigenvalues are those of 1 - dy/dx [-].

    Source:
        Doherty & Perkins, Chem. Eng. Sci. 33 (1978) 281, doi:10.1016/0009-2509(78)80086-4.
    """
    if all(value > 0.0 for value in point.eigenvalues):
        return "unstable node"
    return "stable node" if all(value < 0.0 for value in point.eigenvalues) else "saddle"


def index_balance(points: Sequence[SingularPoint], components: int) -> int:
    """Return by how much a set of singular points misses the balance of indices; 0 is right.

    Mirroring the simplex in all its faces gives a sphere, on which the indices of a vector field
    add up to the Euler number; a point with k components present appears 2^k times:
    sum 2^k (+1 or -1) = 1 + (-1)^(C-1), the sign that of the product of the eigenvalues.

    Args:
        points: all pure liquids and azeotropes.
        components: their number C [-].

    Returns:
        Left side minus right side [-].  Zero does not prove completeness: a node and a saddle
        that were both missed cancel.

    Source:
        Ternary rule 2 N3 - 2 S3 + N2 - S2 + N1 = 2: Doherty & Perkins, Chem. Eng. Sci. 34 (1979)
        1401, doi:10.1016/0009-2509(79)85164-9 (from memory); the form for any C follows from
        the derivation above.
    """
    total = 0
    for point in points:
        sign = (-1) ** sum(value < 0.0 for value in point.eigenvalues)
        total += sign * 2 ** len(point.components)
    return int(total - 1 - (-1) ** (components - 1))
