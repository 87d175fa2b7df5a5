"""Bands of the boiling temperature: what they rest on and where they end."""

from __future__ import annotations

import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.bands import boiling_band
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.substances.catalogue import find


def _mixture(*names: str) -> Mixture:
    return mixture_of([find(name) for name in names], corrections=False)


def test_band_of_a_pure_liquid_is_that_of_its_vapour_pressure():
    band = boiling_band([1.0, 0.0], 101325.0, _mixture("ethanol", "hexane"))
    assert band.half_width < 0.5
    assert band.spread == pytest.approx(0.0, abs=1e-9)


def test_band_is_never_narrower_than_its_floor_in_the_middle():
    band = boiling_band([0.5, 0.5], 101325.0, _mixture("heptane", "toluene"))
    assert band.spread is not None
    assert band.spread < 1.0
    assert band.half_width >= 1.4 * 0.8
    assert "disagreement" in band.origin


def test_models_that_disagree_widen_the_band():
    calm = boiling_band([0.5, 0.5], 101325.0, _mixture("heptane", "toluene"))
    torn = boiling_band([0.5, 0.5], 60e3, _mixture("1,2-dichloroethane", "MTBE"))
    assert torn.half_width > 2.0 * calm.half_width


def test_a_pair_without_a_model_has_the_widest_band():
    band = boiling_band([0.5, 0.5], 101325.0, _mixture("ethanol", "phosphorus trichloride"))
    assert band.half_width == pytest.approx(8.0, rel=0.05)
    assert "Raoult" in band.origin


def test_a_lone_model_is_not_taken_for_agreement():
    mixture = _mixture("dimethyl carbonate", "methanol")
    assert len(mixture.models) == 1
    band = boiling_band([0.5, 0.5], 101325.0, mixture)
    assert band.spread is None
    assert band.half_width == pytest.approx(1.4 * (0.7**2 + 0.8**2) ** 0.5, rel=0.1)
    assert "alone" in band.origin


def test_one_component_has_a_band():
    assert 0.0 < boiling_band([1.0], 101325.0, _mixture("toluene")).half_width < 0.5


def test_bad_fractions_are_refused():
    with pytest.raises(BadInput):
        boiling_band([0.5, 0.6], 101325.0, _mixture("heptane", "toluene"))
