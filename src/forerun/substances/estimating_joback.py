"""Boiling and critical point from simpler groups (Joback & Reid; Stein & Brown)."""

from __future__ import annotations

from collections import Counter

from forerun.substances.claiming import claimed_groups, group_table
from forerun.substances.molecules import Molecule

__all__ = [
    "boiling_point_joback1987",
    "boiling_point_stein1994",
    "critical_pressure_joback1987",
    "critical_temperature_joback1987",
    "joback_groups",
]

_TABLE = "joback_groups.tsv"


def joback_groups(molecule: Molecule) -> tuple[Counter[str], tuple[int, ...]]:
    """Return the groups of a molecule, and the atoms that none takes up.

    Args:
        molecule: the molecule.

    Returns:
        Counts by group, and positions of atoms left over.
    """
    return claimed_groups(molecule, group_table(_TABLE))


def boiling_point_stein1994(groups: Counter[str]) -> float | None:
    """Return the normal boiling point.

    Args:
        groups: from `joback_groups`.

    Returns:
        boiling point at 101325 Pa [K], valid from 298 to 900 K; None where a group has no
        contribution.

    Source:
        Stein & Brown, J. Chem. Inf. Comput. Sci. 34 (1994) 581, equations 2 and 3,
        doi:10.1021/ci00019a016.
    """
    total = _sum(groups, "stein_boiling")
    if total is None:
        return None
    raw = 198.2 + total
    if raw > 700.0:
        return 282.7 + 0.4791 * raw
    return -94.84 + 1.5577 * raw - 0.0007705 * raw * raw


def boiling_point_joback1987(groups: Counter[str]) -> float | None:
    """Return the normal boiling point.

    Args:
        groups: from `joback_groups`.

    Returns:
        boiling point at 101325 Pa [K]; None where a group has no contribution. Valid below about
        500 K, runs high beyond.

    Source:
        Joback & Reid, Chem. Eng. Commun. 57 (1987) 233, doi:10.1080/00986448708960487.
    """
    total = _sum(groups, "boiling")
    return None if total is None else 198.2 + total


def critical_temperature_joback1987(groups: Counter[str], boiling_point: float) -> float | None:
    """Return the critical temperature.

    Args:
        groups: from `joback_groups`.
        boiling_point: at 101325 Pa [K].

    Returns:
        critical temperature [K]; None where a group has no contribution. Valid for molecules of
        up to about twenty atoms other than hydrogen.

    Source:
        Joback & Reid, Chem. Eng. Commun. 57 (1987) 233, doi:10.1080/00986448708960487.
    """
    total = _sum(groups, "critical_temperature")
    return None if total is None else boiling_point / (0.584 + 0.965 * total - total * total)


def critical_pressure_joback1987(groups: Counter[str], atoms: int) -> float | None:
    """Return the critical pressure.

    Args:
        groups: from `joback_groups`.
        atoms: number of atoms, hydrogen included [-].

    Returns:
        critical pressure [Pa]; None where a group has no contribution. Valid for molecules of
        up to about twenty atoms other than hydrogen.

    Source:
        Joback & Reid, Chem. Eng. Commun. 57 (1987) 233, doi:10.1080/00986448708960487.
    """
    total = _sum(groups, "critical_pressure")
    return None if total is None else 1e5 / (0.113 + 0.0032 * atoms - total) ** 2


def _sum(groups: Counter[str], column: str) -> float | None:
    table = group_table(_TABLE)
    total = 0.0
    for group, count in groups.items():
        value = table.values[group][column]
        if value is None:
            return None
        total += value * count
    return total
