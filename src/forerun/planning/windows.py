"""The best cut out of what came over: from where to where to collect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.still.results import Run, Trace

__all__ = ["Window", "best_window", "collected", "window_between"]

Floats = npt.NDArray[np.float64]

_MOST_POINTS = 400  # of the curve that is searched; finer than a drop is of no use
_NOTHING = 1e-12  # of what was charged; the account rounds at 1e-16, and that is no receiver


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of the distillate.

    Args:
        first: index of the point at which the receiver is put in place.
        last: index of the point at which it is taken away.
        purity: of the wanted component, in the basis asked for [-].
        recovery: share of what was charged [-].
    """

    first: int
    last: int
    purity: float
    recovery: float


def collected(trace: Trace, run: Run | None = None) -> Floats:
    """Return how much of each component has come over until each point of a trace.

    Args:
        trace: of a run.
        run: the run itself, for a trace that was kept without what its receivers hold.

    Returns:
        (n, C) moles so far [mol].

    Not a published model: the engine's own account of the receivers where the trace has it. Else
    the integral of rate times composition by the trapezoidal rule, scaled to the account of the
    run so that the end agrees; valid while the points lie closer than a cut.
    """
    if trace.received_mol.size:
        return np.asarray(np.maximum.accumulate(trace.received_mol, axis=0), dtype=np.float64)
    share = np.nan_to_num(trace.distillate_mole_fraction)
    flow = trace.distillate_rate_mol_s[:, None] * share
    steps = 0.5 * (flow[1:] + flow[:-1]) * np.diff(trace.time_s)[:, None]
    total = np.vstack([np.zeros(share.shape[1]), np.cumsum(steps, axis=0)])
    if run is not None:
        ends = total[-1]
        exact = run.ledger.cuts_mol
        factor = np.where(ends > 0.0, exact / np.where(ends > 0.0, ends, 1.0), 1.0)
        total = total * factor
    return np.asarray(total, dtype=np.float64)


def best_window(
    so_far: Floats, charged: Floats, wanted: int, purity: float, weights: Floats
) -> Window | None:
    """Return the stretch that holds most of a component and is as pure as asked.

    Args:
        so_far: (n, C) moles that have come over until each point [mol], never falling.
        charged: (C,) moles in the flask [mol].
        wanted: index of the component.
        purity: asked for [-], in the basis of the weights.
        weights: (C,) what one mole counts in the basis.

    Returns:
        The window; None where no stretch is that pure.

    Derivation: with f = (amount of the wanted one) - purity x (amount of all), a stretch is pure
    enough where f has not fallen over it; for every start the last such end holds most.
    """
    places = _thinned(so_far)
    curve = so_far[places] * weights
    own = curve[:, wanted]
    excess = own - purity * curve.sum(axis=1)
    fits = excess[None, :] >= excess[:, None] - 1e-15
    held = np.where(np.triu(fits, 1), own[None, :] - own[:, None], -1.0)
    best = int(np.argmax(held))
    first, last = divmod(best, len(places))
    if held[first, last] <= _NOTHING * float(charged[wanted] * weights[wanted]):
        return None
    return window_between(so_far, charged, wanted, weights, int(places[first]), int(places[last]))


def window_between(
    so_far: Floats, charged: Floats, wanted: int, weights: Floats, first: int, last: int
) -> Window:
    """Return what a stretch between two points holds.

    Args:
        so_far: (n, C) moles until each point [mol].
        charged: (C,) moles in the flask [mol].
        wanted: index of the component.
        weights: (C,) what one mole counts in the basis.
        first: index of its first point.
        last: index of its last point.
    """
    held = (so_far[last] - so_far[first]) * weights
    total = float(held.sum())
    share = float(held[wanted] / total) if total > 0.0 else float("nan")
    own = float(so_far[last, wanted] - so_far[first, wanted])
    return Window(first, last, share, own / float(charged[wanted]))


def _thinned(so_far: Floats) -> npt.NDArray[np.intp]:
    """Return at most so many points, evenly spread over what has come over, ends kept."""
    total = so_far.sum(axis=1)
    moving = np.flatnonzero(np.diff(total, prepend=-1.0, append=total[-1] + 1.0)[:-1] > 0.0)
    ends = np.array([0, so_far.shape[0] - 1])
    places = np.union1d(moving, ends)
    if places.size <= _MOST_POINTS:
        return places
    wanted = np.linspace(0.0, total[-1], _MOST_POINTS)
    return np.unique(np.concatenate([np.searchsorted(total, wanted).clip(0, total.size - 1), ends]))
