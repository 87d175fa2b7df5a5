"""Corrections of a thermometer: to standard pressure, and for the exposed stem."""

from __future__ import annotations

import math

import pytest

from forerun.reviewing.standard_pressure import (
    emergent_stem_correction,
    hass_newton_phi,
    standard_temperature_hass_newton,
    standard_temperature_sydney_young,
)
from forerun.substances.catalogue import all_substances, find
from forerun.substances.correlations import boiling_temperature
from validation._data import compared, published_rows
from validation._rows import ValidationRow

_MMHG = 133.322387415


def rows() -> list[ValidationRow]:
    """Return every comparison."""
    table = published_rows("corrections.json")
    water = table["G6-001"]  # its note: phi near 5.8 takes 98.49 degC at 720 mmHg to 100
    assert "phi ~ 5.8" in water["note"]
    ours = standard_temperature_hass_newton(98.49 + 273.15, 720.0 * _MMHG, 5.8) - 273.15
    fahrenheit = table["G6-005"]  # 0.000085 per degree Fahrenheit exposed
    stem = emergent_stem_correction(400.0 / 1.8, 100.0 / 1.8, 200.0 / 1.8) * 1.8
    return [
        compared(water, "", "boiling point at 760 mmHg", "°C", 100.0, ours, 0.02),
        compared(
            fahrenheit, "", "stem correction, 200 °F exposed, 300 °F apart", "°F",
            0.000085 * 200.0 * 300.0, stem, 0.3,
        ),
    ]  # fmt: skip


def test_rows_are_met() -> None:
    assert [row.id for row in rows() if not row.met] == []


def test_the_equation_is_the_printed_one() -> None:
    phi, t, p = 4.7, 80.0, 650.0
    found = standard_temperature_hass_newton(t + 273.15, p * _MMHG, phi) - 273.15
    left = math.log10(101325.0 / _MMHG) - math.log10(p)
    assert left == pytest.approx(phi * (found - t) / (273.1 + t - 0.15 * (found - t)), rel=1e-9)


@pytest.mark.parametrize("mmHg", [700.0, 740.0, 775.0])
def test_ordinary_barometers_are_taken_out_for_every_substance(mmHg: float) -> None:
    """Our own vapour pressures, an independent road to the same number, agree to tenths."""
    misses = []
    for substance in all_substances():
        boiling = boiling_temperature(substance, mmHg * _MMHG)
        if boiling.state != "ok":
            continue
        true = boiling_temperature(substance, 101325.0).temperature
        phi = hass_newton_phi(substance)
        found = standard_temperature_hass_newton(boiling.temperature, mmHg * _MMHG, phi)
        misses.append(abs(found - true))
    misses.sort()
    assert len(misses) > 300
    assert misses[len(misses) // 2] < 0.05
    assert misses[int(0.95 * len(misses))] < 0.3


def test_the_short_rule_agrees_near_one_atmosphere() -> None:
    for name, associated in (("toluene", False), ("heptane", False), ("ethanol", True)):
        substance = find(name)
        read = boiling_temperature(substance, 740.0 * _MMHG).temperature
        found = standard_temperature_sydney_young(read, 740.0 * _MMHG, associated)
        assert found == pytest.approx(boiling_temperature(substance, 101325.0).temperature, abs=0.1)


def test_a_cold_stem_reads_low() -> None:
    assert emergent_stem_correction(423.15, 303.15, 100.0) == pytest.approx(1.92)
    assert emergent_stem_correction(300.0, 300.0, 100.0) == 0.0


def test_the_constant_of_water_is_the_printed_one() -> None:
    assert hass_newton_phi(find("water")) == pytest.approx(5.8, abs=0.05)
