"""The reader of structures and of patterns: its grammar, and the same answers as a library."""

from __future__ import annotations

import gzip
import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.fragments import fragments
from forerun.substances.canonical import canonical_smiles
from forerun.substances.catalogue import all_substances
from forerun.substances.patterns import matches, pattern
from forerun.substances.smiles import molecule_from_smiles
from forerun.substances.store import records

CHECKED = Path(__file__).with_name("structures_checked.json.gz")


@cache
def checked() -> list[Any]:
    """SMILES of 1,500 molecules drawn from public names and structures (PubChem), two spellings
    of each, with formula, number of aromatic atoms and matches of our patterns as the
    general-purpose library rdkit 2026.09.1 finds them. Left out: radicals, isotopes of hydrogen,
    triple bonds in rings and aromatic sulfur oxides, which no liquid of a bench has."""
    found: list[Any] = json.loads(gzip.decompress(CHECKED.read_bytes()))
    return found


@pytest.mark.parametrize(
    ("smiles", "formula", "aromatic"),
    [
        ("CCO", "C2H6O", 0),
        ("c1ccccc1", "C6H6", 6),
        ("C1=CC=CC=C1", "C6H6", 6),
        ("c1cc[nH]c1", "C4H5N", 5),
        ("c1ccoc1", "C4H4O", 5),
        ("O=c1cccc[nH]1", "C5H5NO", 6),
        ("c1ccc2cccc2cc1", "C10H8", 10),
        ("C=C1C=CC=C1", "C6H6", 0),
        ("c1ccc(cc1)-c1ccccc1", "C12H10", 12),
        ("CC(=O)O[C@@H](C)CC", "C6H12O2", 0),
        ("C/C=C/C", "C4H8", 0),
        ("[CH3:1][13CH2]O", "C2H6O", 0),
        ("C[N+](=O)[O-]", "CH3NO2", 0),
        ("CS(C)=O", "C2H6OS", 0),
        ("C%12CCCC%12", "C5H10", 0),
        ("[H]OC([H])([H])[H]", "CH4O", 0),
        ("ClC(Br)I", "CHBrClI", 0),
        ("O", "H2O", 0),
    ],
)
def test_structures_are_read_with_their_hydrogen(smiles: str, formula: str, aromatic: int):
    molecule = molecule_from_smiles(smiles)
    assert molecule.formula == formula
    assert sum(atom.aromatic for atom in molecule.atoms) == aromatic


@pytest.mark.parametrize(
    ("smiles", "why"),
    [
        ("C1CC", "ring 1 is opened and not closed"),
        ("CC(C", "a bracket ( is opened and not closed"),
        ("CC)C", "a bracket ) without its ( at character 3"),
        ("CC=", "it ends with a bond"),
        ("C==C", "a bond without an atom before it at character 3"),
        ("CXC", '"X" is no atom'),
        ("C[Xx]", "Xx is not among"),
        ("C[C", "an atom in square brackets that is not one"),
        ("C(C)(C)(C)(C)C", "atom 1, C, has too many bonds"),
        ("c1cccc1", "cannot be written with double bonds"),
        ("cC", "atom 1, in lower case, is part of no ring"),
        ("C11", "fewer than three atoms"),
        ("C1CC=1C1", "ring 1 is opened"),
        ("", "1 to 500 characters"),
        ("C" * 101, "at most 100 atoms"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(smiles: str, why: str):
    with pytest.raises(BadInput) as caught:
        molecule_from_smiles(smiles, "charge[1].substance")
    assert why in str(caught.value)
    assert str(caught.value).startswith("charge[1].substance:")


def test_formula_and_aromatic_atoms_are_those_of_the_library():
    for smiles, other, formula, aromatic, _ in checked():
        for text in (smiles, other):
            molecule = molecule_from_smiles(text)
            assert molecule.formula == formula, text
            assert sum(atom.aromatic for atom in molecule.atoms) == aromatic, text


def test_two_spellings_of_a_molecule_have_one_key():
    for smiles, other, *_ in checked()[:400]:
        key = canonical_smiles(molecule_from_smiles(smiles))
        assert canonical_smiles(molecule_from_smiles(other)) == key, smiles
        assert canonical_smiles(molecule_from_smiles(key)) == key, smiles


def test_different_molecules_have_different_keys():
    keys: dict[str, str] = {}
    for record in records():
        key = canonical_smiles(molecule_from_smiles(record["smiles"]))
        first = keys.setdefault(key, record["name"])
        flat = {first, record["name"]}
        assert len(flat) == 1 or any(n.split("-")[0] in ("cis", "trans") for n in flat), flat


def test_patterns_fit_where_the_library_says_they_do():
    for smiles, _, _, _, wanted in checked()[::5]:
        molecule = molecule_from_smiles(smiles)
        found = {f.name: len(matches(f.shape, molecule)) for f in fragments()}
        assert {name: n for name, n in found.items() if n} == wanted, smiles


def test_every_spelling_on_file_is_the_same_molecule():
    for record in records()[::4]:
        keys = {
            canonical_smiles(molecule_from_smiles(text))
            for text in (record["smiles"], *record["spellings"])
        }
        assert len(keys) == 1, record["name"]


def test_molar_mass_and_formula_agree_with_the_file():
    for substance in all_substances():
        molecule = molecule_from_smiles(substance.smiles)
        assert molecule.formula == substance.formula
        assert molecule.molar_mass == pytest.approx(substance.molar_mass, rel=2e-4)


def test_rings_are_the_smallest():
    decalin = molecule_from_smiles("C1CCC2CCCCC2C1")
    assert sorted(len(ring) for ring in decalin.rings) == [6, 6]
    norbornane = molecule_from_smiles("C1CC2CCC1C2")
    assert sorted(len(ring) for ring in norbornane.rings) == [5, 5]


@pytest.mark.parametrize(
    ("text", "smiles", "count"),
    [
        ("[CX4H3]", "CC(C)C", 3),
        ("[OX2H;$(O[CX4H1])]", "CC(O)C", 1),
        ("[CX4;!R]", "CC1CCCCC1", 1),
        ("[#6;r5]", "C1CCCC1C", 5),
        ("*-!:aa-!:*", "Cc1ccccc1C", 1),
        ("[NX3;H2,H1;!$(NC=O)]", "CC(=O)NCCN", 1),
        ("[Cl,Br]", "ClCBr", 2),
        ("C~O", "CC(=O)O", 2),
        ("[O-]", "C[N+](=O)[O-]", 1),
        ("C@C", "C1CCC1C", 4),
    ],
)
def test_patterns_are_understood(text: str, smiles: str, count: int):
    assert len(matches(pattern(text), molecule_from_smiles(smiles))) == count


@pytest.mark.parametrize("text", ["[", "C(", "C1CC", "[Zz]", "[]", "[#]"])
def test_a_broken_pattern_is_an_error_of_ours(text: str):
    with pytest.raises((ValueError, KeyError)):
        pattern(text)
