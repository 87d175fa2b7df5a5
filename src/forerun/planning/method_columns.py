"""A simple still or a column: each is run with what is not known, the likelier one is taken."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from forerun.core.quantities import format_fraction, format_time, format_volume
from forerun.glassware.columns import column_holdup, column_plates
from forerun.glassware.drawer import Item, find_item
from forerun.glassware.inventory import Inventory
from forerun.planning.aims import chance_of
from forerun.planning.analysis import Analysis, least_plates
from forerun.planning.candidates import Candidate, planned, run_candidate, run_once
from forerun.planning.drawer import Progress, search_drawer
from forerun.planning.method_model import RunnerUp, Verdict
from forerun.planning.method_words import (
    aim_words,
    changes_of,
    count_words,
    outcome_words,
    pair_words,
    plates_words,
)
from forerun.planning.routes import Route, routes_of

__all__ = ["Means", "column_plan", "plates_at", "simple_or_column"]

_SPARE_PLATES = 1.5  # plates of the column over the least that could do
_HOLDUPS = 10.0  # charge over hold-up at the least
_SURE = 0.75  # probability at which the simpler way is taken
_CLOSE = 0.05  # by which a harder way must be likelier
_LIKELY = 0.5
_USUAL_REFLUX = 3.0
_FOR_OTHERS = 8  # members at most for a column that is not on the sheet, which may be slow to run
_MUCH_REFLUX = 8.0
_COLUMNS = (
    "Vigreux 30 cm",
    "Vigreux 60 cm",
    "glass beads 30 cm",
    "steel sponge 40 cm",
    "wire helices 30 cm",
    "wire helices 60 cm",
    "spinning band 30 cm",
)


@dataclass(frozen=True, slots=True)
class Means:
    """What a decision may use.

    Args:
        members: runs behind each probability.
        seed: repeats them.
        drawer: searched for glass; None to stay with the sheet's own.
        progress: called with how much is done and how much there is.
    """

    members: int
    seed: int
    drawer: Inventory | None = None
    progress: Progress | None = None


def plates_at(found: Analysis, pressure: float) -> int | None:
    """Return the fewest plates that could meet the aim at another pressure.

    Args:
        found: the mixture.
        pressure: [Pa].
    """
    return least_plates(replace(found, pressure_Pa=pressure))


def simple_or_column(found: Analysis, pressure: float, means: Means) -> Verdict:
    """Return the verdict between a simple still and a column.

    Args:
        found: the mixture.
        pressure: in the head [Pa].
        means: the drawer, and how many runs stand behind each probability.
    """
    if means.drawer is not None:
        return _from_drawer(found, pressure, means, means.drawer)
    simple = _simple_plan(found, pressure, means)
    plans = [simple]
    plates = None
    notes: list[str] = []
    if _chance(simple) < _SURE and len(found.mixture.substances) > 1:
        plates = plates_at(found, pressure)
        refused = _holdup_words(found)
        notes += [refused] if refused else []
        if plates is not None:
            plans += _columns(found, pressure, plates, means, usable=not refused)
    return _chosen(found, plans, plates, notes)


def _columns(
    found: Analysis, pressure: float, plates: int, means: Means, *, usable: bool
) -> list[Candidate]:
    """Return the plan with the sheet's own column and, where that is unlikely, with another."""
    plans = []
    if found.sheet.rig.plates.value >= 0.5 and usable:
        own = column_plan(found, pressure, plates, means, own=True)
        plans += [own] if own else []
    if not plans or _chance(plans[0]) < _LIKELY:
        other = column_plan(found, pressure, plates, means, own=False)
        plans += [other] if other else []
    return plans


def _from_drawer(found: Analysis, pressure: float, means: Means, drawer: Inventory) -> Verdict:
    search = search_drawer(
        found,
        pressure,
        drawer,
        members=means.members,
        seed=means.seed,
        progress=means.progress,
    )
    plates = plates_at(found, pressure) if len(found.mixture.substances) > 1 else None
    words = (
        f"{search.combinations} ways to put the drawer together, {search.feasible} suit this "
        f"charge; {len(search.plans)} were run."
    )
    if not search.plans:
        why = max(search.refused, key=lambda k: search.refused[k], default="it is empty")
        verdict = Verdict(
            "not_by_distillation",
            1.0 - chance_of(0, means.members),
            (words, f"Nothing in the drawer suits it, mostly: {why}."),
            None,
            tuple(f"one more piece: {more.piece}" for more in search.one_more),
            routes=routes_of(found),
            least_plates=plates,
        )
    else:
        verdict = _chosen(found, list(search.plans), plates, [words])
    return replace(verdict, drawer=search)


def _simple_plan(found: Analysis, pressure: float, means: Means) -> Candidate:
    rig = {"column": "none", "plates": None, "holdup": None}
    plan = run_once(
        planned(found.sheet, "simple", pressure=pressure, reflux=0.0, rig=rig),
        found.goal,
    )
    return _with_members(plan, found, means)


def _with_members(plan: Candidate, found: Analysis, means: Means) -> Candidate:
    """Run the ensemble only where the plan is anywhere near the aim."""
    outcome = plan.outcome
    if outcome is None:
        return plan
    gap = found.goal.purity - max(
        plan.best_purity, outcome.purity if outcome.recovery >= found.goal.recovery else 0.0
    )
    if gap > 0.5 * (1.0 - found.goal.purity) + 0.02:
        hopeless = chance_of(0, means.members)
        return replace(plan, outcome=replace(outcome, probability=hopeless, unhurried=hopeless))
    return run_candidate(plan, found.goal, means.members, means.seed)


def _holdup_words(found: Analysis) -> str:
    """Say so where the charge is too small for the column that the sheet names."""
    rig, charge = found.sheet.rig, found.sheet.charge_volume_m3
    if rig.plates.value < 0.5 or charge >= _HOLDUPS * rig.holdup_m3.value:
        return ""
    name = rig.column if rig.column != "none" else "The column"
    return (
        f"{name} holds {format_volume(rig.holdup_m3.value)} of a charge of "
        f"{format_volume(charge)}: it takes a charge of ten hold-ups at the least."
    )


def column_plan(
    found: Analysis, pressure: float, plates: int, means: Means, *, own: bool
) -> Candidate | None:
    """Return the plan with a column, at the reflux that does best.

    Args:
        found: the mixture.
        pressure: in the head [Pa].
        plates: fewest that could meet the aim at total reflux [-].
        means: how many runs stand behind the probability.
        own: whether the column of the sheet is used; else the least of the drawer that fits.

    Returns:
        The plan; None where no column of the drawer fits charge and plates.
    """
    rig: dict[str, Any] = {}
    if not own:
        means = replace(means, members=min(means.members, _FOR_OTHERS))
        column = _fitting_column(found, plates)
        if column is None:
            return None
        rig = {"column": column.label, "plates": None, "holdup": None}
    given = max(r for _, r in found.sheet.programme.reflux_ratio.points)
    first = given if 0.0 < given < math.inf else _USUAL_REFLUX
    best = None
    for reflux in dict.fromkeys((first, max(_MUCH_REFLUX, first))):
        plan = run_once(
            planned(found.sheet, "fractional", pressure=pressure, reflux=reflux, rig=rig),
            found.goal,
        )
        plan = _with_members(plan, found, means)
        if best is None or _chance(plan) > _chance(best) + _CLOSE:
            best = plan
        if _chance(best) >= _SURE:
            break
    return best


def _chance(plan: Candidate) -> float:
    chance = plan.outcome.probability if plan.outcome else 0.0
    return chance if math.isfinite(chance) else 0.0


def _fitting_column(found: Analysis, plates: int) -> Item | None:
    """Return the least column of the drawer with plates to spare that the charge can feed."""
    fits = []
    for text in _COLUMNS:
        column = find_item(text, "column", "column")
        own = column_plates(column).typical
        holdup = column_holdup(column, own).typical
        if own >= _SPARE_PLATES * plates and found.sheet.charge_volume_m3 >= _HOLDUPS * holdup:
            fits.append((own, column))
    return min(fits, key=lambda pair: pair[0])[1] if fits else None


def _chosen(
    found: Analysis, plans: list[Candidate], plates: int | None, notes: list[str]
) -> Verdict:
    goal = found.goal
    order = sorted(plans, key=_chance, reverse=True)
    simple = next((plan for plan in order if plan.method == "simple"), None)
    best = order[0]
    if simple is not None and _chance(simple) >= min(_SURE, _chance(best) - _CLOSE):
        best = simple
    rest = [plan for plan in order if plan is not best]
    reasons = [outcome_words(found, best), *notes]
    if plates is not None and best.method == "fractional":
        reasons.append(plates_words(found, best, plates))
    if simple is not None and best is not simple and simple.run is not None:
        reasons.append(
            f"A simple still gives at best {format_fraction(simple.best_purity, goal.basis)} "
            f"where it holds {format_fraction(goal.recovery, '%', 0.05)}."
        )
    if len(found.mixture.substances) > 1 and math.isfinite(found.volatility):
        reasons.append(f"Relative volatility of {pair_words(found)}: {found.volatility:.3g}.")
    runner = None
    if rest:
        runner = RunnerUp(rest[0].method, _chance(rest[0]), outcome_words(found, rest[0]))
    if _chance(best) < _LIKELY:
        return _not_with_this(found, best, plans, plates, reasons)
    return Verdict(
        best.method,
        _chance(best),
        tuple(reasons),
        runner,
        tuple(changes_of(found, best, plates)),
        plan=best,
        plans=tuple(order),
        routes=routes_of(found) if _chance(best) < _SURE else (),
        least_plates=plates,
    )


def _not_with_this(
    found: Analysis,
    best: Candidate,
    plans: list[Candidate],
    plates: int | None,
    reasons: list[str],
) -> Verdict:
    """No plan is likely to reach the aim: say what would."""
    order = sorted(plans, key=_chance, reverse=True)
    slow = _but_for_the_time(found, plans)
    if slow is not None:
        return _too_slow(found, slow, order, plates, reasons)
    words = []
    if len(found.mixture.substances) == 1:
        words.append(f"{found.goal.name} alone does not come over as asked with this kit.")
    elif plates is None:
        words.append(f"More than 30 plates would be needed for {aim_words(found)}.")
    else:
        words.append(
            f"{aim_words(found)} takes {count_words(plates)} at the least at total reflux; no "
            "column that was looked at has enough to spare and a charge of ten hold-ups."
        )
    extra = [
        Route("chaser", "Add a higher-boiling chaser, so that the column's hold-up is not lost."),
        Route("chromatography", "Chromatography, extraction or crystallisation."),
    ]
    return Verdict(
        "not_by_distillation",
        1.0 - _chance(best),
        tuple([*words, *reasons]),
        RunnerUp(best.method, _chance(best), outcome_words(found, best)),
        tuple(changes_of(found, best, plates)),
        plan=None,
        plans=tuple(order),
        routes=(*routes_of(found), *extra),
        least_plates=plates,
    )


def _but_for_the_time(found: Analysis, plans: list[Candidate]) -> Candidate | None:
    """Return the quickest plan that would do if the aim had no time limit; None without one."""
    slow = [p for p in plans if p.outcome is not None and p.outcome.unhurried >= _LIKELY]
    if found.goal.time_s is None or not slow:
        return None
    return min(slow, key=lambda plan: plan.outcome.time_s if plan.outcome else math.inf)


def _too_slow(
    found: Analysis,
    slow: Candidate,
    order: list[Candidate],
    plates: int | None,
    reasons: list[str],
) -> Verdict:
    """The glass does it, but not in the time of the aim."""
    outcome, asked = slow.outcome, found.goal.time_s
    assert outcome is not None
    assert asked is not None
    needed = format_time(outcome.time_s)
    words = (
        f"{format_time(asked)} is too little for it: {slow.label} takes about {needed}, and with "
        f"as much time as it needs reaches the rest of the aim {100 * outcome.unhurried:.0f} times "
        "in 100."
    )
    rest = [plan for plan in order if plan is not slow]
    runner = (
        RunnerUp(rest[0].method, _chance(rest[0]), outcome_words(found, rest[0])) if rest else None
    )
    return Verdict(
        slow.method,
        _chance(slow),
        tuple([words, *reasons]),
        runner,
        (f"{needed} for it, and some to spare, instead of {format_time(asked)}",),
        plan=slow,
        plans=tuple(order),
        routes=routes_of(found),
        least_plates=plates,
        needs_s=outcome.time_s,
    )
