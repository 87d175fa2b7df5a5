"""A search that is repeated: how finely, where, and what counts as found already."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from forerun.equilibrium import azeotropes_balanced
from forerun.equilibrium.azeotropes_balanced import balanced_points
from forerun.equilibrium.azeotropes_search import SingularPoint
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, margules

Members = tuple[int, ...]


def point(members: Members, x: list[float], temperature: float = 350.0) -> SingularPoint:
    return SingularPoint(members, temperature, np.array(x), None, ())


class Search:
    """A search of which the answers are laid down, and that remembers what it was asked.

    Args:
        monkeypatch: puts it in the place of the real one.
        first: what is found at first.
        later: what each finer search finds.
        unbalanced: faces that do not balance after the first search and after each round.
    """

    def __init__(
        self,
        monkeypatch: pytest.MonkeyPatch,
        first: list[SingularPoint],
        later: list[list[SingularPoint]],
        unbalanced: list[list[Members]],
    ) -> None:
        self.asked: list[tuple[Members, int]] = []
        self.seen: list[int] = []
        answers, faces = iter(later), iter(unbalanced)

        def finer(
            _mixture: Any, _pressure: float, face: Members, _known: Any, factor: int
        ) -> list[SingularPoint]:
            self.asked.append((face, factor))
            return next(answers, [])

        def judged(points: list[SingularPoint], _count: int) -> list[Members]:
            self.seen.append(len(points))
            return next(faces)

        monkeypatch.setattr(azeotropes_balanced, "singular_points", lambda *_: list(first))
        monkeypatch.setattr(azeotropes_balanced, "face_points", finer)
        monkeypatch.setattr(azeotropes_balanced, "unbalanced_faces", judged)


THREE = margules([350.0, 355.0, 360.0], {})
PURE = [point((k,), list(np.eye(3)[k]), 350.0 + 5.0 * k) for k in (2, 0, 1)]


def test_what_balances_is_not_searched_again(monkeypatch: pytest.MonkeyPatch) -> None:
    search = Search(monkeypatch, PURE, [], [[], []])
    found = balanced_points(THREE, ATMOSPHERE)
    assert search.asked == []
    assert (found.unbalanced, found.settled) == ((), ())
    assert [p.components for p in found.points] == [(0,), (1,), (2,)]  # coldest first


def test_a_face_that_is_settled_ends_the_search(monkeypatch: pytest.MonkeyPatch) -> None:
    new = point((0, 1), [0.4, 0.6, 0.0], 340.0)
    search = Search(monkeypatch, PURE, [[new]], [[(0, 1), (0, 1, 2)], []])
    found = balanced_points(THREE, ATMOSPHERE)
    assert [face for face, _ in search.asked] == [(0, 1)]  # the larger may only inherit it
    assert search.asked[0][1] > 1
    assert (found.unbalanced, found.settled) == ((), ((0, 1),))
    assert found.points[0] is new


def test_what_never_balances_is_searched_twice_the_second_time_more_finely(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    search = Search(monkeypatch, PURE, [], [[(0, 2)], [(0, 2)], [(0, 2)]])
    found = balanced_points(THREE, ATMOSPHERE)
    assert [face for face, _ in search.asked] == [(0, 2)] * 2
    assert 1 < search.asked[0][1] < search.asked[1][1]
    assert (found.unbalanced, found.settled) == (((0, 2),), ())


def test_a_face_that_is_upset_later_is_named_too_and_once(monkeypatch: pytest.MonkeyPatch) -> None:
    search = Search(monkeypatch, PURE, [], [[(0, 1)], [(0, 1), (1, 2)], [(0, 1)]])
    found = balanced_points(THREE, ATMOSPHERE)
    assert [face for face, _ in search.asked] == [(0, 1), (0, 1), (1, 2)]
    assert found.unbalanced == ((0, 1),)
    assert found.settled == ((1, 2),)


@pytest.mark.parametrize("count", [4, 5])
def test_many_components_are_searched_less_finely(
    count: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = tuple(range(count))
    search = Search(monkeypatch, [], [], [[whole], [whole], [whole]])
    balanced_points(margules([350.0] * count, {}), ATMOSPHERE)
    several = [factor for _, factor in search.asked]
    search = Search(monkeypatch, [], [], [[(0, 1, 2)], [(0, 1, 2)], [(0, 1, 2)]])
    balanced_points(THREE, ATMOSPHERE)
    three = [factor for _, factor in search.asked]
    assert min(several) > 1
    assert max(several) < max(three)


def test_a_point_found_again_counts_once_and_one_of_another_face_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    own = point((0, 1), [0.4, 0.6, 0.0])
    again = point((0, 1), [0.40005, 0.59995, 0.0])
    beside = point((0, 1), [0.401, 0.599, 0.0])
    other = point((0, 1, 2), [0.4, 0.59998, 2e-5])
    search = Search(monkeypatch, [own], [[again, beside, other]], [[(0, 1)], []])
    found = balanced_points(THREE, ATMOSPHERE)
    assert search.seen == [1, 3]
    assert len(found.points) == 3
    assert all(any(p is q for q in found.points) for p in (own, beside, other))
