"""Marks for a hidden run: for each part how much and why, and what another switch would have given.

A cut is said in volumes, which no thermometer moves, or at temperatures, which are carried out as a
thermometer that is right would have them: nobody gains or loses by the one they were handed.
Recovery and purity are held against what the same glass could have done that day.
The scales are our own choice, no source; an instructor may change the weights.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from forerun.core.errors import BadInput
from forerun.core.quantities import format_fraction, format_temperature, format_volume
from forerun.records.readings import Readings
from forerun.reviewing.single_cut import Cuts, SingleCut, cuts_of
from forerun.reviewing.switching import volume_at
from forerun.still.results import Run

__all__ = [
    "WEIGHTS",
    "Dealt",
    "Marks",
    "Submission",
    "marks_of",
    "share_worth",
    "total_of",
    "worth_of",
]

WEIGHTS: Mapping[str, float] = {"data": 0.2, "reasoning": 0.3, "recovery": 0.25, "purity": 0.25}
"""Shares of the marks; an instructor may change them."""

_SAME_K, _SAME_M3 = 0.06, 6e-8  # a reading that was copied with one decimal
_NEAR, _OFF = 0.03, 0.20  # mole fraction within which a guess is right, and at which it is worth 0
_SHOWN = 0.5  # of the marks, at most, for a cause that is not the hidden one but that the run shows
_GAIN = 0.01  # marks of 1; another switch that is worth less is not told


@dataclass(frozen=True, slots=True)
class Dealt:
    """A hidden run.

    Args:
        code: of the student.
        fault: name of what goes wrong, ``none`` for nothing.
        mole_fraction: of the first component in the flask [-].
        unknown: substance that stands in for the last one of the sheet; empty for none.
        asked: what students are asked for: ``fault``, ``share``, ``unknown``.
        log: what the student sees.
        run: what really happened.
        wanted: index of the wanted component.
        name: of the wanted component.
        first: name of the first component.
        purity: aim [-].
        basis: ``mol%``, ``wt%`` or ``vol%``.
        weights: (C,) what one mole of each component counts in the basis, see `weights_for`.
        labels: what each fault is called in words.
        shown: how plainly the run shows each cause to a true thermometer, by the rules of the
            diagnosis [-].
        thermometer_offset_K: what is in the head temperatures of `run` beside the truth [K].
    """

    code: str
    fault: str
    mole_fraction: float
    unknown: str
    asked: tuple[str, ...]
    log: Readings
    run: Run
    wanted: int
    name: str
    first: str
    purity: float
    basis: str
    weights: tuple[float, ...]
    labels: Mapping[str, str]
    shown: Mapping[str, float]
    thermometer_offset_K: float

    def cuts(self) -> Cuts:
        """Return all cuts that this run can give."""
        return cuts_of(self.run, self.log, self.wanted, np.array(self.weights))


@dataclass(frozen=True, slots=True)
class Submission:
    """What a student hands in.

    Args:
        fault: name of what they think goes wrong, ``none`` for nothing; empty for no answer.
        start_m3: distillate at which the receiver of the wanted one is put in place [m3].
        end_m3: distillate at which it is taken away [m3].
        mole_fraction: of the first component, as they think [-]; None for no answer.
        unknown: what they think it is; empty for no answer.
        why: in their words; read by the instructor, not marked.
        log: as handed in; None for none.
        start_K: temperature of the vapour that decides the start instead of a volume [K].
        end_K: the same of the end [K].
    """

    fault: str
    start_m3: float
    end_m3: float
    mole_fraction: float | None = None
    unknown: str = ""
    why: str = ""
    log: Readings | None = None
    start_K: float | None = None
    end_K: float | None = None


@dataclass(frozen=True, slots=True)
class Marks:
    """What a submission is worth.

    Args:
        code: of the student.
        parts: ``data``, ``reasoning``, ``recovery``, ``purity``, each from 0 to 1 [-].
        total: weighed, from 0 to 100 [-].
        reasons: sentences for each part, by its name.
        cut: what their receiver held.
        best: the best single cut of the same run.
        instead: what one other switch would have given, in words.
        why: their own words.
    """

    code: str
    parts: Mapping[str, float]
    total: float
    reasons: Mapping[str, str]
    cut: SingleCut
    best: SingleCut
    instead: str
    why: str


def marks_of(dealt: Dealt, submitted: Submission, weights: Mapping[str, float] = WEIGHTS) -> Marks:
    """Return what a submission is worth, with a reason for each part.

    Args:
        dealt: what was dealt to that student.
        submitted: what they handed in.
        weights: of the parts; together above zero [-].

    Returns:
        The marks. Recovery is held against the best single cut of the same run that is as pure as
        asked; purity counts from that of the charge, which is worth nothing, to the aim, or to
        what this glass could do where it cannot reach the aim.

    Raises:
        BadInput: weights that cannot be used, or a fault that was not to choose from.
    """
    if submitted.fault and submitted.fault not in dealt.labels:
        raise BadInput("fault", submitted.fault, ", ".join(dealt.labels))
    cuts = dealt.cuts()
    best, cut = cuts.best(dealt.purity), cuts.cut(*_switched(dealt, submitted))
    kept, data_why = _integrity(dealt.log, submitted.log)
    reasoned, reasoning_why = _reasoned(dealt, submitted)
    recovery, purity = _worth(dealt, best, cut)
    parts = {"data": kept, "reasoning": reasoned, "recovery": recovery, "purity": purity}
    reasons = {
        "data": data_why,
        "reasoning": reasoning_why,
        "recovery": _switch_words(submitted, cut) + _recovery_words(dealt, best, cut),
        "purity": _purity_words(dealt, best, cut),
    }
    total = total_of(parts, weights)
    instead = _instead(dealt, cuts, best, cut, weights)
    return Marks(dealt.code, parts, total, reasons, cut, best, instead, submitted.why)


def total_of(parts: Mapping[str, float], weights: Mapping[str, float]) -> float:
    """Return what all parts are worth together.

    Args:
        parts: what each is worth, from 0 to 1 [-].
        weights: of the parts; together above zero [-].

    Returns:
        From 0 to 100 [-].

    Raises:
        BadInput: weights that cannot be used.
    """
    whole = _whole(weights)
    return 100.0 * math.fsum(weights.get(p, 0.0) * v for p, v in parts.items()) / whole


def _whole(weights: Mapping[str, float]) -> float:
    whole = math.fsum(weights.get(part, 0.0) for part in WEIGHTS)
    if not whole > 0.0 or min(weights.values()) < 0.0 or set(weights) - set(WEIGHTS):
        accepted = f"shares of {', '.join(WEIGHTS)}, none below zero, not all zero"
        raise BadInput("weights", str(dict(weights)), accepted)
    return whole


def _integrity(dealt: Readings, submitted: Readings | None) -> tuple[float, str]:
    """Return the share of the readings that were handed in unchanged, and the words for it."""
    if submitted is None:
        return 0.0, "No log was handed in."
    given = {row.time_s: row for row in submitted.rows}
    there = [(row, given[row.time_s]) for row in dealt.rows if row.time_s in given]
    same = sum(
        _same(a.head_K, b.head_K, _SAME_K) and _same(a.distillate_m3, b.distillate_m3, _SAME_M3)
        for a, b in there
    )
    most = max(len(dealt), len(submitted))
    counts = {
        "changed": len(there) - same,
        "missing": len(dealt) - len(there),
        "added": len(submitted) - len(there),
    }
    said = ", ".join(f"{count} {word}" for word, count in counts.items() if count)
    words = f"{same} of {len(dealt)} readings are handed in as they were read"
    return same / most, f"{words}{f'; {said}' if said else ''}."


def _same(a: float, b: float, within: float) -> bool:
    return (math.isnan(a) and math.isnan(b)) or abs(a - b) < within


def _reasoned(dealt: Dealt, submitted: Submission) -> tuple[float, str]:
    judged = {
        "fault": lambda: _fault(dealt, submitted.fault),
        "share": lambda: _share(dealt, submitted.mole_fraction),
        "unknown": lambda: _unknown(dealt, submitted.unknown),
    }
    found = [judged[question]() for question in dealt.asked]
    if not found:
        return 1.0, "Nothing was asked for."
    return math.fsum(f[0] for f in found) / len(found), " ".join(f[1] for f in found)


def _fault(dealt: Dealt, named: str) -> tuple[float, str]:
    hidden = dealt.labels[dealt.fault]
    if not named:
        return 0.0, f"Hidden was: {hidden}. Nothing was named."
    if named == dealt.fault:
        return 1.0, f"Hidden was: {hidden}, and it was named."
    plainest = max(dealt.shown.values(), default=0.0)
    shown = dealt.shown.get(named, 0.0) / plainest if plainest > 0.0 else 0.0
    words = f"Hidden was: {hidden}. Named was: {dealt.labels[named]}."
    if shown <= 0.0:
        return 0.0, f"{words} The run does not show that."
    how = "as plainly as anything" if shown > 0.99 else f"{100 * shown:.0f} % as plainly"
    return _SHOWN * shown, f"{words} The run shows that {how}, and half of it counts."


def _share(dealt: Dealt, named: float | None) -> tuple[float, str]:
    true = f"The flask held {format_fraction(dealt.mole_fraction, 'mol%', 0.01)} {dealt.first}"
    if named is None:
        return 0.0, f"{true}; nothing was said."
    worth = share_worth(named - dealt.mole_fraction)
    return worth, f"{true}; said were {format_fraction(named, 'mol%', 0.01)}."


def share_worth(off: float) -> float:
    """Return what a guess of a share is worth.

    Args:
        off: how far it is from the true one [-].

    Returns:
        From 0 to 1 [-].
    """
    return min(max((_OFF - abs(off)) / (_OFF - _NEAR), 0.0), 1.0)


def _unknown(dealt: Dealt, named: str) -> tuple[float, str]:
    if named == dealt.unknown:
        return 1.0, f"The unknown was {dealt.unknown}, and it was named."
    return 0.0, f"The unknown was {dealt.unknown}; named was {named or 'nothing'}."


def _worth(dealt: Dealt, best: SingleCut, cut: SingleCut) -> tuple[float, float]:
    return worth_of(best, cut, dealt.purity, _charged(dealt))


def worth_of(best: SingleCut, cut: SingleCut, purity: float, charged: float) -> tuple[float, float]:
    """Return the marks for recovery and purity of a cut.

    Args:
        best: what the same glass could do.
        cut: what was collected.
        purity: aim [-].
        charged: purity of the charge, in the basis of the aim [-].

    Returns:
        Each from 0 to 1 [-].
    """
    recovery = min(cut.recovery / best.recovery, 1.0) if best.recovery > 0.0 else 0.0
    aim = min(purity, best.purity)
    if cut.purity >= aim - 1e-9:
        return recovery, 1.0 if cut.recovery > 0.0 else 0.0
    return recovery, min(max((cut.purity - charged) / max(aim - charged, 1e-9), 0.0), 1.0)


def _charged(dealt: Dealt) -> float:
    counted = dealt.run.ledger.charge_mol * np.array(dealt.weights)
    return float(counted[dealt.wanted] / counted.sum())


def _switched(dealt: Dealt, submitted: Submission) -> tuple[float, float]:
    """Return the volumes at which the receiver is put in place and taken away [m3]."""

    def at(temperature_K: float, after_m3: float) -> float:
        offset = dealt.thermometer_offset_K
        return volume_at(dealt.run, dealt.log, temperature_K, offset, after_m3)

    start, end = submitted.start_m3, submitted.end_m3
    if submitted.start_K is not None:
        start = at(submitted.start_K, 0.0)
    if submitted.end_K is not None:
        end = at(submitted.end_K, start)
    return start, end


def _switch_words(submitted: Submission, cut: SingleCut) -> str:
    """Return at which volumes temperatures were carried out; nothing where volumes decide."""
    said = [
        f"{format_temperature(at, 0.1)} is reached at {format_volume(volume)}"
        for at, volume in ((submitted.start_K, cut.start_m3), (submitted.end_K, cut.end_m3))
        if at is not None
    ]
    return f"On a thermometer that is right {' and '.join(said)}. " if said else ""


def _recovery_words(dealt: Dealt, best: SingleCut, cut: SingleCut) -> str:
    return (
        f"The receiver holds {_percent(cut.recovery)} of the {dealt.name}. This glass could give "
        f"{_percent(best.recovery)} at {_pure(dealt, best)}, {_between(best)}."
    )


def _purity_words(dealt: Dealt, best: SingleCut, cut: SingleCut) -> str:
    if cut.recovery <= 0.0:
        return "The receiver holds nothing."
    aim = min(dealt.purity, best.purity)
    reach = "" if best.purity >= dealt.purity else ", the most for half of what comes over"
    return (
        f"It is {_pure(dealt, cut)} pure. Full marks are for {format_fraction(aim, dealt.basis)}"
        f"{reach}, none for the charge as it was, {format_fraction(_charged(dealt), dealt.basis)}."
    )


def _instead(
    dealt: Dealt, cuts: Cuts, best: SingleCut, cut: SingleCut, weights: Mapping[str, float]
) -> str:
    """Return what one other switch would have given, where it would have been worth more."""

    def worth(one: SingleCut) -> float:
        parts = dict(zip(("recovery", "purity"), _worth(dealt, best, one), strict=True))
        return math.fsum(weights.get(p, 0.0) * v for p, v in parts.items()) / _whole(weights)

    moved = [cuts.cut(cut.start_m3, float(v)) for v in cuts.volume_m3 if v > cut.start_m3]
    moved += [cuts.cut(float(v), cut.end_m3) for v in cuts.volume_m3 if v < cut.end_m3]
    other = max(moved, key=worth, default=cut)
    if worth(other) < worth(cut) + _GAIN:
        return "No other single switch would have been worth more."
    if other.end_m3 != cut.end_m3:
        verb, by = "Taken away", other.end_m3 - cut.end_m3
    else:
        verb, by = "Put in place", other.start_m3 - cut.start_m3
    when = "later" if by > 0.0 else "earlier"
    return (
        f"{verb} {format_volume(abs(by))} {when}, the receiver would have been "
        f"{_pure(dealt, other)} pure instead of {_pure(dealt, cut)}, with "
        f"{_percent(other.recovery)} of the {dealt.name} instead of {_percent(cut.recovery)}."
    )


def _percent(share: float) -> str:
    return format_fraction(max(share, 0.0), "%", 0.05)


def _pure(dealt: Dealt, cut: SingleCut) -> str:
    return format_fraction(cut.purity, dealt.basis, 0.01)


def _between(cut: SingleCut) -> str:
    return f"from {format_volume(cut.start_m3)} to {format_volume(cut.end_m3)}"
