"""The one instruction of the moment, from alarms, findings and the estimate, in that order.

Thresholds are judgements, no source, unless a line says otherwise.  Advisory: your institution's
stricter rule wins.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from forerun.core.formats import format_temperature, format_time, format_volume
from forerun.reviewing.findings import Finding
from forerun.running.alarm_limits import AlarmLimits
from forerun.running.alarms import Alarm
from forerun.running.estimate import Estimate, Span
from forerun.running.instruction import Action, Answer, Instruction
from forerun.running.instruction_words import (
    band_words,
    creeping_words,
    held_words,
    near_words,
    percent_words,
    span_ahead,
    sure_words,
    times_words,
)

__all__ = ["CALL_AT", "Moment", "instructed"]

CALL_AT = 0.5
"""Share of the members past the moment of a switch from which it is called [-]."""

_STILL_CALLED = 0.3  # a call is not taken back above this share
_NEAR_AT = 0.8  # probability of the switch within 2 mL or 2 min from which it is said
_SURE = 0.5  # probability of a finding from which it is acted on
_FLOOR_S = 300.0  # before the floor is reached
_FULL = 0.95  # load of the column
_EASY = 0.8  # load to come down to
_TURN = 5.0  # K, smallest turn of the dial that is asked for
_MOST_TURN = 20.0  # K at one time
_BATH_MARGIN = 5.0  # K below the limit of the bath
_SLOW = 0.25  # of the planned rate
_LEAST_RATE = 0.05e-6 / 60.0  # m3/s; less is no dripping
_SETTLES = 300.0  # s that a turned dial needs before it is judged
_EARLY_S = 300.0  # before the first drop; a head that is hot sooner has met vapour, or is none
_HOT = 0.4  # of the way that the head climbs until the first drop
_CLIMB = 10.0  # K, the least of it from which that can be told
_RARE = 0.02  # share of the forecasts without the switch from which it is said
_QUIET = {"done": _SETTLES, "not_now": 120.0, "no": 900.0}  # s for which an answer silences


@dataclass(frozen=True, slots=True)
class Moment:
    """Everything that an instruction may rest on.

    Args:
        now_s: since the start of the run [s].
        estimate: None before the first.
        limits: of the sheet; None where it cannot be read.
        alarms: that stand.
        findings: cautions first.
        bath_K: as read last, or as planned; None where neither is known [K].
        head_K: as read last; None where it was not [K].
        pot_K: as read last, or as the members have it [K].
        planned_bath_K: by the sheet now; None where a rule leads it [K].
        planned_rate_m3_s: by the sheet's own run, when as much had come over [m3/s].
        answers: by id of the instruction.
        tested: answers to tests, ``yes`` or ``no``, by name of the finding.
    """

    now_s: float
    estimate: Estimate | None = None
    limits: AlarmLimits | None = None
    alarms: Sequence[Alarm] = ()
    findings: Sequence[Finding] = ()
    bath_K: float | None = None
    head_K: float | None = None
    pot_K: float | None = None
    planned_bath_K: float | None = None
    planned_rate_m3_s: float | None = None
    answers: Mapping[str, Answer] = field(default_factory=dict)
    tested: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Said:
    action: Action
    key: str
    text: str
    why: str
    probability: float | None = None
    in_s: Span | None = None
    in_m3: Span | None = None
    insists: bool = False  # no answer silences it


_Rule = Callable[[Moment, Instruction | None], _Said | None]


def instructed(moment: Moment, before: Instruction | None = None) -> Instruction:
    """Return what to do now.

    Args:
        moment: what is known.
        before: the instruction of the moment before.
    """
    for rule in _RULES:
        said = rule(moment, before)
        if said is None:
            continue
        one = _named(said, moment, before)
        if said.insists or not _silenced(one, moment):
            return one
    return _named(_hold(moment), moment, before)


def _named(said: _Said, moment: Moment, before: Instruction | None) -> Instruction:
    """Return an instruction that keeps its id as long as what to do is the same."""
    same = before is not None and before.key == said.key
    since = before.since_s if before is not None and same else moment.now_s
    name = before.id if before is not None and same else f"{said.key}-{moment.now_s:.0f}"
    return Instruction(
        name,
        said.key,
        said.action,
        said.text,
        said.why,
        said.probability,
        said.in_s,
        said.in_m3,
        since,
    )


def _silenced(one: Instruction, moment: Moment) -> bool:
    """Return whether an answer to this, or to its like of a while ago, still holds."""
    return any(
        name.rpartition("-")[0] == one.key
        and moment.now_s - answer.time_s < _QUIET.get(answer.said, 0.0)
        for name, answer in moment.answers.items()
    )


def _alarmed(moment: Moment, _before: Instruction | None) -> _Said | None:
    for alarm in moment.alarms:
        if alarm.state == "stop":
            action: Action = "heat_less" if alarm.gate == "bath" else "stop"
            key = f"{action}-{alarm.gate}"
            return _Said(action, key, alarm.caution, alarm.text, insists=True)
    return None


def _floor(moment: Moment, _before: Instruction | None) -> _Said | None:
    """Say when the least residue will be reached, ahead of the alarm that judges what was read."""
    estimate, limits = moment.estimate, moment.limits
    if estimate is None or limits is None or not math.isfinite(estimate.residue_m3.middle):
        return None
    left = estimate.residue_m3
    shown = (
        f"{band_words(left, format_volume)} left in the pot; the floor is "
        f"{format_volume(limits.floor_m3)}."
    )
    if left.low <= limits.floor_m3:
        text = "Stop: take the heat away. The residue floor is reached."
        return _Said("stop", "stop-floor", text, shown, insists=True)
    rate = estimate.rate_m3_s.middle
    if not rate > _LEAST_RATE:
        return None
    ahead = (left.low - limits.floor_m3) / rate
    if ahead > _FLOOR_S:
        return None
    text = f"Stop in {format_time(ahead)}: the residue floor is near."
    later = _spanned(left, limits.floor_m3, rate)
    return _Said("stop", "stop-floor", text, shown, in_s=later, insists=True)


def _spanned(left: Span, floor: float, rate: float) -> Span:
    low, middle, high = (max(v - floor, 0.0) / rate for v in (left.low, left.middle, left.high))
    return Span(low, middle, high)


def _over(moment: Moment, _before: Instruction | None) -> _Said | None:
    estimate = moment.estimate
    if estimate is None or estimate.first_drop_s is None or not estimate.readings:
        return None
    if estimate.end_s.middle > moment.now_s:
        return None
    why = "By the corrected forecast what the sheet ends the run by has been reached."
    return _Said("stop", "stop-end", "End the run: take the heat away.", why)


def _urgent(moment: Moment, _before: Instruction | None) -> _Said | None:
    """Ask for the test of a finding that cannot wait, then for its remedy."""
    for finding in moment.findings:
        if finding.probability < _SURE:
            continue
        tested = moment.tested.get(finding.name)
        if tested == "no":
            continue
        why = f"{finding.seen} {finding.causes[0].label.capitalize()}, most likely."
        if tested == "yes":
            text = finding.remedy
            return _Said("look", f"look-{finding.name}", text, why, finding.probability)
        text = f"{finding.caution} {finding.test}".strip()
        key = f"answer_test-{finding.name}"
        return _Said("answer_test", key, text, why, finding.probability)
    return None


def _switch(moment: Moment, before: Instruction | None) -> _Said | None:
    switch = None if moment.estimate is None else moment.estimate.next_switch
    if switch is None or not moment.estimate or not moment.estimate.readings:
        return None
    key = f"switch-{switch.receiver}"
    called = before is not None and before.key == key
    if switch.due >= (_STILL_CALLED if called else CALL_AT):
        return _Said(
            "switch",
            key,
            f"Switch now: bottle {switch.receiver} away, bottle {switch.receiver + 1} in place.",
            f"{held_words(switch)} {percent_words(switch.due)} of the forecasts are past its end."
            f"{creeping_words(switch)}",
            switch.due,
            switch.time_s,
            switch.volume_m3,
        )
    if switch.within >= _NEAR_AT:
        return _Said(
            "hold",
            f"ready-{switch.receiver}",
            f"Be ready: {near_words(switch)}, {sure_words(switch.within)}.",
            f"{held_words(switch)}{creeping_words(switch)}",
            switch.within,
            switch.time_s,
            switch.volume_m3,
        )
    return None


def _flooding(moment: Moment, _before: Instruction | None) -> _Said | None:
    """Take so much heat away as brings the load of the column to an easy one."""
    load = None if moment.estimate is None else moment.estimate.load
    if load is None or load.middle < _FULL or moment.bath_K is None or moment.pot_K is None:
        return None
    drive = moment.bath_K - moment.pot_K
    turn = _rounded((1.0 - _EASY / load.middle) * drive)
    if turn < _TURN:
        return None
    why = (
        f"The column carries {percent_words(load.middle)} of the vapour at which it floods; "
        "boil-up goes with bath less pot."
    )
    return _Said("heat_less", "heat_less-load", f"Lower the bath by {turn:.0f} °C.", why)


def _cold(moment: Moment, _before: Instruction | None) -> _Said | None:
    """Raise a bath that is behind its plan, or under which hardly anything comes over."""
    if moment.bath_K is None or moment.estimate is None:
        return None
    behind = 0.0 if moment.planned_bath_K is None else moment.planned_bath_K - moment.bath_K
    if _slow(moment):
        drive = moment.bath_K - (moment.pot_K if moment.pot_K is not None else moment.bath_K)
        behind = max(behind, drive, 2.0 * _TURN)
        why = "It drips at less than a quarter of the planned rate."
    elif behind > 2.0 * _TURN:
        why = f"The sheet has it at {format_temperature(moment.planned_bath_K or 0.0)} by now."
    else:
        return None
    room = math.inf if moment.limits is None else moment.limits.bath_K - _BATH_MARGIN
    turn = _rounded(min(behind, _MOST_TURN, room - moment.bath_K))
    if turn < _TURN:
        return None
    to = format_temperature(moment.bath_K + turn)
    text = f"Raise the bath by {turn:.0f} °C, to {to}."
    return _Said("heat_more", "heat_more-bath", text, why)


def _slow(moment: Moment) -> bool:
    estimate, planned = moment.estimate, moment.planned_rate_m3_s
    if estimate is None or planned is None or planned <= _LEAST_RATE or not estimate.readings:
        return False
    first = estimate.first_drop_s
    late = first is not None and moment.now_s - first.high > _SETTLES
    return late and estimate.rate_m3_s.high < _SLOW * planned


def _unlike(moment: Moment, _before: Instruction | None) -> _Said | None:
    estimate = moment.estimate
    if estimate is None or estimate.state != "undecided" or estimate.misfit <= 2.0:
        return None
    text = "Look at the still: the readings are not those of this sheet."
    return _Said("look", "look-misfit", text, estimate.says)


def _early(moment: Moment, _before: Instruction | None) -> _Said | None:
    """Ask about a head that is hot already when the first drop is still long ahead."""
    estimate, head = moment.estimate, moment.head_K
    first = None if estimate is None else estimate.first_drop_s
    if estimate is None or first is None or head is None or not estimate.time_s.size:
        return None
    if first.low - moment.now_s < _EARLY_S:
        return None
    cold = float(estimate.head_K.p50[0])  # the fan of now has been drawn to what was read
    hot = float(np.interp(first.middle, estimate.time_s, estimate.head_K.p90))
    if not (hot - cold >= _CLIMB and head - cold >= _HOT * (hot - cold)):
        return None
    why = (
        f"The head reads {format_temperature(head)}; by the forecast the first drop is "
        f"{times_words(span_ahead(first, moment.now_s))} away, and a head warms only shortly "
        "before it."
    )
    text = "Look: vapour at the head already? Check bulb and clock."
    return _Said("look", "look-early", text, why)


def _before_first(moment: Moment, _before: Instruction | None) -> _Said | None:
    estimate = moment.estimate
    if estimate is None:
        return _Said(
            "wait", "wait-forecast", "Wait: the forecast is on its way.", "No estimate yet."
        )
    first = estimate.first_drop_s
    if first is None:
        text = "Look: by the forecast nothing comes over at this bath."
        return _Said("look", "look-no-drop", text, estimate.says)
    if first.middle <= moment.now_s:
        return None
    ahead = span_ahead(first, moment.now_s)
    text = f"Wait: first drop in {times_words(ahead)}."
    return _Said("wait", "wait-drop", text, estimate.says, in_s=ahead)


def _hold(moment: Moment) -> _Said:
    estimate = moment.estimate
    if estimate is None:
        return _Said(
            "wait", "wait-forecast", "Wait: the forecast is on its way.", "No estimate yet."
        )
    switch = estimate.next_switch
    if switch is not None and switch.time_s is not None and switch.probability >= _SURE:
        past = switch.time_s.middle > estimate.end_s.middle - moment.now_s
        late = " The sheet ends the run before that." if past else ""
        never = 1.0 - switch.probability
        rarely = (
            f" {percent_words(never)} of the forecasts never come to it." if never > _RARE else ""
        )
        return _Said(
            "hold",
            f"hold-{switch.receiver}",
            f"Hold: {times_words(switch.time_s)} to the switch.",
            f"{held_words(switch)} {estimate.says}{rarely}{late}{creeping_words(switch)}",
            switch.probability,
            switch.time_s,
            switch.volume_m3,
        )
    ahead = span_ahead(estimate.end_s, moment.now_s)
    none = "" if switch is None else " In most forecasts the next switch is not reached before."
    text = f"Hold: {times_words(ahead)} to the end."
    return _Said("hold", "hold-end", text, f"{estimate.says}{none}", in_s=ahead)


_RULES: tuple[_Rule, ...] = (
    _alarmed,
    _floor,
    _urgent,
    _switch,
    _over,
    _flooding,
    _early,
    _before_first,
    _unlike,
    _cold,
)


def _rounded(kelvin: float) -> float:
    return 5.0 * round(kelvin / 5.0)
