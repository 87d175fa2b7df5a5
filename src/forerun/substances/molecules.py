"""A molecule as a graph: atoms, bonds, rings, formula, molar mass.

Hydrogen is a count on its neighbour, never an atom of its own, except in molecular hydrogen.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from forerun.substances.elements import ATOMIC_WEIGHT

__all__ = ["Atom", "Bond", "Molecule", "smallest_rings"]


@dataclass(slots=True)
class Atom:
    """One atom other than hydrogen.

    Args:
        symbol: of the element.
        charge: formal charge.
        hydrogens: how many are attached.
        aromatic: part of an aromatic ring.
    """

    symbol: str
    charge: int = 0
    hydrogens: int = 0
    aromatic: bool = False


@dataclass(slots=True)
class Bond:
    """One bond.

    Args:
        first, second: positions of its atoms.
        order: 1, 2 or 3; in an aromatic ring that of one way of writing it.
        aromatic: part of an aromatic ring.
    """

    first: int
    second: int
    order: int = 1
    aromatic: bool = False


@dataclass(slots=True)
class Molecule:
    """Atoms and bonds, with what follows from them.

    Args:
        atoms: in the order written.
        bonds: between them.
        rings: positions of the atoms of each smallest ring.
    """

    atoms: list[Atom]
    bonds: list[Bond]
    rings: list[tuple[int, ...]] = field(default_factory=list)
    _near: list[dict[int, Bond]] = field(default_factory=list)
    _ring_sizes: list[tuple[int, ...]] = field(default_factory=list)
    _ring_bonds: set[frozenset[int]] = field(default_factory=set)

    def settle(self) -> None:
        """Find neighbours and rings; to be called once all bonds are known."""
        self._near = [{} for _ in self.atoms]
        for bond in self.bonds:
            self._near[bond.first][bond.second] = bond
            self._near[bond.second][bond.first] = bond
        self.rings = smallest_rings(self._near)
        sizes: list[list[int]] = [[] for _ in self.atoms]
        for ring in self.rings:
            for k, atom in enumerate(ring):
                sizes[atom].append(len(ring))
                self._ring_bonds.add(frozenset((atom, ring[k - 1])))
        self._ring_sizes = [tuple(sorted(s)) for s in sizes]

    def near(self, atom: int) -> dict[int, Bond]:
        """Return the bonds of an atom by neighbour."""
        return self._near[atom]

    def ring_sizes(self, atom: int) -> tuple[int, ...]:
        """Return the sizes of the smallest rings that an atom is part of, in rising order."""
        return self._ring_sizes[atom]

    def in_ring(self, bond: Bond) -> bool:
        """Tell whether a bond is part of a ring."""
        return frozenset((bond.first, bond.second)) in self._ring_bonds

    def connections(self, atom: int) -> int:
        """Return the number of neighbours of an atom, hydrogens counted."""
        return len(self._near[atom]) + self.atoms[atom].hydrogens

    def valence(self, atom: int) -> int:
        """Return the sum of the bond orders of an atom, hydrogens counted."""
        return sum(b.order for b in self._near[atom].values()) + self.atoms[atom].hydrogens

    @property
    def counts(self) -> Counter[str]:
        """How many atoms of each element there are, hydrogen included."""
        found = Counter(a.symbol for a in self.atoms)
        found["H"] += sum(a.hydrogens for a in self.atoms)
        return +found

    @property
    def formula(self) -> str:
        """The formula in Hill's order: carbon, hydrogen, then the rest by name."""
        counts = self.counts
        rest = sorted(set(counts) - {"C", "H"}) if "C" in counts else sorted(counts)
        order = [e for e in ("C", "H") if "C" in counts and e in counts] + rest
        return "".join(f"{e}{counts[e] if counts[e] > 1 else ''}" for e in order)

    @property
    def molar_mass(self) -> float:
        """Molar mass [kg/mol]."""
        return sum(ATOMIC_WEIGHT[e] * n for e, n in self.counts.items()) * 1e-3

    @property
    def charge(self) -> int:
        """Total charge."""
        return sum(a.charge for a in self.atoms)

    def parts(self) -> int:
        """Return the number of pieces that no bond connects."""
        seen: set[int] = set()
        pieces = 0
        for start in range(len(self.atoms)):
            if start not in seen:
                pieces += 1
                seen |= _reached(self._near, start)
        return pieces


def _reached(near: list[dict[int, Bond]], start: int) -> set[int]:
    seen, waiting = {start}, [start]
    while waiting:
        for other in near[waiting.pop()]:
            if other not in seen:
                seen.add(other)
                waiting.append(other)
    return seen


def smallest_rings(near: list[dict[int, Bond]]) -> list[tuple[int, ...]]:
    """Return a smallest set of smallest rings.

    Args:
        near: bonds of each atom by neighbour.

    Returns:
        The positions of the atoms of each ring, in order around it.

    Source:
        Horton, J. D., SIAM J. Comput. 16 (1987) 358-366, doi:10.1137/0216026: candidates are the
        shortest ways from an atom around a bond, taken by size while they are independent.
    """
    edges: dict[frozenset[int], int] = {}
    for a, others in enumerate(near):
        for b in others:
            edges.setdefault(frozenset((a, b)), len(edges))
    pieces = sum(1 for k in range(len(near)) if k == min(_reached(near, k)))
    wanted = len(edges) - len(near) + pieces
    chosen: list[tuple[int, ...]] = []
    basis: dict[int, int] = {}
    if wanted <= 0:
        return chosen
    for ring in sorted(_candidates(near, edges), key=lambda r: (len(r), r)):
        vector = sum(1 << edges[frozenset((ring[k - 1], a))] for k, a in enumerate(ring))
        while vector and vector.bit_length() in basis:
            vector ^= basis[vector.bit_length()]
        if vector:
            basis[vector.bit_length()] = vector
            chosen.append(ring)
            if len(chosen) == wanted:
                break
    return chosen


def _candidates(
    near: list[dict[int, Bond]], edges: Iterable[frozenset[int]]
) -> set[tuple[int, ...]]:
    found: dict[frozenset[int], tuple[int, ...]] = {}
    pairs = [tuple(sorted(e)) for e in edges]
    for root in range(len(near)):
        before = _ways_from(near, root)
        for a, b in pairs:
            if a not in before or b not in before:
                continue
            left, right = _way(before, a), _way(before, b)
            if len(set(left) & set(right)) != 1:
                continue
            ring = (*left[::-1], *right[:-1])
            if len(ring) > 2:
                found.setdefault(frozenset(ring), ring)
    return set(found.values())


def _ways_from(near: list[dict[int, Bond]], root: int) -> dict[int, int]:
    before, level = {root: root}, [root]
    while level:
        following = []
        for atom in level:
            for other in sorted(near[atom]):
                if other not in before:
                    before[other] = atom
                    following.append(other)
        level = following
    return before


def _way(before: dict[int, int], atom: int) -> list[int]:
    way = [atom]
    while before[way[-1]] != way[-1]:
        way.append(before[way[-1]])
    return way
