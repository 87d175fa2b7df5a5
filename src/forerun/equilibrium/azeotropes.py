"""All azeotropes of a mixture at a pressure, each with a band and what it rests on."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from statistics import NormalDist
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.equilibrium.azeotropes_balanced import BalancedPoints, balanced_points
from forerun.equilibrium.azeotropes_bands import (
    Scatter,
    end_half_width,
    existence,
    ln_volatility,
    rule_in,
    scatter_of,
)
from forerun.equilibrium.azeotropes_border import near_borders
from forerun.equilibrium.azeotropes_printed import PRINT_RIGHT, printed_of, printed_words
from forerun.equilibrium.azeotropes_search import (
    SingularPoint,
    boiling_points,
    follow,
    singular_points,
)
from forerun.equilibrium.azeotropes_topology import kind_of, stability_of
from forerun.equilibrium.azeotropes_words import close_to_words, likely_words, undecided_words
from forerun.equilibrium.band_rules import EIGHTY, origin_of
from forerun.equilibrium.liquid_liquid_known import (
    known_miscibility,
    miscible_pairs,
    past_critical,
)
from forerun.equilibrium.mixture import Mixture

__all__ = ["Azeotrope", "AzeotropeSet", "PossibleAzeotrope", "find_azeotropes"]

Floats = npt.NDArray[np.float64]

_NEAR_PURE = 1e-3  # mole fraction; closer to a pure liquid the band has to decide
_RELIABLE_PRESSURE = 2e5  # Pa; above it the neglected gas non-ideality is felt
_ZERO_CELSIUS = 273.15  # K
_MOST = 5  # components
_CERTAIN = 0.9  # probability; between this and its complement an azeotrope may or may not exist


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
        liquid_compositions: mole fractions (C,) of the two liquids of the models, also where they
            are known to mix and count as one; None for one liquid [-].
        temperature_band_K: 80 % band [K].
        composition_band: lower and upper mole fractions (C,) of the 80 % band [-].
        basis: ``fitted`` to measured points in all its pairs, else ``predicted``.
        models_agreeing: in how many of how many activity models, each alone, it exists; None
            where a fit makes the question idle.
        note: what a reader must know beside the numbers, often empty.
        probability: how likely it exists, by the band of the volatilities at its pure ends (pairs)
            or of its composition [-].
        certainty: ``certain`` from a probability of 0.9, else ``doubtful``: it may not exist.
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
    probability: float
    certainty: Literal["certain", "doubtful"]


@dataclass(frozen=True, slots=True)
class PossibleAzeotrope:
    """A set of components for which none was found, but the band allows one.

    Args:
        components: their indices.
        kind: the likelier one.
        close_to: indices of the pure liquid, or the azeotrope, that it would be close to.
        probability: that the set has an azeotrope of this kind, 0.1 to 0.9 [-].
    """

    components: tuple[int, ...]
    kind: Literal["minimum", "maximum", "saddle"]
    close_to: tuple[int, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class AzeotropeSet:
    """Everything found at one pressure.

    Args:
        azeotropes: coldest first; some may be doubtful.
        possible: sets without a found azeotrope that may have one all the same.
        undecided: sentences on azeotropes that may or may not exist.
        warnings: sentences that belong beside the result.
        balanced: whether nodes and saddles keep the index balance of a residue-curve map, in
            every set of two and more of the components.
        points: all singular points of the residue curves, pure liquids included.
        miscible: pairs that are known to mix, whatever the models say.
    """

    azeotropes: tuple[Azeotrope, ...]
    possible: tuple[PossibleAzeotrope, ...]
    undecided: tuple[str, ...]
    warnings: tuple[str, ...]
    balanced: bool
    points: tuple[SingularPoint, ...] = ()
    miscible: frozenset[tuple[int, int]] = frozenset()


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
        return AzeotropeSet((), (), (), (), True)
    boiling = boiling_points(mixture.arrays, pressure_Pa)
    if not np.all(np.isfinite(boiling)):
        name = mixture.names[int(np.argmin(np.isfinite(boiling)))]
        raise CalculationFailed(
            "the boiling point of a pure substance",
            f"{name} at {pressure_Pa:.6g} Pa",
            "Try a pressure between 100 Pa and 2 bar.",
        )
    miscible = _miscible(mixture, float(boiling.min()))
    search = balanced_points(mixture.arrays, pressure_Pa, miscible)
    points, balanced = search.points, not search.unbalanced
    by_model = _by_model(mixture, pressure_Pa, miscible, points)
    azeotropes = [
        _as_it_mixes(mixture, _azeotrope(mixture, point, pressure_Pa, points, by_model))
        for point in points
        if len(point.components) > 1 and not _too_thin(point)
    ]
    possible = _possible(mixture, points, by_model, pressure_Pa)
    undecided = [_sentence(mixture, p, pressure_Pa) for p in possible]
    undecided += _shown_alone(mixture, points, by_model, {p.components for p in possible})
    return AzeotropeSet(
        tuple(azeotropes),
        tuple(possible),
        tuple(undecided),
        (
            *_warnings(mixture, pressure_Pa, azeotropes, search),
            *_closed_by_print(mixture, points, by_model, pressure_Pa),
        ),
        balanced,
        tuple(points),
        miscible,
    )


def _as_it_mixes(mixture: Mixture, azeotrope: Azeotrope) -> Azeotrope:
    """One liquid where a pair is past its critical solution temperature, whatever models say."""
    return replace(azeotrope, liquid_phases=1) if _mixes(mixture, azeotrope) else azeotrope


def _mixes(mixture: Mixture, azeotrope: Azeotrope) -> float | None:
    """The critical solution temperature that is passed, of a pair alone that models part [K]."""
    if len(mixture.substances) != 2 or azeotrope.liquid_compositions is None:
        return None
    first, second = (s.inchikey for s in mixture.substances)
    return past_critical(first, second, azeotrope.temperature_K)


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
    if len(mixture.models) < 2 or all(origin_of(p) == "several papers" for p in mixture.pairs):
        return []
    count = len(mixture.substances)
    pure = np.array([p.temperature_K for k in range(count) for p in points if p.components == (k,)])
    found = []
    for model in range(len(mixture.models)):
        alone = mixture.alone(model)
        own = singular_points(alone, pressure, miscible, largest=2, pure_temperatures=pure)
        for point in points:
            if len(point.components) > 2:
                moved = follow(point, mixture.arrays, alone, pressure)
                own += [moved] if moved is not None else []
        found.append(own)
    return found


def _azeotrope(
    mixture: Mixture,
    point: SingularPoint,
    pressure: float,
    points: Sequence[SingularPoint],
    by_model: Sequence[Sequence[SingularPoint]],
) -> Azeotrope:
    x = point.mole_fraction
    scatter = scatter_of(mixture, point, by_model)
    probability = _probability(mixture, point, scatter, points, by_model)
    pair = (point.components[0], point.components[1])
    printed = printed_of(mixture, pair, pressure) if len(point.components) == 2 else None
    own, width = probability, scatter.temperature
    if printed is not None and printed.kind is not None:
        same = printed.kind == kind_of(point)
        probability = max(probability, PRINT_RIGHT) if same else min(probability, 0.5)
    mass = x * np.array([s.molar_mass for s in mixture.substances])
    low = np.clip(x - scatter.composition, 0.0, 1.0)
    high = np.clip(x + scatter.composition, 0.0, 1.0)
    notes = []
    if point.flattened:
        notes.append(
            "the models split this mixture, which is known to mix; the azeotrope is put where "
            "their three phases meet"
        )
    if probability < _CERTAIN:
        notes.append(f"it may or may not exist ({likely_words(probability)})")
    if printed is not None:
        temperature = (point.temperature_K - width, point.temperature_K + width)
        fraction = (float(low[pair[0]]), float(high[pair[0]]))
        if own < _CERTAIN or printed.differs(kind_of(point), temperature, fraction):
            notes.append(printed_words(printed, mixture.names[pair[0]]))
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
        (point.temperature_K - width, point.temperature_K + width),
        (low, high),
        scatter.basis,
        scatter.agreeing,
        "; ".join(notes),
        probability,
        "certain" if probability >= _CERTAIN else "doubtful",
    )


def _too_thin(point: SingularPoint) -> bool:
    """Whether a homogeneous azeotrope lies too close to fewer components to be told from them."""
    least = float(min(point.mole_fraction[list(point.components)]))
    return point.liquids is None and least < _NEAR_PURE


def _probability(
    mixture: Mixture,
    point: SingularPoint,
    scatter: Scatter,
    points: Sequence[SingularPoint],
    by_model: Sequence[Sequence[SingularPoint]],
) -> float:
    """How likely an azeotrope that was found exists."""
    members = list(point.components)
    if len(members) == 2:
        pair = (members[0], members[1])
        values, _ = _at_ends(mixture, pair, points, by_model)
        if min(values) * max(values) > 0.0:
            likely = _of_pair(mixture, pair, points, by_model)
            return likely[0] if kind_of(point) == "minimum" else likely[1]
        # ln(y/x) changes its sign twice (acids whose dimers fall apart): how deep it lies decides
        pure = [
            p.temperature_K for p in points if len(p.components) == 1 and p.components[0] in pair
        ]
        depth = min(abs(point.temperature_K - t) for t in pure)
        return NormalDist().cdf(depth * EIGHTY / scatter.temperature)
    sigma = np.maximum(scatter.composition[members] / EIGHTY, 1e-12)
    nearest = float(np.min(point.mole_fraction[members] / sigma))
    return NormalDist().cdf(min(nearest, 9.0))


def _of_pair(
    mixture: Mixture,
    pair: tuple[int, int],
    points: Sequence[SingularPoint],
    by_model: Sequence[Sequence[SingularPoint]],
) -> tuple[float, float]:
    """Probability of a minimum and of a maximum azeotrope of a pair."""
    values, widths = _at_ends(mixture, pair, points, by_model)
    return existence(values, widths)


def _at_ends(
    mixture: Mixture,
    pair: tuple[int, int],
    points: Sequence[SingularPoint],
    by_model: Sequence[Sequence[SingularPoint]],
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Expected ln(y/x) of the other infinitely dilute in either of the two, and its widths."""
    basis = next(p for p in mixture.pairs if p.components == pair)
    first, second = (next(p for p in points if p.components == (own,)) for own in pair)
    middle = rule_in(mixture, basis).end_middle
    values = ln_volatility(first, pair[1]) + middle, ln_volatility(second, pair[0]) + middle
    widths = tuple(end_half_width(mixture, basis, own, by_model, of_truth=True) for own in pair)
    return values, (widths[0], widths[1])


def _possible(
    mixture: Mixture,
    points: Sequence[SingularPoint],
    by_model: Sequence[Sequence[SingularPoint]],
    pressure: float,
) -> list[PossibleAzeotrope]:
    """Sets without an azeotrope that the band or print allows one: pairs, then larger ones."""
    found = []
    for pair in combinations(range(len(mixture.substances)), 2):
        if any(p.components == pair and not _too_thin(p) for p in points):
            continue
        values, _ = _at_ends(mixture, pair, points, by_model)
        minimum, maximum = _of_pair(mixture, pair, points, by_model)
        likely = max(minimum, maximum)
        printed = printed_of(mixture, pair, pressure)
        if printed is not None and printed.kind == "none":
            likely = min(likely, 1.0 - PRINT_RIGHT)
        elif printed is not None and printed.kind is not None:
            likely = max(likely, 0.5)
        if likely > 1.0 - _CERTAIN:
            kind: Literal["minimum", "maximum"] = "minimum" if minimum >= maximum else "maximum"
            nearer = int(np.argmin(np.abs(values)))
            found.append(PossibleAzeotrope(pair, kind, (pair[nearer],), likely))
    larger = [
        PossibleAzeotrope(b.components, b.kind, b.close_to, b.probability)
        for b in near_borders(mixture, points, by_model)
        if b.probability > 1.0 - _CERTAIN
    ]
    return found + larger


def _closed_by_print(
    mixture: Mixture,
    points: Sequence[SingularPoint],
    by_model: Sequence[Sequence[SingularPoint]],
    pressure: float,
) -> Iterator[str]:
    """Say of which pairs print denies an azeotrope that the band would have left open."""
    found = {p.components for p in points if not _too_thin(p)}
    for pair in combinations(range(len(mixture.substances)), 2):
        printed = printed_of(mixture, pair, pressure)
        if printed is None or printed.kind != "none" or pair in found:
            continue
        likely = max(_of_pair(mixture, pair, points, by_model))
        if likely > 1.0 - _CERTAIN:
            names = " and ".join(mixture.names[k] for k in pair)
            said = printed_words(printed, mixture.names[pair[0]])
            yield f"{names}, which the models leave open ({likely_words(likely)}): {said}."


def _sentence(mixture: Mixture, possible: PossibleAzeotrope, pressure: float) -> str:
    own = [mixture.names[k] for k in possible.components]
    near = [mixture.names[k] for k in possible.close_to]
    words = undecided_words(own, possible.kind, possible.probability)
    sentence = f"{words}, {close_to_words(near)}."
    if len(possible.components) > 2:
        return sentence
    pair = (possible.components[0], possible.components[1])
    printed = printed_of(mixture, pair, pressure)
    said = "" if printed is None else printed_words(printed, mixture.names[pair[0]])
    return f"{sentence} {said[:1].upper()}{said[1:]}." if said else sentence


def _shown_alone(
    mixture: Mixture,
    points: Sequence[SingularPoint],
    by_model: Sequence[Sequence[SingularPoint]],
    said: Collection[tuple[int, ...]],
) -> list[str]:
    """Sentences on further predicted pairs of which a model alone shows an azeotrope."""
    sentences = []
    for pair in combinations(range(len(mixture.substances)), 2):
        if pair in said or any(p.components == pair for p in points):
            continue
        seen = sum(any(p.components == pair for p in own) for own in by_model)
        fitted = any(p.basis == "fitted" and p.components == pair for p in mixture.pairs)
        if seen and not fitted:
            names = " + ".join(mixture.names[k] for k in pair)
            sentences.append(
                f"{names}: {seen} of {len(by_model)} models alone show an azeotrope, their mean "
                "does not."
            )
    return sentences


def _balance(mixture: Mixture, search: BalancedPoints) -> Iterator[str]:
    """Say where the map of residue curves did not balance, at first or to the end."""
    for faces, words in (
        (search.unbalanced, "do not balance, a finer search included: an azeotrope may have been "
         "missed, or one stands at the edge of existence"),
        (search.settled, "did not balance at first; a finer search settled it"),
    ):  # fmt: skip
        if faces:
            names = "; ".join(" + ".join(mixture.names[k] for k in face) for face in faces)
            yield f"Nodes and saddles of the residue curves of {names} {words}."


def _warnings(
    mixture: Mixture, pressure: float, azeotropes: Sequence[Azeotrope], search: BalancedPoints
) -> list[str]:
    sentences = list(_balance(mixture, search))
    if pressure > _RELIABLE_PRESSURE:
        sentences.append("Above 2 bar the neglected non-ideality of the vapour is felt.")
    keys = [s.inchikey for s in mixture.substances]
    for azeotrope in azeotropes:
        critical = _mixes(mixture, azeotrope)
        if critical is not None:
            sentences.append(
                f"{mixture.names[0]} and {mixture.names[1]} mix above "
                f"{critical - _ZERO_CELSIUS:.0f} °C; the models part them still where they boil, "
                "and the azeotrope is that of their two liquids."
            )
        elif azeotrope.liquid_phases == 1 and len(azeotrope.components) == 2:
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
