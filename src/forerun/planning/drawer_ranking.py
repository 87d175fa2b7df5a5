"""Which of the plans of a drawer comes first, and which are worth running many times."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from forerun.planning.candidates import Candidate

__all__ = ["front_of", "promise", "unsure", "worth_an_ensemble"]

_AS_LIKELY = 0.05  # probabilities as close as that count as equal; a judgement, no source
_AS_QUICK = 600.0  # s, and so do times; likewise
_EVEN = 0.5


def promise(plan: Candidate) -> tuple[float, float, float, float]:
    """Return what plans are ranked by, the greater the better.

    Likelier first, by steps of 5 %, for a few runs tell no finer; then quicker, by ten minutes;
    then fewer plates, then more of the product.  Plans that are likelier to miss the aim than to
    meet it are ranked by how pure they come, for nobody wants a quick failure.

    Args:
        plan: run once or many times.
    """
    outcome = plan.outcome
    if outcome is None:
        return -1.0, 0.0, 0.0, 0.0
    chance = 0.0 if math.isnan(outcome.probability) else outcome.probability
    chance = round(chance / _AS_LIKELY) * _AS_LIKELY
    if chance < _EVEN:
        return chance, float(np.nan_to_num(plan.best_purity)), 0.0, outcome.recovery
    quick = -float(round(outcome.time_s / _AS_QUICK))
    return chance, quick, -plan.sheet.rig.plates.value, outcome.recovery


def worth_an_ensemble(plans: Iterable[Candidate], count: int) -> list[Candidate]:
    """Return plans ranked, those first whose runs with what is not known tell most.

    One run says nothing about how safe a plan is.  So of those that meet the aim the best by
    `promise`, the one with the fewest plates, and the purest, which has most to spare.

    Args:
        plans: each run once.
        count: how many will be run many times.
    """
    ranked = sorted(plans, key=promise, reverse=True)
    may = [p for p in ranked if p.outcome is not None and p.outcome.probability > _EVEN]
    if len(may) <= count:
        return ranked
    first = [
        may[0],
        min(may, key=lambda p: p.sheet.rig.plates.value),
        max(may, key=lambda p: float(np.nan_to_num(p.best_purity))),
    ]
    chosen = list({id(p): p for p in first}.values())
    return chosen + [p for p in ranked if all(p is not one for one in chosen)]


def unsure(plan: Candidate) -> Candidate:
    """Return a plan that was run once without a probability: one run says yes or no, no more.

    Args:
        plan: run once.
    """
    if plan.outcome is None:
        return plan
    known = float("nan")
    return replace(plan, outcome=replace(plan.outcome, probability=known, members=1))


def front_of(plans: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """Return the plans that no other beats in purity, recovery and time together.

    Args:
        plans: any that were run.
    """
    known = [p for p in plans if p.outcome is not None]
    points = np.array(
        [[p.outcome.purity, p.outcome.recovery, -p.outcome.time_s] for p in known if p.outcome]
    ).reshape(-1, 3)
    kept = []
    for k, plan in enumerate(known):
        better = (points >= points[k]).all(axis=1) & (points > points[k]).any(axis=1)
        if not better.any():
            kept.append(plan)
    return tuple(kept)
