"""Bands of the boiling temperature: what they rest on and where they end."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.band_rules import LONE_SPREAD, ln_pressure_half_width, origin_of, rule_of
from forerun.equilibrium.bands import boiling_band, vapour_band
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
    rule = rule_of(_mixture("heptane", "toluene").pairs[0])
    assert band.half_width >= math.hypot(rule.floor_K, rule.root_K * math.sqrt(band.spread)) - 1e-9
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
    rule = rule_of(mixture.pairs[0])
    least = math.hypot(rule.floor_K, rule.root_K * math.sqrt(LONE_SPREAD))
    assert least <= band.half_width <= 1.1 * least
    assert "alone" in band.origin


def test_one_component_has_a_band():
    assert 0.0 < boiling_band([1.0], 101325.0, _mixture("toluene")).half_width < 0.5


def test_origins_have_widths_of_their_own():
    mixture = mixture_of([find("ethanol"), find("water")])
    (pair,) = mixture.pairs
    assert origin_of(pair) == "several papers"
    widths = {}
    for papers, basis in ((2, "fitted"), (1, "fitted"), (0, "predicted"), (0, "ideal")):
        changed = replace(mixture, pairs=(replace(pair, papers=papers, basis=basis),))
        band = boiling_band([0.2, 0.8], 101325.0, changed)
        widths[origin_of(changed.pairs[0])] = band.half_width
    assert list(widths) == ["several papers", "one paper", "models", "ideal"]
    assert len(set(widths.values())) == 4
    assert widths["one paper"] < widths["models"] < widths["ideal"]


def test_what_is_denied_of_a_pair_that_no_model_knows_depends_on_water():
    """Middle and width: `calibrate_bands.unknown_ends`, 61 and 373 measured pairs."""
    (pair,) = mixture_of([find("ethanol"), find("water")]).pairs
    unknown = replace(pair, basis="ideal")
    wet, dry = rule_of(unknown, aqueous=True), rule_of(unknown)
    assert (wet.end_middle, wet.end_floor) == (2.5, 2.8)
    assert (dry.end_middle, dry.end_floor) == (0.8, 1.5)
    assert rule_of(pair, aqueous=True) == rule_of(pair)
    (possible,) = find_azeotropes(_mixture("furfuryl alcohol", "water"), 101325.0).possible
    assert (possible.kind, possible.close_to) == ("minimum", (1,))
    assert 0.1 < possible.probability < 0.9


def test_vapour_band_ends_at_the_pure_liquids_and_sums_to_nothing_impossible():
    mixture = _mixture("ethanol", "benzene")
    middle = vapour_band([0.3, 0.7], 101325.0, mixture)
    assert 0.005 < middle.half_width[0] < 0.05
    assert middle.half_width[0] == pytest.approx(middle.half_width[1], rel=1e-6)
    np.testing.assert_array_equal(vapour_band([0.0, 1.0], 101325.0, mixture).half_width, 0.0)


def test_a_vapour_pressure_is_known_worse_far_below_one_atmosphere_and_beyond_its_data():
    at_one = ln_pressure_half_width(math.log(101325.0), 0.01, 350.0, (300.0, 400.0))
    low = ln_pressure_half_width(math.log(1000.0), 0.01, 350.0, (300.0, 400.0))
    beyond = ln_pressure_half_width(math.log(1000.0), 0.01, 270.0, (300.0, 400.0))
    assert at_one == pytest.approx(0.0128, abs=1e-4)
    assert at_one < low < beyond


def test_a_curve_carried_beyond_its_data_is_named():
    mixture = _mixture("heptane", "toluene")
    assert "carried beyond" not in boiling_band([0.5, 0.5], 101325.0, mixture).origin
    assert "carried beyond" in boiling_band([0.5, 0.5], 1.0, mixture).origin


def test_bad_fractions_are_refused():
    with pytest.raises(BadInput):
        boiling_band([0.5, 0.6], 101325.0, _mixture("heptane", "toluene"))
