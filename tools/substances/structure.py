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
    "alkyne with acidic hydrogen": "[CX2]#[CX2H1]",
    "epoxide": "C1OC1",
}

PEROXIDE_FORMING = {
    "ether with a hydrogen on the alpha carbon": "[CX4;!H0][OX2;!$(O[C,S,P]=O)][#6]",
    "acetal": "[CX4;!H0]([OX2][#6])[OX2][#6]",
    "allylic hydrogen": "[CX4;!H0][CX3]=[CX3]",
    "benzylic tertiary hydrogen": "[CX4;H1](c)([#6])[#6]",
    "diene": "C=CC=C",
    "vinyl": "[CX3H2]=[CX3]",
    "secondary alcohol": "[CX4;H1]([#6])([#6])[OX2H]",
}


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
    """Return common SMILES spellings: canonical, Kekule, without stereo, from each atom."""
    mol = molecule(smiles)
    out = {Chem.MolToSmiles(mol), Chem.MolToSmiles(mol, isomericSmiles=False), smiles}
    for root in range(mol.GetNumAtoms()):
        out.add(Chem.MolToSmiles(mol, rootedAtAtom=root, isomericSmiles=False))
    kekule = Chem.Mol(mol)
    Chem.Kekulize(kekule, clearAromaticFlags=True)
    out.add(Chem.MolToSmiles(kekule, kekuleSmiles=True, isomericSmiles=False))
    return sorted(out)


def energetic_groups(smiles: str) -> list[str]:
    """Return the names of the energetic groups that the structure holds."""
    mol = molecule(smiles)
    return [k for k, v in ENERGETIC.items() if mol.HasSubstructMatch(Chem.MolFromSmarts(v))]


def peroxide_signs(smiles: str) -> list[str]:
    """Return the structural signs of peroxide formation."""
    mol = molecule(smiles)
    return [k for k, v in PEROXIDE_FORMING.items() if mol.HasSubstructMatch(Chem.MolFromSmarts(v))]


def atoms_per_kilogram(smiles: str) -> float:
    """Return the similarity variable of Dadgostar and Shaw [mol atoms/g]."""
    mol = Chem.AddHs(molecule(smiles))
    return mol.GetNumAtoms() / Descriptors.MolWt(mol)
