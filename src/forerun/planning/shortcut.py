"""Short-cuts: what a column could do at best, before the still itself is run.

Plates work at total reflux, nothing is held up on them, the pot is boiled away step by step:
upper bounds for every real run with as many plates.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.bubble_kernels import bubble_temperature_from
from forerun.planning.plates import GAS_CONSTANT, TROUTON_ENTROPY
from forerun.planning.windows import Window, best_window

__all__ = [
    "BatchPath",
    "batch_path",
    "best_product",
    "top_of_column",
    "top_of_ideal_column",
    "top_of_trouton_pair",
]

Floats = npt.NDArray[np.float64]
Top = Callable[[Floats], Floats]
"""From the liquid in the pot (C,) to what leaves the top (C,), mole fractions."""

_STEPS = 120
_NEWTON_STEPS = 40
_LEFT = 0.01  # share of the charge at which the pot counts as empty
_SETTLED = 1e-7  # change of the composition from plate to plate below which more add nothing


@dataclass(frozen=True, slots=True)
class BatchPath:
    """What leaves the top while a pot is boiled away.

    Args:
        charged: (C,) moles at the start [mol].
        so_far: (n, C) moles that have left until each point [mol].
        top: (n, C) what leaves at each point [-].
    """

    charged: Floats
    so_far: Floats
    top: Floats

    @property
    def left(self) -> Floats:
        """(n, C) moles in the pot at each point [mol]."""
        return self.charged - self.so_far


def top_of_ideal_column(relative_volatilities: Floats, plates: int) -> Top:
    """Return the top of a column at total reflux for constant relative volatilities.

    Args:
        relative_volatilities: (C,) against any one of them [-].
        plates: above the pot [-].

    Source:
        Fenske 1932, for any number of components: x_i times alpha_i to the power plates + 1.
    """
    factor = np.asarray(relative_volatilities, dtype=np.float64) ** (plates + 1)

    def top(x: Floats) -> Floats:
        y = factor * x
        return np.asarray(y / y.sum(), dtype=np.float64)

    return top


def top_of_trouton_pair(
    boiling_light: float, boiling_heavy: float, plates: int, entropy: float = TROUTON_ENTROPY
) -> Top:
    """Return the top of a column for two ideal liquids of which only boiling points are known.

    Args:
        boiling_light: boiling point of the first at the pressure [K].
        boiling_heavy: boiling point of the second [K].
        plates: above the pot [-].
        entropy: of vaporisation of both [J/mol/K].

    Source:
        As `relative_volatility_trouton1884`, the volatility following the temperature from plate
        to plate.
    """
    boiling = np.array([boiling_light, boiling_heavy])

    def top(x: Floats) -> Floats:
        for _ in range(plates + 1):
            low, high = boiling_light, boiling_heavy
            while high - low > 1e-9:
                middle = 0.5 * (low + high)
                if float(x @ np.exp(entropy / GAS_CONSTANT * (1.0 - boiling / middle))) > 1.0:
                    high = middle
                else:
                    low = middle
            y = x * np.exp(entropy / GAS_CONSTANT * (1.0 - boiling / high))
            x = y / y.sum()
        return x

    return top


def top_of_column(mixture: MixtureArrays, pressure: float, plates: int) -> Top:
    """Return the top of a column at total reflux, plate by plate.

    Args:
        mixture: phase equilibrium.
        pressure: [Pa], the same on all plates.
        plates: above the pot [-].

    Source:
        McCabe & Thiele, Ind. Eng. Chem. 17 (1925) 605, doi:10.1021/ie50186a023, in the limit of
        total reflux: the liquid on a plate has the composition of the vapour from below.
    """
    scratch = scratch_for(mixture)

    def top(x: Floats) -> Floats:
        liquid, vapour, guess = np.ascontiguousarray(x), np.empty_like(x), 350.0
        for _ in range(plates + 1):
            guess = bubble_temperature_from(liquid, pressure, guess, mixture, scratch, vapour)
            if np.abs(vapour - liquid).max() < _SETTLED:
                break
            liquid = vapour / vapour.sum()
        return np.asarray(liquid, dtype=np.float64)

    return top


def batch_path(charged: npt.ArrayLike, top: Top, steps: int = _STEPS) -> BatchPath:
    """Return what leaves the top while a pot is boiled away, no liquid held on the plates.

    Args:
        charged: (C,) moles in the pot [mol].
        top: from pot to top.
        steps: equal steps in moles distilled.

    Source:
        Rayleigh, Phil. Mag. 4 (1902) 521, doi:10.1080/14786440209462876; midpoint rule in the
        logarithm of what is left, so that no amount becomes negative.
    """
    start = np.asarray(charged, dtype=np.float64)
    step = (1.0 - _LEFT) * start.sum() / steps
    left = [start]
    tops = [top(start / start.sum())]
    for _ in range(steps):
        here = left[-1]
        half = _without(here, _rate(tops[-1], here), 0.5 * step)
        there = _without(here, _rate(top(half / half.sum()), half), step)
        left.append(there)
        tops.append(top(there / there.sum()))
    return BatchPath(start, start - np.array(left), np.array(tops))


def _rate(leaving: Floats, left: Floats) -> Floats:
    """Return by which share of itself each component shrinks for every mole that leaves."""
    return np.asarray(np.where(left > 0.0, leaving / np.where(left > 0.0, left, 1.0), 0.0))


def _without(here: Floats, rate: Floats, amount: float) -> Floats:
    """Take an amount out of a pot in which each component shrinks at a rate of its own."""
    # exp(-rate t) leaves everything positive; t is the one that takes the amount in all.  What is
    # taken is concave in t, so Newton's steps come from below and never overshoot.
    t = amount / max(float((rate * here).sum()), 1e-300)
    kept = here * np.exp(-rate * t)
    for _ in range(_NEWTON_STEPS):
        short = amount - float((here - kept).sum())
        slope = float((rate * kept).sum())
        if short <= 1e-10 * amount or slope <= 0.0:
            break
        t += short / slope
        kept = here * np.exp(-rate * t)
    return np.asarray(kept, dtype=np.float64)


def best_product(
    path: BatchPath, wanted: int, purity: float, weights: Floats
) -> tuple[str, Window] | None:
    """Return the best cut or pot of a path that is as pure as asked.

    Args:
        path: from `batch_path`.
        wanted: index of the component.
        purity: asked for [-].
        weights: (C,) what one mole counts in the basis.

    Returns:
        ``distillate`` or ``residue`` with its window (for a residue from the start to the point
        at which the pot is taken); None where nothing is pure enough.
    """
    window = best_window(path.so_far, path.charged, wanted, purity, weights)
    pot = path.left * weights
    totals = pot.sum(axis=1)
    shares = np.where(totals > 0.0, pot[:, wanted] / np.where(totals > 0.0, totals, 1.0), 0.0)
    pure = np.flatnonzero(shares >= purity)
    residue = None
    if pure.size:
        at = int(pure[0])
        recovery = float(path.left[at, wanted] / path.charged[wanted])
        residue = Window(0, at, float(shares[at]), recovery)
    if residue is not None and (window is None or residue.recovery > window.recovery):
        return "residue", residue
    return None if window is None else ("distillate", window)
