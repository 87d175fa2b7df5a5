"""Which tables are believed, and which corrections are good enough to ship."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from forerun.equilibrium.arrays import MixtureArrays
from forerun.equilibrium.fitting import FitSettings, PairFit, fit_points
from forerun.equilibrium.fitting_evidence import Evidence
from forerun.equilibrium.fitting_left_out import LeftOut
from forerun.equilibrium.fitting_model import (
    BasePoints,
    MeasuredTable,
    base_points,
    corrected,
    temperature_miss,
)
from forerun.equilibrium.fitting_stability import StabilityGrid, dilute_corrections

# A series of isobars from one laboratory, 94.4 to 95.8 kPa.  Where another paper measured the
# pair, or where Raoult's law bounds it, many of them are off, by up to 15 K.
SERIES_KPA = (94.3, 95.9)
SERIES_DOIS = frozenset(
    {
        "10.1016/j.fluid.2005.06.022",
        "10.1016/j.fluid.2007.08.001",
        "10.1016/j.fluid.2008.07.018",
        "10.1016/j.jct.2004.11.015",
        "10.1016/j.jct.2005.04.006",
        "10.1016/j.jct.2005.08.011",
        "10.1016/j.jct.2005.12.009",
        "10.1016/j.jct.2006.07.014",
        "10.1016/j.jct.2007.03.007",
        "10.1016/j.jct.2007.04.004",
        "10.1021/je0301085",
        "10.1021/je030131q",
        "10.1021/je030141r",
        "10.1021/je020148t",
        "10.1021/je700408x",
        "10.1021/je7001336",
    }
)

# Pairs that really split within 280-420 K, so that the check of stability does not apply.
SPLITTING = {
    frozenset({"62-53-3", "110-82-7"}): "10.1016/j.fluid.2014.02.023",  # aniline, cyclohexane
    frozenset({"62-53-3", "111-65-9"}): "10.1021/je0505366",  # aniline, octane
    frozenset({"67-56-1", "142-82-5"}): "10.1021/je700397g",  # methanol, heptane
}

# Pairs that mix in all proportions from 280 K although the base may split them: common practice,
# no source.  Ethanol with isooctane, octane, pentane, methylcyclohexane, cyclohexane, heptane and
# hexane.
MIXING = frozenset(
    frozenset({"64-17-5", other})
    for other in (
        "540-84-1",
        "111-65-9",
        "109-66-0",
        "108-87-2",
        "110-82-7",
        "142-82-5",
        "110-54-3",
    )
)

CONTRADICTED_K = 1.5  # a paper that misses the base by more …
CONTRADICTED_RATIO = 2.5  # … and by this much more than the median of the others, which …
OTHERS_AGREE_K = 1.0  # … lie this close to the base
LONE_DOUBT_K = 3.0  # a lone paper further from a base of several models is not believed …
LONE_TOO_FAR_K = 8.0  # … nor one this far from any base
LONE_USEFUL_K = 0.3  # a lone paper nearer to the base than this has nothing to correct
GAIN_SEVERAL = 0.97  # left-out miss after over before that a correction must beat
GAIN_SOLUBILITY = 0.85  # the same where only solubilities were measured
GAIN_LONE = 0.95  # the same for one paper
MENDING = 1.15  # the same for a fit that mends a base which splits a mixing pair
PRINTED_MISSED = 2.0  # standard deviations by which a base misses a printed azeotrope …
PRINTED_WRONG = 1.0  # … or its kind, no margin left, to be worth a correction
DILUTE_UNKNOWN = 4.0  # the next where Raoult's law is all that is corrected [-]
DILUTE_PARTED = 2.5  # the next where two liquids are printed: the models tell little of them [-]
DILUTE_LIMIT = 1.2  # largest |correction of ln gamma| at infinite dilution, 280-420 K [-]


@dataclass(frozen=True, slots=True)
class Judged:
    """Tables of a pair that are fitted, and the reason for each that is not."""

    tables: tuple[MeasuredTable, ...]
    left_out: Mapping[str, str]


def judge_tables(tables: Sequence[MeasuredTable], base: MixtureArrays, models: int) -> Judged:
    """Leave out tables that the base and the other papers contradict."""
    reasons: dict[str, str] = {}
    for table in tables:
        if table.paper in SERIES_DOIS and in_series(table):
            reasons[table.name] = "isobar of a series of which many contradict other papers"
    tables = [t for t in tables if t.name not in reasons]
    if not tables:
        return Judged((), reasons)
    miss = paper_misses(tables, base)
    for paper, value in miss.items():
        reason = doubt(value, [v for p, v in miss.items() if p != paper], models)
        if reason:
            reasons.update({t.name: reason for t in tables if t.paper == paper})
    return Judged(tuple(t for t in tables if t.name not in reasons), reasons)


def in_series(table: MeasuredTable) -> bool:
    """Return whether the table is an isobar at the pressure of the series."""
    low, high = (1e3 * v for v in SERIES_KPA)
    return bool(np.ptp(table.pressure_Pa) == 0.0 and low <= table.pressure_Pa[0] <= high)


def paper_misses(tables: Sequence[MeasuredTable], base: MixtureArrays) -> dict[str, float]:
    """Return the root mean square miss of the bare base on every paper [K]."""
    points = base_points(tables, base)
    papers = list(dict.fromkeys(t.paper for t in tables))
    miss = misses(points, np.zeros((1, 2)))
    return {
        paper: float(np.sqrt(np.mean(miss[points.paper == i] ** 2)))
        for i, paper in enumerate(papers)
    }


def misses(points: BasePoints, terms: np.ndarray) -> np.ndarray:
    """Return calculated minus measured boiling temperature [K]."""
    return temperature_miss(points, corrected(points, terms)[0])


def doubt(value: float, others: Sequence[float], models: int) -> str | None:
    """Return why a paper that misses the base by `value` [K] is not believed, or None."""
    if others:
        rest = float(np.median(others))
        if (
            value >= CONTRADICTED_K
            and rest <= OTHERS_AGREE_K
            and (value >= CONTRADICTED_RATIO * rest)
        ):
            return f"{value:.1f} K from the base (rms), which other papers meet within {rest:.1f} K"
        return None
    if value > LONE_TOO_FAR_K or (value > LONE_DOUBT_K and models > 1):
        return f"{value:.1f} K from the base (rms) and no second paper to confirm it"
    return None


def refusal(
    fit: PairFit, left_out: LeftOut, papers: int, grid: StabilityGrid | None, *, mixes: bool
) -> str | None:
    """Return why a correction does not ship, or None; `mixes`: known to mix in all proportions."""
    limit = GAIN_SEVERAL if papers > 1 else GAIN_LONE
    if grid is not None and splits(grid):
        if not mixes:
            return "the base splits the pair and it is not known whether that is true"
        limit = MENDING
    if papers == 1 and fit.rms_before_K < LONE_USEFUL_K:
        return "the base meets the only paper"
    if not left_out.groups:
        return "too few points to leave any out"
    if left_out.mean_after_K > limit * left_out.mean_before_K:
        return f"does not predict a left-out {left_out.kind} better than the base"
    return madness(fit, grid)


def refusal_of_solubilities(fit: PairFit, left_out: LeftOut) -> str | None:
    """Return why a correction from mutual solubilities alone does not ship, or None."""
    if not left_out.groups:
        return "too few solubilities to leave any out"
    if left_out.mean_after_K > GAIN_SOLUBILITY * left_out.mean_before_K:
        return "does not predict left-out solubilities better than the base"
    return madness(fit, None)


def refusal_of_printed(
    fit: PairFit, evidence: Evidence, grid: StabilityGrid | None, *, mixes: bool, dilute: float
) -> str | None:
    """Return why a correction from printed azeotropes alone does not ship, or None.

    `mixes`: known to mix in all proportions; `dilute`: the limit at infinite dilution [-].
    """
    if grid is not None and splits(grid) and not mixes:
        return "the base splits the pair and it is not known whether that is true"
    stated = evidence.gap[~evidence.one_sided & ~evidence.solubility]
    wrong = bool(np.any(evidence.gap[evidence.one_sided] > PRINTED_WRONG))
    if not wrong and not np.any(np.abs(stated) > PRINTED_MISSED):
        return "the base meets what is printed of the azeotrope"
    return madness(fit, grid, dilute)


def madness(fit: PairFit, grid: StabilityGrid | None, limit: float = DILUTE_LIMIT) -> str | None:
    """Return what is absurd about a fit, or None."""
    if float(np.abs(dilute_corrections(fit.terms)).max()) > limit:
        return "absurd at infinite dilution"
    if grid is not None and float(grid.stability(fit.terms).min()) <= 0.0:
        return "would split a pair that mixes"
    return None


def splits(grid: StabilityGrid) -> bool:
    """Return whether the base alone would split the pair somewhere within the grid."""
    return float(grid.base.min()) <= 0.0


def misses_of_lone_fits(
    points: BasePoints, pull: Callable[[BasePoints], FitSettings]
) -> np.ndarray:
    """Fit to one paper at a time and return |miss| on all points of the other papers [K].

    `pull`: the settings that a lone paper of these points would get.
    """
    found = []
    for paper in np.unique(points.paper).tolist():
        own = points.take(points.paper == paper)
        fit = fit_points(own, pull(own))
        found.append(np.abs(misses(points.take(points.paper != paper), fit.terms)))
    return np.concatenate(found)
