"""Patterns of atoms and bonds in the SMARTS notation, and where they fit a molecule.

Source: the notation as in Daylight Theory Manual, chapter 4 (SMARTS), version 4.9 (2011),
https://www.daylight.com/dayhtml/doc/theory/theory.smarts.html. Not read: stereochemistry,
isotopes, several pieces. ``r`` asks for the size of the smallest ring that an atom is part of.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

from forerun.substances.elements import AROMATIC, ATOMIC_WEIGHT, atomic_number
from forerun.substances.molecules import Bond, Molecule

__all__ = ["Pattern", "matches", "pattern"]

AtomTest = Callable[[Molecule, int], bool]
BondTest = Callable[[Molecule, Bond], bool]

_NUMBERS = {atomic_number(symbol): symbol for symbol in ATOMIC_WEIGHT}
_COUNTED = re.compile(r"([HXDRrvx])(\d*)")
_CHARGE = re.compile(r"(\++|-+)(\d*)")
_SYMBOL = re.compile(r"Cl|Br|Si|Se|se|[BCNOPSFIbcnops]")
_BARE = re.compile(r"Cl|Br|[BCNOPSFIbcnops*aA]")


@dataclass(frozen=True, eq=False)
class Pattern:
    """A pattern ready to be laid on molecules.

    Args:
        text: as written.
        atoms: what each atom must be.
        bonds: for each atom but the first, the earlier atoms that it is joined to, and how.
    """

    text: str
    atoms: tuple[AtomTest, ...]
    bonds: tuple[tuple[tuple[int, BondTest], ...], ...]

    def begins(self, molecule: Molecule, atom: int) -> bool:
        """Tell whether the pattern fits with its first atom on this one."""
        return (
            self.atoms[0](molecule, atom) and next(_laid(self, molecule, (atom,)), None) is not None
        )


def matches(wanted: Pattern, molecule: Molecule) -> list[tuple[int, ...]]:
    """Return where a pattern fits.

    Args:
        wanted: the pattern.
        molecule: the molecule.

    Returns:
        Positions of the atoms in the order of the pattern, one for each different set of atoms.
    """
    found: dict[frozenset[int], tuple[int, ...]] = {}
    for start in range(len(molecule.atoms)):
        if wanted.atoms[0](molecule, start):
            for placed in _laid(wanted, molecule, (start,)):
                found.setdefault(frozenset(placed), placed)
    return list(found.values())


def _laid(
    wanted: Pattern, molecule: Molecule, placed: tuple[int, ...]
) -> Iterator[tuple[int, ...]]:
    here = len(placed)
    if here == len(wanted.atoms):
        yield placed
        return
    joined = wanted.bonds[here]
    for candidate, bond in molecule.near(placed[joined[0][0]]).items():
        if (
            candidate not in placed
            and joined[0][1](molecule, bond)
            and wanted.atoms[here](molecule, candidate)
            and all(_holds(molecule, placed[k], candidate, test) for k, test in joined[1:])
        ):
            yield from _laid(wanted, molecule, (*placed, candidate))


def _holds(molecule: Molecule, first: int, second: int, test: BondTest) -> bool:
    bond = molecule.near(first).get(second)
    return bond is not None and test(molecule, bond)


@cache
def pattern(text: str) -> Pattern:
    """Return the pattern of a text.

    Args:
        text: in SMARTS notation.

    Raises:
        ValueError: it breaks the notation; patterns come from files of ours, never from users.
    """
    reader = _Reader(text)
    while reader.position < len(text):
        reader.step()
    if reader.open_rings or reader.branches:
        raise ValueError(f"{text}: a ring or a branch is left open")
    return Pattern(text, tuple(reader.atoms), tuple(tuple(b) for b in reader.bonds))


class _Reader:
    """Reads one pattern from left to right."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.position = 0
        self.atoms: list[AtomTest] = []
        self.bonds: list[list[tuple[int, BondTest]]] = []
        self.open_rings: dict[str, tuple[int, BondTest | None]] = {}
        self.branches: list[int] = []
        self.last: int | None = None
        self.between: BondTest | None = None

    def step(self) -> None:
        character = self.text[self.position]
        if character == "(":
            self.branches.append(self._last())
            self.position += 1
        elif character == ")":
            self.last = self.branches.pop()
            self.position += 1
        elif character.isdigit():
            self._ring(character)
        elif character in "-=#:~@!/\\":
            self.between = self._bond()
        else:
            self._atom()

    def _last(self) -> int:
        if self.last is None:
            raise ValueError(f"{self.text}: no atom before character {self.position + 1}")
        return self.last

    def _ring(self, number: str) -> None:
        here = self._last()
        if number in self.open_rings:
            other, test = self.open_rings.pop(number)
            self.bonds[here].append((other, test or self.between or _single_or_aromatic))
        else:
            self.open_rings[number] = (here, self.between)
        self.between = None
        self.position += 1

    def _atom(self) -> None:
        if self.text[self.position] == "[":
            end = _closing(self.text, self.position, "[", "]")
            test = _expression(self.text[self.position + 1 : end])
            self.position = end + 1
        else:
            match = _BARE.match(self.text, self.position)
            if match is None:
                raise ValueError(f"{self.text}: character {self.position + 1} is no atom")
            test = _primitive(match[0])
            self.position = match.end()
        self.atoms.append(test)
        self.bonds.append([])
        if self.last is not None:
            self.bonds[-1].append((self.last, self.between or _single_or_aromatic))
        self.last, self.between = len(self.atoms) - 1, None

    def _bond(self) -> BondTest:
        end = self.position
        while end < len(self.text) and self.text[end] in "-=#:~@!,;&/\\":
            end += 1
        written = self.text[self.position : end]
        self.position = end
        return _bond_expression(written)


def _closing(text: str, start: int, opens: str, closes: str) -> int:
    depth = 0
    for k in range(start, len(text)):
        depth += (text[k] == opens) - (text[k] == closes)
        if depth == 0:
            return k
    raise ValueError(f"{text}: {opens} without {closes}")


def _single_or_aromatic(molecule: Molecule, bond: Bond) -> bool:
    return bond.aromatic or bond.order == 1


_BONDS: dict[str, BondTest] = {
    "-": lambda _, bond: bond.order == 1 and not bond.aromatic,
    "/": lambda _, bond: bond.order == 1 and not bond.aromatic,
    "\\": lambda _, bond: bond.order == 1 and not bond.aromatic,
    "=": lambda _, bond: bond.order == 2 and not bond.aromatic,
    "#": lambda _, bond: bond.order == 3,
    ":": lambda _, bond: bond.aromatic,
    "~": lambda _molecule, _bond: True,
    "@": lambda molecule, bond: molecule.in_ring(bond),
}


def _bond_expression(text: str) -> BondTest:
    for mark, combine in ((";", all), (",", any)):
        if mark in text:
            parts = [_bond_expression(part) for part in text.split(mark)]
            return lambda m, b, parts=parts, combine=combine: combine(p(m, b) for p in parts)  # type: ignore[misc]
    tests: list[BondTest] = []
    negate = False
    for character in text.replace("&", ""):
        if character == "!":
            negate = not negate
            continue
        test = _BONDS[character]
        tests.append(_not_bond(test) if negate else test)
        negate = False
    return lambda molecule, bond: all(test(molecule, bond) for test in tests)


def _not_bond(test: BondTest) -> BondTest:
    return lambda molecule, bond: not test(molecule, bond)


def _expression(text: str) -> AtomTest:
    """Read what stands in square brackets: ; binds weakest, then the comma, then & and nothing."""
    for mark, combine in ((";", all), (",", any)):
        parts = _split(text, mark)
        if len(parts) > 1:
            return _combined([_expression(part) for part in parts], every=combine is all)
    tests: list[AtomTest] = []
    position, negate = 0, False
    while position < len(text):
        if text[position] == "!":
            negate, position = not negate, position + 1
            continue
        if text[position] == "&":
            position += 1
            continue
        test, position = _next_primitive(text, position)
        tests.append(_not(test) if negate else test)
        negate = False
    if not tests:
        raise ValueError(f"[{text}]: nothing asked for")
    return _combined(tests, every=True)


def _combined(tests: list[AtomTest], *, every: bool) -> AtomTest:
    if len(tests) == 1:
        return tests[0]
    if every:
        return lambda molecule, atom: all(test(molecule, atom) for test in tests)
    return lambda molecule, atom: any(test(molecule, atom) for test in tests)


def _not(test: AtomTest) -> AtomTest:
    return lambda molecule, atom: not test(molecule, atom)


def _split(text: str, mark: str) -> list[str]:
    parts, depth, start = [], 0, 0
    for k, character in enumerate(text):
        depth += (character in "([") - (character in ")]")
        if character == mark and depth == 0:
            parts.append(text[start:k])
            start = k + 1
    return [*parts, text[start:]]


def _next_primitive(text: str, position: int) -> tuple[AtomTest, int]:
    if text.startswith("$(", position):
        end = _closing(text, position + 1, "(", ")")
        inner = pattern(text[position + 2 : end])
        return inner.begins, end + 1
    if text[position] == "#":
        match = re.compile(r"#(\d+)").match(text, position)
        if match is None:
            raise ValueError(f"[{text}]: # without a number")
        return _is_element(_NUMBERS[int(match[1])], aromatic=None), match.end()
    symbol = _SYMBOL.match(text, position)
    counted = _COUNTED.match(text, position)
    if symbol:
        return _primitive(symbol[0]), symbol.end()
    if counted:
        return _counted(counted[1], counted[2]), counted.end()
    charge = _CHARGE.match(text, position)
    if charge:
        size = int(charge[2] or len(charge[1])) * (1 if charge[1][0] == "+" else -1)
        return (lambda m, k: m.atoms[k].charge == size), charge.end()
    if text[position] in "*aA":
        return _primitive(text[position]), position + 1
    raise ValueError(f"[{text}]: character {position + 1} is not understood")


def _primitive(symbol: str) -> AtomTest:
    if symbol == "*":
        return lambda _molecule, _atom: True
    if symbol in ("a", "A"):
        return lambda m, k: m.atoms[k].aromatic == (symbol == "a")
    return _is_element(AROMATIC.get(symbol, symbol), aromatic=symbol in AROMATIC)


def _is_element(symbol: str, aromatic: bool | None) -> AtomTest:
    if aromatic is None:
        return lambda m, k: m.atoms[k].symbol == symbol
    return lambda m, k: m.atoms[k].symbol == symbol and m.atoms[k].aromatic == aromatic


def _counted(kind: str, digits: str) -> AtomTest:
    if kind in "Rrx" and not digits:
        return lambda m, k: bool(m.ring_sizes(k))
    wanted = int(digits or 1)
    if kind == "r" and wanted:
        return lambda m, k: bool(m.ring_sizes(k)) and m.ring_sizes(k)[0] == wanted
    tests: dict[str, AtomTest] = {
        "H": lambda m, k: m.atoms[k].hydrogens == wanted,
        "X": lambda m, k: m.connections(k) == wanted,
        "D": lambda m, k: len(m.near(k)) == wanted,
        "R": lambda m, k: len(m.ring_sizes(k)) == wanted,
        "r": lambda m, k: not m.ring_sizes(k),
        "v": lambda m, k: m.valence(k) == wanted,
        "x": lambda m, k: sum(m.in_ring(b) for b in m.near(k).values()) == wanted,
    }
    return tests[kind]
