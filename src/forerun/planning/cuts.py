"""Where to change the receiver, what each cut holds, and what to do with it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.quantities import format_fraction, format_mass, format_time
from forerun.equilibrium.bubble import bubble_temperature
from forerun.planning.aims import weights_for
from forerun.planning.analysis import Analysis
from forerun.planning.candidates import Candidate, Outcome
from forerun.planning.policies import Policy, Ran, places_of, ran_of
from forerun.planning.shortcut import BatchPath, batch_path, best_product, top_of_column

__all__ = [
    "CutPlan",
    "CutsPlan",
    "Redistilled",
    "Repeated",
    "cuts_of",
    "head_slope",
    "redistilled",
    "repeated_simple",
]

Floats = npt.NDArray[np.float64]

_DROPS_WATER, _DROPS_ORGANIC = 20.0, 45.0  # drops per mL; organics 35 to 60, from memory
_WET = 0.5  # mole fraction of water from which drops are those of water
_MMHG = 133.322387415  # Pa
_BAROMETER = 10.0 * _MMHG
_PASSES = 6
_KEPT_PER_PASS = 0.7  # share of the wanted one that each simple distillation keeps
_WARM_UP = 1200.0  # s
_STEPS = 60
_WORTH_KG = 0.5e-3  # kg; a gain below half a gram is not worth another run
_WORTH_SHARE = 0.03
_DILUTE = 0.02  # purity below which a cut holds too little of the wanted one


@dataclass(frozen=True, slots=True)
class CutPlan:
    """One receiver, or the pot.

    Args:
        name: ``forerun``, ``heart``, ``tails`` or ``pot``.
        start_head_K: head reading at which it begins [K]; None for the first drop.
        end_head_K: head reading at which it ends [K]; None where the run ends it.
        start_m3: distillate at which it begins [m3].
        end_m3: distillate at which it ends [m3].
        volume_m3: what it holds [m3].
        mass_kg: [kg].
        drops: about how many [-]; None for the pot.
        mole_fraction: (C,) [-].
        purity: of the wanted component in the basis of the aim [-].
        recovery: its share of the charge [-].
        probability: that it is as pure as asked [-]; None where it is not the product.
        action: ``keep``, ``redistil``, ``waste`` or ``leave``.
        says: in words.
    """

    name: str
    start_head_K: float | None
    end_head_K: float | None
    start_m3: float
    end_m3: float
    volume_m3: float
    mass_kg: float
    drops: int | None
    mole_fraction: Floats
    purity: float
    recovery: float
    probability: float | None
    action: str
    says: str


@dataclass(frozen=True, slots=True)
class Redistilled:
    """What another run of the mixed fractions would give.

    Args:
        gain_kg: of the wanted component at the purity asked for [kg].
        time_s: estimate [s].
        worth_it: whether it is worth a run.
        says: in words.
    """

    gain_kg: float
    time_s: float
    worth_it: bool
    says: str


@dataclass(frozen=True, slots=True)
class Repeated:
    """Simple distillation over and over, against one run with a column.

    Args:
        passes: how many until the purity is reached [-].
        mass_kg: of the wanted component that is left then [kg].
        time_s: of all passes [s].
        says: in words.
    """

    passes: int
    mass_kg: float
    time_s: float
    says: str


@dataclass(frozen=True, slots=True)
class CutsPlan:
    """All receivers of a plan.

    Args:
        cuts: in order, the pot last.
        watch: ``head`` or ``volume``: what tells when to change.
        head_slope_K_Pa: how far the head moves with the pressure [K/Pa].
        redistil: what the mixed fractions would give; None where there are none.
        repeated: simple distillation over and over; None where the plan is a simple still.
    """

    cuts: tuple[CutPlan, ...]
    watch: str
    head_slope_K_Pa: float
    redistil: Redistilled | None
    repeated: Repeated | None


def cuts_of(found: Analysis, plan: Candidate) -> CutsPlan | None:
    """Return the receivers of a plan.

    Args:
        found: the mixture.
        plan: one that has been run.

    Returns:
        None where the plan has no run or no product.
    """
    run, outcome = plan.run, plan.outcome
    if run is None or outcome is None or run.first_drop_s is None:
        return None
    ran = ran_of(run)
    so_far = ran.so_far
    first, last = places_of(ran, outcome.policy)
    pieces = [(name, a, b) for name, a, b in _stretches(ran, outcome.policy, first, last) if b > a]
    cuts = [_cut(found, plan, outcome, so_far, *piece) for piece in pieces]
    at = last if outcome.policy.product == "residue" else ran.end
    cuts.append(_pot(found, outcome, ran, at))
    slope = head_slope(found, plan, outcome)
    return CutsPlan(
        tuple(cuts),
        outcome.policy.kind,
        slope,
        redistilled(found, plan, cuts),
        repeated_simple(found, plan) if plan.method != "simple" else None,
    )


def _stretches(ran: Ran, policy: Policy, first: int, last: int) -> list[tuple[str, int, int]]:
    if policy.product == "residue":
        return [("forerun", 0, last)]
    return [("forerun", 0, first), ("heart", first, last), ("tails", last, ran.end)]


def _cut(
    found: Analysis,
    plan: Candidate,
    outcome: Outcome,
    so_far: Floats,
    name: str,
    first: int,
    last: int,
) -> CutPlan:
    assert plan.run is not None
    trace = plan.run.trace
    amounts = so_far[last] - so_far[first]
    volume = float(trace.distillate_volume_m3[last] - trace.distillate_volume_m3[first])
    ends = last == trace.time_s.size - 1
    begins = float(trace.distillate_volume_m3[first]) <= 0.0
    return _filled(
        found,
        outcome,
        name,
        amounts,
        volume,
        None if begins else float(trace.head_temperature_K[first]),
        None if ends else float(trace.head_temperature_K[last]),
        float(trace.distillate_volume_m3[first]),
        float(trace.distillate_volume_m3[last]),
    )


def _pot(found: Analysis, outcome: Outcome, ran: Ran, at: int) -> CutPlan:
    run = ran.run
    gone = ran.so_far[at] + run.ledger.holdup_mol + run.ledger.vent_mol
    left = np.maximum(run.ledger.charge_mol - gone, 0.0)
    molar = np.array([s.molar_volume.v0 for s in found.mixture.substances])
    over = float(run.trace.distillate_volume_m3[at])
    return _filled(found, outcome, "pot", left, float(left @ molar), None, None, over, over)


def _filled(
    found: Analysis,
    outcome: Outcome,
    name: str,
    amounts: Floats,
    volume: float,
    start_head: float | None,
    end_head: float | None,
    start: float,
    end: float,
) -> CutPlan:
    goal = found.goal
    weights = weights_for(found.sheet, goal.basis)
    total = float((amounts * weights).sum())
    purity = float(amounts[goal.wanted] * weights[goal.wanted] / total) if total > 0 else math.nan
    recovery = float(amounts[goal.wanted] / found.charge[goal.wanted])
    masses = np.array([s.molar_mass for s in found.mixture.substances])
    share = amounts / amounts.sum() if amounts.sum() > 0.0 else np.full(amounts.shape, np.nan)
    product = "pot" if outcome.policy.product == "residue" else "heart"
    action = _action(name, product, purity, goal.purity, recovery)
    drops = None if name == "pot" else round(1e6 * volume * _drops_per_mL(found, share))
    words = (
        f"{format_fraction(purity, goal.basis)} {goal.name}, "
        f"{format_fraction(recovery, '%', 0.05)} of it: {action}"
    )
    return CutPlan(
        name,
        start_head,
        end_head,
        start,
        end,
        volume,
        float(amounts @ masses),
        drops,
        share,
        purity,
        recovery,
        outcome.probability if name == product else None,
        action,
        words,
    )


def _action(name: str, product: str, purity: float, asked: float, recovery: float) -> str:
    if name == product:
        return "keep"
    if math.isfinite(purity) and purity >= asked and recovery > _WORTH_SHARE:
        return "keep"
    if name == "pot":
        return "leave"
    return "redistil" if purity > _DILUTE and recovery > _WORTH_SHARE else "waste"


def _drops_per_mL(found: Analysis, share: Floats) -> float:
    wet = found.water is not None and share[found.water] > _WET
    return _DROPS_WATER if wet else _DROPS_ORGANIC


def head_slope(found: Analysis, plan: Candidate, outcome: Outcome) -> float:
    """Return how far a switch by the head moves with the barometer.

    Args:
        found: the mixture.
        plan: the plan.
        outcome: what it comes to.

    Returns:
        [K/Pa] at the composition of the product, from the boiling point 10 mmHg higher and lower.
    """
    assert plan.run is not None
    first, last = places_of(ran_of(plan.run), outcome.policy)
    at = last if outcome.policy.product == "distillate" else first
    drips = plan.run.trace.distillate_mole_fraction[max(at - 1, 0)]
    if not np.isfinite(drips).all():
        drips = np.zeros(found.charge.size)
        drips[found.goal.wanted] = 1.0
    step = min(_BAROMETER, 0.1 * plan.pressure_Pa)
    ends = [
        bubble_temperature(drips, plan.pressure_Pa + sign * step, found.mixture)[0]
        for sign in (-1.0, 1.0)
    ]
    return (ends[1] - ends[0]) / (2.0 * step)


def redistilled(found: Analysis, plan: Candidate, cuts: Sequence[CutPlan]) -> Redistilled | None:
    """Return what the fractions that are to be redistilled would give, by short-cut.

    Args:
        found: the mixture.
        plan: the plan that they came from; the same column is taken again.
        cuts: its receivers.
    """
    mixed = [cut for cut in cuts if cut.action == "redistil" and cut.mass_kg > 0.0]
    if not mixed:
        return None
    masses = np.array([s.molar_mass for s in found.mixture.substances])
    charge = sum(
        (c.mole_fraction * c.mass_kg / float(c.mole_fraction @ masses) for c in mixed),
        start=np.zeros(masses.size),
    )
    goal, weights = found.goal, weights_for(found.sheet, found.goal.basis)
    kept = plan.reflux_ratio / (1.0 + plan.reflux_ratio) if plan.reflux_ratio > 0.0 else 0.3
    plates = round(plan.sheet.rig.plates.value * kept)
    path = batch_path(charge, top_of_column(found.mixture.arrays, plan.pressure_Pa, plates), _STEPS)
    best = best_product(path, goal.wanted, goal.purity, weights)
    share = 0.0 if best is None else best[1].recovery
    own = float(charge[goal.wanted] * masses[goal.wanted])
    held = plan.sheet.rig.holdup_m3.value / max(sum(c.volume_m3 for c in mixed), 1e-9)
    gain = own * max(0.0, share - held)
    time = _WARM_UP + _run_time(found, plan) * float(charge.sum() / found.charge.sum())
    charged = float(found.charge[goal.wanted] * masses[goal.wanted])
    worth = gain > max(_WORTH_KG, _WORTH_SHARE * charged)
    verdict = "worth another run" if worth else "not worth another run"
    says = (
        f"The mixed fractions, distilled again, would give {format_mass(gain)} more in "
        f"{format_time(time)}: {verdict} (by short-cut)."
    )
    return Redistilled(gain, time, worth, says)


def _run_time(found: Analysis, plan: Candidate) -> float:
    assert plan.run is not None
    return float(plan.run.trace.time_s[-1]) - _WARM_UP


def repeated_simple(found: Analysis, plan: Candidate) -> Repeated | None:
    """Return what simple distillation over and over comes to, by short-cut.

    Args:
        found: the mixture.
        plan: the plan with a column that it is compared with.

    Returns:
        None where six passes, each keeping seven tenths, do not reach the purity.
    """
    if plan.outcome is None:
        return None
    recovered, needed = plan.outcome.recovery, plan.outcome.time_s
    goal, weights = found.goal, weights_for(found.sheet, found.goal.basis)
    top = top_of_column(found.mixture.arrays, plan.pressure_Pa, 0)
    charge, time = found.charge, 0.0
    mass = float(found.wanted.molar_mass)
    once = _run_time(found, plan) / (1.0 + plan.reflux_ratio)
    for passes in range(1, _PASSES + 1):
        path = batch_path(charge, top, _STEPS)
        time += _WARM_UP + once * float(charge.sum() / found.charge.sum())
        best = best_product(path, goal.wanted, goal.purity, weights)
        if best is not None and best[1].recovery >= _KEPT_PER_PASS:
            amount = float(charge[goal.wanted]) * best[1].recovery
            column = recovered * float(found.charge[goal.wanted])
            says = (
                f"{passes} simple distillations, one after the other, would give "
                f"{format_mass(amount * mass)} in {format_time(time)}; the column gives "
                f"{format_mass(column * mass)} in "
                f"{format_time(needed)}."
            )
            return Repeated(passes, amount * mass, time, says)
        kept = _purest(path, goal.wanted, weights)
        if kept is None:
            return None
        charge = kept
    return None


def _purest(path: BatchPath, wanted: int, weights: Floats) -> Floats | None:
    """Return the purest distillate or pot that keeps seven tenths of the wanted one [mol]."""
    low, high, kept = 0.0, 1.0, None
    for _ in range(14):
        middle = 0.5 * (low + high)
        best = best_product(path, wanted, middle, weights)
        if best is not None and best[1].recovery >= _KEPT_PER_PASS:
            low = middle
            kind, window = best
            kept = (
                path.left[window.last]
                if kind == "residue"
                else path.so_far[window.last] - path.so_far[window.first]
            )
        else:
            high = middle
    return kept
