"""The order of products where two of three are alike: levers and a straight border."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from forerun.equilibrium.azeotropes_search import singular_points
from forerun.equilibrium.course import (
    Product,
    _along_border,
    _leg,
    _members,
    _Pot,
    _room,
    _standing,
    course_of,
)
from forerun.equilibrium.residue import Residues
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, margules


def _bed(
    boiling: list[float], pairs: dict[tuple[int, int], float], order: tuple[int, ...] = (0, 1, 2)
) -> Residues:
    """Return the residue curves of liquids with one Margules term a pair, in another order."""
    place = [order.index(k) for k in range(3)]
    turned = {
        (min(place[i], place[j]), max(place[i], place[j])): [term] for (i, j), term in pairs.items()
    }
    arrays = margules([boiling[k] for k in order], turned)
    return Residues(arrays, ATMOSPHERE, tuple(singular_points(arrays, ATMOSPHERE)))


def _told(products: tuple[Product, ...], order: tuple[int, ...]) -> list[tuple[float, list[float]]]:
    """Return share and composition of each product in the first order."""
    place = [order.index(k) for k in range(3)]
    return [(p.share, p.mole_fraction[place].tolist()) for p in products]


@pytest.mark.parametrize("order", list(permutations(range(3))))
@pytest.mark.parametrize("feed", [(0.5, 0.2, 0.3), (0.1, 0.75, 0.15), (0.3, 0.32, 0.38)])
def test_a_light_one_comes_first_then_the_azeotrope_then_what_is_too_much(
    feed: tuple[float, float, float], order: tuple[int, ...]
) -> None:
    """A minimum of two alike, half and half: straight cuts, shares by the lever alone."""
    residues = _bed([350.0, 350.0, 330.0], {(0, 1): 1.0}, order)
    course = course_of([feed[k] for k in order], residues)
    less, more = (0, 1) if feed[0] < feed[1] else (1, 0)
    expected = [
        (feed[2], [0.0, 0.0, 1.0]),
        (2.0 * feed[less], [0.5, 0.5, 0.0]),
        (feed[more] - feed[less], list(np.eye(3)[more])),
    ]
    found = _told(course.products, order)
    assert [s for s, _ in found] == pytest.approx([s for s, _ in expected], abs=2e-3)
    for (_, x), (_, wanted) in zip(found, expected, strict=True):
        assert x == pytest.approx(wanted, abs=2e-3)
    assert course.warnings == ()
    assert not any(p.stays for p in course.products[:-1])


@pytest.mark.parametrize("order", list(permutations(range(3))))
@pytest.mark.parametrize("feed", [(0.5, 0.2, 0.3), (0.1, 0.3, 0.6), (0.2, 0.32, 0.48)])
def test_a_pot_that_meets_a_border_goes_along_it(
    feed: tuple[float, float, float], order: tuple[int, ...]
) -> None:
    """Under a maximum of two alike the border is the line of equal shares: a sum over the border.

    What there is too much of comes first, pure; then both alike, at last the heavy one.
    """
    residues = _bed([350.0, 350.0, 372.0], {(0, 1): -1.0}, order)
    course = course_of([feed[k] for k in order], residues)
    less, more = (0, 1) if feed[0] < feed[1] else (1, 0)
    expected = [
        (feed[more] - feed[less], list(np.eye(3)[more])),
        (2.0 * feed[less], [0.5, 0.5, 0.0]),
        (feed[2], [0.0, 0.0, 1.0]),
    ]
    found = _told(course.products, order)
    assert [s for s, _ in found] == pytest.approx([s for s, _ in expected], abs=6e-3)
    for (_, x), (_, wanted) in zip(found, expected, strict=True):
        assert x == pytest.approx(wanted, abs=6e-3)
    whole = sum(p.share * p.mole_fraction for p in course.products)
    assert whole == pytest.approx(course.feed, abs=1e-3)
    assert course.behind is not None
    assert course.behind.components == (order.index(more),)
    # the pot is seen on its way: straight to the border, then on it
    pot = course.pot[:, [order.index(k) for k in range(3)]]
    assert pot[0] == pytest.approx(feed)
    late = pot[1:]
    assert np.abs(late[:, 0] - late[:, 1]).max() < 0.03  # to and fro across it, in steps of 0.02
    assert late.shape[0] > 3


@pytest.mark.parametrize("order", list(permutations(range(3))))
@pytest.mark.parametrize("alike", [0.05, 0.2, 0.4])
def test_a_charge_on_the_border_runs_along_it_and_says_how_lightly(
    alike: float, order: tuple[int, ...]
) -> None:
    """Two alike in equal shares: their maximum comes first, the heavy one stays."""
    residues = _bed([350.0, 350.0, 372.0], {(0, 1): -1.0}, order)
    feed = (alike, alike, 1.0 - 2.0 * alike)
    course = course_of([feed[k] for k in order], residues)
    found = _told(course.products, order)
    assert [s for s, _ in found] == pytest.approx([2.0 * alike, 1.0 - 2.0 * alike], abs=0.015)
    assert found[0][1] == pytest.approx([0.5, 0.5, 0.0], abs=2e-3)
    assert found[1][1] == pytest.approx([0.0, 0.0, 1.0], abs=0.015)
    assert [p.point.components for p in course.products if p.point is not None] == [
        tuple(sorted((order.index(0), order.index(1)))),
        (order.index(2),),
    ]
    (warning,) = course.warnings
    assert "any disturbance leaves it" in warning


def test_a_leg_ends_at_the_border_and_says_so() -> None:
    residues = _bed([350.0, 350.0, 372.0], {(0, 1): -1.0})
    pot = _Pot(np.array([0.5, 0.2, 0.3]), 0.8)
    node = residues.origin(pot.x)
    assert node is not None
    assert node.components == (0,)
    ahead, product, border = _leg(pot, node, residues)
    assert border is True
    assert product.point is node
    assert product.share == pytest.approx(0.8 * 0.3, abs=3e-3)
    assert ahead.left == pytest.approx(0.8 * 0.7, abs=3e-3)
    assert ahead.x[0] == pytest.approx(ahead.x[1], abs=5e-3)
    assert ahead.x[0] < ahead.x[1]  # just beyond, where the other one comes over
    plain = _bed([350.0, 350.0, 330.0], {(0, 1): 1.0})
    start = plain.origin(pot.x)
    assert start is not None
    assert _leg(pot, start, plain)[2] is False


def test_what_boils_along_a_border_is_what_the_pot_loses() -> None:
    residues = _bed([350.0, 350.0, 372.0], {(0, 1): -1.0})
    pot, way = _Pot(np.array([0.2, 0.2002, 0.5998]), 0.7), []
    ahead, blend = _along_border(pot, residues, way)
    assert blend is not None
    assert ahead.left * ahead.x + blend.share * blend.mole_fraction == pytest.approx(
        0.7 * pot.x, abs=1e-6
    )
    assert blend.share == pytest.approx(0.7 * 0.4, abs=0.012)  # to where the pot stands
    assert len(way) >= 3
    assert way[-1] == pytest.approx(ahead.x)
    spent = _Pot(np.array([0.2, 0.2002, 0.5998]), 5e-4)
    assert _along_border(spent, residues, []) == (spent, None)


def test_a_pot_near_the_last_point_of_its_components_stands() -> None:
    residues = _bed([350.0, 350.0, 372.0], {(0, 1): -1.0})
    last = _standing(_Pot(np.array([0.005, 0.004, 0.991]), 0.1), residues)
    assert last is not None
    assert last.components == (2,)
    assert _standing(_Pot(np.array([0.02, 0.0, 0.98]), 0.1), residues) is None
    pair = _standing(_Pot(np.array([0.505, 0.495, 0.0]), 0.1), residues)
    assert pair is not None
    assert pair.components == (0, 1)  # the end of its own face, though a saddle of the whole
    assert _standing(_Pot(np.array([0.4, 0.3, 0.3]), 0.1), residues) is None


def test_room_is_what_the_scarcest_allows() -> None:
    residues = _bed([350.0, 350.0, 330.0], {(0, 1): 1.0})
    (azeotrope,) = [p for p in residues.points if len(p.components) == 2]
    pot = _Pot(np.array([0.3, 0.1, 0.6]), 1.0)
    assert _room(pot, azeotrope) == pytest.approx(0.2)
    assert _members(pot) == (0, 1, 2)
    assert _members(_Pot(np.array([0.3, 0.0, 0.7]), 1.0)) == (0, 2)
