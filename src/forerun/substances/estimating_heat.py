"""Heat capacity of a liquid from its structure."""

from __future__ import annotations

from forerun.substances.claiming import table_rows
from forerun.substances.molecules import Bond, Molecule
from forerun.substances.patterns import matches, pattern

__all__ = ["heat_capacity_chueh1973", "heat_capacity_dadgostar2012"]

_TABLE = "chueh_swanson.tsv"
_CHLORINE, _CHLORINE_CROWDED = 36.0, 25.1  # J/mol/K; the latter the third and fourth on one carbon
_CHAIN = {("single", 3): 36.8, ("single", 2): 30.4, ("single", 1): 20.9, ("single", 0): 7.4}
_CHAIN |= {("double", 2): 21.8, ("double", 1): 21.3, ("double", 0): 15.9}
_CHAIN |= {("triple", 1): 24.7, ("triple", 0): 24.7}
_RING = {("single", 2): 25.9, ("single", 1): 18.4, ("single", 0): 12.1}
_RING |= {("double", 1): 22.2, ("double", 0): 12.1}
_BESIDE_FIRST, _BESIDE_OTHER = 10.5, 18.8  # J/mol/K, chain carbons beside multiple bonds


def heat_capacity_chueh1973(molecule: Molecule) -> tuple[float | None, tuple[int, ...]]:
    """Return the heat capacity of the liquid at 293 K.

    Args:
        molecule: the molecule.

    Returns:
        heat capacity [J/mol/K], None where atoms are left over, and the positions of those;
        valid near 293 K.

    Source:
        Chueh & Swanson, Can. J. Chem. Eng. 51 (1973) 596, doi:10.1002/cjce.5450510511 (group
        values from memory).
    """
    taken: set[int] = set()
    total = 0.0
    for row in table_rows(_TABLE):
        for match in matches(pattern(row["pattern"]), molecule):
            if not taken & set(match):
                taken |= set(match)
                total += float(row["heat_capacity"])
    left = []
    for k, atom in enumerate(molecule.atoms):
        if atom.symbol == "Cl" and any(molecule.atoms[o].symbol == "C" for o in molecule.near(k)):
            continue  # counted with its carbon
        value = 0.0 if k in taken else _carbon(molecule, k)
        if value is None:
            left.append(k)
            continue
        total += value + (_chlorines(molecule, k) if atom.symbol == "C" else 0.0)
    return (None, tuple(left)) if left else (total, ())


def _chlorines(molecule: Molecule, k: int) -> float:
    count = sum(molecule.atoms[o].symbol == "Cl" for o in molecule.near(k))
    return _CHLORINE * min(count, 2) + _CHLORINE_CROWDED * max(count - 2, 0)


def _carbon(molecule: Molecule, k: int) -> float | None:
    atom = molecule.atoms[k]
    if atom.symbol != "C":
        return None
    orders = {b.order for b in molecule.near(k).values()}
    kind = "triple" if 3 in orders else "double" if 2 in orders or atom.aromatic else "single"
    table = _RING if molecule.ring_sizes(k) else _CHAIN
    value = table.get((kind, atom.hydrogens), _CHAIN.get((kind, atom.hydrogens)))
    return None if value is None else value + _beside(molecule, k)


def _beside(molecule: Molecule, k: int) -> float:
    """Return the supplement of a chain carbon beside carbons that are multiply bonded."""
    atom = molecule.atoms[k]
    if molecule.ring_sizes(k) or atom.hydrogens == 3:
        return 0.0
    ways = sum(_leads_to_carbon(molecule, k, o, b) for o, b in molecule.near(k).items())
    if atom.hydrogens == 2 and ways:
        return _BESIDE_FIRST + _BESIDE_OTHER * (ways - 1)
    return _BESIDE_OTHER * ways


def _leads_to_carbon(molecule: Molecule, k: int, other: int, bond: Bond) -> bool:
    if bond.order > 1 or bond.aromatic:
        return False
    return any(
        (b.order > 1 or b.aromatic) and molecule.atoms[o].symbol == "C"
        for o, b in molecule.near(other).items()
        if o != k
    )


def heat_capacity_dadgostar2012(temperature: float, molecule: Molecule) -> float:
    """Return the heat capacity of a liquid hydrocarbon from its elements.

    Args:
        temperature: [K], valid from 200 to 500 K.
        molecule: the molecule; made for hydrocarbons, used here for the slope with temperature.

    Returns:
        heat capacity [J/mol/K].

    Source:
        Dadgostar & Shaw, Fluid Phase Equilib. 313 (2012) 211, doi:10.1016/j.fluid.2011.09.015,
        equation 7.
    """
    grams = molecule.molar_mass * 1e3
    alpha = sum(molecule.counts.values()) / grams
    t = temperature
    first = 24.5 * (-0.3416 * alpha + 2.2671 * alpha**2)
    second = (0.1064 * alpha - 0.3874 * alpha**2) * t
    third = (-9.8231e-5 * alpha + 4.182e-4 * alpha**2) * t * t
    return float(grams * (first + second + third))
