"""How residue curves run around an azeotrope, where Margules gives the slopes on paper."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forerun.equilibrium.azeotropes_search import part_of, singular_points
from forerun.equilibrium.azeotropes_solutions import (
    Solution,
    inner_eigenvalues,
    outer_eigenvalues,
    second_share,
)
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, SLOPE, margules


@pytest.mark.parametrize("strength", [1.5, 0.8, -0.9])
@pytest.mark.parametrize("boiling", [[350.0, 350.0], [350.0, 356.0], [356.0, 350.0]])
def test_the_slope_of_an_azeotrope_of_two_is_that_of_margules(
    boiling: list[float], strength: float
) -> None:
    """1 - dy/dx = 2 A x1 x2, for d ln(y1/y2)/dx = 1/(x1 x2) - 2 A where T does not change."""
    arrays = margules(boiling, {(0, 1): [strength]})
    (point,) = [p for p in singular_points(arrays, ATMOSPHERE) if len(p.components) == 2]
    x = point.mole_fraction
    found = inner_eigenvalues(ATMOSPHERE, arrays, Solution(point.temperature_K, x, None))
    assert found == pytest.approx((2.0 * strength * x[0] * x[1],), rel=1e-5)


@pytest.mark.parametrize("strength", [0.9, 1.4, -0.6])
def test_slopes_in_the_middle_of_three_alike_are_equal(strength: float) -> None:
    """All three alike: Hessian of g = A (x1 x2 + x1 x3 + x2 x3) is -A times one, so A/3 twice.

    Derivation: y = x gamma P(T)/P and dT = 0 at the azeotrope, so dy_i = dx_i + x_i d ln gamma_i;
    ln gamma_i = A (1 - x_i) - g gives d ln gamma_i = -A dx_i there, and 1 - dy/dx = A/3.
    """
    arrays = margules([350.0] * 3, {p: [strength] for p in ((0, 1), (0, 2), (1, 2))})
    temperature = 350.0 / (1.0 + strength / 3.0 / SLOPE)
    middle = Solution(temperature, np.full(3, 1.0 / 3.0), None)
    found = inner_eigenvalues(ATMOSPHERE, arrays, middle)
    assert found == pytest.approx((strength / 3.0,) * 2, rel=1e-5)


def test_eigenvalues_come_in_order_and_a_pure_liquid_has_none() -> None:
    pairs = {(0, 1): [-0.9], (0, 2): [0.8], (1, 2): [0.7]}
    arrays = margules([348.0, 350.0, 352.0], pairs)
    (point,) = [p for p in singular_points(arrays, ATMOSPHERE) if len(p.components) == 3]
    low, high = point.inside
    assert low < 0.0 < high
    assert inner_eigenvalues(ATMOSPHERE, arrays, Solution(350.0, np.ones(1), None)) == ()


def test_over_two_liquids_and_over_a_levelled_gap_the_vapour_stays() -> None:
    arrays = margules([350.0, 355.0], {(0, 1): [2.6]})
    x, layers = np.array([0.5, 0.5]), (np.array([0.1, 0.9]), np.array([0.9, 0.1]))
    assert inner_eigenvalues(ATMOSPHERE, arrays, Solution(331.0, x, layers)) == (1.0,)
    assert inner_eigenvalues(ATMOSPHERE, arrays, Solution(331.0, x, None, True)) == (1.0,)
    assert inner_eigenvalues(ATMOSPHERE, arrays, Solution(331.0, x, None)) != (1.0,)


def test_eigenvalues_over_two_liquids_of_three_are_those_of_differences() -> None:
    """A third that is nearly ideal with both halves of a gap: along the tie line nothing moves."""
    arrays = margules([350.0, 350.0, 352.0], {(0, 1): [2.9], (0, 2): [1.2], (1, 2): [1.2]})
    found = [p for p in singular_points(arrays, ATMOSPHERE) if len(p.components) == 3 and p.liquids]
    (point,) = found
    assert point.liquids is not None
    first, second = point.liquids
    assert second[2] == pytest.approx(first[2], abs=1e-6)  # the gap lies straight
    assert max(point.inside) == pytest.approx(1.0, abs=1e-5)  # along it the vapour stays
    # across it: y3 = x3 exp(ln gamma3) P3(T)/P while both layers keep to their tie lines
    values = []
    for x3 in (first[2] - 1e-4, first[2] + 1e-4):
        values.append(_over_layers(x3, 2.9, 1.2, (350.0, 352.0)))
    slope = 1.0 - (values[1] - values[0]) / 2e-4
    assert min(point.inside) == pytest.approx(slope, abs=2e-4)


def _over_layers(x3: float, gap: float, outer: float, boiling: tuple[float, float]) -> float:
    """Return y3 over the layers (p, q, x3) and (q, p, x3) that boil together, on paper."""
    low, high = 1e-9, 0.5 * (1.0 - x3) - 1e-6
    for _ in range(200):
        p = 0.5 * (low + high)
        q = 1.0 - x3 - p
        low, high = (p, high) if math.log(p / q) < gap * (p - q) else (low, p)
    ln = [gap * q + outer * x3, gap * p + outer * x3, outer * (1.0 - x3)]
    g = gap * p * q + outer * x3 * (1.0 - x3)
    cold, hot = 300.0, 370.0
    for _ in range(100):
        t = 0.5 * (cold + hot)
        tb = (boiling[0], boiling[0], boiling[1])
        parts = [
            x * math.exp(one - g + SLOPE * (1.0 - b / t))
            for x, one, b in zip((p, q, x3), ln, tb, strict=True)
        ]
        cold, hot = (t, hot) if sum(parts) < 1.0 else (cold, t)
    return parts[2]


PAIRS = {(0, 1): [1.1], (0, 2): [0.4], (1, 2): [-0.3]}
BOILING = [350.0, 353.0, 361.0]


@pytest.mark.parametrize("pure", [0, 1, 2])
def test_what_is_absent_leaves_a_pure_liquid_by_its_volatility_at_infinite_dilution(
    pure: int,
) -> None:
    """1 - exp(A) P_j(T)/P for each absent one, in their order."""
    arrays, t = margules(BOILING, PAIRS), BOILING[pure]
    found = outer_eigenvalues(arrays, (pure,), Solution(t, np.ones(1), None))
    expected = [
        1.0 - math.exp(PAIRS[min(j, pure), max(j, pure)][0] + SLOPE * (1.0 - BOILING[j] / t))
        for j in range(3)
        if j != pure
    ]
    assert found == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("pair", [(0, 1), (0, 2), (1, 2)])
def test_what_is_absent_leaves_an_azeotrope_by_its_volatility_there(pair: tuple[int, int]) -> None:
    arrays = margules([350.0, 351.0, 352.0], {(0, 1): [0.9], (0, 2): [-0.8], (1, 2): [0.7]})
    terms = {(0, 1): 0.9, (0, 2): -0.8, (1, 2): 0.7}
    (point,) = [p for p in singular_points(arrays, ATMOSPHERE) if p.components == pair]
    (absent,) = {0, 1, 2} - set(pair)
    i, j = pair
    x, t = point.mole_fraction, point.temperature_K
    ln_gamma = (
        terms[min(i, absent), max(i, absent)] * x[i]
        + terms[min(j, absent), max(j, absent)] * x[j]
        - terms[pair] * x[i] * x[j]
    )
    tb = (350.0, 351.0, 352.0)[absent]
    alone = Solution(t, x[list(pair)], None)
    (found,) = outer_eigenvalues(arrays, pair, alone)
    assert found == pytest.approx(1.0 - math.exp(ln_gamma + SLOPE * (1.0 - tb / t)), rel=1e-5)
    assert outer_eigenvalues(arrays, (0, 1, 2), Solution(350.0, np.full(3, 1 / 3), None)) == ()


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_two_layers_give_off_what_is_absent_from_each_as_it_is_spread_over_them(
    share: float,
) -> None:
    """Layers (a, b) and (b, a): K1 and K2 by hand, and z/y = (1 - s)/K1 + s/K2."""
    arrays = margules([350.0, 350.0, 352.0], {(0, 1): [2.6], (0, 2): [1.5], (1, 2): [0.2]})
    part = part_of(arrays, (0, 1))
    (point,) = [p for p in singular_points(part, ATMOSPHERE) if len(p.components) == 2]
    assert point.liquids is not None
    first, second = point.liquids
    x = (1.0 - share) * first + share * second
    t = point.temperature_K
    k = [
        math.exp(1.5 * one[0] + 0.2 * one[1] - 2.6 * one[0] * one[1] + SLOPE * (1.0 - 352.0 / t))
        for one in (first, second)
    ]
    solution = Solution(t, x, (first, second))
    assert second_share(solution) == pytest.approx(share, abs=1e-9)
    (found,) = outer_eigenvalues(arrays, (0, 1), solution)
    over = 1.0 / ((1.0 - share) / k[0] + share / k[1])
    assert abs(k[0] / k[1] - 1.0) > 0.5
    assert found == pytest.approx(1.0 - over, rel=1e-6)


def test_the_share_of_a_layer_is_that_of_the_lever_in_the_component_that_differs_most() -> None:
    layers = (np.array([0.10, 0.30, 0.60]), np.array([0.12, 0.80, 0.08]))
    for share in (0.0, 0.3, 1.0):
        x = (1.0 - share) * layers[0] + share * layers[1]
        assert second_share(Solution(350.0, x, layers)) == pytest.approx(share, abs=1e-12)
        nudged = x + np.array([0.004, 0.0, -0.004])  # what differs least would be off by 0.2
        found = second_share(Solution(350.0, nudged, layers))
        assert found == pytest.approx(share, abs=0.02)
