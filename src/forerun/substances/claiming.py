"""Counting the groups of a method: patterns in order, each claims atoms that are still free."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from forerun.substances.molecules import Molecule
from forerun.substances.patterns import Pattern, matches, pattern

__all__ = ["GroupTable", "atom_in_words", "claimed_groups", "group_table", "table_rows"]

FOLDER = Path(__file__).parent / "data"


@dataclass(frozen=True, slots=True, eq=False)
class GroupTable:
    """The groups of one method.

    Args:
        shapes: name and pattern in the order in which they claim atoms.
        values: contributions of each group by the name of the column [see the table]; None
            where the method has none.
    """

    shapes: tuple[tuple[str, Pattern], ...]
    values: dict[str, dict[str, float | None]]


@cache
def table_rows(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a table that ships with the package.

    Args:
        name: of the file.

    Returns:
        One dictionary for each line; lines that begin with ``# `` are left out.
    """
    lines = [
        line
        for line in (FOLDER / name).read_text("utf-8").splitlines()
        if line and not line.startswith("# ")
    ]
    head = lines[0].split("\t")
    return tuple(dict(zip(head, line.split("\t"), strict=True)) for line in lines[1:])


@cache
def group_table(name: str) -> GroupTable:
    """Return the groups of a method.

    Args:
        name: of the file in the data folder, with columns ``group``, ``pattern`` (``-`` where a
            rule in the code gives the group) and contributions.
    """
    shapes, values = [], {}
    for row in table_rows(name):
        if row["pattern"] != "-":
            shapes.append((row["group"], pattern(row["pattern"])))
        values[row["group"]] = {
            key: float(text) if text else None
            for key, text in row.items()
            if key not in ("group", "pattern", "name")
        }
    return GroupTable(tuple(shapes), values)


def claimed_groups(molecule: Molecule, table: GroupTable) -> tuple[Counter[str], tuple[int, ...]]:
    """Return how often each group occurs, and the atoms that no group takes up.

    Args:
        molecule: the molecule.
        table: the groups.

    Returns:
        Counts by group, and positions of atoms left over.
    """
    free = set(range(len(molecule.atoms)))
    counts: Counter[str] = Counter()
    for name, shape in table.shapes:
        if not free:
            break
        for match in matches(shape, molecule):
            if free.issuperset(match):
                free -= set(match)
                counts[name] += 1
    return counts, tuple(sorted(free))


def atom_in_words(molecule: Molecule, position: int) -> str:
    """Return an atom and its neighbours, to name what a method cannot describe.

    Args:
        molecule: the molecule.
        position: of the atom.

    Returns:
        Such as ``S bound to C, C``.
    """
    others = sorted(molecule.atoms[o].symbol for o in molecule.near(position))
    atom = molecule.atoms[position]
    kind = f"aromatic {atom.symbol}" if atom.aromatic else atom.symbol
    return f"{kind} bound to {', '.join(others)}" if others else kind
