"""Boiling point, critical point and slope of the vapour pressure from groups (Nannoolal)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from forerun.substances.claiming import claimed_groups, group_table, table_rows
from forerun.substances.molecules import Bond, Molecule
from forerun.substances.patterns import matches, pattern

__all__ = [
    "NannoolalSums",
    "boiling_point_nannoolal2004",
    "critical_pressure_nannoolal2007",
    "critical_temperature_nannoolal2007",
    "ln_pressure_nannoolal2008",
    "nannoolal_sums",
]

_TABLE = "nannoolal_groups.tsv"
_COLUMNS = ("boiling", "vapour", "critical_temperature", "critical_pressure")
_SHORT = 4  # carbons of a primary alcohol with group 36
_LN10 = 2.302585092994046

# the groups that interact, by number
_INTERACTING: dict[str, tuple[str, ...]] = {
    "alcohol": ("33", "34", "35", "36"),
    "phenol": ("37",),
    "acid": ("44",),
    "ether": ("38",),
    "epoxide": ("39",),
    "ester": ("45", "46", "47"),
    "ketone": ("51", "92"),
    "aldehyde": ("52", "90"),
    "primary amine": ("40", "41"),
    "secondary amine": ("42", "97"),
    "nitrile": ("57",),
    "aromatic nitro": ("69",),
}
_CONJUGATED = "[CX3,CX2;$(C=O)]-[$([CX3;!$(C=O)]=C),c]"
_TWO_HALOGENS = "[CX4;$(C([F,Cl,Br])[F,Cl,Br])]"


@dataclass(frozen=True, slots=True)
class NannoolalSums:
    """Sums over the groups of a molecule.

    Args:
        atoms: number of atoms other than hydrogen.
        molar_mass: [g/mol], as the method takes it.
        boiling: for the boiling point [K].
        vapour: for the slope of the vapour pressure [-].
        critical_temperature: [-].
        critical_pressure: [-].
        interacting: how many of its groups interact with others.
    """

    atoms: int
    molar_mass: float
    boiling: float
    vapour: float
    critical_temperature: float
    critical_pressure: float
    interacting: int


def nannoolal_sums(molecule: Molecule) -> tuple[NannoolalSums | None, tuple[int, ...]]:
    """Return the sums over groups, corrections and interactions.

    Args:
        molecule: the molecule.

    Returns:
        The sums, None where atoms are left over, and the positions of those.

    Source:
        Nannoolal, Rarey & Ramjugernath, Fluid Phase Equilib. 226 (2004) 45,
        doi:10.1016/j.fluid.2004.09.001, tables 2-5 as open tools carry them.
    """
    table = group_table(_TABLE)
    counts, left = claimed_groups(molecule, table)
    if left:
        return None, left
    if molecule.counts["C"] <= _SHORT:
        counts["36"] += counts.pop("35", 0)
    atoms = len(molecule.atoms)
    corrections = _corrections(molecule)
    held = [
        kind for kind, groups in _INTERACTING.items() for _ in range(sum(counts[g] for g in groups))
    ]
    sums = dict.fromkeys(_COLUMNS, 0.0)
    for column in _COLUMNS:
        sums[column] += sum((table.values[g][column] or 0.0) * n for g, n in counts.items())
        sums[column] += sum(_correction_values()[g][column] * n for g, n in corrections.items())
        sums[column] += _interactions(held, column) / atoms
    mass = molecule.molar_mass * 1e3
    return NannoolalSums(atoms, mass, **sums, interacting=len(held)), ()


def boiling_point_nannoolal2004(sums: NannoolalSums) -> float:
    """Return the normal boiling point.

    Args:
        sums: of the molecule.

    Returns:
        boiling point at 101325 Pa [K]; valid from three atoms other than
        hydrogen up.

    Source:
        Nannoolal, Rarey & Ramjugernath, Fluid Phase Equilib. 226 (2004) 45, equation 6,
        doi:10.1016/j.fluid.2004.09.001.
    """
    return float(sums.boiling / (sums.atoms**0.6583 + 1.6868) + 84.3395)


def critical_temperature_nannoolal2007(sums: NannoolalSums, boiling_point: float) -> float:
    """Return the critical temperature.

    Args:
        sums: of the molecule.
        boiling_point: at 101325 Pa [K].

    Returns:
        critical temperature [K]; valid as far as the boiling point is.

    Source:
        Nannoolal, Rarey & Ramjugernath, Fluid Phase Equilib. 252 (2007) 1, equation 5,
        doi:10.1016/j.fluid.2006.11.014.
    """
    total = max(sums.critical_temperature, 0.0)
    return float(boiling_point * (0.699 + 1.0 / (0.9889 + total**0.8607)))


def critical_pressure_nannoolal2007(sums: NannoolalSums) -> float:
    """Return the critical pressure.

    Args:
        sums: of the molecule.

    Returns:
        critical pressure [Pa]; valid for molecules with a known critical point, coarse beyond.

    Source:
        Nannoolal, Rarey & Ramjugernath, Fluid Phase Equilib. 252 (2007) 1, equation 6,
        doi:10.1016/j.fluid.2006.11.014.
    """
    return float(1e3 * sums.molar_mass**-0.14041 / (0.00939 + sums.critical_pressure) ** 2)


def ln_pressure_nannoolal2008(
    temperature: float, boiling_point: float, sums: NannoolalSums
) -> float:
    """Return ln of the vapour pressure.

    Args:
        temperature: [K], valid from about 0.55 of the boiling point to 1.2 of it.
        boiling_point: at 101325 Pa [K].
        sums: of the molecule.

    Returns:
        ln(P/atm) [-].

    Source:
        Nannoolal, Rarey & Ramjugernath, Fluid Phase Equilib. 269 (2008) 117, equations 6 and 7,
        doi:10.1016/j.fluid.2008.04.020.
    """
    reduced = temperature / boiling_point
    slope = 4.1012 + sums.vapour - 0.176055
    return float(_LN10 * slope * (reduced - 1.0) / (reduced - 0.125))


@cache
def _correction_values() -> dict[str, dict[str, float]]:
    rows = table_rows("nannoolal_corrections.tsv")
    return {r["group"]: {c: float(r[c]) for c in _COLUMNS} for r in rows}


@cache
def _interaction_values(column: str) -> dict[frozenset[str], float]:
    rows = table_rows("nannoolal_interactions.tsv")
    return {frozenset((r["first"], r["second"])): float(r[column]) for r in rows}


def _interactions(held: list[str], column: str) -> float:
    """Return the sum over all pairs of interacting groups, over their number less one."""
    if len(held) < 2:
        return 0.0
    values = _interaction_values(column)
    total = sum(
        values.get(frozenset((a, b)), 0.0)
        for i, a in enumerate(held)
        for j, b in enumerate(held)
        if i != j
    )
    return total / (len(held) - 1)


def _corrections(molecule: Molecule) -> dict[str, int]:
    """Return how often each correction applies."""
    counts = molecule.counts
    found = {
        "118": len({m[0] for m in _fits(_CONJUGATED, molecule)}),
        "121": len(_fits("[CX4;$(C([F,Cl,Br])([F,Cl,Br])[F,Cl,Br])]", molecule)),
        "122": len(_fits("[CX4;$(C([F,Cl,Br])([F,Cl,Br])([#6])[#6])]", molecule)),
        "123": int(counts["H"] == 0),
        "124": int(counts["H"] == 1),
        "125": _plain_rings(molecule, (3, 4)),
        "126": _plain_rings(molecule, (5,)),
        "130": len(_fits("[CX4;H0;$(C(C)(C)C)]-[CX3]=[CX3]", molecule)),
    }
    beside = len(_fits(f"{_TWO_HALOGENS}[CX3]=O", molecule))
    found["119" if beside == 1 else "120"] = int(beside > 0)
    ways = [len(_fits(f"*-!:{'a' * n}-!:*", molecule)) for n in (2, 3, 4)]
    for group, wanted in (("127", 0), ("128", 1), ("129", 2)):
        alone = all(ways[k] == 0 for k in range(3) if k != wanted)
        found[group] = int(alone and ways[wanted] in ((1, 3) if wanted == 1 else (1,)))
    for bond in molecule.bonds:
        crowded = _crowded(molecule, bond)
        if crowded:
            found[crowded] = found.get(crowded, 0) + 1
    return found


def _fits(text: str, molecule: Molecule) -> list[tuple[int, ...]]:
    return matches(pattern(text), molecule)


def _plain_rings(molecule: Molecule, sizes: tuple[int, ...]) -> int:
    return sum(
        len(ring) in sizes and not all(molecule.atoms[k].aromatic for k in ring)
        for ring in molecule.rings
    )


def _crowded(molecule: Molecule, bond: Bond) -> str | None:
    """Return the steric correction of a bond between branched carbons."""
    ends = (bond.first, bond.second)
    if any(molecule.atoms[k].symbol != "C" or molecule.connections(k) != 4 for k in ends):
        return None
    branches = sorted(sum(molecule.atoms[o].symbol == "C" for o in molecule.near(k)) for k in ends)
    return {(3, 3): "131", (3, 4): "132", (4, 4): "133"}.get((branches[0], branches[1]))
