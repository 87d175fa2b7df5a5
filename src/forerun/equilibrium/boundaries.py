"""Distillation boundaries and regions of three components, and curves that show the map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.azeotropes_kernels import boiling, three_phase_pair, two_liquid_boiling
from forerun.equilibrium.azeotropes_search import SingularPoint, boiling_points, part_of
from forerun.equilibrium.azeotropes_topology import stability_of
from forerun.equilibrium.residue import ResidueCurve, Residues

__all__ = ["Boundary", "Region", "Ternary", "TieLine", "ternary_of"]

Floats = npt.NDArray[np.float64]

_OFF = 2e-3  # mole fraction by which a boundary starts beside its saddle
_NUDGE = 1e-5  # mole fraction of the differences behind a direction
_BETWEEN = 0.075  # mole fraction that residue curves keep from each other in the picture
_GRID = 12  # divisions of the triangle from which curves start
_TIE_STEP = 0.02  # mole fraction between tie lines
_MOST_TIES = 80


@dataclass(frozen=True, slots=True, eq=False)
class Boundary:
    """A residue curve that ends in a saddle: no simple distillation crosses it.

    Args:
        mole_fraction: (n, 3) from its cold to its hot end [-].
        temperature_K: (n,) [K].
        cold: the singular point where it starts, None where it was lost.
        hot: where it ends.
    """

    mole_fraction: Floats
    temperature_K: Floats
    cold: SingularPoint | None
    hot: SingularPoint | None


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """All charges whose residue curves share both ends: the first and the last thing to boil."""

    cold: SingularPoint
    hot: SingularPoint


@dataclass(frozen=True, slots=True, eq=False)
class TieLine:
    """Two liquids that boil together.

    Args:
        first: (3,) mole fractions of one [-].
        second: (3,) mole fractions of the other [-].
        temperature_K: [K].
    """

    first: Floats
    second: Floats
    temperature_K: float


@dataclass(frozen=True, slots=True, eq=False)
class Ternary:
    """The map of three components at one pressure.

    Args:
        boundaries: separatrices inside the triangle.
        regions: pairs of ends that some charge has.
        curves: residue curves spread over the triangle.
        ties: tie lines of boiling liquids, in order along the gap.
    """

    boundaries: tuple[Boundary, ...]
    regions: tuple[Region, ...]
    curves: tuple[ResidueCurve, ...]
    ties: tuple[TieLine, ...]


def ternary_of(residues: Residues) -> Ternary:
    """Return boundaries, regions and residue curves of three components.

    Args:
        residues: of a mixture of three components.

    Raises:
        BadInput: another number of components.

    Source:
        Separatrices of the saddles bound the regions: Doherty & Perkins, Chem. Eng. Sci. 33 (1978)
        281, doi:10.1016/0009-2509(78)80086-4.
    """
    count = residues.mixture.vapour_pressure.shape[0]
    if count != 3:
        raise BadInput("mixture", count, "three components for a triangle")
    boundaries = [
        boundary
        for point in residues.points
        if stability_of(point) == "saddle"
        for boundary in _from_saddle(point, residues)
    ]
    curves, regions = _spread(residues)
    return Ternary(tuple(boundaries), tuple(regions), tuple(curves), tuple(_ties(residues)))


def _from_saddle(point: SingularPoint, residues: Residues) -> list[Boundary]:
    """The separatrices that leave a saddle into the triangle or come to it from there."""
    if len(point.components) == 1:
        return []  # its separatrices are edges
    found = []
    for value, direction in _directions(point, residues):
        start = point.mole_fraction + _OFF * direction / np.abs(direction).max()
        way: Literal[1, -1] = 1 if value > 0.0 else -1
        curve = residues.curve(np.maximum(start, 0.0), way)
        x = np.vstack([point.mole_fraction, curve.mole_fraction])
        temperature = np.concatenate([[point.temperature_K], curve.temperature_K])
        if curve.end is not None:
            x = np.vstack([x, curve.end.mole_fraction])
            temperature = np.append(temperature, curve.end.temperature_K)
        if way == 1:
            found.append(Boundary(x, temperature, point, curve.end))
        else:
            found.append(Boundary(x[::-1], temperature[::-1], curve.end, point))
    return found


def _directions(point: SingularPoint, residues: Residues) -> list[tuple[float, Floats]]:
    """Eigenvalues and directions into the triangle along which a boundary runs."""
    if len(point.components) == 2:
        return _off_edge(point, residues)
    basis = (np.array([1.0, 0.0, -1.0]), np.array([0.0, 1.0, -1.0]))
    slopes = [
        (_drift(point, v, residues) - _drift(point, -v, residues)) / (2.0 * _NUDGE) for v in basis
    ]
    values, vectors = np.linalg.eig(np.array(slopes).T[:2])
    found = []
    for k in range(2):
        whole = np.array([vectors[0, k], vectors[1, k], -vectors[0, k] - vectors[1, k]]).real
        value = float(values[k].real)
        found += [(value, whole), (value, -whole)]
    return found


def _off_edge(point: SingularPoint, residues: Residues) -> list[tuple[float, Floats]]:
    i, j = point.components
    k = 3 - i - j
    along, inward = point.inside[0], point.eigenvalues[-1]  # of a saddle: one of each sign
    into = np.zeros(3)
    into[j], into[k] = -1.0, 1.0
    drift = _drift(point, into, residues) / _NUDGE
    edge = np.zeros(3)
    edge[i], edge[j] = 1.0, -1.0
    return [(inward, into + drift[i] / (inward - along) * edge)]


def _drift(point: SingularPoint, direction: Floats, residues: Residues) -> Floats:
    """X - y close to a singular point."""
    z = point.mole_fraction + _NUDGE * direction
    arrays, y = residues.mixture, np.empty(3)
    scratch = scratch_for(arrays)
    if point.liquids is None:
        boiling(residues.pressure_Pa, z, point.temperature_K, arrays, scratch, y)
    else:
        ln_k = np.log(np.maximum(point.liquids[1], 1e-30) / np.maximum(point.liquids[0], 1e-30))
        spare = np.empty((2, 3))
        two_liquid_boiling(
            residues.pressure_Pa, z, point.temperature_K, arrays, scratch, ln_k,
            spare[0], spare[1], y, np.empty(1),
        )  # fmt: skip
    drift: Floats = z - y
    return drift


def _spread(residues: Residues) -> tuple[list[ResidueCurve], list[Region]]:
    """Residue curves at some distance from each other, and the ends that they have."""
    seeds = [
        np.array([a, b, _GRID - a - b]) / _GRID
        for a in range(1, _GRID - 1)
        for b in range(1, _GRID - a)
    ]
    seeds.sort(key=lambda z: -float(z.min()))
    curves: list[ResidueCurve] = []
    regions: dict[tuple[int, int], Region] = {}
    drawn = np.empty((0, 3))
    for z in seeds:
        if drawn.size and np.abs(drawn - z).max(axis=1).min() < _BETWEEN:
            continue
        back, on = residues.curve(z, -1), residues.curve(z, 1)
        whole = _whole(back, on)
        curves.append(whole)
        drawn = np.vstack([drawn, whole.mole_fraction])
        if back.end is not None and on.end is not None:
            regions.setdefault((id(back.end), id(on.end)), Region(back.end, on.end))
    return curves, list(regions.values())


def _whole(back: ResidueCurve, on: ResidueCurve) -> ResidueCurve:
    """One curve from two halves that start at the same liquid."""

    def joined(first: Floats, second: Floats) -> Floats:
        both: Floats = np.concatenate([first[::-1], second[1:]])
        return both

    return ResidueCurve(
        joined(back.mole_fraction, on.mole_fraction),
        joined(back.temperature_K, on.temperature_K),
        joined(back.second_share, on.second_share),
        joined(back.left, on.left),
        on.end,
    )


def _ties(residues: Residues) -> list[TieLine]:
    """Tie lines at boiling, from the edge of a pair that splits inwards until both are one."""
    found: list[TieLine] = []
    for pair in ((0, 1), (0, 2), (1, 2)):
        if residues.splits(pair):
            ties = _ties_from(pair, residues)
            if len(ties) > len(found):
                found = ties
    return found


def _ties_from(pair: tuple[int, int], residues: Residues) -> list[TieLine]:
    arrays, pressure = residues.mixture, residues.pressure_Pa
    part = part_of(arrays, pair)
    pure, ends, vapour = boiling_points(part, pressure), np.empty(2), np.empty(2)
    temperature = three_phase_pair(
        pressure, 0.8 * float(pure.min()), float(pure.max()), part, scratch_for(part), ends, vapour
    )
    if not np.isfinite(temperature):
        return []
    first, second = np.zeros(3), np.zeros(3)
    for liquid, logit in ((first, ends[0]), (second, ends[1])):
        liquid[pair[0]], liquid[pair[1]] = 1.0 / (1.0 + np.exp(-logit)), 1.0 / (1.0 + np.exp(logit))
    third = 3 - sum(pair)
    ties = [TieLine(first, second, temperature)]
    ln_k = np.zeros(3)
    ln_k[list(pair)] = np.log(second[list(pair)] / first[list(pair)])
    scratch, y, share = scratch_for(arrays), np.empty(3), np.empty(1)
    step = _TIE_STEP
    while len(ties) < _MOST_TIES and step > 1e-3:
        last = ties[-1]
        z = (0.5 * (last.first + last.second)) * (1.0 - step)
        z[third] += step
        one, two, trial = np.empty(3), np.empty(3), ln_k.copy()
        hot = two_liquid_boiling(
            pressure, z, last.temperature_K, arrays, scratch, trial, one, two, y, share
        )
        if not np.isfinite(hot) or not 0.0 <= share[0] <= 1.0 or np.abs(one - two).max() < 0.02:
            step *= 0.5
            continue
        ln_k = trial
        ties.append(TieLine(one, two, hot))
        if z[list(pair)].min() < 2e-3:
            break
    return ties
