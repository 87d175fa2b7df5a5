"""A decision's reasons in plain words, with the figures that decided."""

from __future__ import annotations

import math

from forerun.core.quantities import format_fraction, format_volume
from forerun.planning.analysis import Analysis
from forerun.planning.candidates import Candidate
from forerun.planning.method_model import RuleOfThumb, Verdict

__all__ = [
    "aim_words",
    "changes_of",
    "count_words",
    "outcome_words",
    "pair_words",
    "plates_words",
    "rule_of_thumb",
]

_RULE_K = 25.0  # K, the customary difference from which a simple still is said to do
_SPARE_PLATES = 1.5  # plates of the column over the least that could do
_HARDLY_ANY = 0.001  # purity or recovery that is no offer


def rule_of_thumb(found: Analysis, verdict: Verdict) -> RuleOfThumb:
    """Return what the difference of boiling points suggests, beside the verdict.

    Args:
        found: the mixture.
        verdict: what was computed.
    """
    if found.neighbour is None:
        says = "One substance alone: the rule says nothing."
        return RuleOfThumb("simple", None, _RULE_K, verdict.method == "simple", says)
    difference = abs(float(found.boiling_K[found.goal.wanted] - found.boiling_K[found.neighbour]))
    method = "simple" if difference > _RULE_K else "fractional"
    settled = verdict.after or verdict.method
    agrees = method == settled
    gap = f"{difference:.0f} K between the boiling points"
    if agrees:
        says = f"{gap}: the rule says {method}, and so does the calculation."
    else:
        says = f"{gap}: the rule says {method}. {_why_apart(found, verdict, settled)}"
    return RuleOfThumb(method, difference, _RULE_K, agrees, says)


def _why_apart(found: Analysis, verdict: Verdict, settled: str) -> str:
    if settled == "not_by_distillation" and found.limit.recovery < found.goal.recovery:
        return "It knows nothing of azeotropes or of how pure it has to be."
    if settled == "reduced_pressure":
        return "It knows nothing of how hot the pot gets."
    if settled in ("steam", "water_carrying"):
        return "It knows nothing of a second liquid."
    if settled == "simple":
        return "At the purity and recovery asked for, the pot and the neck do."
    if settled == "fractional":
        plates = verdict.least_plates
        needs = "" if plates is None else f": {count_words(plates)} at the least"
        return f"For {aim_words(found)} one evaporation is too little{needs}."
    return "Hold-up, plates and purity decide, not the difference alone."


def outcome_words(found: Analysis, plan: Candidate) -> str:
    """Return what a plan comes to, in one sentence.

    Args:
        found: the mixture.
        plan: a plan that has been run.
    """
    outcome, goal = plan.outcome, found.goal
    if outcome is None:
        return f"{plan.label}: no cut or pot of {aim_words(found)}."
    where = "stays in the pot" if outcome.policy.product == "residue" else "comes over"
    return (
        f"{plan.label}: {format_fraction(outcome.recovery, '%', 0.05)} of the {goal.name} {where} "
        f"at {format_fraction(outcome.purity, goal.basis)}; wanted {aim_words(found)}."
    )


def plates_words(found: Analysis, plan: Candidate, plates: int) -> str:
    """Return how the plates of a plan compare with the fewest that could do.

    Args:
        found: the mixture.
        plan: the plan.
        plates: fewest at total reflux [-].
    """
    own = plan.sheet.rig.plates.value
    return (
        f"{count_words(plates)} at the least at total reflux; {plan.label} has {own:.1f} and holds "
        f"{format_volume(plan.sheet.rig.holdup_m3.value)} of "
        f"{format_volume(found.sheet.charge_volume_m3)}."
    )


def pair_words(found: Analysis) -> str:
    """Return the wanted component and its neighbour, the lighter first.

    Args:
        found: the mixture.
    """
    if found.neighbour is None:
        return ""
    pair = sorted((found.goal.wanted, found.neighbour), key=lambda k: float(found.boiling_K[k]))
    return f"{found.mixture.names[pair[0]]} over {found.mixture.names[pair[1]]} in the charge"


def changes_of(found: Analysis, best: Candidate, plates: int | None) -> list[str]:
    """Return what would change the verdict.

    Args:
        found: the mixture.
        best: the plan behind the verdict.
        plates: fewest at total reflux [-]; None where it was not asked.
    """
    goal = found.goal
    changes = []
    if math.isfinite(best.best_purity) and _HARDLY_ANY < best.best_purity < 0.9999:
        changes.append(
            f"a purity asked for above {format_fraction(best.best_purity, goal.basis)}"
            if best.best_purity >= goal.purity
            else f"a purity of at most {format_fraction(best.best_purity, goal.basis)}"
        )
    if best.outcome is not None and best.outcome.recovery > goal.recovery:
        changes.append(
            f"a recovery asked for above {format_fraction(best.outcome.recovery, '%', 0.05)}"
        )
    elif best.outcome is not None and best.outcome.recovery > _HARDLY_ANY:
        changes.append(f"a recovery of at most {format_fraction(best.outcome.recovery, '%', 0.05)}")
    if plates is not None and best.method == "simple":
        changes.append(f"a column of {max(1, math.ceil(_SPARE_PLATES * plates))} plates or more")
    return changes


def count_words(plates: int) -> str:
    """Return a number of plates in words, ``1 plate`` or ``3 plates``.

    Args:
        plates: [-].
    """
    return f"{plates} plate" if plates == 1 else f"{plates} plates"


def aim_words(found: Analysis) -> str:
    """Return the aim in words.

    Args:
        found: the mixture.
    """
    goal = found.goal
    purity = format_fraction(goal.purity, goal.basis)
    return f"{purity} {goal.name} with {format_fraction(goal.recovery, '%', 0.05)} of it"
