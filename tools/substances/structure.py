"""What follows from the structure alone: identifiers, molar mass, energetic groups, peroxides."""

from __future__ import annotations

from rdkit import Chem
from rdkit.Chem import Descriptors, rdMolDescriptors

# groups that Prudent Practices (2011), chapter 4.D, names as signs of a high-energy compound
ENERGETIC = {
    "azide": "[N;R0]=[N+]=[N-]",
    "diazo": "[C]=[N+]=[N-]",
    "azo": "[#6]N=N[#6]",
    "nitro": "[#6][N+](=O)[O-]",
    "nitrate ester": "[OX2][N+](=O)[O-]",
    "nitrite ester": "[OX2]N=O",
    "peroxide": "[OX2][OX2]",
    "N-oxide": "[#7+;!$([N+](=O)[O-]);!$([N+](=[N-]))][O-]",
    "hydrazine": "[NX3;!$(N-C=O)][NX3;!$(N-C=O)]",
    "perchlorate": "[Cl](=O)(=O)(=O)[O]",
    "acetylene with acidic hydrogen": "[CX2]#[CX2H1]",
    "epoxide": "C1OC1",
}

# structures that autoxidise, after Kelly (1996); a methyl ether alone is not counted
PEROXIDE_FORMING = {
    "ether": "[CX4;H1,H2;!$(C([OX2])~[C,S,P]=[O,S])]-[OX2;!$(O[C,S,P]=O)]-[#6]",
    "acetal": "[CX4;!H0]([OX2][#6])[OX2][#6]",
    "allylic": "[CX4;H1,H2][CX3]=[CX3]",
    "benzylic": "[CX4;H1](c)([#6])[#6]",
    "cyclic benzylic": "[CX4;H2;R](c)",
    "diene": "C=CC=C",
    "vinyl": "[CX3H2]=[CX3]",
    "secondary alcohol": "[CX4;H1]([#6])([#6])[OX2H]",
}
ACID = "[CX4,CX3;!$(C[F,Cl,Br,I]);!$(C=O)][CX3](=O)[OX2H1]"


def molecule(smiles: str) -> Chem.Mol:
    """Return the molecule, or fail by name."""
    mol = Chem.MolFromSmiles(smiles)
    if mol is None:
        raise ValueError(f"no molecule in {smiles!r}")
    return mol


def identifiers(smiles: str) -> dict[str, object]:
    """Return canonical SMILES, InChIKey, formula and molar mass [kg/mol]."""
    mol = molecule(smiles)
    return {
        "smiles": Chem.MolToSmiles(mol),
        "inchikey": Chem.MolToInchiKey(mol),
        "formula": rdMolDescriptors.CalcMolFormula(mol),
        "molar_mass": round(Descriptors.MolWt(mol) * 1e-3, 8),
    }


def spellings(smiles: str) -> list[str]:
    """Return usual spellings of the structure: from each atom, aromatic and Kekule."""
    mol = molecule(smiles)
    kekule = Chem.Mol(mol)
    Chem.Kekulize(kekule, clearAromaticFlags=True)
    out = {Chem.MolToSmiles(mol), smiles}
    for form in (mol, kekule):
        for root in range(mol.GetNumAtoms()):
            out.add(Chem.MolToSmiles(form, rootedAtAtom=root, isomericSmiles=False))
    return sorted(out)


def _matching(smiles: str, patterns: dict[str, str]) -> list[str]:
    mol = molecule(smiles)
    return [k for k, v in patterns.items() if mol.HasSubstructMatch(Chem.MolFromSmarts(v))]


def energetic_groups(smiles: str) -> list[str]:
    """Return the names of the energetic groups that the structure holds."""
    return _matching(smiles, ENERGETIC)


def peroxide_signs(smiles: str) -> list[str]:
    """Return the structural signs of peroxide formation."""
    return _matching(smiles, PEROXIDE_FORMING)


def is_plain_carboxylic_acid(smiles: str) -> bool:
    """Tell whether one carboxyl group sits on a carbon without halogen."""
    mol = molecule(smiles)
    return len(mol.GetSubstructMatches(Chem.MolFromSmarts(ACID))) == 1


def is_acid(smiles: str) -> bool:
    """Tell whether the molecule carries a carboxyl group, so that its vapour associates."""
    return molecule(smiles).HasSubstructMatch(Chem.MolFromSmarts("[CX3](=O)[OX2H1]"))
