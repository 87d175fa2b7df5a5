"""Rules of bands and consistency against what can be worked out by hand."""

from __future__ import annotations

import math
import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from forerun.equilibrium.band_rules import (
    AZEOTROPE_SHIFT,
    EIGHTY,
    LONE_SPREAD,
    SCATTER_UNKNOWN_K,
    Rule,
    boiling_half_width,
    ln_pressure_half_width,
    ln_volatility_half_width,
    origin_of,
    rule_of,
    top_half_width,
    vapour_half_width,
)
from forerun.equilibrium.consistency import (
    area_test,
    dilute_ends_test,
    pure_ends_test,
    vapour_test,
)
from forerun.equilibrium.coverage import PairBasis

RULE = Rule(0.4, 1.5, 0.03, 0.2, 0.2, 0.4, 0.3, 0.6)
X = np.linspace(0.05, 0.95, 10)
T = np.full(10, 350.0)


def _pair(**changes: Any) -> PairBasis:
    usual = {"basis": "predicted", "papers": 0, "models": ("a", "b"), "scatter": None}
    return cast(PairBasis, SimpleNamespace(**{**usual, **changes}))


PREDICTED, SEVERAL = _pair(), _pair(basis="fitted", papers=3)


@pytest.mark.parametrize(
    ("changes", "origin"),
    [
        ({"basis": "ideal"}, "ideal"),
        ({"basis": "fitted", "papers": 3}, "several papers"),
        ({"basis": "fitted", "papers": 2}, "several papers"),
        ({"basis": "fitted", "papers": 1}, "one paper"),
        ({"basis": "fitted", "papers": 0}, "models"),
        ({}, "models"),
        ({"models": ("a",)}, "one model"),
    ],
)
def test_what_a_band_rests_on(changes: dict[str, Any], origin: str) -> None:
    assert origin_of(_pair(**changes)) == origin


def test_eighty_of_a_hundred_lie_within_it() -> None:
    assert math.erf(EIGHTY / math.sqrt(2.0)) == pytest.approx(0.8, abs=1e-15)


@pytest.mark.parametrize("mixed", [1.0, 0.25, 0.01])
def test_a_boiling_band_is_a_sum_of_squares_that_fades(mixed: float) -> None:
    """Floor squared fades as the root of f; what models disagree by adds in proportion."""
    found = [boiling_half_width(PREDICTED, RULE, s, mixed) ** 2 for s in (0.0, 1.0, 3.0)]
    assert found[0] == pytest.approx(0.16 * math.sqrt(mixed), rel=1e-12)
    assert found[1] - found[0] == pytest.approx(2.25, rel=1e-12)
    assert found[2] - found[0] == pytest.approx(3.0 * 2.25, rel=1e-12)
    alone = boiling_half_width(PREDICTED, RULE, None, mixed) ** 2
    assert alone - found[0] == pytest.approx(2.25 * LONE_SPREAD * math.sqrt(mixed), rel=1e-12)


def test_a_pure_liquid_has_no_band_of_its_pair_and_papers_do_not_fade() -> None:
    assert boiling_half_width(PREDICTED, RULE, 0.0, 0.0) == 0.0
    assert boiling_half_width(PREDICTED, RULE, None, -1e-17) == 0.0
    assert boiling_half_width(SEVERAL, RULE, 0.0, 0.0) == 0.0
    assert boiling_half_width(SEVERAL, RULE, 0.0, 1e-3) == pytest.approx(0.4)
    assert boiling_half_width(SEVERAL, RULE, 0.0, 1.0) == pytest.approx(0.4)


def test_bands_of_vapour_and_ends_are_sums_of_squares() -> None:
    middle = vapour_half_width(RULE, 0.0, 0.5)
    assert middle == pytest.approx(0.03 * 0.25**0.75, rel=1e-12)
    wider = vapour_half_width(RULE, 1.0, 0.5)
    assert wider**2 - middle**2 == pytest.approx(0.04 * 0.25**1.5, rel=1e-12)
    assert vapour_half_width(RULE, 0.3, 0.2) == pytest.approx(vapour_half_width(RULE, 0.3, 0.8))
    assert vapour_half_width(RULE, 0.3, 0.0) == vapour_half_width(RULE, 0.3, 1.0) == 0.0
    assert vapour_half_width(RULE, None, 0.5) == vapour_half_width(RULE, LONE_SPREAD / 5.0, 0.5)
    assert ln_volatility_half_width(RULE, 0.0) == pytest.approx(0.2)
    assert ln_volatility_half_width(RULE, 2.0) ** 2 == pytest.approx(0.04 + 0.16 * 2.0)
    assert ln_volatility_half_width(RULE, None) == ln_volatility_half_width(RULE, LONE_SPREAD / 5)


def test_an_azeotrope_has_the_band_of_its_widest_pair() -> None:
    narrow = Rule(0.4, 1.5, 0.03, 0.2, 0.2, 0.4, 0.1, 0.2)
    alone = top_half_width([RULE], 0.5, 0.5)
    assert alone**2 == pytest.approx(0.09 * math.sqrt(0.5) + 0.36 * 0.5, rel=1e-12)
    assert top_half_width([narrow, RULE, narrow], 0.5, 0.5) == alone
    assert top_half_width([RULE], None, 1.0) == top_half_width([RULE], LONE_SPREAD, 1.0)
    assert top_half_width([], 0.5, 1.0) == 0.0
    assert top_half_width([RULE], 0.0, 0.0) == 0.0


def test_scatter_between_papers_scales_what_it_should() -> None:
    one, two = (rule_of(_pair(basis="fitted", papers=3, scatter=s)) for s in (0.5, 1.0))
    assert two.vapour_floor == pytest.approx(2.0 * one.vapour_floor)
    assert two.end_floor == pytest.approx(2.0 * one.end_floor)
    same = ("floor_K", "root_K", "top_floor_K", "top_root_K")
    assert [getattr(one, n) for n in same] == [getattr(two, n) for n in same]
    assert (one.vapour_root, one.end_root) == (0.0, 0.0)
    assert rule_of(SEVERAL) == rule_of(_pair(basis="fitted", papers=3, scatter=SCATTER_UNKNOWN_K))


def test_acids_widen_what_is_predicted_and_nothing_else() -> None:
    for changes in ({}, {"models": ("a",)}):
        plain, acid = rule_of(_pair(**changes)), rule_of(_pair(**changes), associating=True)
        assert acid.floor_K > 2.0 * plain.floor_K
        assert acid.root_K == plain.root_K
    for pair in (SEVERAL, _pair(basis="fitted", papers=1), _pair(basis="ideal")):
        assert rule_of(pair, associating=True) == rule_of(pair)


def test_a_vapour_pressure_band_is_a_sum_of_squares() -> None:
    """Spread, the factor of low pressure and what is carried beyond the data are independent."""
    at_one, reach = math.log(101325.0), (300.0, 400.0)

    def squared(ln_p: float, spread: float, t: float) -> float:
        return ln_pressure_half_width(ln_p, spread, t, reach) ** 2

    assert squared(at_one, 0.0, 350.0) == 0.0
    assert squared(at_one + 1.0, 0.0, 350.0) == 0.0  # above one atmosphere nothing is added
    assert squared(at_one, 0.02, 350.0) == pytest.approx((EIGHTY * 0.02) ** 2)
    low = squared(at_one - 4.0, 0.0, 350.0)
    assert squared(at_one - 4.0, 0.02, 350.0) == pytest.approx(low + (EIGHTY * 0.02) ** 2)
    # a power law: four times as far below is 4^(2 p) in the square
    power = math.log(low / squared(at_one - 1.0, 0.0, 350.0)) / math.log(4.0) / 2.0
    assert 1.5 < power < 2.1
    for t in (300.0, 400.0):
        assert squared(at_one, 0.0, t) == 0.0
    below, above = squared(at_one, 0.0, 280.0), squared(at_one, 0.0, 420.0)
    assert below == pytest.approx(above)
    assert squared(at_one, 0.0, 299.999) > 0.08**2  # beyond the data it is worse at once
    further = math.sqrt(squared(at_one, 0.0, 260.0)) - math.sqrt(below)
    nearer = math.sqrt(below) - math.sqrt(squared(at_one, 0.0, 299.999999))
    assert further == pytest.approx(nearer, rel=1e-5)  # and in proportion to the distance


def _margules(a: float, b: float, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return g_E/(RT x1 x2) and ln(gamma1/gamma2) of g_E/RT = x1 x2 (a + b (x1 - x2))."""
    excess = a + b * (2.0 * x - 1.0)
    return excess, excess * (1.0 - 2.0 * x) + 2.0 * b * x * (1.0 - x)


def test_areas_of_a_model_that_is_consistent_are_equal() -> None:
    """The integral of ln(gamma1/gamma2) over x is g_E(1) - g_E(0) = 0, whatever the model."""
    for a, b in ((0.8, 0.0), (0.8, 0.3), (-0.5, 0.2)):
        found = area_test(T, X, _margules(a, b, X)[1])
        assert found.passed is True
        assert found.value == pytest.approx(0.0, abs=0.1)
        assert found.limit == 10.0


def test_a_shift_makes_areas_differ_by_what_a_triangle_says() -> None:
    """A (1 - 2x) + s: triangles of (A + s)^2 and (A - s)^2, so D = 100 2 A s/(A^2 + s^2)."""
    a = 0.8
    for shift in (0.02, -0.05, 0.2):
        found = area_test(T, X, a * (1.0 - 2.0 * X) + shift)
        expected = 100.0 * 2.0 * a * abs(shift) / (a * a + shift * shift)
        assert found.value == pytest.approx(expected, rel=1e-3)
        assert found.passed is (expected <= 10.0)


def test_a_boiling_range_loosens_the_limit_of_the_areas() -> None:
    """Herington: J = 150 times range over lowest temperature, and ten more."""
    ratio = 0.8 * (1.0 - 2.0 * X)
    t = np.linspace(350.0, 385.0, 10)
    assert area_test(t, X, ratio).limit == pytest.approx(10.0 + 150.0 * 35.0 / 350.0)
    nearly = np.linspace(350.0, 350.4, 10)
    assert area_test(nearly, X, ratio).limit == 10.0


def test_what_is_nearly_ideal_or_has_few_points_is_not_judged() -> None:
    ideal = area_test(T, X, 0.05 * (1.0 - 2.0 * X))
    assert ideal.passed is None
    assert "nearly ideal" in ideal.words
    assert ideal.value is not None
    assert area_test(T[:4], X[:4], X[:4]).passed is None
    assert area_test(T[:5], X[:5], 0.8 * (1.0 - 2.0 * X[:5])).passed is not None
    assert vapour_test(X[:4], X[:4]).passed is None
    assert vapour_test(X[:5], X[:5]).passed is True


def test_vapours_may_differ_by_a_hundredth_on_average() -> None:
    for shift, passed in ((0.0099, True), (-0.0099, True), (0.0101, False)):
        found = vapour_test(X + shift, X)
        assert found.passed is passed
        assert found.value == pytest.approx(abs(shift))
        assert found.limit == 0.01


def test_at_dilute_ends_both_ways_agree_for_a_model() -> None:
    """At x1 = 0 both are ln gamma1 at infinite dilution, a - b; at x2 = 0 ln gamma2, a + b."""
    excess, ratio = _margules(0.8, 0.3, X)
    for found in dilute_ends_test(X, excess, ratio):
        assert found.passed is True
        assert found.value == pytest.approx(0.0, abs=0.1)
    first, second = dilute_ends_test(X, 1.2 * excess, ratio)
    assert first.value == pytest.approx(20.0, rel=1e-6)
    assert second.value == pytest.approx(20.0, rel=1e-6)
    assert first.passed is True
    assert dilute_ends_test(X, 0.69 * excess, ratio)[1].passed is False
    assert dilute_ends_test(X, 0.71 * excess, ratio)[1].passed is True


def test_without_points_near_both_ends_nothing_is_said_of_them() -> None:
    for x in (np.linspace(0.2, 0.95, 10), np.linspace(0.05, 0.8, 10)):
        excess, ratio = _margules(0.8, 0.0, x)
        assert [one.passed for one in dilute_ends_test(x, excess, ratio)] == [None, None]
    few = np.array([0.1, 0.4, 0.6, 0.9])
    assert dilute_ends_test(few, *_margules(0.8, 0.0, few))[0].passed is None
    calm = dilute_ends_test(X, *_margules(0.05, 0.0, X))
    assert [one.words for one in calm] == ["nearly ideal there"] * 2
    # an end each: at x1 = 0 it is 0.8 - 0.8 = 0, at x2 = 0 1.6
    half = dilute_ends_test(X, *_margules(0.8, 0.8, X))
    assert half[0].passed is None
    assert half[1].passed is True


def test_pure_ends_may_miss_by_half_a_kelvin() -> None:
    x = np.array([0.0, 0.0019, 0.5, 0.9981, 1.0])
    for miss, passed in (([0.1, -0.5, 9.0, 0.2, 0.0], True), ([0.0, 0.0, 0.0, 0.51, 0.0], False)):
        found = pure_ends_test(x, np.array(miss))
        assert found.passed is passed
        assert found.value == pytest.approx(max(abs(miss[k]) for k in (0, 1, 3, 4)))
    assert pure_ends_test(np.array([0.003, 0.997]), np.zeros(2)).passed is None


PAGE = (Path(__file__).resolve().parents[3] / "docs" / "explain" / "bands.md").read_text("utf-8")


@pytest.mark.parametrize(
    ("pair", "said"),
    [
        (SEVERAL, r"√\(\(([\d.]+) K\)² \+ ([\d.]+)² K · s\)"),
        (
            _pair(basis="fitted", papers=1),
            r"fitted to one paper \| √\(\(([\d.]+) K\)² √f \+ ([\d.]+)²",
        ),
        (PREDICTED, r"models differ by s \| √\(\(([\d.]+) K\)² √f \+ ([\d.]+)²"),
    ],
)  # fmt: skip
def test_widths_are_those_that_the_page_of_their_calibration_gives(
    pair: PairBasis, said: str
) -> None:
    found = re.search(said, PAGE)
    assert found is not None
    floor, root = (float(g) for g in found.groups())
    rule = rule_of(pair)
    assert boiling_half_width(pair, rule, 0.0, 1.0) == pytest.approx(floor)
    wider = boiling_half_width(pair, rule, 0.7, 1.0)
    assert wider**2 - floor**2 == pytest.approx(root**2 * 0.7)


def test_widths_of_vapours_acids_and_what_no_model_knows_are_those_of_the_page() -> None:
    of_models = re.search(r"√\(([\d.]+)² \+ ([\d.]+)² s\) for models", PAGE)
    of_one = re.search(r"times √\(([\d.]+)² \+ ([\d.]+)² s\)\nfor one paper", PAGE)
    for said, pair in ((of_models, PREDICTED), (of_one, _pair(basis="fitted", papers=1))):
        assert said is not None
        floor, root = (float(g) for g in said.groups())
        for spread in (0.0, 0.3):
            expected = 0.25**0.75 * math.hypot(floor, root * math.sqrt(spread))
            assert vapour_half_width(rule_of(pair), spread, 0.5) == pytest.approx(expected)
    several = re.search(r"times ([\d.]+) per kelvin of scatter for several", PAGE)
    acid = re.search(r"predicted pair the floor is ([\d.]+) K", PAGE)
    ideal = re.search(r"no model knows the pair \| ([\d.]+) K · f¼", PAGE)
    assert several is not None
    assert acid is not None
    assert ideal is not None
    scattered = rule_of(_pair(basis="fitted", papers=3, scatter=0.8))
    assert scattered.vapour_floor == pytest.approx(0.8 * float(several.group(1)))
    assert rule_of(PREDICTED, associating=True).floor_K == float(acid.group(1))
    none = _pair(basis="ideal", models=())
    for mixed in (1.0, 0.2):
        expected = float(ideal.group(1)) * mixed**0.25
        assert boiling_half_width(none, rule_of(none), None, mixed) == pytest.approx(expected)
    lone = _pair(models=("a",))
    floor = rule_of(PREDICTED).floor_K
    root = rule_of(PREDICTED).root_K
    for mixed in (1.0, 0.2):  # one model: as several that differ by half a kelvin times root f
        expected = math.sqrt(floor**2 * mixed**0.5 + root**2 * 0.5 * mixed**0.5)
        assert boiling_half_width(lone, rule_of(lone), None, mixed) == pytest.approx(expected)
    assert rule_of(lone) == rule_of(PREDICTED)


def test_widths_at_azeotropes_and_dilute_ends_are_those_of_the_page() -> None:
    top = re.search(r"temperature √\(\(([\d.]+) K\)² √f \+ ([\d.]+)² K · s\)", PAGE)
    shift = re.search(r"composition ([\d.]+) times what", PAGE)
    ends = re.search(r"to lie within ([\d.]+) of ([\d.]+) four times in five, within\n"
                     r"([\d.]+) of ([\d.]+) if one of the two is water", PAGE)  # fmt: skip
    assert top is not None
    assert shift is not None
    assert ends is not None
    floor, root = (float(g) for g in top.groups())
    for spread in (0.0, 0.8):
        expected = math.sqrt(floor**2 * math.sqrt(0.4) + root**2 * spread)
        assert top_half_width([rule_of(PREDICTED)], spread, 0.4) == pytest.approx(expected)
    assert float(shift.group(1)) == AZEOTROPE_SHIFT
    none = _pair(basis="ideal", models=())
    plain, wet = rule_of(none), rule_of(none, aqueous=True)
    found = (plain.end_floor, plain.end_middle, wet.end_floor, wet.end_middle)
    assert found == tuple(float(g) for g in ends.groups())
    assert ln_volatility_half_width(wet, None) == wet.end_floor
    assert rule_of(PREDICTED, aqueous=True) == rule_of(PREDICTED)
