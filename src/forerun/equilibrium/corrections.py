"""Fitted corrections of single pairs, and the pairs that the models are known to get wrong."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import combinations
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.datafiles import load_data
from forerun.equilibrium.own_pairs import OwnPair, own_pair

__all__ = ["FittedPair", "false_splits", "fitted_pair"]

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FittedPair:
    """A correction regressed to measured points, turned to the order asked for.

    Args:
        terms: (K, 2) a, b of A_k = a + b (350 K/T - 1), added to the mean of `base` [-].
        base: names of the models whose mean of ln gamma is corrected.
        scatter: between papers, in boiling temperature [K]; None where it was not computed.
        sources: DOIs of the papers, or the label of one's own points.
        origin: ``papers``, or ``own points`` of the user's library.
        probe: ln P of the base of one's own fit at nine places [-]; empty for shipped ones.
        papers: how many of them measured boiling points; own points count as one.
        printed: where the azeotropes in print stand that joined the fit.
    """

    terms: Floats
    base: tuple[str, ...]
    scatter: float | None
    sources: tuple[str, ...]
    origin: Literal["papers", "own points"] = "papers"
    probe: tuple[float, ...] = ()
    papers: int = 0
    printed: tuple[str, ...] = ()


@cache
def _pairs() -> dict[frozenset[str], dict[str, Any]]:
    if not (files("forerun.equilibrium") / "data" / "pairs.json.gz").is_file():
        return {}
    return {frozenset(row["components"]): row for row in load_data("pairs.json.gz")}


@cache
def _splits() -> dict[frozenset[str], frozenset[frozenset[str]]]:
    text = (files("forerun.equilibrium") / "data" / "false_splits.json").read_text("utf-8")
    return {
        frozenset(row["components"]): frozenset(frozenset(s) for s in row["splitting"])
        for row in json.loads(text)
    }


def fitted_pair(first: str, second: str, given: OwnPair | None = None) -> FittedPair | None:
    """Return the correction of a pair: the user's own before the shipped one.

    Args:
        first: InChIKey of the component that x_i - x_j counts positive.
        second: InChIKey of the other.
        given: a fit that is used before those of the library, if it is of this pair.

    Returns:
        The correction, or None where none passed quality control.
    """
    own: OwnPair | None
    if given is not None and set(given.components) == {first, second}:
        own = given if given.components[0] == first else given.flipped()
    else:
        own = own_pair(first, second)
    if own is not None:
        return FittedPair(
            np.array(own.terms),
            own.base_models,
            own.scatter_K,
            (own.label,),
            "own points",
            own.probe,
            papers=1,
        )
    row = _pairs().get(frozenset((first, second)))
    if row is None:
        return None
    terms = np.array(row["terms"], dtype=np.float64).reshape(-1, 2)
    if row["components"][0] != first:
        terms[1::2] *= -1.0  # odd powers of x_i - x_j change sign with the order
    return FittedPair(
        terms,
        tuple(row["base_models"]),
        row.get("scatter_K"),
        (*row["papers"], *row["evidence"]),
        papers=len(row["papers"]),
        printed=tuple(row["printed"]),
    )


def false_splits(keys: Sequence[str]) -> dict[tuple[int, int], frozenset[frozenset[str]]]:
    """Return which models would split which pairs of a mixture into two liquids wrongly.

    Args:
        keys: (C,) InChIKeys of the components.

    Returns:
        By pair of indices (i, j), i < j: every set of models whose mean of ln gamma splits the
        pair at its boiling point.
    """
    found = {}
    for i, j in combinations(range(len(keys)), 2):
        sets = _splits().get(frozenset((keys[i], keys[j])))
        if sets is not None:
            found[i, j] = sets
    return found
