"""The published group tables and the groups of every substance of the catalogue."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Protocol

from forerun.equilibrium.datafiles import load_data

__all__ = [
    "MODEL_NAMES",
    "GroupModel",
    "HasInchikey",
    "Subgroup",
    "group_model",
    "groups_of",
]

MODEL_NAMES = ("unifac", "dortmund", "nist")


class HasInchikey(Protocol):
    """Anything that carries the InChIKey of a molecule."""

    @property
    def inchikey(self) -> str:
        """InChIKey, 27 characters."""
        ...


@dataclass(frozen=True, slots=True)
class Subgroup:
    """One subgroup of a group table.

    Args:
        name: as in the papers.
        main_group: number of its main group.
        volume: van der Waals volume R [-].
        surface: van der Waals surface Q [-].
    """

    name: str
    main_group: int
    volume: float
    surface: float


@dataclass(frozen=True, slots=True)
class GroupModel:
    """One published table of the UNIFAC family.

    Args:
        name: ``unifac``, ``dortmund`` or ``nist``.
        exponent: exponent of r in the combinatorial volume fraction, 1 or 3/4 [-].
        subgroups: by number.
        interactions: a [K], b [-], c [1/K] of psi = exp(-(a/T + b + c T)), by main groups (m, n).
        sources: keys of the papers, see `forerun.equilibrium.sources`.
    """

    name: str
    exponent: float
    subgroups: Mapping[int, Subgroup]
    interactions: Mapping[tuple[int, int], tuple[float, float, float]]
    sources: tuple[str, ...]


@cache
def _file() -> Any:
    return load_data("groups.json.gz")


@cache
def group_model(name: str) -> GroupModel:
    """Return one of the published tables.

    Args:
        name: one of `MODEL_NAMES`.

    Returns:
        The table; the papers are named in its `sources`.

    Raises:
        KeyError: for a name that is not among `MODEL_NAMES`.
    """
    table = _file()["models"][name]
    return GroupModel(
        name,
        table["exponent"],
        {int(number): Subgroup(*row) for number, row in table["subgroups"].items()},
        {(m, n): (a, b, c) for m, n, a, b, c in table["interactions"]},
        tuple(table["sources"]),
    )


def groups_of(substance: HasInchikey) -> dict[str, dict[int, int]]:
    """Return the subgroups of a substance and how many there are, by model.

    Args:
        substance: anything with an `inchikey`.

    Returns:
        ``{"unifac": {subgroup: count}, …}``; a model that cannot describe the molecule is absent,
        so the result is empty for a molecule outside all tables. A substance that is not in the
        data file is cut into groups here, if it has ``smiles``.
    """
    entry = _file()["molecules"].get(substance.inchikey)
    if entry is None:
        return _of_structure(getattr(substance, "smiles", ""))
    return {
        model: {int(number): count for number, count in entry[model].items()}
        for model in MODEL_NAMES
        if model in entry
    }


@cache
def _of_structure(smiles: str) -> dict[str, dict[int, int]]:
    from forerun.equilibrium.fragments import groups_of_structure  # noqa: PLC0415 -- few need it

    found = groups_of_structure(smiles) if smiles else {}
    return {
        model: counts
        for model, counts in found.items()
        if all(number in group_model(model).subgroups for number in counts)
    }
