"""Cut a molecule into the groups of a model: exact cover of its atoms by SMARTS patterns."""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from rdkit import Chem, RDLogger
from rdkit.Chem.rdMolDescriptors import CalcMolFormula

RDLogger.DisableLog("rdApp.*")

MODELS = ("unifac", "dortmund", "nist")


@dataclass(frozen=True, eq=False)
class Fragment:
    """One row of fragments.tsv; `numbers` holds (subgroup, how many) of each model that has it."""

    name: str
    pattern: Chem.Mol
    formula: Counter
    numbers: dict[str, tuple[tuple[str, int], ...]]
    penalty: float


def read_fragments(path: Path) -> list[Fragment]:
    """Return the patterns of a file."""
    fragments = []
    lines = [line for line in path.read_text().splitlines() if line and not line.startswith("# ")]
    for name, smarts, formula, *numbers, penalty in csv.reader(lines, delimiter="\t"):
        pattern = Chem.MolFromSmarts(smarts)
        if pattern is None:
            raise ValueError(f"{name}: {smarts} is no SMARTS")
        held = {}
        for model, text in zip(MODELS, numbers, strict=True):
            if text:
                held[model] = tuple(_counted(part) for part in text.split("+"))
        fragments.append(Fragment(name, pattern, atoms_of(formula), held, float(penalty)))
    return fragments


def _counted(text: str) -> tuple[str, int]:
    number, _, times = text.partition("*")
    return number, int(times or 1)


@cache
def _atoms(formula: str) -> tuple[tuple[str, int], ...]:
    return tuple((e, int(n or 1)) for e, n in re.findall(r"([A-Z][a-z]?)(\d*)", formula))


def atoms_of(formula: str) -> Counter:
    """Return the atoms of a plain formula such as C2H6O."""
    counts: Counter = Counter()
    for element, number in _atoms(formula):
        counts[element] += number
    return counts


def inchikey(smiles: str) -> str:
    """Return the InChIKey of a SMILES."""
    return Chem.MolToInchiKey(Chem.MolFromSmiles(smiles))


def groups(smiles: str, fragments: list[Fragment]) -> dict[str, dict[str, int]]:
    """Return the subgroups of a molecule in every model that can describe it.

    The cover with the fewest groups is taken; ties go to the smaller sum of penalties.  The sum
    of the group formulas must give the formula of the molecule, or the build stops.
    """
    molecule = Chem.MolFromSmiles(smiles)
    result = {}
    for model in MODELS:
        cover = _cover(molecule, [f for f in fragments if model in f.numbers])
        if cover is None:
            continue
        counts: Counter = Counter()
        formula: Counter = Counter()
        for fragment in cover:
            for number, times in fragment.numbers[model]:
                counts[number] += times
            formula.update(fragment.formula)
        if formula != atoms_of(CalcMolFormula(molecule)):
            names = [f.name for f in cover]
            raise ValueError(f"{smiles}: {names} do not add up to {CalcMolFormula(molecule)}")
        result[model] = dict(sorted(counts.items(), key=lambda item: int(item[0])))
    return result


def _cover(molecule: Chem.Mol, fragments: list[Fragment]) -> list[Fragment] | None:
    by_atom: dict[int, list[tuple[frozenset[int], Fragment]]] = {
        atom.GetIdx(): [] for atom in molecule.GetAtoms()
    }
    for fragment in fragments:
        for match in molecule.GetSubstructMatches(fragment.pattern, uniquify=True):
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

    answer = best(frozenset(by_atom))
    return None if answer is None else list(answer[1])
