"""Heat capacity of liquids from groups, Chueh and Swanson (1973), at 293 K."""

from __future__ import annotations

from rdkit import Chem

# J/mol/K; the order matters, since a match consumes its atoms
FUNCTIONAL = [
    ("[CX3](=O)[OX2H1]", 79.9),
    ("[CX3](=O)[OX2]", 60.7),
    ("[CX3H1,CX3H2]=O", 53.0),
    ("[CX3]=O", 53.0),
    ("C#N", 58.2),
    ("[CX4H2][OX2H1]", 73.2),
    ("[CX4H1][OX2H1]", 76.1),
    ("[CX4H0][OX2H1]", 111.3),
    ("[OX2H1]", 44.8),
    ("[OX2,o]", 35.1),
    ("[NX3H2]", 58.6),
    ("[NX3H1,nH1]", 43.9),
    ("[n;H0;X2]", 18.8),
    ("[NX3;H0;!$(N=*);!$(N(=O)=O);!$([N+])]", 31.4),
    ("[SX2H1]", 44.8),
    ("[SX2,s]", 33.5),
    ("[Br]", 37.7),
    ("[F]", 16.7),
    ("[I]", 36.0),
]
CHLORINE, CHLORINE_CROWDED = 36.0, 25.1  # the latter for the third and fourth on one carbon
CHAIN = {("single", 3): 36.8, ("single", 2): 30.4, ("single", 1): 20.9, ("single", 0): 7.4}
CHAIN |= {("double", 2): 21.8, ("double", 1): 21.3, ("double", 0): 15.9}
CHAIN |= {("triple", 1): 24.7, ("triple", 0): 24.7}
RING = {("single", 2): 25.9, ("single", 1): 18.4, ("single", 0): 12.1}
RING |= {("double", 1): 22.2, ("double", 0): 12.1}


def heat_capacity_groups(smiles: str) -> float | None:
    """Return the heat capacity [J/mol/K] at 293 K, or None where a group is missing."""
    mol = Chem.MolFromSmiles(smiles)
    taken: set[int] = set()
    total = 0.0
    for pattern, value in FUNCTIONAL:
        for match in mol.GetSubstructMatches(Chem.MolFromSmarts(pattern)):
            if not taken & set(match):
                taken |= set(match)
                total += value
    for atom in mol.GetAtoms():
        if atom.GetIdx() in taken:
            if atom.GetSymbol() == "C":
                total += _chlorines(atom, taken)
            continue
        if atom.GetSymbol() == "Cl":
            continue  # counted with its carbon
        if atom.GetSymbol() != "C":
            return None
        value = _carbon(atom)
        if value is None:
            return None
        total += value + _chlorines(atom, taken) + _next_to_unsaturation(atom)
    chlorines = sum(a.GetSymbol() == "Cl" for a in mol.GetAtoms())
    on_carbon = sum(
        a.GetSymbol() == "Cl" and a.GetNeighbors()[0].GetSymbol() == "C" for a in mol.GetAtoms()
    )
    return total if chlorines == on_carbon else None


def _chlorines(atom: Chem.Atom, taken: set[int]) -> float:
    count = sum(n.GetSymbol() == "Cl" for n in atom.GetNeighbors())
    return CHLORINE * min(count, 2) + CHLORINE_CROWDED * max(count - 2, 0)


def _carbon(atom: Chem.Atom) -> float | None:
    kinds = [b.GetBondType() for b in atom.GetBonds()]
    if Chem.BondType.TRIPLE in kinds:
        kind = "triple"
    elif Chem.BondType.DOUBLE in kinds or Chem.BondType.AROMATIC in kinds:
        kind = "double"
    else:
        kind = "single"
    table = RING if atom.IsInRing() else CHAIN
    return table.get((kind, atom.GetTotalNumHs()), CHAIN.get((kind, atom.GetTotalNumHs())))


def _next_to_unsaturation(atom: Chem.Atom) -> float:
    """Return the supplement of a chain carbon beside carbons that are multiply bonded."""
    if atom.IsInRing() or atom.GetTotalNumHs() == 3:
        return 0.0
    ways = sum(
        1
        for bond in atom.GetBonds()
        if bond.GetBondType() == Chem.BondType.SINGLE
        and any(
            other.GetBondType() != Chem.BondType.SINGLE
            and other.GetOtherAtom(bond.GetOtherAtom(atom)).GetSymbol() == "C"
            for other in bond.GetOtherAtom(atom).GetBonds()
        )
    )
    if atom.GetTotalNumHs() == 2 and ways:
        return 10.5 + 18.8 * (ways - 1)
    return 18.8 * ways
