"""Boiling and dew points: against the pressure that they must give, and at the limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forerun.core.errors import BadInput, CalculationFailed
from forerun.equilibrium import bubble_kernels
from forerun.equilibrium.bubble import (
    boiling_curve,
    bubble_temperature,
    dew_temperature,
    relative_volatility,
)
from forerun.equilibrium.kernels import bubble_pressure, ln_vapour_pressure
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.substances.catalogue import find


def _mixture(*names: str) -> Mixture:
    return mixture_of([find(name) for name in names])


@pytest.fixture(scope="module")
def solvents() -> Mixture:
    return _mixture("acetone", "methanol", "toluene", "water")


FRACTIONS = st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4).filter(lambda v: sum(v) > 0.1)


@given(FRACTIONS, st.floats(100.0, 2e5))
@settings(max_examples=60, deadline=None)
def test_boiling_liquid_has_the_pressure(solvents: Mixture, parts: list[float], pressure: float):
    x = np.array(parts) / np.sum(parts)
    temperature, y = bubble_temperature(x, pressure, solvents)
    again = np.empty(4)
    found = bubble_pressure(temperature, x, solvents.arrays, solvents.scratch(), again)
    assert found == pytest.approx(pressure, rel=1e-11)
    np.testing.assert_allclose(y, again, rtol=1e-9)
    assert y.sum() == pytest.approx(1.0)


@pytest.mark.parametrize("guess", [60.0, 200.0, 350.0, 900.0, 1900.0])
def test_any_start_will_do(solvents: Mixture, guess: float):
    x = [0.1, 0.2, 0.3, 0.4]
    expected, _ = bubble_temperature(x, 101325.0, solvents)
    assert bubble_temperature(x, 101325.0, solvents, guess)[0] == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize("names", [("acetone", "methanol"), ("heptane", "toluene"),
                                   ("acetone", "chloroform"), ("ethanol", "water")])  # fmt: skip
@pytest.mark.parametrize("x", [1e-4, 0.05, 0.4, 0.8, 0.9999])
def test_dew_point_of_the_vapour_is_the_boiling_point(names: tuple[str, str], x: float):
    mixture = _mixture(*names)
    temperature, y = bubble_temperature([x, 1 - x], 101325.0, mixture)
    dew, liquid = dew_temperature(y, 101325.0, mixture)
    assert dew == pytest.approx(temperature, abs=1e-5)
    assert liquid[0] == pytest.approx(x, rel=1e-4, abs=1e-6)


@given(st.lists(st.floats(0.02, 1.0), min_size=3, max_size=3))
@settings(max_examples=30, deadline=None)
def test_dew_of_three(parts: list[float]):
    mixture = _mixture("pentane", "acetone", "toluene")
    y = np.array(parts) / np.sum(parts)
    temperature, x = dew_temperature(y, 60e3, mixture)
    boiling, vapour = bubble_temperature(x, 60e3, mixture)
    assert boiling == pytest.approx(temperature, abs=1e-7)
    np.testing.assert_allclose(vapour, y, atol=1e-8)


def test_a_component_that_is_absent_stays_absent():
    mixture = _mixture("pentane", "acetone", "toluene")
    _, x = dew_temperature([0.5, 0.0, 0.5], 60e3, mixture)
    assert x[1] == 0.0


def test_curve_starts_and_ends_at_the_pure_boiling_points():
    mixture = _mixture("heptane", "toluene")
    curve = boiling_curve(mixture, 101325.0, 11)
    for place, i in ((-1, 0), (0, 1)):
        p = np.exp(ln_vapour_pressure(i, mixture.arrays.vapour_pressure, curve.temperature[place]))
        assert p == pytest.approx(101325.0, rel=1e-10)
    assert curve.y[0] == 0.0
    assert curve.y[-1] == pytest.approx(1.0)
    assert (np.diff(curve.y) > 0.0).all()


def test_relative_volatility_is_continuous_into_infinite_dilution(solvents: Mixture):
    near = relative_volatility([1e-6, 1 - 1e-6, 0, 0], 330.0, solvents)
    assert relative_volatility([0, 1, 0, 0], 330.0, solvents) == pytest.approx(near, rel=1e-4)


def test_bad_input_is_named(solvents: Mixture):
    with pytest.raises(BadInput, match="4 mole fractions"):
        bubble_temperature([0.5, 0.5], 1e5, solvents)
    with pytest.raises(BadInput, match="sum to 1"):
        bubble_temperature([0.5, 0.5, 0.5, 0.5], 1e5, solvents)
    with pytest.raises(BadInput, match="above zero"):
        bubble_temperature([0.25] * 4, -5.0, solvents)
    with pytest.raises(BadInput, match="two substances"):
        boiling_curve(solvents, 1e5)
    with pytest.raises(BadInput, match="at least 2"):
        boiling_curve(_mixture("heptane", "toluene"), 1e5, 1)


def test_a_pressure_that_no_temperature_gives_is_said(solvents: Mixture):
    with pytest.raises(CalculationFailed, match="no temperature"):
        bubble_temperature([0.25] * 4, 1e30, solvents)


@pytest.mark.parametrize("off", [-30.0, -3.0, 4.0, 40.0])
def test_a_few_pressures_do_from_a_fair_guess(
    solvents: Mixture, off: float, monkeypatch: pytest.MonkeyPatch
):
    """Ln P is nearly straight in 1/T; halving the bracket would ask for some forty."""
    x = np.array([0.1, 0.2, 0.3, 0.4])
    expected, _ = bubble_temperature(x, 101325.0, solvents)
    asked = []

    def counted(temperature: float, *rest: object) -> float:
        asked.append(temperature)
        return bubble_pressure(temperature, *rest)

    monkeypatch.setattr(bubble_kernels, "bubble_pressure", counted)
    plain = bubble_kernels.bubble_temperature_from._function  # the Python that is compiled
    y = np.empty(4)
    found = plain(x, 101325.0, expected + off, solvents.arrays, solvents.scratch(), y)
    assert found == pytest.approx(expected, abs=1e-8)
    assert len(asked) <= (5 if abs(off) < 10.0 else 7)
