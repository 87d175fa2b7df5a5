"""The pairs of which something was measured or printed, and what became of their fits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from judging import Judged, judge_tables

from forerun.core.errors import CalculationFailed
from forerun.equilibrium.datafiles import load_data
from forerun.equilibrium.fitting import PairFit
from forerun.equilibrium.fitting_evidence import Evidence, rows_of
from forerun.equilibrium.fitting_left_out import LeftOut
from forerun.equilibrium.fitting_model import BasePoints, bare_base, base_points
from forerun.equilibrium.fitting_printed import printed_points, printed_rows
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.equilibrium.pairs import (
    measured_enthalpies,
    measured_solubilities,
    measured_tables,
)
from forerun.equilibrium.printed import PrintedAzeotrope, all_printed, printed_azeotropes
from forerun.substances.catalogue import find

__all__ = ["Attempt", "Pair", "gather", "measured_rows", "parted", "rows_about", "states"]


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """A pair with what was measured, judged."""

    cas: tuple[str, str]
    mixture: Mixture
    judged: Judged
    points: BasePoints | None
    evidence: Evidence
    printed: tuple[PrintedAzeotrope, ...]

    @property
    def papers(self) -> tuple[str, ...]:
        """DOIs of the tables that are fitted."""
        return tuple(dict.fromkeys(t.paper for t in self.judged.tables))

    @property
    def name(self) -> str:
        """Both names."""
        return " + ".join(self.mixture.names)


@dataclass(frozen=True, slots=True, eq=False)
class Attempt:
    """A fit of a pair and what became of it."""

    pair: Pair
    fit: PairFit | None
    left_out: LeftOut | None
    refused: str | None
    mended: bool = False


def gather(*, printed: bool = True) -> list[Pair]:
    """Return every measured pair whose components are known, with its base and its tables.

    `printed`: whether the azeotropes in print join, and pairs of which nothing else is known.
    """
    order: dict[frozenset[str], tuple[str, str]] = {}
    boiled = load_data("pairs_measured.json.gz")["tables"]
    for row in (*boiled, *load_data("pairs_evidence.json.gz")["solubility"]):
        order.setdefault(frozenset(row["cas"]), (row["cas"][0], row["cas"][1]))
    for row in all_printed() if printed else ():
        cas = tuple(find(key).cas for key in row.components)
        order.setdefault(frozenset(cas), (cas[0], cas[1]))
    measured = {frozenset(row["cas"]) for row in boiled}
    pairs = []
    for cas in order.values():
        mixture = mixture_of([find(c) for c in cas], corrections=False)
        own = printed_azeotropes(*(s.inchikey for s in mixture.substances)) if printed else ()
        if frozenset(cas) not in measured and not mixture.models and not own:
            continue
        bare = bare_base(mixture.arrays)
        if not np.array_equal(bare.pair_correction, mixture.arrays.pair_correction):
            raise CalculationFailed(
                "gathering pairs", f"{cas} has no base of its own", "Report it."
            )
        judged = judge_tables(measured_tables(*cas), mixture.arrays, len(mixture.models))
        points = base_points(judged.tables, mixture.arrays) if judged.tables else None
        layers = measured_solubilities(*cas)
        evidence = rows_of(layers, measured_enthalpies(*cas), mixture.arrays)
        evidence = evidence.joined(printed_rows(own, mixture.arrays, layers))
        pairs.append(Pair(cas, mixture, judged, points, evidence, own))
    return sorted(pairs, key=lambda p: p.name)


def measured_rows(pair: Pair) -> Evidence:
    """Return the evidence of a pair without what is printed of its azeotropes."""
    layers = measured_solubilities(*pair.cas)
    return rows_of(layers, measured_enthalpies(*pair.cas), pair.mixture.arrays)


def rows_about(pair: Pair, terms: np.ndarray) -> Evidence:
    """Return all evidence of a pair, the rows of print straight about (K, 2) coefficients [-]."""
    layers = measured_solubilities(*pair.cas)
    return measured_rows(pair).joined(
        printed_rows(pair.printed, pair.mixture.arrays, layers, terms)
    )


def parted(pair: Pair) -> bool:
    """Return whether an azeotrope of two liquids is printed, whose rows bend with the fit."""
    return any(row.liquids == 2 for row in pair.printed)


def states(pair: Pair) -> bool:
    """Return whether temperature and composition of an azeotrope of one liquid are printed."""
    return printed_points(pair.printed, pair.mixture.arrays).paper.size > 0
