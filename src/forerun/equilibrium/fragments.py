"""Cutting a new structure into the groups of each model: exact cover of its atoms by patterns.

The liquids of the catalogue carry their groups in the data file; this is for all others. Both
rest on the same patterns, and a test compares the two on every liquid of the catalogue.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from forerun.substances.molecules import Molecule
from forerun.substances.patterns import Pattern, matches, pattern
from forerun.substances.smiles import molecule_from_smiles

__all__ = ["Fragment", "fragments", "groups_of_structure", "uncovered"]

MODELS = ("unifac", "dortmund", "nist")


@dataclass(frozen=True, slots=True, eq=False)
class Fragment:
    """One pattern and the subgroups that it stands for.

    Args:
        name: for people.
        shape: the pattern; all atoms that it matches are claimed.
        formula: atoms of the group, hydrogen included.
        numbers: subgroup and how many of it, by model.
        penalty: added to the cost of a cover that uses it [-].
    """

    name: str
    shape: Pattern
    formula: tuple[tuple[str, int], ...]
    numbers: dict[str, tuple[tuple[int, int], ...]]
    penalty: float


@cache
def fragments() -> tuple[Fragment, ...]:
    """Return the patterns of the data file in its order."""
    text = (files("forerun.equilibrium") / "data" / "fragments.tsv").read_text("utf-8")
    found = []
    for line in text.splitlines():
        if not line or line.startswith("# "):
            continue
        name, smarts, formula, *numbers, penalty = line.split("\t")
        held = {m: _counted(n) for m, n in zip(MODELS, numbers, strict=True) if n}
        found.append(Fragment(name, pattern(smarts), _atoms(formula), held, float(penalty)))
    return tuple(found)


def groups_of_structure(smiles: str) -> dict[str, dict[int, int]]:
    """Return the subgroups of a molecule in every model that can describe it.

    Args:
        smiles: the structure.

    Returns:
        Subgroup and count by model; the cover with the fewest groups is taken, ties go to the
        smaller sum of penalties. A model whose groups do not add up to the formula is absent.

    Raises:
        BadInput: the SMILES cannot be read.
    """
    molecule = molecule_from_smiles(smiles)
    found = {}
    for model in MODELS:
        cover = _cover(molecule, [f for f in fragments() if model in f.numbers])
        if cover is None or _formula(cover) != molecule.counts:
            continue
        counts: Counter[int] = Counter()
        for fragment in cover:
            for number, times in fragment.numbers[model]:
                counts[number] += times
        found[model] = dict(sorted(counts.items()))
    return found


def uncovered(smiles: str, model: str) -> tuple[str, ...]:
    """Return the atoms that no group of a model takes up, in words.

    Args:
        smiles: the structure.
        model: ``unifac``, ``dortmund`` or ``nist``.

    Returns:
        Such as ``N bound to C, C``; empty where each atom fits some group, although they may
        not fit together.

    Raises:
        BadInput: the SMILES cannot be read.
    """
    molecule = molecule_from_smiles(smiles)
    held = {
        atom
        for fragment in fragments()
        if model in fragment.numbers
        for match in matches(fragment.shape, molecule)
        for atom in match
    }
    left = (k for k in range(len(molecule.atoms)) if k not in held)
    return tuple(dict.fromkeys(_told(molecule, k) for k in left))


def _told(molecule: Molecule, k: int) -> str:
    others = ", ".join(sorted(molecule.atoms[o].symbol for o in molecule.near(k)))
    return f"{molecule.atoms[k].symbol} bound to {others}" if others else molecule.atoms[k].symbol


def _counted(text: str) -> tuple[tuple[int, int], ...]:
    parts = (part.partition("*") for part in text.split("+"))
    return tuple((int(number), int(times or 1)) for number, _, times in parts)


def _atoms(formula: str) -> tuple[tuple[str, int], ...]:
    return tuple((e, int(n or 1)) for e, n in re.findall(r"([A-Z][a-z]?)(\d*)", formula))


def _formula(cover: Sequence[Fragment]) -> Counter[str]:
    total: Counter[str] = Counter()
    for fragment in cover:
        for element, number in fragment.formula:
            total[element] += number
    return total


def _cover(molecule: Molecule, known: Sequence[Fragment]) -> tuple[Fragment, ...] | None:
    by_atom: list[list[tuple[frozenset[int], Fragment]]] = [[] for _ in molecule.atoms]
    for fragment in known:
        for match in matches(fragment.shape, molecule):
            claimed = frozenset(match)
            for atom in claimed:
                by_atom[atom].append((claimed, fragment))

    @cache
    def best(free: frozenset[int]) -> tuple[float, tuple[Fragment, ...]] | None:
        if not free:
            return 0.0, ()
        atom = min(free, key=lambda a: (len(by_atom[a]), a))
        found: tuple[float, tuple[Fragment, ...]] | None = None
        for claimed, fragment in by_atom[atom]:
            if claimed <= free:
                rest = best(free - claimed)
                if rest is not None:
                    cost = rest[0] + 1.0 + fragment.penalty
                    if found is None or cost < found[0] - 1e-9:
                        found = cost, (*rest[1], fragment)
        return found

    answer = best(frozenset(range(len(molecule.atoms))))
    return None if answer is None else answer[1]
