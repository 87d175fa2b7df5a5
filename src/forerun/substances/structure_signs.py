"""Parts of a structure that call for care: energetic, autoxidising, polymerising."""

from __future__ import annotations

from collections.abc import Mapping

from forerun.substances.molecules import Molecule
from forerun.substances.patterns import matches, pattern

__all__ = [
    "acid_groups",
    "energetic_groups",
    "peroxide_signs",
    "polymerisable_groups",
]

# Groups that Prudent Practices (National Research Council, 2011), chapter 4.D, names as signs of a
# high-energy compound.
_ENERGETIC = {
    "azide": "[N;R0]=[N+]=[N-]",
    "diazo": "[C]=[N+]=[N-]",
    "azo": "[#6]N=N[#6]",
    "nitro": "[#6][N+](=O)[O-]",
    "nitrate ester": "[OX2][N+](=O)[O-]",
    "nitrite ester": "[OX2][NX2]=O",
    "peroxide": "[OX2][OX2]",
    "N-oxide": "[#7+;!$([N+](=O)[O-]);!$([N+](=[N-]))][O-]",
    "hydrazine": "[NX3;!$(N-C=O)][NX3;!$(N-C=O)]",
    "perchlorate": "[Cl](=O)(=O)(=O)[O]",
    "acetylene with acidic hydrogen": "[CX2]#[CX2H1]",
    "epoxide": "C1OC1",
}

# Structures that autoxidise, after Kelly, Chem. Health Saf. 3 (1996) 28 (from memory); a methyl
# ether alone is not counted.
_PEROXIDE = {
    "ether": "[CX4;H1,H2;!$(C([OX2])~[C,S,P]=[O,S])]-[OX2;!$(O[C,S,P]=O)]-[#6]",
    "acetal": "[CX4;!H0]([OX2][#6])[OX2][#6]",
    "allylic": "[CX4;H1,H2][CX3]=[CX3]",
    "benzylic": "[CX4;H1](c)([#6])[#6]",
    "cyclic benzylic": "[CX4;H2;R](c)",
    "diene": "C=CC=C",
    "vinyl": "[CX3H2]=[CX3]",
    "secondary alcohol": "[CX4;H1]([#6])([#6])[OX2H]",
}

# Families of monomers, as in class C of peroxide formers (Prudent Practices, chapter 4.D) and in
# common practice, no source.
_POLYMERISABLE = {
    "styrene": "[CX3H2]=[CX3]c",
    "acrylic": "[CX3H2]=[CX3]C(=O)",
    "acrylonitrile": "[CX3H2]=[CX3]C#N",
    "vinyl ester": "[CX3H2]=[CX3]OC=O",
    "vinyl ether": "[CX3H2]=[CX3][OX2][CX4]",
    "vinyl halide": "[CX3H2]=[CX3][F,Cl,Br]",
    "N-vinyl": "[CX3H2]=[CX3][#7]",
    "1,3-diene": "[CX3]=[CX3]-[CX3]=[CX3]",
    "epoxide": "C1OC1",
    "isocyanate": "N=C=O",
    "ketene": "C=C=O",
}


def energetic_groups(molecule: Molecule) -> tuple[str, ...]:
    """Return the names of the energetic groups that a molecule holds.

    Args:
        molecule: the molecule.
    """
    return _found(molecule, _ENERGETIC)


def peroxide_signs(molecule: Molecule) -> tuple[str, ...]:
    """Return the parts that take up oxygen from the air.

    Args:
        molecule: the molecule.
    """
    return _found(molecule, _PEROXIDE)


def polymerisable_groups(molecule: Molecule) -> tuple[str, ...]:
    """Return the families of monomers that a molecule belongs to.

    Args:
        molecule: the molecule.
    """
    return _found(molecule, _POLYMERISABLE)


def acid_groups(molecule: Molecule) -> int:
    """Return how many carboxyl groups sit on a carbon without halogen or carbonyl.

    Args:
        molecule: the molecule; with one of them its vapour pairs up.
    """
    shape = pattern("[CX4,CX3;!$(C[F,Cl,Br,I]);!$(C=O)][CX3](=O)[OX2H1]")
    return len(matches(shape, molecule))


def _found(molecule: Molecule, shapes: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(name for name, text in shapes.items() if matches(pattern(text), molecule))
