"""Ways to cut a run: when the receivers are changed, and what each way collects."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.planning.aims import Goal, weights_for
from forerun.planning.windows import Window, best_window, collected, window_between
from forerun.sheets.model import RunSheet
from forerun.still.results import Run, Trace

__all__ = [
    "HOUR_WORTH",
    "Policy",
    "Ran",
    "best_purity",
    "places_of",
    "policies_of",
    "product_of",
    "ran_of",
]

Floats = npt.NDArray[np.float64]

_MARGINS = (0.0, 0.1, 0.25, 0.45, 0.7)  # of the way from the purity asked for to pure
_FORERUN_SHARE = 0.002  # of the charge; a window that begins earlier begins with the first drop
_SLOWEST = 1e-6 / 45.0 / 30.0  # m3/s, a drop in 30 s: the slowest that is taught, from memory
_TAILS_SHARE = 0.01  # of the charge, too little for a receiver; a judgement, no source
HOUR_WORTH = 0.05  # recovery for which another hour is waited; a judgement, no source
_STRIPPED_SHARE = 0.02  # of the charge; less over than this and the pot is not yet a product


@dataclass(frozen=True, slots=True)
class Policy:
    """When the receivers are changed, or that the pot is the product.

    Args:
        product: ``distillate`` or ``residue``.
        kind: ``head`` or ``volume``: what is watched.
        start: reading [K] or distillate [m3] at which the product begins; None for the first drop.
        stop: the same where it ends; None for when the dripping ends.
    """

    product: str
    kind: str = "volume"
    start: float | None = None
    stop: float | None = None


@dataclass(frozen=True, slots=True)
class Ran:
    """A run with what has come over, summed once.

    Args:
        run: the run.
        so_far: (n, C) moles that have come over until each point [mol].
        end: index of the point from which on it drips slower than anybody waits for.
    """

    run: Run
    so_far: Floats
    end: int


def ran_of(run: Run) -> Ran:
    """Return a run with what has come over.

    Args:
        run: from the still.
    """
    return Ran(run, collected(run.trace, run), _dripping_ends(run.trace))


def _dripping_ends(trace: Trace) -> int:
    """Return the point after which fewer than one drop falls in 30 s, to the end of the run."""
    over, took = np.diff(trace.distillate_volume_m3), np.diff(trace.time_s)
    fast = np.flatnonzero((over >= _SLOWEST * took) & (over > 0.0))
    return int(fast[-1]) + 1 if fast.size else trace.time_s.size - 1


def policies_of(ran: Ran, sheet: RunSheet, goal: Goal) -> list[Policy]:
    """Return ways to cut a run: the best windows for the purity asked for and for purer ones.

    Args:
        ran: the run.
        sheet: what it is a run of.
        goal: the aim.
    """
    run, so_far = ran.run, ran.so_far
    weights = weights_for(sheet, goal.basis)
    asked = [goal.purity + margin * (1.0 - goal.purity) for margin in _MARGINS]
    found = [*_pots(run, sheet, goal, asked)]
    windows = [
        best_window(so_far, run.ledger.charge_mol, goal.wanted, purity, weights) for purity in asked
    ]
    if windows[0] is None:  # nothing is pure enough: then what comes nearest
        nearest = best_purity(ran, sheet, goal)
        windows = [best_window(so_far, run.ledger.charge_mol, goal.wanted, nearest, weights)]
    for window in windows:
        if window is not None:
            found += _stretches(ran, sheet, window)
            found += _stretches(ran, sheet, _worth_waiting(ran, sheet, goal, window))
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


def _worth_waiting(ran: Ran, sheet: RunSheet, goal: Goal, window: Window) -> Window:
    """Return a window without the end of it that brings too little for the time it takes."""
    own = ran.so_far[:, goal.wanted] / float(ran.run.ledger.charge_mol[goal.wanted])
    gained = own - HOUR_WORTH * ran.run.trace.time_s / 3600.0
    worth = window.first + int(np.argmax(gained[window.first : window.last + 1]))
    volume = ran.run.trace.distillate_volume_m3
    spared = volume[window.last] - volume[worth]
    if worth <= window.first or spared < _TAILS_SHARE * sheet.charge_volume_m3:
        return window
    return replace(window, last=worth)


def _stretches(ran: Ran, sheet: RunSheet, window: Window) -> list[Policy]:
    """Return the two ways to watch for a window: by what has come over and by the head."""
    run = ran.run
    volume, head = run.trace.distillate_volume_m3, run.trace.head_temperature_K
    early = volume[window.first] < _FORERUN_SHARE * sheet.charge_volume_m3
    late = window.last >= ran.end - 1
    ends = [
        ("volume", float(volume[window.first]), float(volume[window.last])),
        ("head", float(head[window.first]), float(head[window.last])),
    ]
    return [
        Policy("distillate", kind, None if early else a, None if late else b)
        for kind, a, b in ends
        if early or late or b > a
    ]


def places_of(ran: Ran, policy: Policy) -> tuple[int, int]:
    """Return the points of a run's trace between which a policy collects.

    Args:
        ran: the run.
        policy: when the receivers are changed.

    Returns:
        First and last index; for a pot, from the start to when it is taken.
    """
    watched = _watched(ran.run.trace, policy.kind)[: ran.end + 1]
    first = 0 if policy.start is None else _reached(watched, policy.start, 0)
    last = ran.end if policy.stop is None else _reached(watched, policy.stop, first)
    return first, max(first, last)


def product_of(
    ran: Ran, policy: Policy, wanted: int, weights: Floats
) -> tuple[float, float, float, float]:
    """Return purity, recovery, time and volume of what a policy collects from a run.

    Args:
        ran: the run.
        policy: when the receivers are changed.
        wanted: index of the wanted component.
        weights: (C,) what one mole counts in the basis.

    Returns:
        Purity [-], share of what was charged [-], time [s] and volume [m3].
    """
    run, trace = ran.run, ran.run.trace
    charged = run.ledger.charge_mol
    if policy.product == "residue":
        return _residue(ran, policy, wanted, weights)
    first, last = places_of(ran, policy)
    if last <= first:
        return float("nan"), 0.0, float(trace.time_s[-1]), 0.0
    window = window_between(ran.so_far, charged, wanted, weights, first, last)
    volume = float(trace.distillate_volume_m3[last] - trace.distillate_volume_m3[first])
    return window.purity, window.recovery, float(trace.time_s[last]), volume


def _residue(
    ran: Ran, policy: Policy, wanted: int, weights: Floats
) -> tuple[float, float, float, float]:
    """Return the same of the pot, taken when so much has come over, or at the end."""
    run, trace = ran.run, ran.run.trace
    _, last = places_of(ran, policy)
    gone = ran.so_far[last] + run.ledger.holdup_mol + run.ledger.vent_mol
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


def best_purity(ran: Ran, sheet: RunSheet, goal: Goal) -> float:
    """Return the highest purity of a cut or pot that still holds the recovery asked for.

    Args:
        ran: the run.
        sheet: what it is a run of.
        goal: the aim.

    Returns:
        In the basis of the aim [-].
    """
    run, so_far = ran.run, ran.so_far
    weights = weights_for(sheet, goal.basis)
    low, high = 0.0, 1.0
    for _ in range(18):
        middle = 0.5 * (low + high)
        window = best_window(so_far, run.ledger.charge_mol, goal.wanted, middle, weights)
        if window is not None and window.recovery >= goal.recovery:
            low = middle
        else:
            high = middle
    pots = [product_of(ran, p, goal.wanted, weights) for p in _pots(run, sheet, goal, ())]
    return max([low, *(pot[0] for pot in pots if pot[1] >= goal.recovery)])
