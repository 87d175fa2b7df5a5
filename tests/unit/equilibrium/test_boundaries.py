"""Boundaries, curves and tie lines of made-up triangles whose answers symmetry or paper gives."""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pytest
from scipy.optimize import brentq

from forerun.core.errors import BadInput
from forerun.equilibrium import boundaries
from forerun.equilibrium.azeotropes_search import SingularPoint, singular_points
from forerun.equilibrium.boundaries import Boundary, Ternary, ternary_of
from forerun.equilibrium.residue import Residues
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, SLOPE, margules

Pairs = dict[tuple[int, int], float]


class Triangle:
    """Three liquids with one Margules term for each pair, by the library and on paper.

    Args:
        boiling: points [K].
        pairs: the terms [-].
    """

    def __init__(self, boiling: list[float], pairs: Pairs) -> None:
        self.boiling = np.array(boiling)
        self.terms = np.zeros((3, 3))
        for (i, j), term in pairs.items():
            self.terms[i, j] = self.terms[j, i] = term
        arrays = margules(boiling, {pair: [term] for pair, term in pairs.items()})
        points = tuple(singular_points(arrays, ATMOSPHERE))
        self.residues = Residues(arrays, ATMOSPHERE, points)

    @property
    def map(self) -> Ternary:
        """Return the map by the library."""
        return ternary_of(self.residues)

    def partial(self, x: np.ndarray, temperature: float) -> np.ndarray:
        """Return partial pressures over the whole [-]: Margules and Clausius-Clapeyron."""
        ln_gamma = self.terms @ x - 0.5 * x @ self.terms @ x
        return x * np.exp(ln_gamma + SLOPE * (1.0 - self.boiling / temperature))

    def temperature(self, x: np.ndarray) -> float:
        """Return the boiling point [K]."""
        return float(brentq(lambda t: self.partial(x, t).sum() - 1.0, 250.0, 500.0, xtol=1e-11))

    def vapour(self, x: np.ndarray) -> np.ndarray:
        """Return mole fractions of the vapour [-]."""
        return self.partial(x, self.temperature(x))

    def directions(self, x: np.ndarray) -> list[tuple[float, np.ndarray]]:
        """Return eigenvalues and eigenvectors of 1 - dy/dx in the triangle, by differences."""
        ways = np.array([[1.0, 0.0, -1.0], [0.0, 1.0, -1.0]])
        columns = [w - (self.vapour(x + 1e-5 * w) - self.vapour(x - 1e-5 * w)) / 2e-5 for w in ways]
        values, vectors = np.linalg.eig(np.array(columns).T[:2])
        return [(float(v), vectors[:, k] @ ways) for k, v in enumerate(values)]


def _saddle(boundary: Boundary) -> tuple[SingularPoint, np.ndarray]:
    """Return the saddle of a boundary and the way that leads off it."""
    x = boundary.mole_fraction
    ends = ((boundary.cold, x[1] - x[0]), (boundary.hot, x[-2] - x[-1]))
    ((point, way),) = [
        (p, w) for p, w in ends if p is not None and min(p.eigenvalues) < 0.0 < max(p.eigenvalues)
    ]
    return point, way


def _parallel(way: np.ndarray, other: np.ndarray) -> float:
    return abs(float(way @ other)) / float(np.linalg.norm(way) * np.linalg.norm(other))


# boiling points, pairs, and the ends of the boundary: components at its cold and at its hot end
OFF_AN_EDGE = [
    ([350.0, 350.0, 330.0], {(0, 1): 1.0}, (2,), (0, 1)),  # a minimum over something lighter
    ([350.0, 350.0, 372.0], {(0, 1): -1.0}, (0, 1), (2,)),  # a maximum under something heavier
    ([350.0, 350.0, 310.0], {(0, 1): 2.6}, (2,), (0, 1)),  # a minimum of two liquids
]


@pytest.mark.parametrize("order", list(permutations(range(3))))
@pytest.mark.parametrize(("boiling", "pairs", "cold", "hot"), OFF_AN_EDGE)
def test_two_alike_are_parted_by_the_line_on_which_they_are_equal(
    boiling: list[float],
    pairs: Pairs,
    cold: tuple[int, ...],
    hot: tuple[int, ...],
    order: tuple[int, ...],
) -> None:
    """Whatever the numbering: one boundary, between the third and the azeotrope of both."""
    place = [order.index(k) for k in range(3)]
    found = _turned(boiling, pairs, order).map
    (boundary,) = found.boundaries
    x = boundary.mole_fraction
    assert np.abs(x[:, place[0]] - x[:, place[1]]).max() < 1e-4
    assert boundary.cold is not None
    assert boundary.hot is not None
    assert boundary.cold.components == tuple(sorted(place[k] for k in cold))
    assert boundary.hot.components == tuple(sorted(place[k] for k in hot))
    assert np.array_equal(x[0], boundary.cold.mole_fraction)
    assert np.array_equal(x[-1], boundary.hot.mole_fraction)
    assert boundary.temperature_K[0] == boundary.cold.temperature_K
    assert boundary.temperature_K[-1] == boundary.hot.temperature_K
    assert np.diff(boundary.temperature_K).min() > -5e-3  # where the second liquid ends
    _, way = _saddle(boundary)
    assert np.abs(way).max() == pytest.approx(boundaries._OFF, rel=1e-6)
    # the third is at one end of both regions, one of the alike at the other end of each
    ends = {frozenset((*r.cold.components, *r.hot.components)) for r in found.regions}
    assert ends == {frozenset((place[2], place[0])), frozenset((place[2], place[1]))}
    assert len(found.regions) == 2


def _turned(boiling: list[float], pairs: Pairs, order: tuple[int, ...]) -> Triangle:
    """Return the same liquids in another order."""
    place = [order.index(k) for k in range(3)]
    turned = {(min(place[i], place[j]), max(place[i], place[j])): a for (i, j), a in pairs.items()}
    return Triangle([boiling[k] for k in order], turned)


UNLIKE = [
    ([340.0, 352.0, 330.0], {(0, 1): 1.0, (0, 2): 0.2, (1, 2): 0.1}, 1),
    ([345.0, 358.0, 352.0], {(0, 1): -0.9, (0, 2): 0.9, (1, 2): 0.7}, 1),
    ([348.0, 350.0, 352.0], {(0, 1): -0.9, (0, 2): 0.8, (1, 2): 0.7}, 4),  # a saddle of all three
]


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 0, 1), (1, 0, 2)])
@pytest.mark.parametrize(("boiling", "pairs", "count"), UNLIKE)
def test_a_boundary_leaves_its_saddle_along_an_eigenvector_and_follows_what_boils_off(
    boiling: list[float], pairs: Pairs, count: int, order: tuple[int, ...]
) -> None:
    """Of 1 - dy/dx there, and along x - y from then on: both on paper."""
    given = _turned(boiling, pairs, order)
    found = given.map.boundaries
    assert len(found) == count
    for boundary in found:
        point, way = _saddle(boundary)
        assert np.abs(way).max() == pytest.approx(boundaries._OFF, rel=1e-6)
        ways = given.directions(point.mole_fraction)
        likeness = [_parallel(way, vector) for _, vector in ways]
        assert max(likeness) > 0.9999
        forward = ways[int(np.argmax(likeness))][0] > 0.0
        assert (boundary.cold is point) == forward
        x = boundary.mole_fraction
        for k in (len(x) // 3, len(x) // 2, 2 * len(x) // 3):
            assert _parallel(x[k + 1] - x[k - 1], x[k] - given.vapour(x[k])) > 0.999
            assert boundary.temperature_K[k] == pytest.approx(given.temperature(x[k]), abs=1e-6)


def test_the_arms_of_a_saddle_of_all_three_go_both_ways_and_mirror_each_other() -> None:
    pairs = {(0, 1): -0.9, (0, 2): 0.8, (1, 2): 0.8}
    found = Triangle([350.0, 350.0, 352.0], pairs).map.boundaries
    out = [b for b in found if b.cold is not None and len(b.cold.components) == 3]
    back = [b for b in found if b.hot is not None and len(b.hot.components) == 3]
    assert len(out) == len(back) == 2
    assert {b.hot.components for b in out if b.hot} == {(0, 1), (2,)}
    assert {b.cold.components for b in back if b.cold} == {(0, 2), (1, 2)}
    for boundary in out:
        x = boundary.mole_fraction
        assert np.abs(x[:, 0] - x[:, 1]).max() < 1e-4
    one, other = (b.mole_fraction for b in back)
    assert one[:, 2].min() < one[0, 2] + 0.1
    along = one[:, 0] - one[:, 1], other[:, 1] - other[:, 0]
    steps = np.linspace(0.02, 0.5, 9)
    low, high = (
        np.interp(steps, np.abs(a)[::-1], x[::-1, 2])
        for a, x in zip(along, (one, other), strict=True)
    )
    assert low == pytest.approx(high, abs=2e-3)


@pytest.mark.parametrize("number", ["_OFF", "_NUDGE"])
def test_where_a_boundary_is_begun_does_not_matter(
    number: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A tenth more, or half: the same curve, the more so the further from its saddle."""
    given = Triangle(*UNLIKE[0][:2])
    (plain,) = given.map.boundaries
    for factor in (1.1, 0.5):
        monkeypatch.setattr(boundaries, number, factor * getattr(boundaries, number))
        (other,) = given.map.boundaries
        at = np.linspace(0.03, 0.97, 9)
        one, two = (np.interp(at, b.mole_fraction[::-1, 2], b.mole_fraction[::-1, 0])
                    for b in (plain, other))  # fmt: skip
        assert two == pytest.approx(one, abs=2e-3)


IDEAL = ([340.0, 355.0, 370.0], {})


def test_curves_begin_in_the_middle_keep_apart_and_leave_no_part_of_the_triangle_empty() -> None:
    found = Triangle(*IDEAL).map
    seeds = [_seed(curve.mole_fraction, curve.left) for curve in found.curves]
    assert seeds[0] == pytest.approx([1 / 3, 1 / 3, 1 / 3])
    drawn = np.empty((0, 3))
    for seed, curve in zip(seeds, found.curves, strict=True):
        assert seed.sum() == pytest.approx(1.0)
        assert np.abs(drawn - seed).max(axis=1).min(initial=1.0) > 0.07
        assert np.diff(curve.temperature_K).min() > -1e-6  # from the lightest to the heaviest
        drawn = np.vstack([drawn, curve.mole_fraction])
    for a in range(1, 11):
        for b in range(1, 12 - a):  # a curve is drawn through each twelfth, or one runs close by
            liquid = np.array([a, b, 12 - a - b]) / 12.0
            assert np.abs(drawn - liquid).max(axis=1).min() < 0.08
    (region,) = found.regions
    assert (region.cold.components, region.hot.components) == ((0,), (2,))


def _seed(x: np.ndarray, left: np.ndarray) -> np.ndarray:
    (at,) = np.flatnonzero(left == 1.0)
    seed: np.ndarray = x[at]
    return seed


@pytest.mark.parametrize("lost", [0, 2])
def test_a_charge_of_which_an_end_is_lost_has_no_region(lost: int) -> None:
    given = Triangle(*IDEAL)
    left = tuple(p for p in given.residues.points if p.components != (lost,))
    found = ternary_of(Residues(given.residues.mixture, ATMOSPHERE, left))
    assert found.regions == ()
    assert found.curves


@pytest.mark.parametrize("term", [2.3, 2.6])
@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_tie_lines_are_those_of_paper_up_to_where_both_liquids_are_one(
    term: float, order: tuple[int, ...]
) -> None:
    """Two alike and a third that is ideal with both: ln(p/q) = A (p - q), one where A (p + q) = 2.

    Derivation: ln gamma_1 = A x2 - A x1 x2 and the same turned, the layers mirror each other.
    """
    place = [order.index(k) for k in range(3)]
    given = _turned([350.0, 350.0, 362.0], {(0, 1): term}, order)
    ties = given.map.ties
    assert 5 < len(ties) < 40
    thirds = []
    for tie in ties:
        p, q, c = tie.first[place]
        assert tie.second[place] == pytest.approx([q, p, c], abs=1e-5)
        assert p + q + c == pytest.approx(1.0)
        assert math.log(p / q) == pytest.approx(term * (p - q), abs=1e-4)
        assert tie.temperature_K == pytest.approx(given.temperature(tie.first), abs=1e-4)
        thirds.append(c)
    assert thirds[0] == 0.0
    assert ties[0].first[min(place[0], place[1])] < 0.5  # the lower-numbered is poor in the first
    steps = np.diff(thirds)
    assert steps.max() < 0.0201
    assert steps.min() > 5e-4
    assert thirds[-1] == pytest.approx(1.0 - 2.0 / term, abs=5e-3)


def test_layers_that_boil_above_one_of_the_pure_liquids_are_found() -> None:
    """No azeotrope: the vapour over both layers is richer in the light one than either."""
    given = Triangle([320.0, 400.0, 350.0], {(0, 1): 2.2})
    first = given.map.ties[0]
    assert 320.0 < first.temperature_K < 400.0
    for liquid in (first.first, first.second):
        assert given.temperature(liquid) == pytest.approx(first.temperature_K, abs=1e-5)
    assert given.vapour(first.first)[0] > max(first.first[0], first.second[0])


def test_layers_of_unlike_volatility_are_found() -> None:
    """A pair that boils some thirty kelvin below the lighter of both."""
    given = Triangle([330.0, 420.0, 375.0], {(0, 1): 4.0})
    first = given.map.ties[0]
    for liquid in (first.first, first.second):
        assert given.temperature(liquid) == pytest.approx(first.temperature_K, abs=1e-5)


def test_a_triangle_is_asked_for_by_name() -> None:
    arrays = margules([350.0, 360.0], {})
    residues = Residues(arrays, ATMOSPHERE, tuple(singular_points(arrays, ATMOSPHERE)))
    with pytest.raises(BadInput, match="three components for a triangle"):
        ternary_of(residues)
