"""Which activity models can speak for which pairs of a set of molecules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.exact import activity_exact
from forerun.equilibrium.groups import GroupModel, group_model, groups_of
from forerun.equilibrium.projecting import redlich_kister_terms
from forerun.equilibrium.tables import missing_pairs

if TYPE_CHECKING:
    from forerun.substances.model import Substance

__all__ = ["CARRIED_TERMS", "Coverage", "PairBasis", "coverage_of"]

Floats = npt.NDArray[np.float64]
Pair = tuple[int, int]

CARRIED_TERMS = 6  # for a whole model of one pair; within 0.1 in ln gamma at 300-400 K


@dataclass(frozen=True, slots=True)
class PairBasis:
    """What a pair of components rests on.

    Args:
        components: indices (i, j), i < j.
        basis: ``fitted`` to measured points, ``predicted`` from groups, or ``ideal`` where no
            model knows the pair.
        models: names of the models that speak for the pair.
        scatter: between the papers of a fitted pair, in boiling temperature; that of a predicted
            pair where only the compositions of its two liquids were fitted [K]; else None.
        sources: DOIs of the papers of a fitted pair, or the label of one's own points.
        origin: where a fit comes from: ``papers``, or ``own points``; empty without a fit.
        papers: how many papers of boiling points stand behind a fit; 0 where only the compositions
            of two liquids or an azeotrope in print were fitted, and for pairs that are not fitted.
        printed: where the azeotropes in print stand that joined the fit.
    """

    components: Pair
    basis: Literal["fitted", "predicted", "ideal"]
    models: tuple[str, ...]
    scatter: float | None = None
    sources: tuple[str, ...] = ()
    origin: Literal["papers", "own points", ""] = ""
    papers: int = 0
    printed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Coverage:
    """What the models know of a set of molecules.

    Args:
        groups: (C,) subgroups and counts of each molecule, by model.
        models: the published tables, by name.
        missing: pairs (i, j), i < j, of which a model cannot say anything, by name.
    """

    groups: tuple[dict[str, dict[int, int]], ...]
    models: dict[str, GroupModel]
    missing: dict[str, set[Pair]]

    def complete(self) -> tuple[str, ...]:
        """Return the models that know every pair."""
        return tuple(name for name in self.models if not self.missing[name])

    def knowing(self, pair: Pair) -> tuple[str, ...]:
        """Return the models that know a pair (i, j), i < j."""
        return tuple(name for name in self.models if pair not in self.missing[name])

    def binary(self, pair: Pair, models: Sequence[str]) -> Floats:
        """Return the Redlich-Kister terms of the mean of some models for a pair [-]."""
        return redlich_kister_terms(lambda t, x: self.mean(t, x, pair, models), CARRIED_TERMS)

    def mean(self, temperature: float, x: Floats, pair: Pair, models: Sequence[str]) -> Floats:
        """Return the mean of ln gamma of some models for one pair, (2,) [-]."""
        values = [
            activity_exact(temperature, x, [self.groups[k][name] for k in pair], self.models[name])
            for name in models
        ]
        return np.asarray(np.mean(values, axis=0))


def coverage_of(substances: Sequence[Substance], models: Sequence[str]) -> Coverage:
    """Return what some models know of some substances.

    Args:
        substances: (C,) the molecules.
        models: names of the models to ask.

    Returns:
        The coverage; no model at all for a single substance, which needs none.
    """
    groups = tuple(groups_of(s) for s in substances)
    tables = {name: group_model(name) for name in models}
    missing = {
        name: missing_pairs(table, [g.get(name) for g in groups]) for name, table in tables.items()
    }
    if len(substances) == 1:  # nothing to interact with: no model is needed
        tables = {}
    return Coverage(groups, tables, missing)
