"""How finely is searched and when that ends: a tenth more or one more gives the same answers."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from forerun.equilibrium import azeotropes_search, bubble, course, pressure_shift, residue
from forerun.equilibrium.azeotropes_search import SingularPoint, singular_points
from forerun.equilibrium.bubble import dew_temperature
from forerun.equilibrium.course import course_of
from forerun.equilibrium.mixture import mixture_of
from forerun.equilibrium.pressure_shift import shifts_between
from forerun.equilibrium.residue import Residues
from forerun.substances.catalogue import find
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, margules

ONE_LIQUID = margules([348.0, 350.0, 352.0], {(0, 1): [-0.9], (0, 2): [0.8], (1, 2): [0.7]})
TWO_LIQUIDS = margules([350.0, 350.0, 352.0], {(0, 1): [2.9], (0, 2): [1.2], (1, 2): [1.2]})
SKEWED = margules([350.0, 355.0], {(0, 1): [0.2, 0.9]})
FOUR = margules([350.0, 353.0, 356.0, 350.5], {(0, 1): [1.0], (2, 3): [-0.6], (1, 3): [0.8]})


def _scan(
    edge: float = 18.0, near: float = 4.0, many: int = 28, least: float = 0.02, more: int = 48
) -> np.ndarray:
    """Return a scan of ln(x1/x2): evenly in it towards both ends, evenly in x between."""
    dilute = np.linspace(-edge, -near, many + 1)
    x = np.linspace(least, 1.0 - least, more + 1)[1:-1]
    return np.concatenate([dilute, np.log(x / (1.0 - x)), -dilute[::-1]])


def _assert_same(one: list[SingularPoint], other: list[SingularPoint]) -> None:
    assert [p.components for p in one] == [p.components for p in other]
    for a, b in zip(one, other, strict=True):
        assert a.temperature_K == pytest.approx(b.temperature_K, abs=1e-7)
        assert a.mole_fraction == pytest.approx(b.mole_fraction, abs=1e-7)
        assert a.eigenvalues == pytest.approx(b.eigenvalues, abs=1e-5)


CHANGES = [
    ("_EDGE", 19.8), ("_TANGENT", 0.033), ("_PAIR_ALONE", 0.99), ("_SAME", 1.1e-4),
    ("_TRACE", 1.1e-9), ("_STEPS", {3: 19, 4: 12, 5: 9}), ("_LOGITS", _scan(edge=19.8)),
    ("_LOGITS", _scan(near=4.4)), ("_LOGITS", _scan(many=29)), ("_LOGITS", _scan(least=0.022)),
    ("_LOGITS", _scan(more=49)),
]  # fmt: skip


@pytest.mark.parametrize(("name", "value"), CHANGES, ids=lambda v: v if isinstance(v, str) else "")
def test_a_search_finds_the_same_azeotropes_a_little_more_finely(
    name: str, value: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    beds = (ONE_LIQUID, TWO_LIQUIDS, SKEWED, FOUR)
    before = [singular_points(bed, ATMOSPHERE) for bed in beds]
    monkeypatch.setattr(azeotropes_search, name, value)
    for bed, points in zip(beds, before, strict=True):
        _assert_same(singular_points(bed, ATMOSPHERE), points)


def _products(residues: Residues, feed: tuple[float, ...]) -> list[tuple[float, list[float]]]:
    return [(p.share, p.mole_fraction.tolist()) for p in course_of(feed, residues).products]


COURSE = ["_SPENT", "_AT_NODE", "_LEAST", "_LOOKS", "_BORDER", "_MOST_STEPS", "_MOST_PRODUCTS",
          "_ALONG", "_CRUMB"]  # fmt: skip


@pytest.mark.parametrize("name", COURSE)
def test_an_order_has_the_same_products_to_a_hundredth(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Through straight cuts, along a border and to an azeotrope that stays."""
    cases = []
    for boiling, pairs, feed in (
        ([350.0, 350.0, 330.0], {(0, 1): [1.0]}, (0.5, 0.2, 0.3)),
        ([350.0, 350.0, 372.0], {(0, 1): [-1.0]}, (0.5, 0.2, 0.3)),
        ([350.0, 360.0, 390.0], {}, (0.2, 0.3, 0.5)),
    ):
        arrays = margules(boiling, pairs)
        residues = Residues(arrays, ATMOSPHERE, tuple(singular_points(arrays, ATMOSPHERE)))
        cases.append((residues, feed, _products(residues, feed)))
    value = getattr(course, name)
    monkeypatch.setattr(course, name, value + 1 if isinstance(value, int) else 1.1 * value)
    for residues, feed, before in cases:
        found = _products(residues, feed)
        assert len(found) == len(before)
        for (share, x), (own, own_x) in zip(found, before, strict=True):
            assert share == pytest.approx(own, abs=0.01)
            assert x == pytest.approx(own_x, abs=0.01)


@pytest.mark.parametrize("name", ["_CLOSE", "_LOST", "_ROWS"])
def test_a_residue_curve_has_the_same_ends(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    residues = Residues(ONE_LIQUID, ATMOSPHERE, tuple(singular_points(ONE_LIQUID, ATMOSPHERE)))
    feeds = ([0.2, 0.3, 0.5], [0.5, 0.4, 0.1], [0.1, 0.8, 0.1])
    before = [residues.curve(z, way) for z in feeds for way in (1, -1)]  # type: ignore[arg-type]
    value = getattr(residue, name)
    monkeypatch.setattr(residue, name, value + 1 if isinstance(value, int) else 1.1 * value)
    after = [residues.curve(z, way) for z in feeds for way in (1, -1)]  # type: ignore[arg-type]
    for one, other in zip(before, after, strict=True):
        assert one.end is other.end is not None
        least = min(len(one.left), len(other.left)) - 1
        assert one.mole_fraction[:least] == pytest.approx(other.mole_fraction[:least], abs=1e-9)


@pytest.mark.parametrize("name", ["_DEW_STEPS", "_LONGEST_STEP", "_DEW_AGREEMENT", "_GUESS"])
def test_a_dew_point_is_the_assert_same(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    mixture = mixture_of([find(n) for n in ("acetone", "methanol", "toluene")])
    vapours = ([0.2, 0.3, 0.5], [0.03, 0.9, 0.07], [0.7, 0.0, 0.3])
    before = [dew_temperature(y, 60e3, mixture) for y in vapours]
    value = getattr(bubble, name)
    monkeypatch.setattr(bubble, name, value + 1 if isinstance(value, int) else 1.1 * value)
    for y, (temperature, x) in zip(vapours, before, strict=True):
        found, liquid = dew_temperature(y, 60e3, mixture)
        assert found == pytest.approx(temperature, abs=1e-7)
        assert liquid == pytest.approx(x, abs=1e-8)


@pytest.mark.parametrize("name", ["_HALVINGS", "_JUMP"])
def test_an_azeotrope_appears_at_the_same_pressure(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    mixture = mixture_of([find("ethanol"), find("water")])
    (before,) = shifts_between(mixture, 5e3, 2e4)
    value = getattr(pressure_shift, name)
    monkeypatch.setattr(pressure_shift, name, value + 1 if isinstance(value, int) else 1.1 * value)
    (after,) = shifts_between(mixture, 5e3, 2e4)
    assert before.appears_Pa is not None
    assert after.appears_Pa == pytest.approx(before.appears_Pa, rel=5e-3)
    assert after.mole_fraction == pytest.approx(before.mole_fraction, abs=1e-9)
