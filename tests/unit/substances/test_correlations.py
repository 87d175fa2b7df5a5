"""Pure-component correlations: exact inverses, continuity, limits."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forerun.core.errors import BadInput
from forerun.substances.catalogue import all_substances, find
from forerun.substances.correlations import (
    boiling_temperature,
    dimerisation_constant,
    latent_heat_watson1943,
    molar_volume_quadratic,
    vapour_pressure,
    vapour_pressure_slope,
)

some = st.sampled_from(all_substances())


@given(some, st.floats(min_value=1.0, max_value=4.0e5))
def test_boiling_temperature_inverts_vapour_pressure(substance, pressure) -> None:  # type: ignore[no-untyped-def]
    found = boiling_temperature(substance, pressure)
    assert vapour_pressure(found.temperature, substance.vapour_pressure) == pytest.approx(
        pressure, rel=1e-9
    )
    assert found.low < found.temperature < found.high


@given(some, st.floats(min_value=150.0, max_value=700.0))
def test_slope_is_the_derivative(substance, temperature) -> None:  # type: ignore[no-untyped-def]
    fit = substance.vapour_pressure
    step = 1e-3
    rise = math.log(
        vapour_pressure(temperature + step, fit) / vapour_pressure(temperature - step, fit)
    )
    assert rise / (2 * step) == pytest.approx(vapour_pressure_slope(temperature, fit), rel=1e-4)


@given(some)
def test_no_jump_at_the_ends_of_the_fit(substance) -> None:  # type: ignore[no-untyped-def]
    fit = substance.vapour_pressure
    for end in (fit.temperature_low, fit.temperature_high):
        inside, outside = (vapour_pressure(end + k, fit) for k in (-1e-6, 1e-6))
        assert inside == pytest.approx(outside, rel=1e-6)


def test_states_are_told_apart() -> None:
    assert boiling_temperature(find("toluene"), 101325.0).state == "ok"
    assert boiling_temperature(find("cyclohexane"), 1000.0).state == "solid"
    assert boiling_temperature(find("acetophenone"), 1.0).state != "ok"


def test_band_widens_beyond_the_sources() -> None:
    glycol = find("ethylene glycol")
    near, far = (boiling_temperature(glycol, p) for p in (101325.0, 0.01))
    assert far.high - far.low > near.high - near.low


@pytest.mark.parametrize("pressure", [0.0, -5.0, 1e9, float("nan"), float("inf")])
def test_impossible_pressure_is_refused(pressure: float) -> None:
    with pytest.raises(BadInput, match=r"rig\.pressure"):
        boiling_temperature(find("water"), pressure, field="rig.pressure")


def test_latent_heat_vanishes_at_the_critical_point() -> None:
    water = find("water")
    tc = water.critical_temperature.value
    assert latent_heat_watson1943(tc, water.latent_heat, tc) == 0.0
    assert latent_heat_watson1943(tc + 10, water.latent_heat, tc) == 0.0
    reference = water.latent_heat.reference_temperature
    assert latent_heat_watson1943(reference, water.latent_heat, tc) == pytest.approx(
        water.latent_heat.value
    )


def test_molar_volume_at_its_reference() -> None:
    volume = find("acetone").molar_volume
    assert molar_volume_quadratic(293.15, volume) == volume.v0


def test_dimer_of_acetic_acid_as_printed() -> None:
    # Taylor 1951: log10(K mmHg) = -10.4184 + 3164/T
    dimer = find("acetic acid").dimerisation
    assert dimer is not None
    k = dimerisation_constant(373.15, dimer) * 133.322387415
    assert math.log10(k) == pytest.approx(-10.4184 + 3164.0 / 373.15, abs=1e-5)


def test_homologues_dimerise_by_estimate_and_halogenated_acids_stay_out() -> None:
    assert find("hexanoic acid").dimerisation.method == "estimated"  # type: ignore[union-attr]
    assert find("trifluoroacetic acid").dimerisation is None
    assert find("ethyl acetate").dimerisation is None
