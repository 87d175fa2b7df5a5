"""All singular points of the residue curves at one pressure: pure liquids and azeotropes.

Works on arrays alone, without any starting guess: pairs by a scan of ln(relative volatility)
that is dense towards both ends, larger sets by a grid over the simplex and Newton's method.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.azeotropes_kernels import (
    boiling,
    coldest,
    crossing,
    ln_relative_volatility,
    scan_pair,
    scan_simplex,
    three_phase_pair,
)
from forerun.equilibrium.azeotropes_newton import azeotrope_newton, heteroazeotrope_newton
from forerun.equilibrium.azeotropes_solutions import (
    Solution,
    inner_eigenvalues,
    outer_eigenvalues,
    second_share,
)
from forerun.equilibrium.liquid_liquid_kernels import binary_gap, tangent_plane

__all__ = [
    "SingularPoint",
    "boiling_points",
    "face_points",
    "follow",
    "part_of",
    "singular_points",
]

Floats = npt.NDArray[np.float64]

_EDGE = 18.0  # |ln(x1/x2)| at which a pair counts as infinitely dilute
_STEPS = {3: 18, 4: 11, 5: 8}  # divisions of the simplex grid
_PAIR_ALONE = 0.98  # mole fraction of two known to mix, above which a liquid is theirs alone
_SAME = 1e-4  # mole fraction below which two solutions are one
_TANGENT = 0.03  # |ln alpha| below which an extremum between nodes is looked at
_TRACE = 1e-9  # mole fraction that stands for infinite dilution


@dataclass(frozen=True, slots=True)
class SingularPoint:
    """A pure liquid or an azeotrope.

    Args:
        components: indices that are present, ascending.
        temperature_K: [K].
        mole_fraction: (C,) overall liquid = vapour [-].
        liquids: mole fractions (C,) of the two liquids, or None for one liquid [-].
        eigenvalues: real parts of the eigenvalues of 1 - dy/dx, first those inside the face of
            the components present, then one for each absent component [-].
        flattened: a split that the models claim for a miscible mixture was levelled out.
    """

    components: tuple[int, ...]
    temperature_K: float
    mole_fraction: Floats
    liquids: tuple[Floats, Floats] | None
    eigenvalues: tuple[float, ...]
    flattened: bool = False

    @property
    def inside(self) -> tuple[float, ...]:
        """Eigenvalues within the face of the components present [-]."""
        return self.eigenvalues[: len(self.components) - 1]


def part_of(mixture: MixtureArrays, indices: tuple[int, ...]) -> MixtureArrays:
    """Return the arrays of some components of a mixture, in the order given.

    Args:
        mixture: arrays of C components.
        indices: positions in the mixture, ascending so that pair corrections keep their sign.
    """
    pick = list(indices)
    if pick == list(range(mixture.vapour_pressure.shape[0])):
        return mixture
    take = np.ascontiguousarray
    return mixture._replace(
        vapour_pressure=take(mixture.vapour_pressure[pick]),
        volumes=take(mixture.volumes[:, pick]),
        surfaces=take(mixture.surfaces[:, pick]),
        group_surfaces=take(mixture.group_surfaces[:, pick]),
        pure_residual=take(mixture.pure_residual[..., pick]),
        pair_correction=take(mixture.pair_correction[pick][:, pick]),
        dimerisation=take(mixture.dimerisation[pick]),
        sizes=take(mixture.sizes[..., pick]),
    )


def _pair_logits(finer: int = 1) -> Floats:
    dilute = np.linspace(-_EDGE, -4.0, 28 * finer + 1)
    fractions = np.linspace(0.02, 0.98, 48 * finer + 1)[1:-1]
    return np.concatenate([dilute, np.log(fractions / (1.0 - fractions)), -dilute[::-1]])


_LOGITS = _pair_logits()


def _fractions(logit: float) -> Floats:
    return np.array([1.0 / (1.0 + math.exp(-logit)), 1.0 / (1.0 + math.exp(logit))])


def boiling_points(mixture: MixtureArrays, pressure: float) -> Floats:
    """Return the boiling points of the pure components.

    Args:
        mixture: arrays of C components.
        pressure: [Pa].

    Returns:
        (C,) temperatures [K], NaN where there is none between 50 and 2000 K.

    Source:
        `forerun.equilibrium.kernels.ln_vapour_pressure`.
    """
    scratch, count = scratch_for(mixture), mixture.vapour_pressure.shape[0]
    y = np.empty(count)
    return np.array([boiling(pressure, row, 350.0, mixture, scratch, y) for row in np.eye(count)])


def _sign_changes(
    pressure: float, mixture: MixtureArrays, guess: float, finer: int
) -> Iterator[tuple[float, float]]:
    """Yield ln(x1/x2) and temperature of every composition with relative volatility 1."""
    scratch, temperature = scratch_for(mixture), np.empty(1)
    logits = _LOGITS if finer == 1 else _pair_logits(finer)
    scan = np.empty((logits.size, 2))
    scan_pair(pressure, logits, guess, mixture, scratch, scan)
    value = np.where(scan[:, 0] == 0.0, 1e-300, scan[:, 0])  # a root on a node is met once
    brackets = [
        (logits[k], logits[k + 1], scan[k, 1]) for k in np.flatnonzero(value[:-1] * value[1:] < 0.0)
    ]
    size = np.abs(value)
    low = (size[1:-1] < size[:-2]) & (size[1:-1] <= size[2:]) & (size[1:-1] < _TANGENT)
    same = (value[1:-1] * value[:-2] > 0.0) & (value[1:-1] * value[2:] > 0.0)
    for k in np.flatnonzero(low & same) + 1:
        top = _vertex(logits[k - 1 : k + 2], value[k - 1 : k + 2])
        at_top = ln_relative_volatility(pressure, top, scan[k, 1], mixture, scratch, temperature)
        if at_top * value[k] < 0.0:
            brackets += [
                (logits[k - 1], top, scan[k, 1]),
                (top, logits[k + 1], scan[k, 1]),
            ]
    for left, right, start in brackets:
        logit = crossing(pressure, left, right, start, mixture, scratch, temperature)
        if math.isfinite(temperature[0]):
            yield logit, float(temperature[0])


def _vertex(t: Floats, f: Floats) -> float:
    """Extremum of the parabola through three points, kept between the outer two."""
    first, second = (f[1] - f[0]) / (t[1] - t[0]), (f[2] - f[1]) / (t[2] - t[1])
    bend = (second - first) / (t[2] - t[0])
    if bend == 0.0:
        return float(t[1])
    top = 0.5 * (t[0] + t[1]) - first / (2.0 * bend)
    return float(min(max(top, t[0]), t[2]))


def _pair_solutions(
    pressure: float,
    mixture: MixtureArrays,
    pure_temperatures: Floats,
    miscible: bool,
    finer: int,
) -> list[Solution]:
    scratch, ends, y = scratch_for(mixture), np.empty(2), np.empty(2)
    found: list[Solution] = []
    low = coldest(pressure, float(pure_temperatures.min()), mixture)
    hottest = float(pure_temperatures.max())
    together = three_phase_pair(pressure, low, hottest, mixture, scratch, ends, y)
    if math.isfinite(together):
        poor, rich = _fractions(ends[0]), _fractions(ends[1])
        if poor[0] < y[0] < rich[0]:
            liquids = None if miscible else (poor, rich)
            found.append(Solution(together, y.copy(), liquids, miscible))
    mean = float(pure_temperatures.mean())
    for logit, temperature in _sign_changes(pressure, mixture, mean, finer):
        gap = binary_gap(temperature, mixture, scratch, ends)
        if not (gap and ends[0] < logit < ends[1]):
            found.append(Solution(temperature, _fractions(logit), None))
    return found


def _grid(components: int, steps: int) -> tuple[Floats, list[tuple[int, ...]]]:
    """Inner points of the simplex with their integer coordinates."""

    def compositions(total: int, parts: int) -> Iterator[tuple[int, ...]]:
        if parts == 1:
            yield (total,)
            return
        for head in range(1, total - parts + 2):
            for tail in compositions(total - head, parts - 1):
                yield (head, *tail)

    places = list(compositions(steps, components))
    return np.array(places, dtype=np.float64) / steps, places


def _local_minima(value: Floats, places: list[tuple[int, ...]]) -> list[int]:
    """Indices of grid points that no neighbour undercuts (NaN counts as high)."""
    index = {place: n for n, place in enumerate(places)}
    minima = []
    for n, place in enumerate(places):
        if not math.isfinite(value[n]):
            continue
        lower = False
        for i in range(len(place)):
            for j in range(len(place)):
                if i != j:
                    moved = list(place)
                    moved[i] += 1
                    moved[j] -= 1
                    m = index.get(tuple(moved))
                    lower = lower or (m is not None and value[m] < value[n])
        if not lower:
            minima.append(n)
    return sorted(minima, key=lambda n: float(value[n]))


def _starts(value: Floats, places: list[tuple[int, ...]], finer: int) -> list[int]:
    """Where to start Newton's method: local minima, or in a finer search every point."""
    if finer == 1:
        return _local_minima(value, places)
    return [int(n) for n in np.argsort(value) if math.isfinite(value[n])]


def _inner_solutions(
    pressure: float,
    mixture: MixtureArrays,
    guess: float,
    miscible: frozenset[tuple[int, int]],
    finer: int,
) -> list[Solution]:
    components = mixture.vapour_pressure.shape[0]
    points, places = _grid(components, finer * _STEPS[components])
    one = np.empty((len(places), 2))
    two = np.empty((len(places), 4, components))
    scratch = scratch_for(mixture)
    one_liquid = set(combinations(range(components), 2)) <= miscible
    scan_simplex(pressure, points, guess, 1, mixture, scratch, one, two)
    found: list[Solution] = []
    trial = np.empty(components)
    for n in _starts(one[:, 0], places, finer):
        x = points[n].copy()
        temperature = azeotrope_newton(pressure, x, one[n, 1], mixture, scratch)
        if not math.isfinite(temperature) or _is_known(x, found):
            continue
        if tangent_plane(temperature, x, mixture, scratch, trial) > -1e-9:
            found.append(Solution(temperature, x, None))
    for n in _starts(np.sum(two[:, 0] ** 2, axis=1), places, finer):
        first, second = two[n, 1].copy(), two[n, 2].copy()
        temperature = heteroazeotrope_newton(
            pressure, first, second, two[n, 3, 1], two[n, 3, 0], mixture, scratch
        )
        if not math.isfinite(temperature) or _is_known(first + second, found):
            continue
        liquids = (first / first.sum(), second / second.sum())
        stable = tangent_plane(temperature, liquids[0], mixture, scratch, trial) > -1e-7
        if (
            stable
            or _false_third(trial, miscible)
            or _splitting_pairs(temperature, mixture, miscible) < 2
        ):
            found.append(
                Solution(temperature, first + second, None if one_liquid else liquids, one_liquid)
            )
    return found


def _false_third(liquid: Floats, miscible: frozenset[tuple[int, int]]) -> bool:
    """Whether a further liquid is nothing but two components that are known to mix."""
    return any(liquid[i] + liquid[j] > _PAIR_ALONE for i, j in miscible)


def _splitting_pairs(
    temperature: float, mixture: MixtureArrays, miscible: frozenset[tuple[int, int]]
) -> int:
    """How many pairs part in truth; three liquids that only one of them could make are false."""
    ends = np.empty(2)
    count = 0
    for pair in combinations(range(mixture.vapour_pressure.shape[0]), 2):
        part = part_of(mixture, pair)
        count += pair not in miscible and binary_gap(temperature, part, scratch_for(part), ends)
    return count


def _is_known(x: Floats, found: list[Solution]) -> bool:
    return bool(x.min() < _TRACE) or any(np.abs(x - f.x).max() < _SAME for f in found)


def singular_points(
    mixture: MixtureArrays,
    pressure: float,
    miscible: frozenset[tuple[int, int]] = frozenset(),
    finer: int = 1,
    largest: int | None = None,
    pure_temperatures: Floats | None = None,
) -> list[SingularPoint]:
    """Return all pure liquids and azeotropes of a mixture at a pressure, coldest first.

    Args:
        mixture: arrays of 2 to 5 components.
        pressure: [Pa].
        miscible: pairs (i, j), i < j, that are known to be one liquid whatever the models say.
            Where the models split such a pair, the boiling curve is levelled across the false gap
            and the azeotrope put where the vapour of the three phases stands.
        finer: factor on the divisions of the grid for three and more components [-].
        largest: most components of a point to look for; default all [-].
        pure_temperatures: (C,) boiling points of the pure liquids, if they are known already [K].

    Returns:
        Every point with the eigenvalues of the residue-curve map.

    Source:
        Residue-curve map and its singular points: Doherty & Perkins, Chem. Eng. Sci. 33 (1978)
        281, doi:10.1016/0009-2509(78)80086-4.
    """
    count = mixture.vapour_pressure.shape[0]
    pure = boiling_points(mixture, pressure) if pure_temperatures is None else pure_temperatures
    points: list[SingularPoint] = []
    for size in range(1, (largest or count) + 1):
        for members in combinations(range(count), size):
            points += face_points(mixture, pressure, members, miscible, finer, pure)
    return sorted(points, key=lambda p: p.temperature_K)


def face_points(
    mixture: MixtureArrays,
    pressure: float,
    members: tuple[int, ...],
    miscible: frozenset[tuple[int, int]] = frozenset(),
    finer: int = 1,
    pure_temperatures: Floats | None = None,
) -> list[SingularPoint]:
    """Return the singular points that hold exactly some of the components.

    Args:
        mixture: arrays of all components.
        pressure: [Pa].
        members: those that are present, ascending.
        miscible: as for `singular_points`.
        finer: factor on the divisions of the search; above 1 Newton's method also starts from
            every point of the grid instead of the most promising ones [-].
        pure_temperatures: (C,) boiling points of all pure liquids, if they are known already [K].

    Returns:
        Every point with the eigenvalues of the map of all components.

    Validity:
        Pressures below about 2 bar; up to five components.

    Source:
        As `singular_points`.
    """
    part = part_of(mixture, members)
    pure = (
        boiling_points(part, pressure)
        if pure_temperatures is None
        else pure_temperatures[list(members)]
    )
    place = {member: k for k, member in enumerate(members)}
    known = frozenset((place[i], place[j]) for i, j in miscible if {i, j} <= set(members))
    if len(members) == 1:
        found = [Solution(float(pure[0]), np.ones(1), None)]
    elif len(members) == 2:
        found = _pair_solutions(pressure, part, pure, bool(known), finer)
    else:
        found = _inner_solutions(pressure, part, float(pure.mean()), known, finer)
    return [_singular(pressure, mixture, members, part, solution) for solution in found]


def _singular(
    pressure: float,
    mixture: MixtureArrays,
    members: tuple[int, ...],
    part: MixtureArrays,
    solution: Solution,
) -> SingularPoint:
    """A solution of a face in the numbering of the whole mixture, with its eigenvalues."""
    count = mixture.vapour_pressure.shape[0]
    whole = np.zeros(count)
    whole[list(members)] = solution.x
    liquids = None
    if solution.liquids is not None:
        pair = np.zeros((2, count))
        pair[:, list(members)] = solution.liquids
        liquids = (pair[0], pair[1])
    inner = inner_eigenvalues(pressure, part, solution)
    outer = outer_eigenvalues(mixture, members, solution)
    return SingularPoint(
        members, solution.temperature, whole, liquids, inner + outer, solution.flattened
    )


def follow(
    point: SingularPoint,
    start: MixtureArrays,
    end: MixtureArrays,
    pressure: float,
    steps: int = 4,
) -> SingularPoint | None:
    """Follow an azeotrope while the model changes from one to another.

    Args:
        point: the azeotrope with the first model.
        start: arrays of C components.
        end: the same with other weights or pair corrections.
        pressure: [Pa].
        steps: in which the change is made [-].

    Returns:
        The azeotrope with the second model (without eigenvalues), one liquid or two as it comes;
        None when it is lost on the way.

    Source:
        Continuation by Newton's method on `azeotropes_newton`.
    """
    members = point.components
    before, after = part_of(start, members), part_of(end, members)
    now: Solution | None = Solution(
        point.temperature_K,
        point.mole_fraction[list(members)],
        None
        if point.liquids is None
        else (point.liquids[0][list(members)], point.liquids[1][list(members)]),
    )
    for step in range(1, steps + 1):
        part = step / steps
        between = before._replace(
            weights=(1.0 - part) * before.weights + part * after.weights,
            pair_correction=(1.0 - part) * before.pair_correction + part * after.pair_correction,
        )
        now = None if now is None else _moved(now, between, pressure)
    if now is None or now.x.min() < _TRACE:
        return None
    whole = np.zeros(point.mole_fraction.size)
    whole[list(members)] = now.x
    return SingularPoint(members, now.temperature, whole, None, ())


def _moved(near: Solution, mixture: MixtureArrays, pressure: float) -> Solution | None:
    """Newton from a solution of a neighbouring model, as two liquids if it was, else as one."""
    scratch = scratch_for(mixture)
    if near.liquids is not None:
        share = second_share(near)
        first, second = near.liquids[0].copy(), near.liquids[1].copy()
        temperature = heteroazeotrope_newton(
            pressure, first, second, share, near.temperature, mixture, scratch
        )
        if math.isfinite(temperature):
            liquids = (first / first.sum(), second / second.sum())
            return Solution(temperature, first + second, liquids)
    x = near.x.copy()
    temperature = azeotrope_newton(pressure, x, near.temperature, mixture, scratch)
    return Solution(temperature, x, None) if math.isfinite(temperature) else None
