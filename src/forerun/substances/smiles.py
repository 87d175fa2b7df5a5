"""Reading a structure written as SMILES.

Source: OpenSMILES specification, version 1.0 (2016), http://opensmiles.org/opensmiles.html:
grammar and rules for hydrogen. Marks of stereochemistry and isotopes are read and not kept.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from forerun.core.errors import BadInput
from forerun.substances.aromaticity import give_double_bonds, mark_aromatic
from forerun.substances.elements import AROMATIC, ATOMIC_WEIGHT, VALENCES
from forerun.substances.molecules import Atom, Bond, Molecule

__all__ = ["MOST_ATOMS", "molecule_from_smiles"]

MOST_ATOMS = 100  # besides hydrogen: a bench liquid has fewer
_LONGEST = 500  # characters

_ORGANIC = ("Cl", "Br", "B", "C", "N", "O", "P", "S", "F", "I")
_ORDERS = {"-": 1, "=": 2, "#": 3, ":": 0, "/": 1, "\\": 1}
_BRACKET = re.compile(
    r"\[(?P<isotope>\d+)?(?P<symbol>[A-Z][a-z]?|se|[bcnops])(?P<chiral>@{0,2}(?:[A-Z]{2}\d+)?)"
    r"(?P<hydrogens>H\d*)?(?P<charge>\+{1,3}|-{1,3}|\+\d|-\d)?(?::\d+)?\]"
)
_RING = re.compile(r"%(\d\d)|(\d)")


@dataclass(slots=True)
class _Reading:
    """What has been read so far."""

    text: str
    place: str
    atoms: list[Atom] = field(default_factory=list)
    bonds: list[Bond] = field(default_factory=list)
    plain: list[bool] = field(default_factory=list)  # written without brackets
    open_rings: dict[int, tuple[int, int | None]] = field(default_factory=dict)
    branches: list[int | None] = field(default_factory=list)
    last: int | None = None
    order: int | None = None

    def refuse(self, why: str, position: int | None = None) -> BadInput:
        """Return the error that names what cannot be read."""
        at = "" if position is None else f" at character {position + 1}"
        return BadInput(self.place, self.text, f"a SMILES that can be read ({why}{at})")


def molecule_from_smiles(text: str, field: str = "substance") -> Molecule:
    """Return the molecule that a SMILES describes.

    Args:
        text: the SMILES; aromatic rings in either spelling.
        field: where it stands, for the message.

    Returns:
        The molecule with its rings, aromatic rings found by electron counting.

    Raises:
        BadInput: it breaks the grammar, uses an element that no liquid here has, or closes
            no ring that it opens.
    """
    reading = _Reading(text, field)
    if not text or len(text) > _LONGEST:
        raise reading.refuse(f"1 to {_LONGEST} characters")
    position = 0
    while position < len(text):
        position = _step(reading, position)
    if reading.open_rings:
        raise reading.refuse(f"ring {min(reading.open_rings)} is opened and not closed")
    if reading.branches:
        raise reading.refuse("a bracket ( is opened and not closed")
    if reading.order is not None:
        raise reading.refuse("it ends with a bond")
    return _finished(reading)


def _step(reading: _Reading, position: int) -> int:
    """Read one token and return where the next begins."""
    text = reading.text
    character = text[position]
    if character == "(":
        if reading.last is None:
            raise reading.refuse("a branch before any atom", position)
        reading.branches.append(reading.last)
        return position + 1
    if character == ")":
        if not reading.branches:
            raise reading.refuse("a bracket ) without its (", position)
        reading.last = reading.branches.pop()
        return position + 1
    if character in _ORDERS:
        if reading.order is not None or reading.last is None:
            raise reading.refuse("a bond without an atom before it", position)
        reading.order = _ORDERS[character]
        return position + 1
    if character == ".":
        reading.last = None
        return position + 1
    if character.isdigit() or character == "%":
        return _close_ring(reading, position)
    return _read_atom(reading, position)


def _close_ring(reading: _Reading, position: int) -> int:
    match = _RING.match(reading.text, position)
    if match is None or reading.last is None:
        raise reading.refuse("a ring number that belongs to no atom", position)
    number = int(match[1] or match[2])
    if number in reading.open_rings:
        other, order = reading.open_rings.pop(number)
        if other == reading.last or _joined(reading, other, reading.last):
            raise reading.refuse(f"ring {number} has fewer than three atoms", position)
        if order is not None and reading.order is not None and order != reading.order:
            raise reading.refuse(f"ring {number} closes with another bond", position)
        _bond(reading, other, reading.last, reading.order if order is None else order)
    else:
        reading.open_rings[number] = (reading.last, reading.order)
    reading.order = None
    return match.end()


def _joined(reading: _Reading, first: int, second: int) -> bool:
    return any({b.first, b.second} == {first, second} for b in reading.bonds)


def _read_atom(reading: _Reading, position: int) -> int:
    text = reading.text
    if text[position] == "[":
        match = _BRACKET.match(text, position)
        if match is None:
            raise reading.refuse("an atom in square brackets that is not one", position)
        atom, end, plain = _bracket_atom(reading, match), match.end(), False
    else:
        symbol = next((s for s in (*_ORGANIC, *AROMATIC) if text.startswith(s, position)), None)
        if symbol is None or symbol == "se":
            raise reading.refuse(f'"{text[position]}" is no atom, bond or ring number', position)
        atom = Atom(AROMATIC.get(symbol, symbol), aromatic=symbol in AROMATIC)
        end, plain = position + len(symbol), True
    reading.atoms.append(atom)
    reading.plain.append(plain)
    if len(reading.atoms) > MOST_ATOMS:
        raise reading.refuse(f"at most {MOST_ATOMS} atoms besides hydrogen")
    here = len(reading.atoms) - 1
    if reading.last is not None:
        _bond(reading, reading.last, here, reading.order)
    reading.last, reading.order = here, None
    return end


def _bracket_atom(reading: _Reading, match: re.Match[str]) -> Atom:
    symbol = match["symbol"]
    element = AROMATIC.get(symbol, symbol)
    if element not in ATOMIC_WEIGHT:
        raise reading.refuse(
            f"{symbol} is not among {', '.join(ATOMIC_WEIGHT)}, the elements known here",
            match.start(),
        )
    written = match["hydrogens"]
    hydrogens = 0 if written is None else int(written[1:] or 1)
    sign = match["charge"] or ""
    size = int(sign[1:]) if sign[1:].isdigit() else len(sign)
    charge = -size if sign.startswith("-") else size
    return Atom(element, charge, hydrogens, symbol in AROMATIC)


def _bond(reading: _Reading, first: int, second: int, order: int | None) -> None:
    both = reading.atoms[first].aromatic and reading.atoms[second].aromatic
    if order is None or order == 0:
        reading.bonds.append(Bond(first, second, 1, aromatic=both))
    else:
        reading.bonds.append(Bond(first, second, order))


def _finished(reading: _Reading) -> Molecule:
    """Join hydrogens written as atoms, write double bonds, add hydrogen, find aromatic rings."""
    molecule = _without_loose_hydrogen(reading)
    molecule.settle()
    for bond in molecule.bonds:  # biphenyl: two aromatic atoms, a bond that is not
        if bond.aromatic and not molecule.in_ring(bond):
            bond.aromatic = False
    loose = next(
        (k for k, a in enumerate(molecule.atoms) if a.aromatic and not molecule.ring_sizes(k)), None
    )
    if loose is not None:
        raise reading.refuse(f"atom {loose + 1}, in lower case, is part of no ring")
    if not give_double_bonds(molecule, reading.plain):
        raise reading.refuse("its aromatic rings cannot be written with double bonds")
    for k, atom in enumerate(molecule.atoms):
        if reading.plain[k]:
            atom.hydrogens = _missing_hydrogen(reading, molecule, k)
        elif atom.charge == 0 and molecule.valence(k) > max(VALENCES[atom.symbol]):
            raise reading.refuse(f"atom {k + 1}, {atom.symbol}, has too many bonds")
    mark_aromatic(molecule)
    return molecule


def _missing_hydrogen(reading: _Reading, molecule: Molecule, position: int) -> int:
    atom = molecule.atoms[position]
    used = molecule.valence(position)
    for valence in VALENCES[atom.symbol]:
        if used <= valence:
            return valence - used
    raise reading.refuse(f"atom {position + 1}, {atom.symbol}, has too many bonds")


def _without_loose_hydrogen(reading: _Reading) -> Molecule:
    heavy = [k for k, a in enumerate(reading.atoms) if a.symbol != "H"]
    if not heavy:
        raise reading.refuse("a liquid at the bench has more than hydrogen")
    place = {k: n for n, k in enumerate(heavy)}
    bonds = []
    for bond in reading.bonds:
        ends = [k for k in (bond.first, bond.second) if k in place]
        if len(ends) == 2:
            bond.first, bond.second = place[bond.first], place[bond.second]
            bonds.append(bond)
        elif ends and not reading.plain[ends[0]]:
            reading.atoms[ends[0]].hydrogens += 1
    reading.plain = [reading.plain[k] for k in heavy]
    return Molecule([reading.atoms[k] for k in heavy], bonds)
