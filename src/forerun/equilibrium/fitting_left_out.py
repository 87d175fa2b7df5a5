"""Does a correction predict what it has not seen?  Papers, tables or stretches are left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.fitting import FitSettings, fit_points
from forerun.equilibrium.fitting_model import BasePoints, corrected, temperature_miss
from forerun.equilibrium.fitting_stability import StabilityGrid

__all__ = ["LeftOut", "leave_out", "leave_out_groups"]

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

_STRETCHES = 4  # parts of a lone table, each left out in turn
_FEWEST = 3  # points that make a group worth judging
_GROSS_K = 2.0  # a group that misses by more counts as this: one bad paper must not decide


@dataclass(frozen=True, slots=True, eq=False)
class LeftOut:
    """Misses on what was left out, group by group.

    Args:
        kind: what a group was: a paper, a table, or a stretch of one table.
        groups: (g,) the indices of the groups.
        before_K, after_K: (g,) root mean square of calculated minus measured boiling temperature
            with the base alone and with the correction fitted to the other groups [K].
    """

    kind: Literal["paper", "table", "stretch"]
    groups: tuple[int, ...]
    before_K: Floats
    after_K: Floats

    @property
    def mean_before_K(self) -> float:
        """Return the mean over the groups, gross misses capped at 2 K [K]."""
        return float(np.mean(np.minimum(self.before_K, _GROSS_K)))

    @property
    def mean_after_K(self) -> float:
        """Return the mean over the groups, gross misses capped at 2 K [K]."""
        return float(np.mean(np.minimum(self.after_K, _GROSS_K)))


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
) -> LeftOut:
    """Fit without each group in turn and predict it.

    Args:
        points: the points of a pair with their base.
        settings: as for the fit.
        grid: where the pair must stay in one liquid phase; None leaves that open.
        group: (n,) group of each point; None chooses by `leave_out_groups`.

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
        fit = fit_points(points.take(group != g), settings, grid)
        seen = points.take(group == g)
        before.append(_rms(seen, np.zeros_like(fit.terms)))
        after.append(_rms(seen, fit.terms))
    return LeftOut(kind, tuple(judged), np.array(before), np.array(after))


def _rms(points: BasePoints, terms: Floats) -> float:
    miss = temperature_miss(points, corrected(points, terms)[0])
    return float(np.sqrt(np.mean(miss**2)))
