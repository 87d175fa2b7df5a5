"""One plan at a time: the sheet with another column or pressure, run with what is not known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.forecast.drawing import draw_member, prior_of
from forerun.forecast.ensemble import run_ensemble
from forerun.planning.aims import Goal, weights_for
from forerun.planning.setpoints import bath_course
from forerun.planning.windows import Window, best_window, collected, window_between
from forerun.sheets.model import RunSheet
from forerun.sheets.variants import variant
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.inputs import StillInput
from forerun.still.results import Run, Trace

__all__ = [
    "Candidate",
    "Outcome",
    "Policy",
    "even_points",
    "planned",
    "run_candidate",
    "run_once",
]

Floats = npt.NDArray[np.float64]

_TOLERANCE = 1e-3  # of a step; cuts change by less than 0.01 %
_INTERVAL = 30.0  # s between points
_MARGINS = (0.0, 0.1, 0.25, 0.45, 0.7)  # of the way from the purity asked for to pure
_FORERUN_SHARE = 0.002  # of the charge; a window that begins earlier begins with the first drop
_STRIPPED_SHARE = 0.02  # of the charge; less over than this and the pot is not yet a product
_AFTER_RAMP = 5400.0  # s, a plan is followed no longer once the bath is at its hottest


@dataclass(frozen=True, slots=True)
class Policy:
    """When the receivers are changed, or that the pot is the product.

    Args:
        product: ``distillate`` or ``residue``.
        kind: ``head`` or ``volume``: what is watched.
        start: reading [K] or distillate [m3] at which the product begins; None for the first drop.
        stop: the same where it ends; None for the end of the run.
    """

    product: str
    kind: str = "volume"
    start: float | None = None
    stop: float | None = None


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


@dataclass(frozen=True, slots=True)
class Candidate:
    """One plan.

    Args:
        method: ``simple``, ``fractional`` or ``reduced_pressure``.
        label: in words, e.g. ``Vigreux 30 cm, reflux 3``.
        sheet: the sheet that carries it out, without switches.
        reflux_ratio: [-].
        pressure_Pa: in the head [Pa].
        run: with the values of the sheet; None where it did not finish.
        outcome: what it comes to; None where nothing is pure enough in any way.
        best_purity: highest purity of a cut that holds the recovery asked for [-].
    """

    method: str
    label: str
    sheet: RunSheet
    reflux_ratio: float
    pressure_Pa: float
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
    keep_bath: bool = False,
) -> Candidate:
    """Return a plan that has not been run.

    Args:
        sheet: the sheet to start from.
        method: name of the method.
        pressure: in the head [Pa].
        reflux: ratio [-].
        rig: keys of ``[rig]`` to set; None takes one out.
        keep_bath: whether the sheet's own bath programme stays.
    """
    own_pressure = sheet.programme.pressure_Pa.points
    programme: dict[str, Any] = {"reflux_ratio": reflux}
    if abs(own_pressure[-1][1] - pressure) > 1e-6 * pressure or len(own_pressure) > 1:
        programme["pressure"] = f"{pressure:.8g} Pa"
    if not keep_bath:
        programme |= {"bath": None, "stop": None}
    changed = variant(sheet, rig=rig or {}, programme=programme, switches=())
    if not keep_bath:
        course = bath_course(changed, pressure, reflux)
        latest = f"{float(course[-1][0].removesuffix(' s')) + _AFTER_RAMP:.0f} s"
        floor = changed.programme.stop.residue_m3 or 0.1 * changed.charge_volume_m3
        changed = variant(
            changed,
            programme={
                "bath": course,
                "stop": {"time": latest, "residue": f"{1e6 * floor:.6g} mL"},
            },
        )
    return Candidate(method, _label(changed, reflux), changed, reflux, pressure)


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

    Args:
        candidate: from `planned`.
        goal: the aim.
    """
    prepared = prepare(candidate.sheet)
    (result,) = run_ensemble([_quick(prepared.still)], threads=1)
    if isinstance(result, CalculationFailed):
        return candidate
    policies = _policies(result, candidate.sheet, goal)
    outcome = None
    if policies:
        scored = [_scored(p, (result,), result, candidate.sheet, goal) for p in policies]
        outcome = max(scored, key=lambda o: _merit(o, goal))
    return replace(
        candidate,
        run=result,
        outcome=outcome,
        best_purity=_best_purity(result, candidate.sheet, goal),
    )


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
    runs = _members(prepared, members, seed)
    policies = list(_policies(candidate.run, candidate.sheet, goal))
    for run in runs[: min(4, len(runs))]:
        policies += _policies(run, candidate.sheet, goal)
    if not policies:
        return replace(candidate, outcome=None)
    scored = [_scored(p, runs, candidate.run, candidate.sheet, goal) for p in policies]
    best = max(scored, key=lambda o: _merit(o, goal))
    return replace(candidate, outcome=best)


def _members(prepared: Prepared, members: int, seed: int) -> list[Run]:
    prior = prior_of(prepared)
    points = even_points(len(prior.unknowns), members, seed)
    inputs = [_quick(draw_member(prior, z)) for z in points]
    return [run for run in run_ensemble(inputs) if isinstance(run, Run)]


def _quick(given: StillInput) -> StillInput:
    return replace(given, tolerance=_TOLERANCE, sample_interval_s=_INTERVAL, switches=())


def _policies(run: Run, sheet: RunSheet, goal: Goal) -> list[Policy]:
    """Return ways to cut a run: the best windows for the purity asked for and for purer ones."""
    weights = weights_for(sheet, goal.basis)
    so_far = collected(run.trace, run)
    asked = [goal.purity + margin * (1.0 - goal.purity) for margin in _MARGINS]
    found = [*_pots(run, sheet, goal, asked)]
    windows = [
        best_window(so_far, run.ledger.charge_mol, goal.wanted, purity, weights) for purity in asked
    ]
    if windows[0] is None:  # nothing is pure enough: then what comes nearest
        nearest = _best_purity(run, sheet, goal)
        windows = [best_window(so_far, run.ledger.charge_mol, goal.wanted, nearest, weights)]
    for window in windows:
        if window is not None:
            found += _stretches(run, sheet, window)
    return list(dict.fromkeys(found))


def _pots(run: Run, sheet: RunSheet, goal: Goal, asked: Sequence[float]) -> list[Policy]:
    """Return when to stop so that the pot is the product; none where it cannot be."""
    pot = run.trace.pot_mole_fraction * weights_for(sheet, goal.basis)
    purity = pot[:, goal.wanted] / pot.sum(axis=1)
    volume = run.trace.distillate_volume_m3
    stripped = (volume > _STRIPPED_SHARE * sheet.charge_volume_m3) & (purity >= purity[0])
    if sheet.safety.involatile or not stripped.any() or len(sheet.charge) == 1:
        return []
    found = [Policy("residue")]
    for wanted in asked:
        pure = np.flatnonzero(stripped & (purity >= wanted))
        found += [
            Policy("residue", kind, None, float(_watched(run.trace, kind)[pure[0]]))
            for kind in ("volume", "head")
            if pure.size
        ]
    return found


def _stretches(run: Run, sheet: RunSheet, window: Window) -> list[Policy]:
    """Return the two ways to watch for a window: by what has come over and by the head."""
    volume, head = run.trace.distillate_volume_m3, run.trace.head_temperature_K
    early = volume[window.first] < _FORERUN_SHARE * sheet.charge_volume_m3
    late = window.last >= volume.size - 2
    ends = [
        ("volume", float(volume[window.first]), float(volume[window.last])),
        ("head", float(head[window.first]), float(head[window.last])),
    ]
    return [
        Policy("distillate", kind, None if early else a, None if late else b)
        for kind, a, b in ends
        if early or late or b > a
    ]


def _scored(
    policy: Policy, runs: Sequence[Run], nominal: Run, sheet: RunSheet, goal: Goal
) -> Outcome:
    weights = weights_for(sheet, goal.basis)
    own = _product(nominal, policy, goal.wanted, weights)
    rows = np.array([_product(run, policy, goal.wanted, weights)[:3] for run in runs])
    met = (rows[:, 0] >= goal.purity) & (rows[:, 1] >= goal.recovery)
    if goal.time_s is not None:
        met &= rows[:, 2] <= goal.time_s
    count = len(runs)
    # Laplace's rule: of a few runs that all agree it does not follow that all ever will
    chance = float((met.sum() + 1.0) / (count + 2.0)) if count > 1 else float(met[0])
    purity, recovery = (_middle(rows[:, k]) for k in (0, 1))
    return Outcome(policy, own[0], own[1], own[2], own[3], chance, count, purity, recovery)


def _merit(outcome: Outcome, goal: Goal) -> tuple[float, float, float]:
    """Rank outcomes: likelier first, then nearer to the aim, then more of it."""
    short = max(0.0, goal.purity - np.nan_to_num(outcome.purity)) / goal.purity
    short += 0.5 * max(0.0, goal.recovery - outcome.recovery) / goal.recovery
    return round(outcome.probability, 6), -round(float(short), 6), outcome.recovery


def _middle(values: Floats) -> tuple[float, float]:
    finite = values[np.isfinite(values)]
    if finite.size == 0:
        return float("nan"), float("nan")
    low, high = np.quantile(finite, (0.1, 0.9))
    return float(low), float(high)


def _product(
    run: Run, policy: Policy, wanted: int, weights: Floats
) -> tuple[float, float, float, float]:
    """Return purity, recovery, time and volume of what a policy collects from a run."""
    trace = run.trace
    charged = run.ledger.charge_mol
    if policy.product == "residue":
        return _residue(run, policy, wanted, weights)
    watched = _watched(trace, policy.kind)
    first = 0 if policy.start is None else _reached(watched, policy.start, 0)
    end = watched.size - 1
    last = end if policy.stop is None else _reached(watched, policy.stop, first)
    if last <= first:
        return float("nan"), 0.0, float(trace.time_s[-1]), 0.0
    so_far = collected(trace, run)
    window = window_between(so_far, charged, wanted, weights, first, last)
    volume = float(trace.distillate_volume_m3[last] - trace.distillate_volume_m3[first])
    return window.purity, window.recovery, float(trace.time_s[last]), volume


def _residue(
    run: Run, policy: Policy, wanted: int, weights: Floats
) -> tuple[float, float, float, float]:
    """Return the same of the pot, taken when so much has come over, or at the end."""
    trace = run.trace
    last = trace.time_s.size - 1
    if policy.stop is not None:
        last = _reached(_watched(trace, policy.kind), policy.stop, 0)
    gone = collected(trace, run)[last] + run.ledger.holdup_mol + run.ledger.vent_mol
    left = np.maximum(run.ledger.charge_mol - gone, 0.0)
    share = trace.pot_mole_fraction[last]
    held = share * weights
    purity = float(held[wanted] / held.sum())
    recovery = float(left[wanted] / run.ledger.charge_mol[wanted])
    gone_m3 = float(trace.distillate_volume_m3[-1] - trace.distillate_volume_m3[last])
    return purity, recovery, float(trace.time_s[last]), run.residue.volume_m3 + gone_m3


def _watched(trace: Trace, kind: str) -> Floats:
    return trace.head_temperature_K if kind == "head" else trace.distillate_volume_m3


def _reached(watched: Floats, value: float, start: int) -> int:
    """Return the first point from a start on at which a reading has reached a value."""
    at = np.flatnonzero(watched[start:] >= value)
    return start + int(at[0]) if at.size else watched.size - 1


def _best_purity(run: Run, sheet: RunSheet, goal: Goal) -> float:
    """Return the highest purity of a cut or pot that still holds the recovery asked for."""
    weights = weights_for(sheet, goal.basis)
    so_far = collected(run.trace, run)
    low, high = 0.0, 1.0
    for _ in range(18):
        middle = 0.5 * (low + high)
        window = best_window(so_far, run.ledger.charge_mol, goal.wanted, middle, weights)
        if window is not None and window.recovery >= goal.recovery:
            low = middle
        else:
            high = middle
    pots = [_product(run, p, goal.wanted, weights) for p in _pots(run, sheet, goal, ())]
    return max([low, *(pot[0] for pot in pots if pot[1] >= goal.recovery)])
