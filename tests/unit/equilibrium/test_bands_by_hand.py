"""Bands put together from their parts: models asked one by one, slopes by differences."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.azeotropes_bands import _shift
from forerun.equilibrium.azeotropes_search import SingularPoint
from forerun.equilibrium.band_rules import (
    boiling_half_width,
    ln_pressure_half_width,
    rule_of,
    vapour_half_width,
)
from forerun.equilibrium.bands import boiling_band, vapour_band
from forerun.equilibrium.kernels import bubble_pressure, ln_vapour_pressure
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.substances.catalogue import find

ATMOSPHERE = 101325.0


def _boiling(x: np.ndarray, arrays: object, scratch: np.ndarray) -> tuple[float, np.ndarray]:
    y = np.zeros(x.size)

    def over(temperature: float) -> float:
        return math.log(bubble_pressure(temperature, x, arrays, scratch, y) / ATMOSPHERE)

    found = float(brentq(over, 280.0, 450.0, xtol=1e-10))
    over(found)
    return found, y.copy()


def _of_vapour_pressures(x: np.ndarray, temperature: float, mixture: Mixture) -> float:
    """Return sum x_i (half-width of ln P)/(d ln P/dT) [K], slopes by differences."""
    total = 0.0
    for i, (share, substance) in enumerate(zip(x, mixture.substances, strict=True)):
        pure, fit = mixture.arrays.vapour_pressure, substance.vapour_pressure
        up, down = (float(ln_vapour_pressure(i, pure, temperature + s)) for s in (0.01, -0.01))
        here = float(ln_vapour_pressure(i, pure, temperature))
        width = ln_pressure_half_width(here, fit.spread, temperature, (fit.data_low, fit.data_high))
        total += float(share) * width / ((up - down) / 0.02)
    return total


@pytest.mark.parametrize("light", [0.03, 0.2, 0.7])
@pytest.mark.parametrize("names", [("heptane", "toluene"), ("ethanol", "benzene")])
def test_a_band_of_a_pair_is_that_of_its_parts(names: tuple[str, str], light: float) -> None:
    """Models asked alone; f = 2 (1 - sum x^2), at most 1; squares add up."""
    mixture = mixture_of([find(name) for name in names], corrections=False)
    x = np.array([light, 1.0 - light])
    temperature, y = _boiling(x, mixture.arrays, mixture.scratch())
    alone = [_boiling(x, mixture.alone(m), mixture.scratch()) for m in range(len(mixture.models))]
    spread = float(np.std([t for t, _ in alone], ddof=1))
    band = boiling_band(x, ATMOSPHERE, mixture)
    assert band.spread == pytest.approx(spread, abs=1e-6)
    (pair,) = mixture.pairs
    rule = rule_of(pair)
    mixed = min(2.0 * (1.0 - light**2 - (1.0 - light) ** 2), 1.0)
    expected = math.hypot(
        boiling_half_width(pair, rule, spread, mixed),
        _of_vapour_pressures(x, temperature, mixture),
    )
    assert band.half_width == pytest.approx(expected, rel=1e-5)
    logits = [math.log(v[0] / v[1]) for _, v in alone]
    width = vapour_half_width(rule, float(np.std(logits, ddof=1)), float(y[0]))
    assert vapour_band(x, ATMOSPHERE, mixture).half_width[0] == pytest.approx(width, rel=1e-5)


def test_a_band_of_three_is_a_mean_of_its_pairs_by_their_shares() -> None:
    names = ("heptane", "toluene", "octane")
    mixture = mixture_of([find(name) for name in names], corrections=False)
    x = np.array([0.6, 0.3, 0.1])
    temperature, _ = _boiling(x, mixture.arrays, mixture.scratch())
    band = boiling_band(x, ATMOSPHERE, mixture)
    of_vapour = _of_vapour_pressures(x, temperature, mixture)
    mixed = min(2.0 * (1.0 - float(x @ x)), 1.0)
    weights = [float(np.prod(x[list(pair.components)])) for pair in mixture.pairs]
    squares = [
        boiling_half_width(pair, rule_of(pair), band.spread, mixed) ** 2 + of_vapour**2
        for pair in mixture.pairs
    ]
    assert band.half_width == pytest.approx(
        math.sqrt(float(np.average(squares, weights=weights))), rel=1e-5
    )


def _point(x: list[float], inside: tuple[float, ...]) -> SingularPoint:
    return SingularPoint(tuple(range(len(x))), 350.0, np.array(x), None, inside)


def test_an_error_moves_an_azeotrope_the_more_the_flatter_the_curve() -> None:
    """d ln(alpha)/dx = -lambda/(x (1 - x)), so the root moves by x (1 - x) error/|lambda|."""
    steep, flat = _point([0.2, 0.8], (0.5,)), _point([0.2, 0.8], (-0.1,))
    assert _shift(steep, 0.05) == pytest.approx([0.016, 0.016])
    assert _shift(flat, 0.05) == pytest.approx([0.08, 0.08])
    assert _shift(_point([0.2, 0.8], (0.0,)), 0.05) == pytest.approx([0.5, 0.5])
    three = _point([0.2, 0.3, 0.5], (0.8, -0.4))
    assert _shift(three, 0.1) == pytest.approx([0.04, 0.0525, 0.0625])
    assert _shift(_point([1.0], ()), 0.1) == pytest.approx([0.0])


def test_the_band_of_an_azeotrope_follows_the_slope_of_its_own_curve() -> None:
    """x moves by (error of ln alpha)/(d ln alpha/dx), the slope by differences of the model."""
    mixture = mixture_of([find("ethanol"), find("benzene")], corrections=False)
    (found,) = find_azeotropes(mixture, ATMOSPHERE).azeotropes
    x1 = float(found.mole_fraction[0])

    def ln_alpha(x: float) -> float:
        liquid = np.array([x, 1.0 - x])
        _, y = _boiling(liquid, mixture.arrays, mixture.scratch())
        return math.log(y[0] / x / (y[1] / (1.0 - x)))

    assert ln_alpha(x1) == pytest.approx(0.0, abs=1e-6)
    slope = (ln_alpha(x1 + 1e-4) - ln_alpha(x1 - 1e-4)) / 2e-4
    moved = _shift(found.point if hasattr(found, "point") else _as_point(found, slope), 0.1)
    assert moved[0] == pytest.approx(min(0.1 / abs(slope), 0.5), rel=1e-3)


def _as_point(found: object, slope: float) -> SingularPoint:
    x = found.mole_fraction  # type: ignore[attr-defined]
    return _point(list(x), (-slope * float(x[0] * x[1]),))
