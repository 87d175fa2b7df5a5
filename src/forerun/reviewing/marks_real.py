"""Marks for a run at a real bench, by its log and by what its receivers were found to hold.

Nobody knows what truly happened at a bench. So data are marked by whether they can be used and
agree with each other, reasoning by whether the purity that was expected before the assay came
true, and the receiver against what the same glass, run by its own sheet, could give. None of these
asks the head thermometer. The scales are our own choice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from forerun.core.errors import BadInput
from forerun.core.quantities import format_fraction, format_volume
from forerun.planning.aims import Goal, goal_of, weights_for
from forerun.reviewing.ledger import Line, Reconciled, reconcile
from forerun.reviewing.marks import WEIGHTS, Marks, share_worth, total_of, worth_of
from forerun.reviewing.observed import ObservedCut
from forerun.reviewing.review import Review
from forerun.reviewing.single_cut import SingleCut, cuts_foreseen

__all__ = ["Expected", "marks_of_run"]

_DISAGREE = 0.5  # of the marks for data, where a measured number cannot be right


@dataclass(frozen=True, slots=True)
class Expected:
    """What a bench said of its receiver before it was analysed.

    Args:
        receiver: number of the one that is handed in; None for whichever is worth most.
        purity: of the wanted substance in it, as expected, in the basis of the aim [-]; None for
            no answer.
        why: in their words; read by the instructor, not marked.
    """

    receiver: int | None = None
    purity: float | None = None
    why: str = ""


def marks_of_run(
    code: str, review: Review, expected: Expected, weights: Mapping[str, float] = WEIGHTS
) -> Marks:
    """Return what a bench's run is worth, with a reason for each part.

    Args:
        code: of the bench.
        review: of its log and assays.
        expected: what was said before the assay.
        weights: of the parts; together above zero [-].

    Returns:
        The marks, held against the best single receiver of the bench's own sheet as the engine
        runs it.

    Raises:
        BadInput: weights that cannot be used, no receiver that was analysed, or another receiver
            named.
    """
    goal = goal_of(review.sheet)
    counts = weights_for(review.sheet, goal.basis)
    analysed = {s.cut for s in review.statements.rows}
    account = _account(review)
    receivers = [line for line in account.lines if line.place.isdecimal()]
    held = _held(review, receivers, goal)
    own = {number: cut for number, cut in held.items() if str(number) in analysed}
    if not own:
        raise BadInput(f"{code}: assays", "no receiver analysed", "what a receiver holds, analysed")
    if expected.receiver is not None and expected.receiver not in own:
        known = ", ".join(str(number) for number in own)
        raise BadInput(f"{code}: receiver", expected.receiver, f"one that was analysed: {known}")
    best = cuts_foreseen(review.foreseen, goal.wanted, counts).best(goal.purity)
    moles = np.array([p.amount_mol.value for p in review.sheet.charge]) * counts
    charged = float(moles[goal.wanted] / moles.sum())

    def worth(number: int) -> float:
        parts = worth_of(best, own[number], goal.purity, charged)
        return total_of(dict(zip(("recovery", "purity"), parts, strict=True)), weights)

    number = expected.receiver if expected.receiver is not None else max(own, key=worth)
    cut = own[number]
    data, data_why = _data(review, account, receivers, analysed)
    reasoning, reasoning_why = _reasoning(expected, number, cut, goal)
    recovery, purity = worth_of(best, cut, goal.purity, charged)
    parts = {"data": data, "reasoning": reasoning, "recovery": recovery, "purity": purity}
    aim = format_fraction(min(goal.purity, best.purity), goal.basis)
    reasons = {
        "data": data_why,
        "reasoning": reasoning_why,
        "recovery": f"Receiver {number} holds {_percent(cut.recovery)} of the {goal.name}. By its "
        f"own sheet this glass could give {_percent(best.recovery)} at {_pure(goal, best.purity)}.",
        "purity": f"It is {_pure(goal, cut.purity)} pure by its assay. Full marks are for {aim}, "
        f"none for the charge as it was, {format_fraction(charged, goal.basis)}.",
    }
    other = max(own, key=worth)
    instead = (
        f"Receiver {other} would have been worth more: {_pure(goal, own[other].purity)} pure, with "
        f"{_percent(own[other].recovery)} of the {goal.name}."
        if worth(other) > worth(number) + 1.0
        else f"By its own sheet this glass gives most from {format_volume(best.start_m3)} to "
        f"{format_volume(best.end_m3)} of distillate."
    )
    total = total_of(parts, weights)
    return Marks(code, parts, total, reasons, cut, best, instead, expected.why)


def _account(review: Review) -> Reconciled:
    """Return the account without volumes whose receiver was told by a head temperature alone.

    Where nobody wrote down a change of receiver, the review takes it to be where the head passed
    the temperature of the sheet, which a thermometer that is off puts elsewhere.
    """
    told: list[ObservedCut] = []
    before = ""
    for cut in review.observed:
        guessed = "sheet" in {before, cut.by}
        told.append(replace(cut, volume_m3=math.nan, mass_kg=math.nan) if guessed else cut)
        before = cut.by
    return reconcile(review.sheet, told, review.assays, review.statements.rows, review.foreseen)


def _held(review: Review, receivers: list[Line], goal: Goal) -> dict[int, SingleCut]:
    """Return what each receiver holds by the account, in the basis of the aim."""
    per = weights_for(review.sheet, goal.basis) / review.account.molar_masses
    put_in = float(review.sheet.charge[goal.wanted].mass_kg)
    found, volume = {}, 0.0
    for line in receivers:
        counted = line.by_component_kg * per
        pure = float(counted[goal.wanted] / counted.sum()) if counted.sum() > 0.0 else 0.0
        recovery = float(line.by_component_kg[goal.wanted]) / put_in
        until = volume + line.volume_m3
        found[int(line.place)] = SingleCut(volume, until, recovery, pure)
        volume = until
    return found


def _data(
    review: Review, account: Reconciled, receivers: list[Line], analysed: set[str]
) -> tuple[float, str]:
    """Return how far the data can be used and agree, and the words for it."""
    flagged = len(review.readings.flags) + len(review.assays.flags)
    rows = len(review.readings) + len(review.assays.rows)
    usable = rows / max(rows + flagged, 1)
    known = [
        bool(review.assays.of(line.place, "mass")) + (line.place in analysed) for line in receivers
    ]
    full = sum(known) / (2 * len(known))
    words = [f"{rows} rows can be used, {flagged} cannot or only in part."]
    whole = sum(count == 2 for count in known)
    words.append(f"{whole} of {len(known)} receivers were both weighed and analysed.")
    agree = 1.0
    if account.wrong:
        agree = _DISAGREE
        named = [suspect.sentence + "." for suspect in account.suspects[:1]]
        words += ["Something measured cannot be right, and half is taken off.", *named]
    return usable * full * agree, " ".join(words)


def _reasoning(expected: Expected, number: int, cut: SingleCut, goal: Goal) -> tuple[float, str]:
    found = f"Receiver {number} was found to be {_pure(goal, cut.purity)} pure"
    if expected.purity is None:
        return 0.0, f"{found}; nothing was said before."
    said = _pure(goal, expected.purity)
    return share_worth(expected.purity - cut.purity), f"{found}; expected before were {said}."


def _percent(share: float) -> str:
    return format_fraction(max(share, 0.0), "%", 0.05)


def _pure(goal: Goal, purity: float) -> str:
    return format_fraction(purity, goal.basis, 0.01)
