"""Double bonds of rings written in lower case, and which rings are aromatic.

Rings are aromatic by Hückel's count: each atom of the ring gives 0, 1 or 2 electrons, and 4n + 2
of them make it aromatic; fused rings are tried together where a single one fails (azulene).
An exocyclic double bond to a more electronegative atom takes the electron away (pyridone).
"""

from __future__ import annotations

from itertools import combinations

from forerun.substances.elements import OUTER_ELECTRONS, VALENCES, atomic_number
from forerun.substances.molecules import Molecule

__all__ = ["give_double_bonds", "mark_aromatic"]

_MOST_FUSED = 3  # rings tried together
_LARGEST = 24  # atoms around such a perimeter


def give_double_bonds(molecule: Molecule, plain: list[bool]) -> bool:
    """Write the aromatic bonds as single and double ones.

    Args:
        molecule: aromatic atoms and bonds as written, orders of aromatic bonds 1.
        plain: whether each atom was written without brackets.

    Returns:
        Whether that is possible; then the orders are set.

    Source:
        Perfect matching by alternating paths: Edmonds, Can. J. Math. 17 (1965) 449,
        doi:10.4153/CJM-1965-045-4, by trial and return since rings are few.
    """
    needy = {k for k in range(len(molecule.atoms)) if _needs_double(molecule, k, plain)}
    partners = {
        k: [o for o, b in molecule.near(k).items() if b.aromatic and o in needy] for k in needy
    }
    matched = _matching(needy, partners)
    if matched is None:
        return False
    for first, second in matched:
        molecule.near(first)[second].order = 2
    return True


def _needs_double(molecule: Molecule, k: int, plain: list[bool]) -> bool:  # noqa: PLR0911 -- a table
    atom = molecule.atoms[k]
    if not atom.aromatic:
        return False
    if any(b.order > 1 for b in molecule.near(k).values()):
        return False
    used = len(molecule.near(k)) + atom.hydrogens
    if atom.symbol == "C":
        return atom.charge == 0 or used == 2
    if atom.symbol in ("N", "P"):
        if atom.charge > 0:
            return used == 3
        return atom.charge == 0 and used == 2
    if atom.symbol in ("O", "S", "Se"):
        return atom.charge > 0
    return atom.symbol == "B" and plain[k] and used == 2


def _matching(free: set[int], partners: dict[int, list[int]]) -> list[tuple[int, int]] | None:
    """Pair all atoms, the one with the fewest choices first."""
    if not free:
        return []
    atom = min(free, key=lambda k: (sum(o in free for o in partners[k]), k))
    for other in partners[atom]:
        if other in free:
            rest = _matching(free - {atom, other}, partners)
            if rest is not None:
                return [(atom, other), *rest]
    return None


def mark_aromatic(molecule: Molecule) -> None:
    """Set the aromatic flags of atoms and bonds anew, by electron count.

    Args:
        molecule: with its rings, hydrogens and bond orders.

    Source:
        Hückel, Z. Phys. 70 (1931) 204, doi:10.1007/BF01339530; electrons of each atom: our own
        rules, compared with those of a general-purpose library on thousands of molecules.
    """
    for atom in molecule.atoms:
        atom.aromatic = False
    for bond in molecule.bonds:
        bond.aromatic = False
    electrons = [_electrons(molecule, k) for k in range(len(molecule.atoms))]
    rings = [r for r in molecule.rings if all(electrons[k] is not None for k in r)]
    bonds = [{frozenset((r[k - 1], a)) for k, a in enumerate(r)} for r in rings]
    done: set[int] = set()
    for size in range(1, _MOST_FUSED + 1):
        for group in combinations(range(len(rings)), size):
            if size > 1 and (set(group) <= done or not _fused(group, bonds)):
                continue
            around = _perimeter(group, bonds)
            atoms = {k for bond in around for k in bond}
            total = sum(electrons[k] or 0 for k in atoms)
            if len(atoms) <= _LARGEST and total % 4 == 2:
                done |= set(group)
                for bond_ends in around:
                    first, second = bond_ends
                    molecule.near(first)[second].aromatic = True
                for k in atoms:
                    molecule.atoms[k].aromatic = True


def _fused(group: tuple[int, ...], bonds: list[set[frozenset[int]]]) -> bool:
    """Tell whether each ring shares a bond with the others taken before it."""
    reached, left = {group[0]}, set(group[1:])
    while left:
        following = {k for k in left if any(bonds[k] & bonds[r] for r in reached)}
        if not following:
            return False
        reached |= following
        left -= following
    return True


def _perimeter(group: tuple[int, ...], bonds: list[set[frozenset[int]]]) -> set[frozenset[int]]:
    around: set[frozenset[int]] = set()
    for k in group:
        around ^= bonds[k]
    return around


def _electrons(molecule: Molecule, k: int) -> int | None:  # noqa: PLR0911 -- a table
    """Return what an atom gives to a ring, None where it breaks the ring."""
    atom = molecule.atoms[k]
    bonds = molecule.near(k)
    multiple = [(o, b) for o, b in bonds.items() if b.order > 1]
    if not molecule.ring_sizes(k) or len(multiple) > 1 or any(b.order > 2 for _, b in multiple):
        return None
    usual = VALENCES[atom.symbol][0]
    degree = molecule.connections(k)
    if usual < 2 or degree > 3 or molecule.valence(k) > usual + atom.charge:
        return None
    lone = max(OUTER_ELECTRONS[atom.symbol] - usual - atom.charge, 0)
    spare = usual - degree + lone
    if spare > 1 and molecule.valence(k) - degree > 1:
        spare = 1
    outside = next((o for o, b in multiple if not molecule.in_ring(b)), None)
    if spare < 0:
        return None
    if spare == 0:
        return 0 if outside is not None else 1 if multiple else None
    if spare == 1:
        if outside is not None:
            return 0 if _attracts(molecule, outside, k) else 1
        return 1 if multiple else 0 if atom.charge == 1 else None
    if outside is not None and _attracts(molecule, outside, k):
        spare -= 1
    return 1 if spare % 2 else 2


def _attracts(molecule: Molecule, first: int, second: int) -> bool:
    """Tell whether the first atom is the more electronegative one."""
    one, two = molecule.atoms[first].symbol, molecule.atoms[second].symbol
    if OUTER_ELECTRONS[one] != OUTER_ELECTRONS[two]:
        return OUTER_ELECTRONS[one] > OUTER_ELECTRONS[two]
    return atomic_number(one) < atomic_number(two)
