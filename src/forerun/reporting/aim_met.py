"""Whether a run reaches the aim of its sheet, in one sentence in the units that were asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from forerun.core.quantities import format_fraction
from forerun.reporting.cut_rows import strength_words
from forerun.reporting.finding import aimed_fraction
from forerun.sheets.model import RunSheet
from forerun.still.results import Cut, Run

if TYPE_CHECKING:
    from forerun.planning.advice import Advice

__all__ = ["AimMet", "aim_met", "aim_met_by_plan"]

_WHOLE = 0.05  # of a share: digits of a recovery


@dataclass(frozen=True, slots=True)
class AimMet:
    """What a run makes of the aim.

    Args:
        met: whether purity and, where one was asked for, recovery are reached in one bottle.
        says: in a sentence.
    """

    met: bool
    says: str


def aim_met(sheet: RunSheet, run: Run) -> AimMet | None:
    """Return whether the aim is reached, by the single run; None where the sheet names no purity.

    Args:
        sheet: the run sheet.
        run: of it.
    """
    aim = sheet.aim
    if aim.substance is None or aim.purity is None:
        return None
    asked_for, basis = aim.purity, aim.purity_basis or "mol%"
    wanted = sheet.names.index(aim.substance.name)
    charged = float(sheet.charge[wanted].amount_mol.value)
    least = 0.0 if aim.recovery is None else aim.recovery
    bottles = []
    for name, cut in [*((f"cut {c.number}", c) for c in run.cuts), ("the pot", run.residue)]:
        if cut.amount_mol > 0.0 and np.isfinite(cut.mole_fraction).all():
            purity = aimed_fraction(sheet, cut, wanted)
            bottles.append((name, purity, _recovery(cut, wanted, charged)))
    asked = f"Aim {format_fraction(asked_for, basis)} {aim.substance.name}"
    if not bottles:
        return AimMet(False, f"{asked} is not reached: nothing comes over.")
    pure = [one for one in bottles if one[1] >= asked_for]
    name, purity, recovery = (
        max(pure, key=lambda b: b[2])
        if pure
        else max(bottles, key=lambda b: min(b[1] / asked_for, 1.0) + min(b[2], 0.2))
    )
    holds = _holding(name, purity, basis, recovery)
    return _judged(asked, holds, bool(pure), recovery, least)


def aim_met_by_plan(advice: Advice) -> AimMet | None:
    """Return whether the plan that is advised reaches the aim; None where none was run.

    Args:
        advice: the answer; what its sheet leaves open of the aim is as the advice took it.
    """
    plan, goal = advice.verdict.plan, advice.goal
    if plan is None or plan.run is None:
        return None
    asked = f"Aim {format_fraction(goal.purity, goal.basis)} {goal.name}"
    if advice.sheet.aim.purity is None:
        asked += " (assumed: the sheet names no purity)"
    found = plan.outcome
    if found is None:
        return AimMet(False, f"{asked} is not reached by this plan.")
    product = "the pot" if found.policy.product == "residue" else "the heart cut"
    holds = _holding(product, found.purity, goal.basis, found.recovery)
    return _judged(asked, holds, found.purity >= goal.purity, found.recovery, goal.recovery)


def _judged(asked: str, holds: str, pure: bool, recovery: float, least: float) -> AimMet:
    """Return the sentence for a bottle that is pure enough or not, and holds enough or not."""
    if pure and recovery >= least:
        return AimMet(True, f"{asked} is reached: {holds}.")
    if pure:
        much = format_fraction(least, "%", _WHOLE)
        return AimMet(False, f"{asked} is reached, but {holds} where {much} is wanted.")
    return AimMet(False, f"{asked} is not reached: {holds}.")


def _holding(bottle: str, purity: float, basis: str, recovery: float) -> str:
    return (
        f"{bottle} holds {strength_words(purity, None, basis)}, "
        f"{format_fraction(recovery, '%', _WHOLE)} of what was charged"
    )


def _recovery(cut: Cut, wanted: int, charged: float) -> float:
    return float(cut.amount_mol * cut.mole_fraction[wanted]) / charged
