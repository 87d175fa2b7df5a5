"""Two liquids of made-up mixtures: shares in closed form, gaps by a fine grid, splits of many."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.liquid_liquid import miscibility_gap
from forerun.equilibrium.liquid_liquid_kernels import (
    ln_activities,
    refine_split,
    split_amount,
    tangent_plane,
)
from forerun.equilibrium.liquid_liquid_splitting import find_split
from unit.equilibrium.azeotropes_beds import margules

T = 350.0  # K; no parameter here depends on it


def _activities(x: np.ndarray, mixture: MixtureArrays) -> np.ndarray:
    found = np.empty(x.size)
    ln_activities(T, x, mixture, scratch_for(mixture), found)
    return found


@pytest.mark.parametrize("first", [0.05, 0.3, 0.5, 0.7, 0.98])
@pytest.mark.parametrize("ln_k", [(2.0, -1.0), (0.3, -4.0), (1e-3, -2e-3), (9.0, -9.0)])
def test_the_share_of_two_components_is_that_of_the_closed_form(
    first: float, ln_k: tuple[float, float]
) -> None:
    """z1 k1/(1 + s k1) + z2 k2/(1 + s k2) = 0, k = K - 1: s = -(z1 k1 + z2 k2)/(k1 k2)."""
    z = np.array([first, 1.0 - first])
    k = np.expm1(np.array(ln_k))
    share = -float(z @ k) / float(k[0] * k[1])  # outside 0 to 1 where z is outside the tie line
    assert split_amount(z, np.array(ln_k)) == pytest.approx(share, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("ln_k", [(1.0, 2.0), (-1.0, -0.1), (1e-13, -1.0), (1.0, -1e-13)])
def test_ratios_on_one_side_of_one_part_nothing(ln_k: tuple[float, float]) -> None:
    assert math.isnan(split_amount(np.array([0.4, 0.6]), np.array(ln_k)))


def test_a_component_that_is_absent_has_no_say_in_the_share() -> None:
    z, ln_k = np.array([0.4, 0.6]), np.array([1.0, -1.0])
    with_it = split_amount(np.array([0.4, 0.0, 0.6]), np.array([1.0, 50.0, -1.0]))
    assert with_it == pytest.approx(split_amount(z, ln_k), rel=1e-12)


@pytest.mark.parametrize("strength", [2.0005, 2.002, 2.02, 2.5])
def test_a_split_is_found_however_near_its_critical_point(strength: float) -> None:
    """Substitution alone would take thousands of steps there: ln(x/(1-x)) = A (2 x - 1)."""
    mixture = margules([350.0, 360.0], {(0, 1): [strength]})
    low, high = 1e-9, 0.5 - 1e-9
    for _ in range(100):
        x = 0.5 * (low + high)
        inside = math.log(x / (1.0 - x)) + strength * (1.0 - 2.0 * x) < 0.0
        low, high = (x, high) if inside else (low, x)
    ln_k = np.array([1.2, -1.2]) * math.log((1.0 - x) / x)  # a guess a fifth too far apart
    first, second = np.empty(2), np.empty(2)
    share = refine_split(
        T, np.array([0.5, 0.5]), mixture, scratch_for(mixture), ln_k, first, second
    )
    assert share == pytest.approx(0.5, abs=1e-6)
    assert first[0] == pytest.approx(x, rel=1e-6)
    assert second[0] == pytest.approx(1.0 - x, rel=1e-6)


def _hull_gap(terms: list[float]) -> tuple[float, float] | None:
    """Return the widest gap of a pair by the lower hull of its Gibbs energy on a fine grid."""
    x = np.linspace(1e-6, 1.0 - 1e-6, 40_001)
    series = sum(a * (2.0 * x - 1.0) ** k for k, a in enumerate(terms))
    g = x * np.log(x) + (1.0 - x) * np.log(1.0 - x) + x * (1.0 - x) * series
    hull: list[int] = []
    for n in range(x.size):
        while len(hull) > 1:
            i, j = hull[-2], hull[-1]
            if (g[j] - g[i]) * (x[n] - x[i]) < (g[n] - g[i]) * (x[j] - x[i]):
                break
            hull.pop()
        hull.append(n)
    widest = max(np.diff(x[hull]))
    k = int(np.argmax(np.diff(x[hull])))
    return (x[hull[k]], x[hull[k + 1]]) if widest > 1e-3 else None


@pytest.mark.parametrize(
    "terms",
    [
        [2.6, 0.8],
        [2.6, -0.8],
        [1.6, 1.2],
        [1.6, -1.2],
        [1.2, 1.9],
        [0.5, 2.5, 0.5],
        [0.5, -2.5, 0.5],
        [1.9, 0.2, 0.6],
        [1.7, 0.0, 1.8],
        [1.5, -0.3, 2.4],
        [3.5, 1.5],
        [1.0, 0.2],
    ],
)
def test_a_gap_lies_where_the_lower_hull_of_a_fine_grid_has_it(terms: list[float]) -> None:
    gap = miscibility_gap(T, margules([350.0, 360.0], {(0, 1): terms}))
    expected = _hull_gap(terms)
    assert (gap is None) == (expected is None)
    if gap is not None and expected is not None:
        ends = sorted((gap.first[0], gap.second[0]))
        assert ends == pytest.approx(expected, abs=1e-4)


def _random(rng: np.random.Generator) -> tuple[np.ndarray, MixtureArrays]:
    count = int(rng.integers(3, 5))
    pairs = {
        (i, j): [rng.uniform(-1.0, 3.5), rng.uniform(-1.0, 1.0)]
        for i in range(count)
        for j in range(i + 1, count)
    }
    return rng.dirichlet(np.ones(count)), margules([T + 5.0 * i for i in range(count)], pairs)


def test_whatever_is_unstable_parts_into_two_liquids_in_equilibrium() -> None:
    """Of random liquids; in one of five the trial that proved instability does not lead there."""
    rng, parted, astray, three = np.random.default_rng(11), 0, 0, 0
    while parted < 60:
        z, mixture = _random(rng)
        scratch, trial = scratch_for(mixture), np.empty(z.size)
        if z.min() < 1e-3 or tangent_plane(T, z, mixture, scratch, trial) > -1e-6:
            continue
        ln_k, first, second = np.log(np.maximum(trial, 1e-30) / z), np.empty_like(z), z.copy()
        direct = refine_split(T, z, mixture, scratch, ln_k, first, second)
        astray += not 0.0 <= direct <= 1.0
        share = find_split(T, z, -1e-9, mixture, scratch, ln_k, first, second)
        assert 0.0 <= share <= 1.0, z
        parted += 1
        assert (1.0 - share) * first + share * second == pytest.approx(z, abs=1e-9)
        assert first.sum() == pytest.approx(1.0, abs=1e-12)
        assert _activities(first, mixture) == pytest.approx(_activities(second, mixture), abs=1e-7)
        assert np.abs(first - second).max() > 1e-4
        three += min(tangent_plane(T, x, mixture, scratch, trial) for x in (first, second)) < -1e-6
    assert astray >= 5
    assert three <= 3  # where a third liquid would part off
