"""Azeotropes found without a guess, against mixtures whose answer is known on paper."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forerun.equilibrium.azeotropes_kernels import coldest
from forerun.equilibrium.azeotropes_search import boiling_points, part_of, singular_points
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, SLOPE, margules


def _azeotropes(mixture, pressure=ATMOSPHERE, **options):
    points = singular_points(mixture, pressure, **options)
    return [p for p in points if len(p.components) > 1]


def _margules_azeotrope(low, high, strength):
    """Solve A (1 - 2 x) = SLOPE (Tb1 - Tb2)/T with P at the azeotrope by bisection, on paper."""
    # ln gamma1 - ln gamma2 = A (1 - 2 x); ln(P1/P2) = SLOPE (Tb2 - Tb1)/T
    x = 0.5
    temperature = low
    for _ in range(500):
        x = 0.5 * (1.0 + SLOPE * (high - low) / (temperature * strength))
        temperature = SLOPE * low / (SLOPE + strength * (1.0 - x) ** 2)
    return x, temperature


@pytest.mark.parametrize("strength", [0.6, 1.0, 1.9, -0.8, -1.5])
def test_one_term_margules_has_its_azeotrope_where_paper_puts_it(strength):
    (point,) = _azeotropes(margules([350.0, 360.0], {(0, 1): [strength]}))
    x, temperature = _margules_azeotrope(350.0, 360.0, strength)
    assert point.mole_fraction[0] == pytest.approx(x, abs=1e-9)
    assert point.temperature_K == pytest.approx(temperature, abs=1e-6)
    assert (point.eigenvalues[0] > 0.0) == (strength > 0.0)


def test_boiling_points_handed_over_change_nothing():
    mixture = margules([350.0, 360.0], {(0, 1): [1.5]})
    own = singular_points(mixture, ATMOSPHERE)
    pure = boiling_points(mixture, ATMOSPHERE)
    handed = singular_points(mixture, ATMOSPHERE, pure_temperatures=pure)
    assert [p.temperature_K for p in handed] == [p.temperature_K for p in own]


def test_two_liquids_that_do_not_mix_at_all_boil_at_the_bound():
    """P1(T) + P2(T) = P, on paper by bisection; the bound lies half a per cent lower."""
    low, high = 250.0, 350.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        over = sum(math.exp(SLOPE * (1.0 - t / middle)) for t in (350.0, 360.0)) > 1.0
        low, high = (low, middle) if over else (middle, high)
    bound = coldest(ATMOSPHERE, 350.0, margules([350.0, 360.0], {}))
    assert bound == pytest.approx(0.995 * low, abs=0.05)


@pytest.mark.parametrize("strength", [0.0, 0.2, -0.2])
def test_none_where_the_pair_is_too_nearly_ideal(strength):
    assert _azeotropes(margules([350.0, 360.0], {(0, 1): [strength]})) == []


@pytest.mark.parametrize("distance", [1e-2, 1e-3, 2e-4])
def test_azeotropes_close_to_a_pure_liquid_are_resolved(distance):
    """At x = 1 - d: A = D/(1 - 2 d) with D = SLOPE (Tb2 - Tb1)/T; T within 1e-5 of Tb1."""
    strength = SLOPE * 10.0 / 350.0 / (1.0 - 2.0 * distance)
    (point,) = _azeotropes(margules([350.0, 360.0], {(0, 1): [strength]}))
    assert 1.0 - point.mole_fraction[0] == pytest.approx(distance, rel=0.02)


def test_two_azeotropes_of_one_pair_are_both_found():
    """Equal boiling points and ln alpha = A1 times a cubic: roots by closed form.

    g = x1 x2 A1 (x1 - x2) gives ln gamma1 - ln gamma2 = dg/dx1 = A1 (6 x1 - 6 x1^2 - 1).
    """
    found = _azeotropes(margules([350.0, 350.0], {(0, 1): [0.0, 0.7]}))
    roots = sorted((0.5 * (1.0 + sign * math.sqrt(1.0 / 3.0))) for sign in (-1.0, 1.0))
    assert sorted(p.mole_fraction[0] for p in found) == pytest.approx(roots, abs=1e-9)
    assert {p.eigenvalues[0] > 0.0 for p in found} == {True, False}


def test_two_azeotropes_between_neighbouring_grid_points_are_found():
    """Boiling points chosen on paper so that one root is x1 = 0.497; its twin lies beyond 1/2."""
    strength, x1 = 0.7, 0.497
    x2 = 1.0 - x1
    g, slope = x1 * x2 * strength * (x1 - x2), strength * (6.0 * x1 * x2 - 1.0)
    ln_gamma = (g + x2 * slope, g - x1 * slope)
    temperature = 350.0 * SLOPE / (SLOPE + ln_gamma[0])
    other = temperature * (SLOPE + ln_gamma[1]) / SLOPE
    found = _azeotropes(margules([350.0, other], {(0, 1): [0.0, strength]}))
    assert len(found) == 2
    assert min(abs(p.mole_fraction[0] - x1) for p in found) < 1e-6


def test_crossing_inside_a_gap_becomes_the_heteroazeotrope():
    """Symmetric gap: activities a1 = a2 = a, so P = a (P1 + P2) and y1 = P1/(P1 + P2)."""
    (point,) = _azeotropes(margules([350.0, 360.0], {(0, 1): [3.0]}))
    assert point.liquids is not None
    poor, rich = point.liquids
    a = poor[0] * math.exp(3.0 * (1.0 - poor[0]) ** 2)
    pure = [ATMOSPHERE * math.exp(SLOPE * (1.0 - t / point.temperature_K)) for t in (350.0, 360.0)]
    assert a * sum(pure) == pytest.approx(ATMOSPHERE, rel=1e-7)
    assert point.mole_fraction[0] == pytest.approx(pure[0] / sum(pure), abs=1e-7)
    assert poor[0] < point.mole_fraction[0] < rich[0]


def test_vapour_outside_the_gap_makes_no_heteroazeotrope():
    """At x = 0.9292 of the rich liquid the vapour over both is richer still: no azeotrope."""
    mixture = margules([350.0, 480.0], {(0, 1): [3.0]})
    assert _azeotropes(mixture) == []


def test_known_miscibility_levels_a_false_split():
    mixture = margules([350.0, 360.0], {(0, 1): [2.5]})
    (split,) = _azeotropes(mixture)
    (level,) = _azeotropes(mixture, miscible=frozenset({(0, 1)}))
    assert split.liquids is not None
    assert level.liquids is None
    assert level.flattened
    assert level.temperature_K == pytest.approx(split.temperature_K, abs=1e-9)


def test_pressure_moves_and_ends_an_azeotrope():
    """With heats that differ, the volatile one gains at high pressure until none is left."""
    mixture = margules([350.0, 355.0], {(0, 1): [0.3]})
    vapour = mixture.vapour_pressure.copy()
    vapour[1, :2] = [math.log(ATMOSPHERE) + 14.0, -14.0 * 355.0]
    steep = mixture._replace(vapour_pressure=vapour)
    counts = [len(_azeotropes(steep, p)) for p in (2e3, 101325.0, 4e5)]
    assert counts[0] == 0
    assert counts[1] == 1
    positions = [_azeotropes(steep, p)[0].mole_fraction[0] for p in (8e4, 101325.0, 1.2e5)]
    assert positions[0] > positions[1] > positions[2]


_TERNARIES = {
    "minimum": ([350.0, 355.0, 360.0], {(0, 1): [1.0], (0, 2): [1.3], (1, 2): [1.2]}),
    "saddle": ([350.0, 355.0, 360.0], {(0, 1): [-1.0], (0, 2): [1.3], (1, 2): [-1.2]}),
    "heterogeneous": ([350.0, 355.0, 370.0], {(0, 1): [1.2], (0, 2): [4.0], (1, 2): [1.0]}),
    "no ternary": ([340.0, 355.0, 370.0], {(0, 1): [1.0], (0, 2): [1.0], (1, 2): [1.0]}),
}


def _index_sum(points):
    return sum(2 ** len(p.components) * (-1) ** sum(v < 0.0 for v in p.eigenvalues) for p in points)


@pytest.mark.parametrize("name", _TERNARIES)
def test_ternary_points_balance(name):
    points = singular_points(margules(*_TERNARIES[name]), ATMOSPHERE)
    assert _index_sum(points) == 2
    inner = [p for p in points if len(p.components) == 3]
    assert len(inner) == (0 if name == "no ternary" else 1)
    for point in inner:
        assert (point.liquids is not None) == (name == "heterogeneous")
        assert (min(point.eigenvalues) < 0.0 < max(point.eigenvalues)) == (name == "saddle")


def test_symmetric_ternary_azeotrope_sits_in_the_middle():
    mixture = margules([350.0] * 3, {(0, 1): [0.9], (0, 2): [0.9], (1, 2): [0.9]})
    inner = [p for p in singular_points(mixture, ATMOSPHERE) if len(p.components) == 3]
    (point,) = inner
    assert point.mole_fraction == pytest.approx(np.full(3, 1.0 / 3.0), abs=1e-9)
    # g = 0.9 (x1 x2 + x1 x3 + x2 x3): ln gamma = 0.9 (1 - 2/3 + 1/3 - 1/3)
    ln_gamma = 0.9 * (2.0 / 3.0 - 1.0 / 3.0)
    assert point.temperature_K == pytest.approx(350.0 * SLOPE / (SLOPE + ln_gamma), abs=1e-6)


@settings(max_examples=12, deadline=None)
@given(
    boiling=st.lists(st.floats(330.0, 390.0), min_size=3, max_size=3),
    strengths=st.lists(st.floats(-1.5, 1.8), min_size=3, max_size=3),
)
def test_random_homogeneous_ternaries_balance(boiling, strengths):
    pairs = dict(zip([(0, 1), (0, 2), (1, 2)], ([a] for a in strengths), strict=True))
    points = singular_points(margules(boiling, pairs), ATMOSPHERE)
    margin = min(abs(v) for p in points for v in p.eigenvalues)
    if margin > 0.02:  # nearer to zero a point is just passing through an edge
        assert _index_sum(points) == 2


@settings(max_examples=60, deadline=None)
@given(
    other=st.floats(330.0, 520.0),
    strength=st.floats(-3.0, 9.0),
    skew=st.floats(-0.8, 0.8),
)
def test_random_pairs_balance_whether_they_split_or_not(other, strength, skew):
    points = singular_points(margules([370.0, other], {(0, 1): [strength, skew]}), ATMOSPHERE)
    margin = min(abs(v) for p in points for v in p.eigenvalues)
    if margin > 1e-3:  # nearer to zero an azeotrope is just entering or leaving
        assert _index_sum(points) == 0


def test_four_components_balance():
    pairs = {(0, 1): [1.2], (0, 2): [1.4], (1, 2): [1.0], (0, 3): [0.5]}
    points = singular_points(margules([350.0, 353.0, 373.0, 380.0], pairs), ATMOSPHERE)
    assert _index_sum(points) == 0


def test_order_of_components_is_irrelevant():
    boiling, pairs = _TERNARIES["heterogeneous"]
    order = [2, 0, 1]
    position = {old: new for new, old in enumerate(order)}
    turned = {}
    for (i, j), terms in pairs.items():
        a, b = position[i], position[j]
        turned[min(a, b), max(a, b)] = terms  # one even term: no sign to turn
    here = singular_points(margules(boiling, pairs), ATMOSPHERE)
    there = singular_points(margules([boiling[k] for k in order], turned), ATMOSPHERE)
    for one, other in zip(here, there, strict=True):
        assert other.temperature_K == pytest.approx(one.temperature_K, abs=1e-7)
        assert other.mole_fraction == pytest.approx(one.mole_fraction[order], abs=1e-7)


def test_a_part_of_a_mixture_behaves_as_the_mixture_without_the_rest():
    whole = margules([350.0, 355.0, 360.0], {(0, 2): [1.3, 0.2]})
    pair = margules([350.0, 360.0], {(0, 1): [1.3, 0.2]})
    (one,) = _azeotropes(part_of(whole, (0, 2)))
    (other,) = _azeotropes(pair)
    assert one.mole_fraction == pytest.approx(other.mole_fraction, abs=1e-12)


def test_a_very_dilute_liquid_does_not_stop_the_search():
    """Solubilities of 1e-4 and below make the pressure over that liquid very sensitive."""
    for strength in (7.0, 9.0, 11.0, 14.0, 18.0):
        for order in (1.0, -1.0):
            boiling = [334.0, 373.0][:: int(order)]
            found = _azeotropes(margules(boiling, {(0, 1): [strength, order * 0.5]}))
            assert len(found) == 1, (strength, order)
            assert found[0].liquids is not None
