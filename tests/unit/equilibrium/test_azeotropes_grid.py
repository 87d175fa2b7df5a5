"""The grid of a search of several components: its points, its valleys, what is known or false."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forerun.equilibrium.azeotropes_search import (
    SingularPoint,
    _false_third,
    _grid,
    _is_known,
    _local_minima,
    _splitting_pairs,
    _starts,
    boiling_points,
    face_points,
    follow,
    part_of,
    singular_points,
)
from forerun.equilibrium.azeotropes_solutions import Solution
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, SLOPE, margules


@pytest.mark.parametrize(("components", "steps"), [(3, 5), (3, 18), (4, 7), (5, 8)])
def test_a_grid_holds_every_inner_point_of_the_simplex_once(components: int, steps: int) -> None:
    """There are binomial(steps - 1, components - 1) ways to share steps out with none empty."""
    points, places = _grid(components, steps)
    assert len(places) == len(set(places)) == math.comb(steps - 1, components - 1)
    assert points == pytest.approx(np.array(places) / steps)
    assert points.sum(axis=1) == pytest.approx(1.0)
    assert points.min() == pytest.approx(1.0 / steps)


def test_valleys_of_a_grid_are_found_deepest_first() -> None:
    points, places = _grid(3, 12)
    deep, shallow = np.array([2, 2, 8]) / 12.0, np.array([7, 3, 2]) / 12.0
    value = np.minimum(
        ((points - deep) ** 2).sum(axis=1), ((points - shallow) ** 2).sum(axis=1) + 0.01
    )
    assert [places[n] for n in _local_minima(value, places)] == [(2, 2, 8), (7, 3, 2)]
    assert [places[n] for n in _local_minima(value - 0.5, places)] == [(2, 2, 8), (7, 3, 2)]
    lost = value.copy()
    lost[places.index((2, 2, 8))] = math.nan  # high: those around it may be valleys instead
    found = [places[n] for n in _local_minima(lost, places)]
    assert (2, 2, 8) not in found
    assert (7, 3, 2) in found
    assert _local_minima(np.full(len(places), math.nan), places) == []


def test_a_finer_search_begins_everywhere_where_there_is_a_number() -> None:
    _, places = _grid(3, 5)
    value = np.array([3.0, math.nan, 1.0, 2.0, 5.0, 4.0])
    assert _starts(value, places, 2) == [2, 3, 0, 5, 4]
    assert _starts(value, places, 1) == _local_minima(value, places)


def test_a_solution_near_a_known_one_or_beside_an_edge_is_known() -> None:
    known = [Solution(350.0, np.array([0.3, 0.3, 0.4]), None)]
    assert _is_known(np.array([0.30005, 0.29995, 0.4]), known)
    assert not _is_known(np.array([0.3, 0.31, 0.39]), known)
    assert not _is_known(np.array([0.3, 0.3, 0.4]), [])
    assert _is_known(np.array([0.5, 0.5 - 1e-10, 1e-10]), [])


def test_a_further_liquid_of_two_that_mix_is_false() -> None:
    liquid = np.array([0.6, 0.01, 0.39])
    assert _false_third(liquid, frozenset({(0, 2)}))
    assert not _false_third(liquid, frozenset({(0, 1), (1, 2)}))
    assert not _false_third(liquid, frozenset())


def test_pairs_that_part_are_counted_unless_they_are_known_to_mix() -> None:
    mixture = margules([350.0, 355.0, 360.0], {(0, 1): [2.6], (1, 2): [2.8], (0, 2): [0.5]})
    assert _splitting_pairs(340.0, mixture, frozenset()) == 2
    assert _splitting_pairs(340.0, mixture, frozenset({(0, 1)})) == 1
    assert _splitting_pairs(340.0, mixture, frozenset({(0, 2)})) == 2


def test_boiling_points_are_those_of_clausius_and_clapeyron() -> None:
    tb = np.array([330.0, 350.0, 390.0])
    mixture = margules(list(tb), {})
    for pressure in (2e3, 2e4, ATMOSPHERE):
        expected = tb / (1.0 - math.log(pressure / ATMOSPHERE) / SLOPE)
        assert boiling_points(mixture, pressure) == pytest.approx(expected, rel=1e-9)


def test_a_part_has_the_pair_terms_of_its_members_and_the_whole_is_itself() -> None:
    mixture = margules([350.0, 355.0, 360.0], {(0, 1): [0.1], (0, 2): [0.2], (1, 2): [0.3]})
    assert part_of(mixture, (0, 1, 2)) is mixture
    part = part_of(mixture, (0, 2))
    assert part.pair_correction[0, 1, 0, 0] == 0.2
    assert part.vapour_pressure == pytest.approx(mixture.vapour_pressure[[0, 2]])


def _azeotropes(points: list[SingularPoint], count: int) -> list[SingularPoint]:
    return [p for p in points if len(p.components) == count]


@pytest.mark.parametrize("count", [3, 4])
def test_alike_liquids_have_their_azeotrope_in_the_middle_whatever_their_number(
    count: int,
) -> None:
    """T = Tb/(1 + g/SLOPE) with g = A (C - 1)/(2 C) of equal terms between all."""
    term = 1.2
    pairs = {(i, j): [term] for i in range(count) for j in range(i + 1, count)}
    points = singular_points(margules([350.0] * count, pairs), ATMOSPHERE)
    for size in range(2, count + 1):
        expected = 350.0 / (1.0 + term * (size - 1) / (2.0 * size) / SLOPE)
        found = _azeotropes(points, size)
        assert len(found) == math.comb(count, size)
        for one in found:
            assert one.temperature_K == pytest.approx(expected, abs=1e-6)
            assert one.mole_fraction[list(one.components)] == pytest.approx(1.0 / size, abs=1e-6)
            assert one.inside == pytest.approx((term / size,) * (size - 1), rel=1e-4)
    assert [p.temperature_K for p in points] == sorted(p.temperature_K for p in points)
    small = singular_points(margules([350.0] * count, pairs), ATMOSPHERE, largest=2)
    assert max(len(p.components) for p in small) == 2


def test_a_face_of_a_larger_mixture_is_numbered_as_the_mixture() -> None:
    pairs = {(1, 3): [1.0], (0, 3): [-0.4]}
    mixture = margules([370.0, 350.0, 380.0, 352.0], pairs)
    (found,) = face_points(mixture, ATMOSPHERE, (1, 3))
    alone = margules([350.0, 352.0], {(0, 1): [1.0]})
    (expected,) = _azeotropes(singular_points(alone, ATMOSPHERE), 2)
    assert found.components == (1, 3)
    assert found.mole_fraction[[1, 3]] == pytest.approx(expected.mole_fraction, abs=1e-9)
    assert found.mole_fraction[[0, 2]].tolist() == [0.0, 0.0]
    assert len(found.eigenvalues) == 3
    (levelled,) = face_points(
        margules([350.0, 352.0, 360.0], {(0, 1): [2.6]}), ATMOSPHERE, (0, 1),
        frozenset({(0, 1), (1, 2)}),
    )  # fmt: skip
    assert levelled.flattened
    assert levelled.liquids is None
    (parted,) = face_points(
        margules([350.0, 352.0, 360.0], {(0, 1): [2.6]}), ATMOSPHERE, (0, 1), frozenset({(1, 2)})
    )
    assert not parted.flattened
    assert parted.liquids is not None
    assert parted.liquids[0][2] == parted.liquids[1][2] == 0.0


def test_a_gap_of_three_that_all_mix_in_truth_is_levelled() -> None:
    """With one pair left open it stays two liquids; the vapour is the same."""
    pairs = {(0, 1): [2.9], (0, 2): [1.2], (1, 2): [1.2]}
    mixture = margules([350.0, 350.0, 352.0], pairs)
    every = frozenset({(0, 1), (0, 2), (1, 2)})
    (two,) = face_points(mixture, ATMOSPHERE, (0, 1, 2))
    (one,) = face_points(mixture, ATMOSPHERE, (0, 1, 2), every)
    (some,) = face_points(mixture, ATMOSPHERE, (0, 1, 2), frozenset({(0, 2), (1, 2)}))
    assert two.liquids is not None
    assert some.liquids is not None
    assert one.liquids is None
    assert (one.flattened, two.flattened, some.flattened) == (True, False, False)
    assert one.mole_fraction == pytest.approx(two.mole_fraction, abs=1e-6)


@pytest.mark.parametrize("members", [(0, 1), (0, 2), (1, 2)])
@pytest.mark.parametrize(("start", "end"), [(2.6, 3.0), (2.6, 1.6), (1.0, 1.4), (-0.6, -0.9)])
def test_an_azeotrope_of_some_components_is_followed_as_two_liquids_or_one(
    members: tuple[int, int], start: float, end: float
) -> None:
    """Where it arrives the search finds it anew; the components that it lacks play no part."""
    before, after = (
        margules([350.0, 353.0, 357.0], {members: [term], (0, 1): [term]})
        if members != (0, 1)
        else margules([350.0, 353.0, 357.0], {members: [term]})
        for term in (start, end)
    )
    (point,) = face_points(before, ATMOSPHERE, members)
    (expected,) = face_points(after, ATMOSPHERE, members)
    assert (point.liquids is not None) == (start > 2.0)
    for steps in (1, 5):
        found = follow(point, before, after, ATMOSPHERE, steps)
        assert found is not None
        assert found.components == members
        assert found.mole_fraction == pytest.approx(expected.mole_fraction, abs=1e-6)
        assert found.temperature_K == pytest.approx(expected.temperature_K, abs=1e-5)


def test_two_azeotropes_between_nodes_and_a_root_on_a_node_are_each_found_once() -> None:
    """Ln alpha = A0 (1 - 2x) + A1 (...) of liquids that boil alike: roots of a polynomial in x."""
    for skew in (0.0, 0.4, -0.7):
        mixture = margules([350.0, 350.0], {(0, 1): [1.0, skew]})
        found = face_points(mixture, ATMOSPHERE, (0, 1))
        # g = x(1 - x)(A0 + A1 (2x - 1)): ln alpha is its slope
        slope = np.polynomial.Polynomial([0.0, 1.0, -1.0]) * np.polynomial.Polynomial(
            [1.0 - skew, 2.0 * skew]
        )
        roots = slope.deriv().roots()
        inside = sorted(float(r.real) for r in roots if abs(r.imag) < 1e-12 and 0 < r.real < 1)
        assert sorted(float(p.mole_fraction[0]) for p in found) == pytest.approx(inside, abs=1e-7)
