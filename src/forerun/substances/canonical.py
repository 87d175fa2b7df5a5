"""One way of writing a structure, whichever way it was read: the key of a new molecule.

It need not be the way of any other program; stereochemistry is not in it.
"""

from __future__ import annotations

from forerun.substances.elements import VALENCES, atomic_number
from forerun.substances.molecules import Bond, Molecule

__all__ = ["canonical_smiles"]

_MOST_TRIALS = 256  # ways of breaking ties that are tried; beyond, the first of each tie is taken


def canonical_smiles(molecule: Molecule) -> str:
    """Return the one SMILES of a molecule.

    Args:
        molecule: with rings, hydrogens and aromatic rings known.

    Returns:
        A SMILES with aromatic atoms in lower case.

    Source:
        Ranks by repeated refinement over neighbours: Morgan, J. Chem. Doc. 5 (1965) 107,
        doi:10.1021/c160017a018; of the ways left the text that sorts first.
    """
    start = [_invariant(molecule, k) for k in range(len(molecule.atoms))]
    order = sorted(set(start))
    ranks = _refined(molecule, [order.index(v) for v in start])
    texts: set[str] = set()
    _try_ties(molecule, ranks, texts)
    return min(texts)


def _invariant(molecule: Molecule, k: int) -> tuple[int, ...]:
    atom = molecule.atoms[k]
    orders = sorted(4 if b.aromatic else b.order for b in molecule.near(k).values())
    return (
        atomic_number(atom.symbol),
        len(molecule.near(k)),
        atom.hydrogens,
        atom.charge,
        int(atom.aromatic),
        *molecule.ring_sizes(k)[:1],
        -1,
        *orders,
    )


def _refined(molecule: Molecule, ranks: list[int]) -> list[int]:
    while True:
        keys = [
            (
                ranks[k],
                tuple(
                    sorted(
                        (ranks[o], 4 if b.aromatic else b.order)
                        for o, b in molecule.near(k).items()
                    )
                ),
            )
            for k in range(len(ranks))
        ]
        order = {key: n for n, key in enumerate(sorted(set(keys)))}
        new = [order[key] for key in keys]
        if len(set(new)) == len(set(ranks)):
            return new
        ranks = new


def _try_ties(molecule: Molecule, ranks: list[int], texts: set[str]) -> None:
    by_rank: dict[int, list[int]] = {}
    for k, rank in enumerate(ranks):
        by_rank.setdefault(rank, []).append(k)
    tied = next((by_rank[r] for r in sorted(by_rank) if len(by_rank[r]) > 1), None)
    if tied is None:
        texts.add(_written(molecule, ranks))
        return
    for k in tied if len(texts) < _MOST_TRIALS else tied[:1]:
        split = [2 * r for r in ranks]
        split[k] -= 1
        _try_ties(molecule, _refined(molecule, split), texts)
        if _leaf(molecule, k):
            break  # equal ends of one atom cannot differ


def _leaf(molecule: Molecule, k: int) -> bool:
    return len(molecule.near(k)) == 1


def _written(molecule: Molecule, ranks: list[int]) -> str:
    seen: set[int] = set()
    closures = _closures(molecule, ranks)
    numbers = {bond: n for n, bond in enumerate(closures, start=1)}
    parts = []
    for start in sorted(range(len(ranks)), key=lambda k: ranks[k]):
        if start not in seen:
            parts.append(_branch(molecule, ranks, start, None, seen, numbers))
    return ".".join(parts)


def _closures(molecule: Molecule, ranks: list[int]) -> list[frozenset[int]]:
    """Return the bonds that the walk from the lowest rank leaves over, in the order met."""
    seen: set[int] = set()
    walked: set[frozenset[int]] = set()
    found: list[frozenset[int]] = []

    def walk(k: int) -> None:
        seen.add(k)
        for other in sorted(molecule.near(k), key=lambda o: ranks[o]):
            bond = frozenset((k, other))
            if bond in walked:
                continue
            walked.add(bond)
            if other in seen:
                found.append(bond)
            else:
                walk(other)

    for start in sorted(range(len(ranks)), key=lambda k: ranks[k]):
        if start not in seen:
            walk(start)
    return found


def _branch(
    molecule: Molecule,
    ranks: list[int],
    k: int,
    before: int | None,
    seen: set[int],
    numbers: dict[frozenset[int], int],
) -> str:
    seen.add(k)
    text = _atom(molecule, k)
    onward = []
    for other in sorted(molecule.near(k), key=lambda o: ranks[o]):
        bond = frozenset((k, other))
        if other == before:
            continue
        if bond in numbers:
            number = numbers[bond]
            text += _sign(molecule, molecule.near(k)[other]) if other not in seen else ""
            text += str(number) if number < 10 else f"%{number}"
        else:
            onward.append(other)
    pieces = [
        _sign(molecule, molecule.near(k)[o]) + _branch(molecule, ranks, o, k, seen, numbers)
        for o in onward
        if o not in seen
    ]
    return text + "".join(f"({piece})" for piece in pieces[:-1]) + "".join(pieces[-1:])


def _sign(molecule: Molecule, bond: Bond) -> str:
    if bond.aromatic:
        return ""
    both = molecule.atoms[bond.first].aromatic and molecule.atoms[bond.second].aromatic
    return {1: "-" if both else "", 2: "=", 3: "#"}[bond.order]


def _atom(molecule: Molecule, k: int) -> str:
    atom = molecule.atoms[k]
    symbol = atom.symbol.lower() if atom.aromatic else atom.symbol
    plain = atom.charge == 0 and symbol not in ("H", "Si", "Se", "se")
    used = molecule.valence(k)
    if plain and any(used == v for v in VALENCES[atom.symbol]):
        lowest = next(v for v in VALENCES[atom.symbol] if used - atom.hydrogens <= v)
        if lowest == used and not (atom.aromatic and atom.symbol != "C" and atom.hydrogens):
            return symbol
    hydrogens = "" if atom.hydrogens == 0 else "H" if atom.hydrogens == 1 else f"H{atom.hydrogens}"
    charge = "" if atom.charge == 0 else f"{atom.charge:+d}".replace("+1", "+").replace("-1", "-")
    return f"[{symbol}{hydrogens}{charge}]"
