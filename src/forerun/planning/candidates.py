"""One plan at a time: the sheet with another column or pressure, run with what is not known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.forecast.drawing import as_member, draw_member, prior_of
from forerun.forecast.ensemble import run_ensemble
from forerun.planning.aims import Goal, chance_of, weights_for
from forerun.planning.policies import (
    HOUR_WORTH,
    Policy,
    Ran,
    best_purity,
    policies_of,
    product_of,
    ran_of,
)
from forerun.planning.setpoints import bath_course, needs_lagging
from forerun.sheets.model import RunSheet
from forerun.sheets.variants import variant
from forerun.sheets.writing import course_words, end_words
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.inputs import StillInput
from forerun.still.results import Run

__all__ = [
    "Candidate",
    "Outcome",
    "even_points",
    "planned",
    "run_candidate",
    "run_once",
    "written_sheet",
]

Floats = npt.NDArray[np.float64]

_INTERVAL = 30.0  # s between points
_MOST_LOAD = 0.9  # of the load at which the column floods
_AIMED_LOAD = 0.75  # of it, where a plan is heated less
_TRIES = 4  # at heating that does not flood; the last stands, with its warning
_FIRST = 6  # members; where none of these meets the aim in any way, the rest is not run
_ASKED = 4  # members whose own best cuts are tried beside those of the nominal run
_AFTER_RAMP = 9000.0  # s that a plan is followed at its hottest; a judgement, no source


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a plan comes to.

    Args:
        policy: when the receivers are changed.
        purity: of the product in the basis of the aim, in the run with the sheet's values [-].
        recovery: share of what was charged, likewise [-].
        time_s: until the product is complete [s].
        volume_m3: of the product [m3].
        probability: that purity, recovery and time of the aim are all met [-].
        members: how many runs stand behind it.
        purity_band: middle 80 % [-].
        recovery_band: middle 80 % [-].
        unhurried: probability that purity and recovery are met, however long it takes [-].
    """

    policy: Policy
    purity: float
    recovery: float
    time_s: float
    volume_m3: float
    probability: float
    members: int
    purity_band: tuple[float, float]
    recovery_band: tuple[float, float]
    unhurried: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """One plan.

    Args:
        method: ``simple``, ``fractional`` or ``reduced_pressure``.
        label: in words, e.g. ``Vigreux 30 cm, reflux 3``.
        sheet: the sheet that carries it out, without switches.
        reflux_ratio: [-].
        pressure_Pa: in the head [Pa].
        heating: share of the customary difference between bath and pot [-].
        run: with the values of the sheet; None where it did not finish.
        outcome: what it comes to; None where nothing is pure enough in any way.
        best_purity: highest purity of a cut that holds the recovery asked for [-].
    """

    method: str
    label: str
    sheet: RunSheet
    reflux_ratio: float
    pressure_Pa: float
    heating: float = 1.0
    run: Run | None = None
    outcome: Outcome | None = None
    best_purity: float = float("nan")


def planned(
    sheet: RunSheet,
    method: str,
    *,
    pressure: float,
    reflux: float,
    rig: dict[str, Any] | None = None,
    heating: float = 1.0,
) -> Candidate:
    """Return a plan that has not been run.

    Where the sheet leaves open whether the glass is lagged, the plan lags what loses much.

    Args:
        sheet: the sheet to start from.
        method: name of the method.
        pressure: in the head [Pa].
        reflux: ratio [-].
        rig: keys of ``[rig]`` to set; None takes one out.
        heating: share of the customary difference between bath and pot [-].
    """
    own_pressure = sheet.programme.pressure_Pa.points
    programme: dict[str, Any] = {"reflux_ratio": f"{reflux:g}"}
    if abs(own_pressure[-1][1] - pressure) > 1e-6 * pressure or len(own_pressure) > 1:
        programme["pressure"] = f"{pressure / 100.0:.4g} mbar"
    programme |= {"bath": None, "stop": None}
    changed = variant(sheet, rig=rig or {}, programme=programme, switches=())
    if needs_lagging(changed, pressure):
        changed = variant(changed, rig={"lagging": "lagged"})
    course = bath_course(changed, pressure, reflux, heating)
    latest = f"{(course[-1][0] + _AFTER_RAMP) / 60.0:.0f} min"
    floor = changed.programme.stop.residue_m3 or 0.1 * changed.charge_volume_m3
    changed = variant(
        changed,
        programme={
            "bath": course_words(course),
            "stop": {"time": latest, "residue": f"{1e6 * floor:.6g} mL"},
        },
    )
    return Candidate(method, _label(changed, reflux), changed, reflux, pressure, heating)


def written_sheet(candidate: Candidate) -> RunSheet:
    """Return the sheet of a plan with its switches, ready to be carried out.

    Args:
        candidate: a plan that has been run.
    """
    outcome = candidate.outcome
    if outcome is None:
        return candidate.sheet
    policy = outcome.policy
    ends = [e for e in (policy.start, policy.stop) if e is not None]
    return variant(candidate.sheet, switches=[end_words(policy.kind, end) for end in ends])


def _label(sheet: RunSheet, reflux: float) -> str:
    if sheet.rig.plates.value < 0.5:
        return "simple still"
    name = sheet.rig.column if sheet.rig.column != "none" else f"{sheet.rig.plates.value:g} plates"
    return f"{name}, reflux {reflux:g}" if reflux > 0.0 else name


def even_points(dimensions: int, members: int, seed: int) -> Floats:
    """Return standard normal points, one in each of so many equally likely slices of every axis.

    Args:
        dimensions: of the space.
        members: number of points.
        seed: makes them reproducible.

    Source:
        McKay, Beckman & Conover, Technometrics 21 (1979) 239, doi:10.2307/1268522.
    """
    from statistics import NormalDist  # noqa: PLC0415 -- only an ensemble needs it

    rng = np.random.default_rng(seed)
    slices = np.array([rng.permutation(members) for _ in range(dimensions)]).T.reshape(
        members, dimensions
    )
    shares = (slices + rng.random((members, dimensions))) / members
    inverse = np.vectorize(NormalDist().inv_cdf, otypes=[np.float64])
    shares = np.clip(shares, 1e-9, 1.0 - 1e-9)
    return np.asarray(inverse(shares), dtype=np.float64) if dimensions else shares


def run_once(candidate: Candidate, goal: Goal) -> Candidate:
    """Return a plan with its run and the best cut that the run holds.

    A plan whose column floods is heated less, as a chemist would, and run again.

    Args:
        candidate: from `planned`.
        goal: the aim.
    """
    candidate, result = _without_flooding(candidate)
    if result is None:
        return candidate
    own = ran_of(result)
    policies = policies_of(own, candidate.sheet, goal)
    outcome = None
    if policies:
        scored = [_scored(p, (own,), own, candidate.sheet, goal) for p in policies]
        outcome = max(scored, key=lambda o: _merit(o, goal))
    return replace(
        candidate,
        run=result,
        outcome=outcome,
        best_purity=best_purity(own, candidate.sheet, goal),
    )


def _without_flooding(candidate: Candidate) -> tuple[Candidate, Run | None]:
    """Return the plan as it is heated in the end, and its run; None where it did not finish."""
    result: Run | None = None
    for _ in range(_TRIES):
        (found,) = run_ensemble([_quick(prepare(candidate.sheet).still)], threads=1)
        if isinstance(found, CalculationFailed):
            return candidate, None
        result = found
        peak = float(np.max(result.trace.load, initial=0.0))
        if peak <= _MOST_LOAD:
            break
        candidate = planned(
            candidate.sheet,
            candidate.method,
            pressure=candidate.pressure_Pa,
            reflux=candidate.reflux_ratio,
            heating=candidate.heating * _AIMED_LOAD / peak,
        )
    return candidate, result


def run_candidate(candidate: Candidate, goal: Goal, members: int, seed: int) -> Candidate:
    """Return a plan with the probability that it meets the aim.

    Args:
        candidate: from `run_once`.
        goal: the aim.
        members: runs with other guesses at what is not known.
        seed: repeats the same guesses.
    """
    if candidate.run is None:
        return candidate
    prepared = prepare(candidate.sheet)
    inputs = _members(prepared, members, seed)
    own = ran_of(candidate.run)
    runs = _ran(inputs[:_FIRST])
    best = _best_of(own, runs, candidate.sheet, goal)
    if best is not None and (len(inputs) > _FIRST) and best.probability > chance_of(0, len(runs)):
        runs += _ran(inputs[_FIRST:])
        best = _best_of(own, runs, candidate.sheet, goal)
    return replace(candidate, outcome=best)


def _best_of(own: Ran, runs: list[Ran], sheet: RunSheet, goal: Goal) -> Outcome | None:
    policies = policies_of(own, sheet, goal)
    for run in runs[:_ASKED]:
        policies += policies_of(run, sheet, goal)
    scored = [_scored(p, runs, own, sheet, goal) for p in dict.fromkeys(policies)]
    return max(scored, key=lambda o: _merit(o, goal), default=None)


def _members(prepared: Prepared, members: int, seed: int) -> list[StillInput]:
    prior = prior_of(prepared)
    points = even_points(len(prior.unknowns), members, seed)
    return [_quick(draw_member(prior, z)) for z in points]


def _ran(inputs: Sequence[StillInput]) -> list[Ran]:
    return [ran_of(run) for run in run_ensemble(inputs) if isinstance(run, Run)]


def _quick(given: StillInput) -> StillInput:
    return replace(as_member(given), sample_interval_s=_INTERVAL, switches=())


def _scored(
    policy: Policy, runs: Sequence[Ran], nominal: Ran, sheet: RunSheet, goal: Goal
) -> Outcome:
    weights = weights_for(sheet, goal.basis)
    own = product_of(nominal, policy, goal.wanted, weights)
    rows = np.array([product_of(run, policy, goal.wanted, weights)[:3] for run in runs])
    reached = (rows[:, 0] >= goal.purity) & (rows[:, 1] >= goal.recovery)
    met = reached if goal.time_s is None else reached & (rows[:, 2] <= goal.time_s)
    count = len(runs)
    chance, unhurried = (
        chance_of(int(of.sum()), count) if count > 1 else float(of[0]) for of in (met, reached)
    )
    purity, recovery = (_middle(rows[:, k]) for k in (0, 1))
    return Outcome(
        policy, own[0], own[1], own[2], own[3], chance, count, purity, recovery, unhurried
    )


def _merit(outcome: Outcome, goal: Goal) -> tuple[float, float, float, float]:
    """Rank outcomes: likelier first, in time or at all, then nearer to the aim, then worth more."""
    short = max(0.0, goal.purity - np.nan_to_num(outcome.purity)) / goal.purity
    short += 0.5 * max(0.0, goal.recovery - outcome.recovery) / goal.recovery
    worth = outcome.recovery - HOUR_WORTH * outcome.time_s / 3600.0
    likely = round(outcome.probability, 6), round(outcome.unhurried, 6)
    return *likely, -round(float(short), 6), worth


def _middle(values: Floats) -> tuple[float, float]:
    finite = values[np.isfinite(values)]
    if finite.size == 0:
        return float("nan"), float("nan")
    low, high = np.quantile(finite, (0.1, 0.9))
    return float(low), float(high)
