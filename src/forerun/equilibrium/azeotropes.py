"""All azeotropes of a mixture at a pressure, each with a band and what it rests on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.equilibrium.azeotropes_bands import Scatter, scatter_of
from forerun.equilibrium.azeotropes_search import (
    SingularPoint,
    boiling_points,
    follow,
    singular_points,
)
from forerun.equilibrium.azeotropes_topology import index_balance, kind_of, stability_of
from forerun.equilibrium.liquid_liquid_known import known_miscibility, miscible_pairs
from forerun.equilibrium.mixture import Mixture

__all__ = ["Azeotrope", "AzeotropeSet", "find_azeotropes"]

Floats = npt.NDArray[np.float64]

_NEAR_PURE = 1e-3  # mole fraction; closer to a pure liquid the band has to decide
_RELIABLE_PRESSURE = 2e5  # Pa; above it the neglected gas non-ideality is felt
_MOST = 5  # components


@dataclass(frozen=True, slots=True, eq=False)
class Azeotrope:
    """One azeotrope.

    Args:
        components: indices of the components that it contains.
        temperature_K: boiling temperature [K].
        pressure_Pa: [Pa].
        mole_fraction: (C,) of vapour and liquid (of both liquids together) [-].
        mass_fraction: (C,) [-].
        kind: ``minimum``, ``maximum`` or ``saddle`` of the boiling temperature among the
            components that it contains.
        stability: ``unstable node``, ``stable node`` or ``saddle`` of the residue curves of the
            whole mixture.
        liquid_phases: 1, or 2 for a heteroazeotrope.
        liquid_compositions: mole fractions (C,) of both liquids, None for one liquid [-].
        temperature_band_K: 80 % band [K].
        composition_band: lower and upper mole fractions (C,) of the 80 % band [-].
        basis: ``fitted`` to measured points in all its pairs, else ``predicted``.
        models_agreeing: in how many of how many activity models, each alone, it exists; None
            where a fit makes the question idle.
        note: what a reader must know beside the numbers, often empty.
    """

    components: tuple[int, ...]
    temperature_K: float
    pressure_Pa: float
    mole_fraction: Floats
    mass_fraction: Floats
    kind: Literal["minimum", "maximum", "saddle"]
    stability: Literal["unstable node", "stable node", "saddle"]
    liquid_phases: Literal[1, 2]
    liquid_compositions: tuple[Floats, Floats] | None
    temperature_band_K: tuple[float, float]
    composition_band: tuple[Floats, Floats]
    basis: Literal["fitted", "predicted"]
    models_agreeing: tuple[int, int] | None
    note: str


@dataclass(frozen=True, slots=True)
class AzeotropeSet:
    """Everything found at one pressure.

    Args:
        azeotropes: coldest first.
        undecided: sentences on azeotropes that may or may not exist.
        warnings: sentences that belong beside the result.
        balanced: whether nodes and saddles keep the index balance of a residue-curve map.
    """

    azeotropes: tuple[Azeotrope, ...]
    undecided: tuple[str, ...]
    warnings: tuple[str, ...]
    balanced: bool


def find_azeotropes(mixture: Mixture, pressure_Pa: float) -> AzeotropeSet:
    """Return all azeotropes of a mixture at a pressure, without any starting guess.

    Args:
        mixture: 1 to 5 substances.
        pressure_Pa: [Pa], above 0; the model neglects gas non-ideality, felt above 2 bar.

    Returns:
        The azeotropes of all its pairs, triples and so on, with bands.

    Raises:
        BadInput: a pressure that is not positive, more than five substances.
        CalculationFailed: a substance has no boiling point at that pressure.

    Source:
        `azeotropes_search.singular_points`; bands as in `azeotropes_bands.scatter_of`.
    """
    count = len(mixture.substances)
    if not (math.isfinite(pressure_Pa) and pressure_Pa > 0.0):
        raise BadInput("pressure", pressure_Pa, "a pressure above zero")
    if count > _MOST:
        raise BadInput("mixture", count, f"up to {_MOST} substances for azeotropes")
    if count < 2:
        return AzeotropeSet((), (), (), True)
    boiling = boiling_points(mixture.arrays, pressure_Pa)
    if not np.all(np.isfinite(boiling)):
        name = mixture.names[int(np.argmin(np.isfinite(boiling)))]
        raise CalculationFailed(
            "the boiling point of a pure substance",
            f"{name} at {pressure_Pa:.6g} Pa",
            "Try a pressure between 100 Pa and 2 bar.",
        )
    miscible = _miscible(mixture, float(boiling.min()))
    points = singular_points(mixture.arrays, pressure_Pa, miscible)
    if count > 2 and index_balance(points, count) != 0:
        points = singular_points(mixture.arrays, pressure_Pa, miscible, finer=2)
    balanced = index_balance(points, count) == 0
    by_model = _by_model(mixture, pressure_Pa, miscible, points)
    azeotropes, undecided = [], []
    for point in points:
        if len(point.components) == 1:
            continue
        scatter = scatter_of(mixture, point, pressure_Pa, by_model)
        doubt = _near_pure(mixture, point, points, scatter)
        if doubt:
            undecided.append(doubt)
        else:
            azeotropes.append(_azeotrope(mixture, point, pressure_Pa, scatter))
    undecided += _not_excluded(mixture, pressure_Pa, points, by_model)
    return AzeotropeSet(
        tuple(azeotropes),
        tuple(undecided),
        tuple(_warnings(mixture, pressure_Pa, azeotropes, balanced)),
        balanced,
    )


def _miscible(mixture: Mixture, temperature: float) -> frozenset[tuple[int, int]]:
    keys = [s.inchikey for s in mixture.substances]
    limits = {
        pair: known_miscibility(keys[pair[0]], keys[pair[1]]) for pair in mixture.miscible_pairs
    }
    stated = {p for p, known in limits.items() if known is None or known.holds_at(temperature)}
    return miscible_pairs(keys, temperature) | stated


def _by_model(
    mixture: Mixture,
    pressure: float,
    miscible: frozenset[tuple[int, int]],
    points: Sequence[SingularPoint],
) -> list[list[SingularPoint]]:
    """What each activity model finds alone: pairs searched in full, larger sets followed."""
    if len(mixture.models) < 2 or all(pair.basis == "fitted" for pair in mixture.pairs):
        return []
    found = []
    for model in range(len(mixture.models)):
        alone = mixture.alone(model)
        own = singular_points(alone, pressure, miscible, largest=2)
        for point in points:
            if len(point.components) > 2:
                moved = follow(point, mixture.arrays, alone, pressure)
                own += [moved] if moved is not None else []
        found.append(own)
    return found


def _azeotrope(
    mixture: Mixture, point: SingularPoint, pressure: float, scatter: Scatter
) -> Azeotrope:
    x = point.mole_fraction
    mass = x * np.array([s.molar_mass for s in mixture.substances])
    width = scatter.composition
    low = np.clip(x - width, 0.0, 1.0)
    high = np.clip(x + width, 0.0, 1.0)
    notes = []
    if point.flattened:
        notes.append(
            "the models split this mixture, which is known to mix; the azeotrope is put where "
            "their three phases meet"
        )
    gone = [k for k in point.components if low[k] <= 0.0]
    if gone and point.liquids is None:
        names = " and ".join(mixture.names[k] for k in gone)
        notes.append(f"its band reaches down to no {names}: it may not exist")
    return Azeotrope(
        point.components,
        point.temperature_K,
        pressure,
        x,
        mass / mass.sum(),
        kind_of(point),
        stability_of(point),
        1 if point.liquids is None else 2,
        point.liquids,
        (point.temperature_K - scatter.temperature, point.temperature_K + scatter.temperature),
        (low, high),
        scatter.basis,
        scatter.agreeing,
        "; ".join(notes),
    )


def _near_pure(
    mixture: Mixture, point: SingularPoint, points: Sequence[SingularPoint], scatter: Scatter
) -> str:
    """Say so when a homogeneous azeotrope is too close to fewer components to be decided."""
    members = list(point.components)
    least = members[int(np.argmin(point.mole_fraction[members]))]
    if point.liquids is not None or point.mole_fraction[least] >= _NEAR_PURE:
        return ""
    face = tuple(k for k in members if k != least)
    nearest = min(
        (p for p in points if p.components == face),
        key=lambda p: float(np.abs(p.mole_fraction - point.mole_fraction).max()),
        default=None,
    )
    if nearest is not None and abs(_ln_volatility(nearest, least)) > scatter.ln_volatility:
        return ""
    names = " + ".join(mixture.names[k] for k in members)
    return (
        f"{names}: an azeotrope with less than {100.0 * _NEAR_PURE:g} mol% of "
        f"{mixture.names[least]} is not decided by these models."
    )


def _ln_volatility(point: SingularPoint, absent: int) -> float:
    """Ln(y/x) of an absent component at infinite dilution in a point."""
    missing = [k for k in range(point.mole_fraction.size) if k not in point.components]
    value = point.eigenvalues[len(point.components) - 1 + missing.index(absent)]
    return math.log(max(1.0 - value, 1e-300))


def _not_excluded(
    mixture: Mixture,
    pressure: float,
    points: Sequence[SingularPoint],
    by_model: Sequence[Sequence[SingularPoint]],
) -> list[str]:
    """Sentences on pairs without an azeotrope that a model, or the band, still allows."""
    sentences = []
    for pair in combinations(range(len(mixture.substances)), 2):
        if any(p.components == pair for p in points):
            continue
        names = " + ".join(mixture.names[k] for k in pair)
        seen = sum(any(p.components == pair for p in own) for own in by_model)
        fitted = any(p.basis == "fitted" and p.components == pair for p in mixture.pairs)
        if seen and not fitted:
            sentences.append(
                f"{names}: {seen} of {len(by_model)} models alone show an azeotrope, their mean "
                "does not."
            )
            continue
        for own, other in (pair, pair[::-1]):
            pure = next(p for p in points if p.components == (own,))
            allowed = scatter_of(mixture, pure, pressure, (), pair).ln_volatility
            value = _ln_volatility(pure, other)
            if abs(value) < allowed:
                sentences.append(
                    f"{names}: an azeotrope close to pure {mixture.names[own]} is not excluded "
                    f"(relative volatility there {math.exp(value):.3f}, known to "
                    f"{100.0 * allowed:.0f} %)."
                )
    return sentences


def _warnings(
    mixture: Mixture, pressure: float, azeotropes: Sequence[Azeotrope], balanced: bool
) -> list[str]:
    sentences = []
    if not balanced:
        sentences.append(
            "Nodes and saddles of the residue-curve map do not balance: an azeotrope may have "
            "been missed, or one stands at the edge of existence."
        )
    if pressure > _RELIABLE_PRESSURE:
        sentences.append("Above 2 bar the neglected non-ideality of the vapour is felt.")
    keys = [s.inchikey for s in mixture.substances]
    for azeotrope in azeotropes:
        if azeotrope.liquid_phases == 1 and len(azeotrope.components) == 2:
            i, j = azeotrope.components
            known = known_miscibility(keys[i], keys[j])
            if (
                known is not None
                and known.kind == "two liquids"
                and known.holds_at(azeotrope.temperature_K)
            ):
                sentences.append(
                    f"{mixture.names[i]} + {mixture.names[j]} were measured as two liquids at "
                    "this temperature; the models show one at the azeotrope."
                )
    return sentences
