"""A run with something hidden in it, the same for a student's number whenever it is dealt.

The instructor's words decide what is hidden; students see a log alone. What they see is read off a
simulated bench, so that a thermometer is off and a drop is lost as on any other.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from forerun.core.errors import BadInput
from forerun.forecast.drawing import prior_of
from forerun.planning.aims import Goal, goal_of, weights_for
from forerun.records.readings import CHANNELS, Reading, Readings, readings_of
from forerun.reviewing.marks import Dealt
from forerun.running.case import case_of
from forerun.running.courses import courses_of
from forerun.running.diagnosing import diagnose_case, ranked
from forerun.running.knowledge import knowledge
from forerun.running.simulated import SimulatedLog, simulated_log
from forerun.running.simulated_faults import possible_faults
from forerun.sheets.model import Programme, RunSheet
from forerun.sheets.variants import recharged, variant
from forerun.still.from_sheet import prepare
from forerun.still.run import run_still
from forerun.substances.catalogue import find

__all__ = ["HIDEABLE", "Hidden", "checked", "code_of", "deal", "hideable", "labels_of", "with_luck"]

HIDEABLE = (
    "heat_loss", "heater_fault", "thermometer_offset", "barometer", "too_few_plates", "bumping",
    "heater_cycling", "water", "carry_over", "leak",
)  # fmt: skip
"""Faults that can be hidden: those after which the still goes on as it is calculated."""

_EVERY_S = 10.0
_LEAST = 0.05  # of the wanted one that must be to be had
_VISIBLE = 0.2  # probability that the diagnosis gives a hidden fault, at least
_STEP_K = 0.1  # of the display
_ZERO_K = 273.15
_DECIMALS = 3  # of a volume in mL


@dataclass(frozen=True, slots=True)
class Hidden:
    """From what it is drawn what is hidden.

    Args:
        share: lowest and highest mole fraction of the first component [-]; both equal: told.
        faults: names of `HIDEABLE`, and ``none``; one alone is told.
        unknowns: substances of which one stands in for the last of the sheet; empty for none.
    """

    share: tuple[float, float] = (0.3, 0.7)
    faults: tuple[str, ...] = ("none",)
    unknowns: tuple[str, ...] = ()

    @property
    def asked(self) -> tuple[str, ...]:
        """What students are asked for."""
        asked = {
            "fault": len(self.faults) > 1,
            "share": self.share[0] < self.share[1],
            "unknown": len(self.unknowns) > 1,
        }
        return tuple(question for question, is_asked in asked.items() if is_asked)


def code_of(number: int) -> str:
    """Return the code of a student's number.

    Args:
        number: from 1 on.
    """
    return f"S{number:02d}"


def hideable(sheet: RunSheet) -> tuple[str, ...]:
    """Return the faults that a run of a sheet can hide, ``none`` first.

    Args:
        sheet: of two substances or more.
    """
    possible = possible_faults(prepare(sheet))
    return ("none", *(name for name in HIDEABLE if name in possible))


def labels_of(faults: tuple[str, ...]) -> Mapping[str, str]:
    """Return what faults are called in words.

    Args:
        faults: names of `HIDEABLE`, and ``none``.
    """
    causes = knowledge().causes
    return {name: causes[name].label if name in causes else "nothing" for name in faults}


def checked(sheet: RunSheet, hidden: Hidden) -> Goal:
    """Return what is wanted of a sheet, once it is sure that the list can be hidden in it.

    Args:
        sheet: the sheet.
        hidden: from what is drawn.

    Raises:
        BadInput: one substance alone, a fault that this sheet cannot have, an unknown that is
            in the flask already, or an unknown in the place of what is wanted.
    """
    if len(sheet.charge) < 2:
        raise BadInput("charge", ", ".join(sheet.names), "two substances or more")
    low, high = hidden.share
    if not 0.02 <= low <= high <= 0.98:
        raise BadInput("hidden.share", f"{low:g} to {high:g}", "mole fractions from 0.02 to 0.98")
    possible = hideable(sheet)
    wrong = [name for name in hidden.faults if name not in possible]
    if wrong or not hidden.faults:
        raise BadInput("hidden.faults", ", ".join(wrong), f"for this sheet {', '.join(possible)}")
    goal = goal_of(sheet)
    others = sheet.names[:-1]
    for name in hidden.unknowns:
        if find(name, "hidden.unknowns").name in others:
            raise BadInput("hidden.unknowns", name, "a substance that is not in the flask already")
    if hidden.unknowns and goal.wanted == len(sheet.charge) - 1:
        raise BadInput("aim.substance", goal.name, "another one than the last, which is hidden")
    return goal


def deal(
    sheet: RunSheet,
    number: int,
    secret: str,
    hidden: Hidden,
    *,
    programme: Programme | None = None,
) -> Dealt:
    """Deal a hidden run.

    Args:
        sheet: of the class; its volume is kept and shared out anew.
        number: of the student.
        secret: words that only the instructor knows; other words deal other runs.
        hidden: from what is drawn.
        programme: pressure, bath, reflux and stop as a student plans them; the sheet's if None.

    Returns:
        The run: for one sheet, number, secret and programme always the same.

    Raises:
        BadInput: as `checked`, or a sheet of which hardly anything of the wanted one comes over.
    """
    goal = checked(sheet, hidden)
    digest = hashlib.sha256(f"{secret}\n{number}".encode()).digest()
    random = np.random.default_rng(int.from_bytes(digest[:8], "big"))
    first = int(random.integers(len(hidden.faults)))
    share = float(random.uniform(*hidden.share))
    unknown = str(random.choice(hidden.unknowns)) if hidden.unknowns else ""
    seed = int(random.integers(2**31))
    filled = _filled(sheet, share, unknown)
    weights = tuple(float(w) for w in weights_for(filled, goal.basis))
    possible = hideable(filled)
    for turn in range(len(hidden.faults)):
        fault = hidden.faults[(first + turn) % len(hidden.faults)]
        if fault not in possible:
            continue
        made = _run(filled, seed, fault, hidden)
        found = _dealt(number, share, unknown, hidden, made, goal, weights, sheet)
        dealt = replace(found, shown=_shown(filled, made))
        if _is_fair(dealt):
            break
    else:
        raise BadInput("programme", sheet.title, f"one in which the {goal.name} comes over")
    if programme is not None:
        filled = replace(filled, programme=programme)
        made = _run(filled, seed, fault, hidden)
        shown = _shown(filled, made)
        dealt = replace(dealt, log=made.readings, run=made.truth.run, shown=shown)
    return dealt


def with_luck(dealt: Dealt, offset_K: float) -> Dealt:
    """Return the same run read with another thermometer; nothing else of it changes.

    Args:
        dealt: a run.
        offset_K: by how much more the thermometer reads high [K].
    """
    return replace(dealt, log=_shifted(dealt.log, offset_K))


def _is_fair(dealt: Dealt) -> bool:
    """Return whether something is left to decide, and the fault to be seen."""
    if not float(np.nanmax(dealt.log.channel("distillate_m3"))) > 0.0:
        return False
    seen = dealt.fault == "none" or dealt.shown.get(dealt.fault, 0.0) >= _VISIBLE
    return seen and dealt.cuts().best(dealt.purity).recovery >= _LEAST


def _filled(sheet: RunSheet, share: float, unknown: str) -> RunSheet:
    """Return the sheet with what is really in the flask; everything else stays as it was."""
    substances = [portion.substance for portion in sheet.charge]
    if unknown:
        substances[-1] = find(unknown)
    amounts = np.array([portion.amount_mol.value for portion in sheet.charge])
    rest = (1.0 - share) * amounts[1:] / amounts[1:].sum()
    moles = np.array([share, *rest])
    volumes = moles * np.array([s.molar_volume.v0 for s in substances])
    volumes *= sum(portion.volume_m3 for portion in sheet.charge) / volumes.sum()
    volumes = np.round(1e6 * volumes, _DECIMALS) * 1e-6
    open_aim = variant(sheet, aim={"substance": None})
    filled = recharged(open_aim, volumes, [s.name for s in substances])
    # what a sheet leaves open hangs on its charge and would tell on it
    return replace(filled, title=sheet.title, rig=sheet.rig, programme=sheet.programme, switches=())


def _run(sheet: RunSheet, seed: int, fault: str, hidden: Hidden) -> SimulatedLog:
    # a gauge that only the others have would tell who has none
    unread = {"pressure_Pa"} if "barometer" in hidden.faults else set()
    channels = [name for name in CHANNELS if name not in {*unread, "distillate_kg"}]
    named = None if fault == "none" else fault
    prior = prior_of(prepare(sheet))
    return simulated_log(sheet, seed, named, _EVERY_S, channels=channels, prior=prior)


def _dealt(
    number: int,
    share: float,
    unknown: str,
    hidden: Hidden,
    made: SimulatedLog,
    goal: Goal,
    weights: tuple[float, ...],
    sheet: RunSheet,
) -> Dealt:
    return Dealt(
        code=code_of(number),
        fault=made.truth.cause,
        mole_fraction=share,
        unknown=unknown,
        asked=hidden.asked,
        log=made.readings,
        run=made.truth.run,
        wanted=goal.wanted,
        name=goal.name,
        first=sheet.names[0],
        purity=goal.purity,
        basis=goal.basis,
        weights=weights,
        labels=labels_of(hidden.faults),
        shown={},
        thermometer_offset_K=made.truth.given.thermometer_offset_K,
    )


def _shown(sheet: RunSheet, made: SimulatedLog) -> Mapping[str, float]:
    """Return how plainly a run shows each cause to somebody who knows what is in the flask.

    The thermometer is taken to be a true one, so that no marks hang on who was handed which.
    """
    prepared, log = prepare(sheet), made.readings
    if made.truth.cause != "thermometer_offset":
        log = _shifted(log, -made.truth.given.thermometer_offset_K)
    found = diagnose_case(
        case_of(prepared, run_still(prepared.still).trace, log, courses_of(prepared))
    )
    causes = {cause.name: cause.probability for cause in ranked(found)}
    return {"none": 1.0 - max(causes.values(), default=0.0), **causes}


def _shifted(log: Readings, by_K: float) -> Readings:
    def moved(row: Reading) -> Reading:
        celsius = row.head_K - _ZERO_K + by_K
        return replace(row, head_K=_ZERO_K + round(celsius / _STEP_K) * _STEP_K)

    return readings_of([moved(row) for row in log.rows])
