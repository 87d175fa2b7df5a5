"""Two liquids that boil together where the gap itself moves with temperature; scans of a grid."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.azeotropes_kernels import (
    boiling,
    scan_simplex,
    three_phase_pair,
    two_liquid_boiling,
)
from forerun.equilibrium.azeotropes_newton import heteroazeotrope_newton
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.liquid_liquid import split_liquid, stability
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, SLOPE, margules

BOILING = (365.0, 373.0)  # K
REFERENCE = 350.0  # K, at which the term in temperature is nothing


def _pair(strength: float, tilt: float) -> MixtureArrays:
    """One-term Margules with A = strength + tilt (350 K/T - 1)."""
    mixture = margules(list(BOILING), {(0, 1): [strength]})
    mixture.pair_correction[0, 1, 0, 1] = tilt
    return mixture


def _together(strength: float, tilt: float) -> tuple[float, float]:
    """Return temperature and poorer fraction at which the two liquids boil, by bisection."""

    def of(temperature: float) -> tuple[float, float]:
        a = strength + tilt * (REFERENCE / temperature - 1.0)
        low, high = 1e-12, 0.5 - 1e-9
        for _ in range(100):
            x = 0.5 * (low + high)
            inside = math.log(x / (1.0 - x)) + a * (1.0 - 2.0 * x) < 0.0
            low, high = (x, high) if inside else (low, x)
        share = (x * math.exp(a * (1.0 - x) ** 2), (1.0 - x) * math.exp(a * x * x))
        pure = [math.exp(SLOPE * (1.0 - boils / temperature)) for boils in BOILING]
        return x, sum(s * p for s, p in zip(share, pure, strict=True)) - 1.0

    low, high = 300.0, 373.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if of(middle)[1] < 0.0 else (low, middle)
    return middle, of(middle)[0]


# the last two part up to 4 K above where they boil, and down to 2 K below
@pytest.mark.parametrize(
    ("strength", "tilt"), [(3.0, 0.0), (3.0, 10.0), (2.3, -10.0), (2.3, 40.0), (2.1, -40.0)]
)
def test_a_pair_boils_as_two_where_paper_has_it(strength: float, tilt: float) -> None:
    mixture, (expected, x) = _pair(strength, tilt), _together(strength, tilt)
    scratch, ends, y = scratch_for(mixture), np.empty(2), np.empty(2)
    coldest = BOILING[0] - 25.0
    found = three_phase_pair(ATMOSPHERE, coldest, BOILING[1], mixture, scratch, ends, y)
    assert found == pytest.approx(expected, abs=1e-4)
    assert ends[1] == pytest.approx(math.log((1.0 - x) / x), rel=1e-5)
    assert ends[0] == pytest.approx(-ends[1], rel=1e-5)
    for logit in ends:
        liquid = np.array([1.0 / (1.0 + math.exp(-logit)), 1.0 / (1.0 + math.exp(logit))])
        pressure = bubble_pressure(found, liquid, mixture, scratch, y)
        assert pressure == pytest.approx(ATMOSPHERE, rel=1e-7)
    ln_k = np.array([1.0, -1.0]) * (ends[1] - 0.1)
    first, second, share = np.empty(2), np.empty(2), np.empty(1)
    z = np.array([0.5, 0.5])
    guess = expected + 1.0
    whole = two_liquid_boiling(
        ATMOSPHERE, z, guess, mixture, scratch, ln_k, first, second, y, share
    )
    assert whole == pytest.approx(expected, abs=1e-4)
    assert share[0] == pytest.approx(0.5, abs=1e-4)
    assert min(first) == pytest.approx(x, rel=1e-4)


@pytest.mark.parametrize(("strength", "tilt"), [(1.9, 0.0), (2.2, 40.0)])
def test_a_pair_that_mixes_where_it_boils_does_not_boil_as_two(
    strength: float, tilt: float
) -> None:
    """The second parts into two liquids in the cold."""
    mixture = _pair(strength, tilt)
    scratch, ends, y = scratch_for(mixture), np.empty(2), np.empty(2)
    found = three_phase_pair(ATMOSPHERE, BOILING[0] - 10.0, BOILING[1], mixture, scratch, ends, y)
    assert math.isnan(found)


@pytest.mark.parametrize("apart", [0.2, 0.05, 0.01])
def test_two_liquids_that_become_one_are_none(apart: float) -> None:
    mixture = margules([350.0, 353.0], {(0, 1): [1.5]})  # an azeotrope of one liquid at 0.54
    first, second = np.array([0.54, 0.46]), np.array([0.54 + apart, 0.46 - apart])
    found = heteroazeotrope_newton(
        ATMOSPHERE, first, second, 0.5, 345.0, mixture, scratch_for(mixture)
    )
    assert math.isnan(found)


@pytest.mark.parametrize("look", [0, 1])
def test_a_scan_boils_every_point_as_one_and_what_parts_as_two(look: int) -> None:
    mixture = margules([350.0, 353.0, 373.0], {(0, 1): [1.2], (0, 2): [1.4], (1, 2): [3.4]})
    points = np.random.default_rng(2).dirichlet(np.ones(3), 40)
    scratch = scratch_for(mixture)
    one, two = np.empty((40, 2)), np.full((40, 4, 3), 7.0)
    scan_simplex(ATMOSPHERE, points, 355.0, look, mixture, scratch, one, two)
    y, parted = np.empty(3), 0
    for n, z in enumerate(points):
        boils = boiling(ATMOSPHERE, z, 355.0, mixture, scratch, y)
        assert one[n, 1] == pytest.approx(boils, abs=1e-5)
        assert one[n, 0] == pytest.approx(float(np.sum(np.log(y / z) ** 2)), rel=1e-5, abs=1e-9)
        split = split_liquid(z, boils, mixture) if look else None
        if split is None:
            assert np.all(np.isnan(two[n]))
            continue
        if math.isnan(two[n, 3, 0]):  # it mixes again where two liquids would boil
            assert stability(z, boils, mixture).distance > -1e-3
            continue
        parted += 1
        temperature, share = two[n, 3, :2]
        assert temperature > boils  # held in one liquid both would escape more easily
        first, second = two[n, 1], two[n, 2]
        assert (1.0 - share) * first + share * second == pytest.approx(z, abs=1e-8)
        for liquid in (first, second):
            pressure = bubble_pressure(temperature, liquid.copy(), mixture, scratch, y)
            assert pressure == pytest.approx(ATMOSPHERE, rel=1e-6)
            assert np.log(y / z) == pytest.approx(two[n, 0], abs=1e-6)
    assert (parted > 10) == (look == 1)
