"""Constants agree with each other: round trips and plausible ranges over the whole file."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.substances.catalogue import all_substances, find
from forerun.substances.correlations import (
    boiling_temperature,
    density,
    heat_capacity_linear,
    latent_heat_watson1943,
    vapour_pressure,
    vapour_pressure_slope,
)
from forerun.substances.liquids import liquid_arrays
from forerun.substances.model import Substance

R = 8.31446261815324
ATMOSPHERE = 101325.0
EVERY = pytest.mark.parametrize("s", all_substances(), ids=lambda s: s.name)


@EVERY
def test_fit_returns_the_boiling_point(s: Substance) -> None:
    found = boiling_temperature(s, ATMOSPHERE)
    assert abs(found.temperature - s.boiling_point.value) <= 0.3


@EVERY
def test_vapour_pressure_rises_like_a_liquids(s: Substance) -> None:
    fit = s.vapour_pressure
    t = np.linspace(fit.temperature_low, fit.temperature_high, 40)
    heats = np.array([R * k * k * vapour_pressure_slope(float(k), fit) for k in t])
    assert np.all(heats > 0)
    # the apparent heat falls with temperature; 2 % leaves room for fits to scattered points
    assert np.all(np.diff(heats) <= 0.02 * heats[:-1])
    assert heats[0] < 1.9 * heats[-1]
    assert 0.002 <= fit.spread <= 0.2
    assert fit.temperature_low < s.boiling_point.value < fit.temperature_high


@EVERY
def test_heat_of_vaporisation_is_that_of_the_slope(s: Substance) -> None:
    tb = s.boiling_point.value
    heat = latent_heat_watson1943(tb, s.latent_heat, s.critical_temperature.value)
    apparent = R * tb * tb * vapour_pressure_slope(tb, s.vapour_pressure)
    # the vapour is less voluminous than an ideal one; an associating acid far less
    least = 0.5 if ("O" in s.formula and "C(=O)O" in s.smiles) or s.dimerisation else 0.8
    assert least < heat / apparent < 1.1


@EVERY
def test_constants_are_plausible(s: Substance) -> None:
    tb, tc = s.boiling_point.value, s.critical_temperature.value
    assert 1.2 < tc / tb < 1.95
    assert s.melting_point is None or s.melting_point.value < tb
    assert 5e5 < s.critical_pressure.value < 2.3e7
    assert 550.0 < density(293.15, s) < 3500.0
    hot = min(tb, 0.85 * tc)
    assert hot < 293.15 or density(hot, s) < density(293.15, s)
    for t in (298.15, hot):
        assert 0.4e3 < heat_capacity_linear(t, s.heat_capacity) / s.molar_mass < 5.0e3
    assert s.refractive_index is None or 1.2 < s.refractive_index.value < 1.8
    for fire in (s.flash_point, s.autoignition):
        assert fire is None or fire.lowest is not None


def test_pyridine_trap_is_caught() -> None:
    pyridine = find("pyridine")
    assert abs(boiling_temperature(pyridine, ATMOSPHERE).temperature - 388.38) < 0.3
    assert "landolt_v20" not in pyridine.vapour_pressure.sources


@pytest.mark.parametrize("name", ["dimethyl sulfoxide", "NMP"])
def test_sources_that_differ_widen_the_band(name: str) -> None:
    found = boiling_temperature(find(name), ATMOSPHERE)
    narrow = boiling_temperature(find("benzene"), ATMOSPHERE)
    assert found.high - found.low > 2.0 * (narrow.high - narrow.low)


def test_arrays_hold_the_constants_in_order() -> None:
    chosen = [find(n) for n in ("water", "THF", "glycerol")]
    arrays = liquid_arrays(chosen)
    assert all(a.flags.c_contiguous and a.dtype == np.float64 for a in arrays)
    assert arrays.molar_mass[1] == chosen[1].molar_mass
    assert arrays.latent_heat.shape == (3, 4)
    assert arrays.latent_heat[2, 2] == chosen[2].critical_temperature.value
    assert arrays.heat_capacity[0, 0] == pytest.approx(75.3, abs=0.3)
    assert arrays.molar_volume[0, 0] == pytest.approx(1.8048e-5, rel=1e-3)


def test_arrays_say_when_no_melting_point_is_known() -> None:
    without = next(s for s in all_substances() if s.melting_point is None)
    assert np.isnan(liquid_arrays([without]).melting_point[0])


def test_peroxide_formers_and_energetic_groups() -> None:
    assert find("diisopropyl ether").peroxide_class.value == "A"  # type: ignore[union-attr]
    assert find("THF").peroxide_class.value == "B"  # type: ignore[union-attr]
    assert find("styrene").peroxide_class.value == "C"  # type: ignore[union-attr]
    assert find("heptane").peroxide_class is None
    assert find("2-methyltetrahydrofuran").peroxide_signs
    assert not find("acetone").peroxide_signs
    assert find("nitromethane").energetic_groups == ("nitro",)
    assert find("ethyl acetate").energetic_groups == ()


def test_vapour_pressure_of_water_at_two_points() -> None:
    # IAPWS-95 (doi:10.1063/1.1461829): 2339.3 Pa at 20 degC, 47414 Pa at 80 degC
    fit = find("water").vapour_pressure
    assert vapour_pressure(293.15, fit) == pytest.approx(2339.3, rel=0.001)
    assert vapour_pressure(353.15, fit) == pytest.approx(47414.0, rel=0.001)
