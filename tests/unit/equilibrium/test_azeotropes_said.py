"""What is said of azeotropes that some models alone show, and how finely a pair is searched."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from forerun.equilibrium import azeotropes_search
from forerun.equilibrium.azeotropes import _balance, _shown_alone
from forerun.equilibrium.azeotropes_search import SingularPoint, face_points
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, margules


def _point(*members: int) -> SingularPoint:
    x = np.zeros(3)
    x[list(members)] = 1.0 / len(members)
    return SingularPoint(members, 350.0, x, None, ())


def _mixture(fitted: tuple[int, int] | None = None) -> Any:
    pairs = () if fitted is None else (SimpleNamespace(basis="fitted", components=fitted),)
    return cast(
        Any, SimpleNamespace(substances=("a", "b", "c"), names=("a", "b", "c"), pairs=pairs)
    )


BY_MODEL = ((_point(0, 1), _point(0)), (_point(0, 1), _point(1, 2)), (_point(0, 1, 2),))


def test_pairs_that_a_model_alone_shows_are_counted() -> None:
    both = [
        "a + b: 2 of 3 models alone show an azeotrope, their mean does not.",
        "b + c: 1 of 3 models alone show an azeotrope, their mean does not.",
    ]
    assert _shown_alone(_mixture(), (), BY_MODEL, ()) == both
    assert _shown_alone(_mixture(), (_point(0), _point(1)), BY_MODEL, ()) == both
    assert _shown_alone(_mixture(), (_point(0, 1),), BY_MODEL, ()) == both[1:]
    assert _shown_alone(_mixture(), (), BY_MODEL, {(0, 1)}) == both[1:]
    assert _shown_alone(_mixture((1, 2)), (), BY_MODEL, ()) == both[:1]
    assert _shown_alone(_mixture(), (), (), ()) == []


def test_a_map_that_does_not_balance_is_named_with_its_face() -> None:
    def of(**faces: tuple[tuple[int, ...], ...]) -> list[str]:
        given = {"unbalanced": (), "settled": (), **faces}
        return list(_balance(_mixture(), cast(Any, SimpleNamespace(**given))))

    assert of() == []
    (left,) = of(unbalanced=((0, 1),))
    (done,) = of(settled=((1, 2),))
    assert "a" in left
    assert "may have been missed" in left
    assert "settled it" in done
    assert len(of(unbalanced=((0, 1),), settled=((1, 2),))) == 2


def test_a_finer_search_of_a_pair_looks_at_more_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    looked: list[int] = []
    whole = azeotropes_search.scan_pair

    def counted(pressure: float, logits: np.ndarray, *rest: Any) -> None:
        looked.append(logits.size)
        assert np.all(np.diff(logits) > 0.0)
        assert logits == pytest.approx(-logits[::-1])
        whole(pressure, logits, *rest)

    monkeypatch.setattr(azeotropes_search, "scan_pair", counted)
    mixture = margules([350.0, 360.0], {(0, 1): [1.0]})
    found = [face_points(mixture, ATMOSPHERE, (0, 1), finer=finer) for finer in (1, 3)]
    assert looked[1] > 2.5 * looked[0] > 0
    one, three = (float(points[0].mole_fraction[0]) for points in found)
    assert three == pytest.approx(one, abs=1e-9)
