"""Gross errors: which measured number cannot be right, and what probably happened to it.

First it is decided whether anything is wrong: every measured number is tested with the measurement
test, all together at 5 %.  Only then is it named: each mishap that is known from the bench is
tried as an explanation, and the one that leaves the least to explain is named.
Sources: R. S. H. Mah, A. C. Tamhane, AIChE J. 28 (1982) 828, doi:10.1002/aic.690280519
(measurement test); S. Narasimhan, R. S. H. Mah, AIChE J. 33 (1987) 1514,
doi:10.1002/aic.690330911 (generalized likelihood ratios); both from memory.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from forerun.reviewing.balance import Measured, System, solve_system

__all__ = ["Suspect", "find_suspects"]

Floats = npt.NDArray[np.float64]

_FALSE_ALARMS = 0.05
_PRICE = 6.0  # what a mishap with a size of its own must explain more than one without
_WORTH = 0.25  # share of what the best explains, for others to be named beside it
_MOST = 3
_OUNCE = 28.349523125
_FACTORS = {  # written number over the right one
    "mass": (
        (_OUNCE, "grams written for ounces"),
        (1.0 / _OUNCE, "ounces written for grams"),
        (10.0, "the decimal point one place to the right"),
        (0.1, "the decimal point one place to the left"),
    ),
    "volume": (
        (10.0, "the decimal point one place to the right"),
        (0.1, "the decimal point one place to the left"),
    ),
    "charge": (
        (10.0, "the decimal point one place to the right"),
        (0.1, "the decimal point one place to the left"),
    ),
}


@dataclass(frozen=True, slots=True)
class Suspect:
    """A measured number, or two, that cannot be right.

    Args:
        what: the measurement in words, e.g. ``mass of cut 2``.
        kind: ``bias`` (tare, reading, loss of that sample), ``swapped`` or ``unit``.
        labels: of the rows that are meant.
        explains: fall of the squared misfit when it is taken to be so [-].
        size: what is too much in the measured value [kg, m3 or mass fraction]; NaN for others.
        sentence: what probably happened.
    """

    what: str
    kind: str
    labels: tuple[str, ...]
    explains: float
    size: float
    sentence: str


def find_suspects(
    system: System, molar_masses: Floats, densities: Floats
) -> tuple[bool, tuple[Suspect, ...]]:
    """Return whether anything measured cannot be right, and what.

    Args:
        system: the solved balances.
        molar_masses: (C,) [kg/mol], for mole per cent taken as mass per cent.
        densities: (C,) at 20 degC [kg/m3], for millilitres taken as grams.

    Returns:
        Whether a gross error was found, and up to three explanations, the best first; empty when
        none was found. Of honest data at most about 5 % are accused.
    """
    found = [_bias(system, k) for k in _tested(system)]
    if not found:
        return False, ()
    limit = NormalDist().inv_cdf(0.5 + 0.5 * (1.0 - _FALSE_ALARMS) ** (1.0 / len(found))) ** 2
    if max(s.explains for s in found) <= limit:
        return False, ()
    mishaps = [*found, *_swaps(system), *_units(system, molar_masses, densities)]
    ranked = sorted(mishaps, key=lambda s: -(s.explains - _price(s)))
    best = ranked[0]
    others = [s for s in ranked[1:] if s.explains - _price(s) > _WORTH * best.explains]
    apart: list[Suspect] = [best]
    for suspect in others:
        if all(set(suspect.labels) != set(kept.labels) for kept in apart):
            apart.append(suspect)
    return True, tuple(apart[:_MOST])


def _price(suspect: Suspect) -> float:
    return _PRICE if suspect.kind == "bias" else 0.0


def _tested(system: System) -> list[int]:
    """Return the rows that are measured and that the others say something about."""
    return [
        k
        for k, row in enumerate(system.measured)
        if row.kind != "prior" and system.residual_sigma[k] > 1e-3 * row.sigma
    ]


def _bias(system: System, k: int) -> Suspect:
    """One number too high or too low by an unknown amount: the squared measurement test."""
    row = system.measured[k]
    test = system.residual[k] / system.residual_sigma[k]
    size = float(system.residual[k] * row.sigma**2 / system.residual_sigma[k] ** 2)
    if row.kind == "composition":
        size /= max(row.sigma / row.share_sigma, 1e-12)
    way = "high" if size > 0.0 else "low"
    reason = {
        "mass": "tare, or spilt, or water taken up",
        "volume": "read wrongly, or drops lost",
        "composition": "sample, standard or peak",
        "charge": "not what was put in",
    }[row.kind]
    sentence = f"{row.label} is too {way} ({reason})"
    return Suspect(row.label, "bias", (row.label,), float(test**2), size, sentence)


def _explained(system: System, changed: Sequence[Measured]) -> float:
    return system.chi_square - solve_system(system.places, system.components, changed).chi_square


def _swaps(system: System) -> Iterator[Suspect]:
    """Two receivers whose samples, or whose masses, changed places."""
    places = [p for p in system.places if p.isdecimal() or p == "pot"]
    for kind, what in (("composition", "samples"), ("mass", "masses")):
        for one, two in itertools.combinations(places, 2):
            rows = [_swapped(row, one, two, kind) for row in system.measured]
            touched = [
                (new, old) for new, old in zip(rows, system.measured, strict=True) if new is not old
            ]
            if {old.place for _, old in touched} != {one, two}:
                continue
            where = f"{_named(one)} and {_named(two)}"
            labels = tuple(old.label for _, old in touched)
            changed = _moved(system, rows, kind)
            gain = _explained(system, changed)
            sentence = f"The {what} of {where} seem to have been swapped"
            yield Suspect(f"{what} of {where}", "swapped", labels, gain, math.nan, sentence)


def _swapped(row: Measured, one: str, two: str, kind: str) -> Measured:
    if row.kind != kind or row.place not in {one, two}:
        return row
    return replace(row, place=two if row.place == one else one)


def _moved(system: System, rows: Sequence[Measured], kind: str) -> list[Measured]:
    """Return rows whose weights stand at the place that they now name."""
    count = len(system.components)
    moved = []
    for row, old in zip(rows, system.measured, strict=True):
        if row.place == old.place:
            moved.append(row)
            continue
        weights = np.zeros_like(old.weights)
        source, target = (count * system.places.index(p) for p in (old.place, row.place))
        weights[target : target + count] = old.weights[source : source + count]
        sigma = row.sigma
        if kind == "composition":
            held = system.masses.sum(axis=1)[system.places.index(row.place)]
            sigma = row.share_sigma * max(float(held), 1e-6)
        moved.append(replace(row, weights=weights, sigma=sigma))
    return moved


def _units(system: System, molar_masses: Floats, densities: Floats) -> Iterator[Suspect]:
    for k, row in enumerate(system.measured):
        for factor, words in _FACTORS.get(row.kind, ()):
            new = replace(row, value=row.value / factor)
            yield _unit(system, k, new, f"{row.label}: {words}")
        yield from _gram_for_millilitre(system, k, densities)
        if row.kind == "composition":
            yield from _mole_for_mass(system, k, molar_masses)


def _gram_for_millilitre(system: System, k: int, densities: Floats) -> Iterator[Suspect]:
    row, count = system.measured[k], len(system.components)
    if row.kind not in {"mass", "volume"}:
        return
    place = count * system.places.index(row.place)
    weights = np.zeros_like(row.weights)
    if row.kind == "mass":
        weights[place : place + count] = 1e3 / densities
        words = "millilitres written for grams"
    else:
        weights[place : place + count] = 1e-3
        words = "grams written for millilitres"
    yield _unit(system, k, replace(row, weights=weights), f"{row.label}: {words}")


def _mole_for_mass(system: System, k: int, molar_masses: Floats) -> Iterator[Suspect]:
    """Return the mishap that mole per cent of one component was written for mass per cent."""
    row, count = system.measured[k], len(system.components)
    alone = np.flatnonzero(row.fractions)
    if alone.size != 1 or not 0.0 < row.share < 1.0:
        return
    c = int(alone[0])
    # x_c = share: m_c / M_c - share sum m_i / M_i = 0, scaled back to mass
    place = count * system.places.index(row.place)
    weights = np.zeros_like(row.weights)
    scale = molar_masses[c]
    weights[place : place + count] = -row.share * scale / molar_masses
    weights[place + c] += 1.0
    yield _unit(system, k, replace(row, weights=weights), f"{row.label}: mol% written for wt%")


def _unit(system: System, k: int, new: Measured, sentence: str) -> Suspect:
    rows = [*system.measured[:k], new, *system.measured[k + 1 :]]
    label = system.measured[k].label
    return Suspect(label, "unit", (label,), _explained(system, rows), math.nan, sentence)


def _named(place: str) -> str:
    return f"cut {place}" if place.isdecimal() else f"the {place}"
