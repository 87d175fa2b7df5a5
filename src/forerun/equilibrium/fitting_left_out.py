"""Does a correction predict what it has not seen?  Papers, tables or stretches are left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.fitting import FitSettings, fit_points
from forerun.equilibrium.fitting_evidence import Evidence
from forerun.equilibrium.fitting_model import (
    BasePoints,
    corrected,
    no_points,
    temperature_miss,
)
from forerun.equilibrium.fitting_stability import StabilityGrid

__all__ = ["LeftOut", "leave_out", "leave_out_groups", "leave_out_layers"]

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

_STRETCHES = 4  # parts of a lone table, each left out in turn
_FEWEST = 3  # points that make a group worth judging
# A group that misses by more counts as this: one bad paper must not decide.  Parts of one paper
# share its fate, so that there is nothing to protect.
_GROSS_K = {"paper": 2.0, "table": 9.0, "stretch": 9.0, "solubility": 2.0}


@dataclass(frozen=True, slots=True, eq=False)
class LeftOut:
    """Misses on what was left out, group by group.

    Args:
        kind: what a group was: a paper, a table, a stretch of one table, or the solubilities of
            a paper; ``printed`` where nothing but an azeotrope in print was fitted and nothing
            could be left out.
        groups: (g,) the indices of the groups.
        before_K, after_K: (g,) root mean square of calculated minus measured boiling temperature
            with the base alone and with the correction fitted to the other groups [K].
    """

    kind: Literal["paper", "table", "stretch", "solubility", "printed"]
    groups: tuple[int, ...]
    before_K: Floats
    after_K: Floats

    @property
    def mean_before_K(self) -> float:
        """Return the mean over the groups, gross misses of papers capped at 2 K [K]."""
        return float(np.mean(np.minimum(self.before_K, _GROSS_K[self.kind])))

    @property
    def mean_after_K(self) -> float:
        """Return the mean over the groups, gross misses of papers capped at 2 K [K]."""
        return float(np.mean(np.minimum(self.after_K, _GROSS_K[self.kind])))


def leave_out_groups(
    points: BasePoints,
) -> tuple[Literal["paper", "table", "stretch"], Integers]:
    """Choose what to leave out: papers if there are several, else tables, else stretches.

    Args:
        points: the points of a pair.

    Returns:
        The kind, and the group of each point, (n,).
    """
    if np.unique(points.paper).size > 1:
        return "paper", points.paper
    if np.unique(points.table).size > 1:
        return "table", points.table
    rank = np.argsort(np.argsort(points.liquid_fraction, kind="stable"), kind="stable")
    return "stretch", (rank * _STRETCHES // rank.size).astype(np.int64)


def leave_out(
    points: BasePoints,
    settings: FitSettings,
    grid: StabilityGrid | None = None,
    group: Integers | None = None,
    evidence: Evidence | None = None,
) -> LeftOut:
    """Fit without each group in turn and predict it.

    Args:
        points: the points of a pair with their base.
        settings: as for the fit.
        grid: where the pair must stay in one liquid phase; None leaves that open.
        group: (n,) group of each point; None chooses by `leave_out_groups`.
        evidence: solubilities and enthalpies, which stay in every fit.

    Returns:
        The misses; no groups when fewer than two can be judged.

    Raises:
        CalculationFailed: a fit did not settle.

    Source:
        Stone, J. R. Stat. Soc. B 36 (1974) 111, doi:10.1111/j.2517-6161.1974.tb00994.x.
    """
    kind, chosen = leave_out_groups(points)
    group = chosen if group is None else group
    judged = [g for g in np.unique(group).tolist() if np.sum(group == g) >= _FEWEST]
    if np.unique(group).size < 2:
        judged = []
    before, after = [], []
    for g in judged:
        fit = fit_points(points.take(group != g), settings, grid, evidence)
        seen = points.take(group == g)
        before.append(_rms(seen, np.zeros_like(fit.terms)))
        after.append(_rms(seen, fit.terms))
    return LeftOut(kind, tuple(judged), np.array(before), np.array(after))


def leave_out_layers(evidence: Evidence, settings: FitSettings) -> LeftOut:
    """Fit solubilities without each paper in turn, or each temperature of one, and predict it.

    Args:
        evidence: with two rows for each pair of layers.
        settings: as for the fit.

    Returns:
        The misses as errors of a boiling temperature; no groups when fewer than two can be judged.

    Raises:
        CalculationFailed: a fit did not settle.

    Source:
        As `leave_out`.
    """
    known = evidence.take(evidence.solubility)
    group = known.paper
    if np.unique(group).size < 2:
        group = np.arange(group.size, dtype=np.int64) // 2
    groups = np.unique(group).tolist()
    if len(groups) < 2:
        groups = []
    before, after = [], []
    for g in groups:
        fit = fit_points(no_points(), settings, None, known.take(group != g))
        seen = known.take(group == g)
        before.append(float(np.sqrt(np.mean(seen.miss_K(np.zeros((1, 2))) ** 2))))
        after.append(float(np.sqrt(np.mean(seen.miss_K(fit.terms) ** 2))))
    return LeftOut("solubility", tuple(groups), np.array(before), np.array(after))


def _rms(points: BasePoints, terms: Floats) -> float:
    miss = temperature_miss(points, corrected(points, terms)[0])
    return float(np.sqrt(np.mean(miss**2)))
