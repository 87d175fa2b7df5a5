"""What the mixture itself allows, before any glass is chosen."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.azeotropes import Azeotrope, find_azeotropes
from forerun.equilibrium.bubble import relative_volatility
from forerun.equilibrium.liquid_liquid import LiquidSplit, miscibility_gap, split_liquid
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.forecast.drawing import draw_member, prior_of
from forerun.planning.aims import Goal, chance_of, weights_for
from forerun.planning.candidates import even_points
from forerun.planning.shortcut import BatchPath, batch_path, best_product, top_of_column
from forerun.planning.windows import Window
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import prepare
from forerun.substances.catalogue import find
from forerun.substances.correlations import boiling_temperature
from forerun.substances.model import Substance

__all__ = [
    "WATER",
    "Analysis",
    "Limit",
    "analysed",
    "least_plates",
    "limit_at",
    "mixes_with_water",
    "pairs_with_gap",
]

Floats = npt.NDArray[np.float64]

WATER = "H2O"
MANY_PLATES = 30  # more than any column of the bench; stands for "whatever the column"
_STEPS = 50
_LIMIT_MEMBERS = 8
_ROOM = 298.15  # K
_PLATES = (0, 1, 2, 3, 4, 5, 6, 8, 10, 13, 17, 22, 30)
_MOST_AZEOTROPES = 5  # components that the search takes


@dataclass(frozen=True, slots=True)
class Limit:
    """What the best column imaginable could give at one pressure.

    Args:
        pressure_Pa: [Pa].
        product: ``distillate`` or ``residue``; empty where nothing is pure enough.
        recovery: of the wanted component at the purity asked for [-]; 0 where nothing is.
        purity: highest purity that still holds the recovery asked for [-].
        probability: that purity and recovery asked for are within reach of some column [-].
    """

    pressure_Pa: float
    product: str
    recovery: float
    purity: float
    probability: float


@dataclass(frozen=True, slots=True)
class Analysis:
    """The mixture of a sheet, looked at for an aim.

    Args:
        sheet: the run sheet.
        goal: the aim.
        mixture: its substances with their equilibrium.
        pressure_Pa: at which it is looked at [Pa].
        boiling_K: (C,) boiling points there [K].
        azeotropes: found there.
        undecided: sentences on azeotropes that may or may not exist.
        split: the two liquids in which the charge stands at 25 °C; None where it is one.
        water: index of water; None where there is none.
        neighbour: index of the component whose boiling point is nearest to the wanted one's;
            None for a single substance.
        volatility: relative volatility of the lighter over the heavier of these two in the feed
            [-]; NaN for a single substance.
        limit: what the best column could give.
    """

    sheet: RunSheet
    goal: Goal
    mixture: Mixture
    pressure_Pa: float
    boiling_K: Floats
    azeotropes: tuple[Azeotrope, ...]
    undecided: tuple[str, ...]
    split: LiquidSplit | None
    water: int | None
    neighbour: int | None
    volatility: float
    limit: Limit

    @property
    def charge(self) -> Floats:
        """(C,) moles in the flask [mol]."""
        return np.array([p.amount_mol.value for p in self.sheet.charge])

    @property
    def wanted(self) -> Substance:
        """The wanted substance."""
        return self.mixture.substances[self.goal.wanted]

    @property
    def mass_fraction(self) -> Floats:
        """(C,) of the charge [-]."""
        mass = np.array([p.mass_kg for p in self.sheet.charge])
        return np.asarray(mass / mass.sum(), dtype=np.float64)

    def azeotrope_with(self, other: int) -> Azeotrope | None:
        """Return the azeotrope of the wanted component with one other, or None."""
        pair = tuple(sorted((self.goal.wanted, other)))
        return next((a for a in self.azeotropes if a.components == pair), None)


def analysed(sheet: RunSheet, goal: Goal, pressure: float) -> Analysis:
    """Return what the mixture of a sheet allows at a pressure.

    Args:
        sheet: the run sheet.
        goal: the aim.
        pressure: [Pa].
    """
    prepared = prepare(sheet)
    mixture = prepared.mixture
    substances = mixture.substances
    boiling = np.array(
        [boiling_temperature(s, pressure, "programme.pressure").temperature for s in substances]
    )
    azeotropes: tuple[Azeotrope, ...] = ()
    undecided: tuple[str, ...] = ()
    if 1 < len(substances) <= _MOST_AZEOTROPES:
        search = find_azeotropes(mixture, pressure)
        azeotropes, undecided = search.azeotropes, search.undecided
    charge = np.array([p.amount_mol.value for p in sheet.charge])
    split = None
    if 1 < len(substances) <= _MOST_AZEOTROPES and pairs_with_gap(mixture, _ROOM):
        split = split_liquid(charge / charge.sum(), _ROOM, mixture.arrays)
    neighbour = _neighbour(goal.wanted, boiling)
    return Analysis(
        sheet,
        goal,
        mixture,
        pressure,
        boiling,
        azeotropes,
        undecided,
        split,
        next((k for k, s in enumerate(substances) if s.formula == WATER), None),
        neighbour,
        _volatility(mixture, charge, boiling, goal.wanted, neighbour),
        limit_at(sheet, goal, mixture, pressure, _LIMIT_MEMBERS if azeotropes or undecided else 0),
    )


def pairs_with_gap(mixture: Mixture, temperature: float) -> tuple[tuple[int, int], ...]:
    """Return the pairs of a mixture that stand as two liquids at a temperature.

    Args:
        mixture: the mixture.
        temperature: [K].
    """
    found = []
    for i, j in combinations(range(len(mixture.substances)), 2):
        if (i, j) in mixture.miscible_pairs:
            continue
        pair = mixture_of([mixture.substances[i], mixture.substances[j]])
        if miscibility_gap(temperature, pair.arrays) is not None:
            found.append((i, j))
    return tuple(found)


def mixes_with_water(substance: Substance, temperature: float = _ROOM) -> bool:
    """Return whether a liquid mixes with water in every ratio.

    Args:
        substance: the liquid; water itself mixes.
        temperature: [K].
    """
    if substance.formula == WATER:
        return True
    pair = mixture_of([substance, find("water")])
    return bool(pair.miscible_pairs) or miscibility_gap(temperature, pair.arrays) is None


def _neighbour(wanted: int, boiling: Floats) -> int | None:
    others = [k for k in range(boiling.size) if k != wanted]
    return min(others, key=lambda k: abs(boiling[k] - boiling[wanted])) if others else None


def _volatility(
    mixture: Mixture, charge: Floats, boiling: Floats, wanted: int, neighbour: int | None
) -> float:
    if neighbour is None:
        return float("nan")
    pair = sorted((wanted, neighbour), key=lambda k: float(boiling[k]))
    middle = float(0.5 * (boiling[pair[0]] + boiling[pair[1]]))
    return relative_volatility(charge / charge.sum(), middle, mixture, pair[0], pair[1])


def limit_at(
    sheet: RunSheet, goal: Goal, mixture: Mixture, pressure: float, members: int = _LIMIT_MEMBERS
) -> Limit:
    """Return what the best column imaginable could give at a pressure.

    Args:
        sheet: the run sheet.
        goal: the aim.
        mixture: its substances.
        pressure: [Pa].
        members: other guesses at the equilibrium, for the probability; 0 for none.
    """
    charge = np.array([p.amount_mol.value for p in sheet.charge])
    if charge.size == 1:
        return Limit(pressure, "distillate", 1.0, 1.0, 1.0)
    weights = weights_for(sheet, goal.basis)
    path = batch_path(charge, top_of_column(mixture.arrays, pressure, MANY_PLATES), _STEPS)
    product, recovery = _best(path, goal, weights)
    reached = [recovery >= goal.recovery]
    if members:
        # only where an azeotrope may stand in the way is the limit in doubt
        prior = prior_of(prepare(sheet))
        points = even_points(len(prior.unknowns), members, 1)
        for z in points:
            arrays = draw_member(prior, z).mixture
            other = batch_path(charge, top_of_column(arrays, pressure, MANY_PLATES), _STEPS)
            reached.append(_best(other, goal, weights)[1] >= goal.recovery)
    chance = chance_of(sum(reached), len(reached))
    return Limit(pressure, product, recovery, _highest(path, goal, weights), chance)


def _best(path: BatchPath, goal: Goal, weights: Floats) -> tuple[str, float]:
    found = best_product(path, goal.wanted, goal.purity, weights)
    return ("", 0.0) if found is None else (found[0], found[1].recovery)


def _highest(path: BatchPath, goal: Goal, weights: Floats) -> float:
    low, high = 0.0, 1.0
    for _ in range(14):
        middle = 0.5 * (low + high)
        found: tuple[str, Window] | None = best_product(path, goal.wanted, middle, weights)
        if found is not None and found[1].recovery >= goal.recovery:
            low = middle
        else:
            high = middle
    return low


def least_plates(found: Analysis) -> int | None:
    """Return the fewest plates above the pot that could meet the aim at total reflux.

    Args:
        found: the mixture.

    Returns:
        Plates [-]; None where as many as a bench column ever has do not suffice.
    """
    weights = weights_for(found.sheet, found.goal.basis)
    for plates in _PLATES:
        top = top_of_column(found.mixture.arrays, found.pressure_Pa, plates)
        path = batch_path(found.charge, top, _STEPS)
        if _best(path, found.goal, weights)[1] >= found.goal.recovery:
            return plates
    return None
