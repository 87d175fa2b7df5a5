"""Two liquids, against mixtures whose answer is known on paper."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.kernels import ln_activity
from forerun.equilibrium.liquid_liquid import miscibility_gap, split_liquid, stability
from unit.equilibrium.azeotropes_beds import margules


def _ln_activity(x, temperature, mixture):
    gamma = np.empty_like(x)
    ln_activity(temperature, x, mixture, scratch_for(mixture), gamma)
    return np.log(x) + gamma


@pytest.mark.parametrize("strength", [2.01, 2.2, 3.0, 6.0, 12.0])
def test_symmetric_pair_meets_its_closed_equation(strength):
    """One-term Margules: ln(x/(1-x)) = A (2 x - 1), Sandler-style exercise solved by bisection."""
    gap = miscibility_gap(350.0, margules([350.0, 360.0], {(0, 1): [strength]}))
    low, high = 1e-12, 0.5 - 1e-6
    for _ in range(200):
        x = 0.5 * (low + high)
        if math.log(x / (1.0 - x)) + strength * (1.0 - 2.0 * x) < 0.0:
            low = x
        else:
            high = x
    assert gap is not None
    assert gap.first[0] == pytest.approx(x, rel=1e-6)
    assert gap.second[0] == pytest.approx(1.0 - x, rel=1e-6)


@pytest.mark.parametrize("strength", [-3.0, 0.0, 1.0, 1.999])
def test_pair_below_its_critical_point_mixes_fully(strength):
    assert miscibility_gap(350.0, margules([350.0, 360.0], {(0, 1): [strength]})) is None


def test_nearly_immiscible_pair_is_followed_beyond_the_scan():
    gap = miscibility_gap(350.0, margules([350.0, 360.0], {(0, 1): [30.0]}))
    assert gap is not None
    assert gap.first[0] == pytest.approx(math.exp(-30.0), rel=1e-6)


def test_skewed_pair_is_in_equilibrium():
    mixture = margules([350.0, 360.0], {(0, 1): [2.6, 0.8]})
    gap = miscibility_gap(350.0, mixture)
    assert gap is not None
    assert _ln_activity(gap.first, 350.0, mixture) == pytest.approx(
        _ln_activity(gap.second, 350.0, mixture), abs=1e-8
    )


def test_split_of_a_pair_obeys_the_lever_rule():
    mixture = margules([350.0, 360.0], {(0, 1): [3.0]})
    split = split_liquid([0.3, 0.7], 350.0, mixture)
    assert split is not None
    total = (1.0 - split.second_share) * split.first + split.second_share * split.second
    assert total == pytest.approx([0.3, 0.7], abs=1e-12)


@pytest.mark.parametrize("z", [[0.05, 0.5, 0.45], [0.1, 0.2, 0.7], [0.3, 0.3, 0.4]])
def test_ternary_split_balances_and_is_in_equilibrium(z):
    mixture = margules([350.0, 353.0, 373.0], {(0, 1): [1.2], (0, 2): [1.4], (1, 2): [4.0]})
    split = split_liquid(z, 350.0, mixture)
    assert split is not None
    total = (1.0 - split.second_share) * split.first + split.second_share * split.second
    assert total == pytest.approx(z, abs=1e-10)
    assert _ln_activity(split.first, 350.0, mixture) == pytest.approx(
        _ln_activity(split.second, 350.0, mixture), abs=1e-8
    )
    for liquid in (split.first, split.second):
        assert stability(liquid, 350.0, mixture).distance > -1e-7


def test_ternary_split_with_an_absent_component_is_that_of_the_pair():
    mixture = margules([350.0, 353.0, 373.0], {(0, 1): [1.2], (0, 2): [1.4], (1, 2): [4.0]})
    pair = margules([353.0, 373.0], {(0, 1): [4.0]})
    split = split_liquid([0.0, 0.4, 0.6], 350.0, mixture)
    gap = miscibility_gap(350.0, pair)
    assert split is not None
    assert gap is not None
    rich = max((split.first, split.second), key=lambda x: x[1])
    assert rich[1:] == pytest.approx(gap.second, abs=1e-8)


def test_one_liquid_stays_one():
    mixture = margules([350.0, 353.0, 373.0], {(0, 1): [1.2], (0, 2): [1.4], (1, 2): [4.0]})
    assert split_liquid([0.9, 0.05, 0.05], 350.0, mixture) is None
    assert stability([0.9, 0.05, 0.05], 350.0, mixture).stable
    assert not stability([0.1, 0.45, 0.45], 350.0, mixture).stable


def test_four_components_split():
    mixture = margules([350.0, 353.0, 373.0, 380.0], {(0, 1): [0.5], (1, 2): [3.5], (0, 3): [1.0]})
    split = split_liquid([0.1, 0.4, 0.4, 0.1], 350.0, mixture)
    assert split is not None
    assert _ln_activity(split.first, 350.0, mixture) == pytest.approx(
        _ln_activity(split.second, 350.0, mixture), abs=1e-8
    )


@pytest.mark.parametrize("x", [[0.5], [0.5, -0.1], [0.5, float("nan")], [0.0, 0.0]])
def test_a_composition_that_is_none_is_refused(x):
    with pytest.raises(BadInput, match="composition"):
        stability(x, 350.0, margules([350.0, 360.0], {}))


def test_a_gap_needs_two_components():
    with pytest.raises(BadInput, match="two components"):
        miscibility_gap(350.0, margules([350.0, 360.0, 370.0], {}))
