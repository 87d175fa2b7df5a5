"""Azeotropes of real mixtures: kinds, bands, doubts and what is known of their mixing."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.azeotropes import Azeotrope, find_azeotropes
from forerun.equilibrium.azeotropes_bands import existence, scatter_of
from forerun.equilibrium.azeotropes_search import SingularPoint, singular_points
from forerun.equilibrium.azeotropes_topology import index_balance, kind_of, stability_of
from forerun.equilibrium.band_rules import AZEOTROPE_SHIFT, rule_of
from forerun.equilibrium.liquid_liquid_known import known_miscibility, miscible_pairs, past_critical
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.substances.catalogue import find

ATMOSPHERE = 101325.0


@cache
def _mixture(*names: str, corrections: bool = True) -> Mixture:
    return mixture_of([find(name) for name in names], corrections=corrections)


def _only(*names: str, pressure: float = ATMOSPHERE) -> Azeotrope:
    (azeotrope,) = find_azeotropes(_mixture(*names), pressure).azeotropes
    return azeotrope


def test_minimum_azeotrope_boils_below_both():
    found = _only("benzene", "cyclohexane")
    assert (found.kind, found.stability, found.liquid_phases) == ("minimum", "unstable node", 1)
    assert found.temperature_K < 353.2
    assert found.temperature_band_K[0] < found.temperature_K < found.temperature_band_K[1]
    assert found.mass_fraction.sum() == pytest.approx(1.0)


def test_maximum_azeotrope_boils_above_both():
    found = _only("acetone", "chloroform")
    assert (found.kind, found.stability) == ("maximum", "stable node")
    assert found.temperature_K > 334.4


def test_two_liquids_bracket_the_vapour():
    found = _only("toluene", "water")
    assert found.liquid_phases == 2
    first, second = found.liquid_compositions
    assert min(first[0], second[0]) < found.mole_fraction[0] < max(first[0], second[0])


def test_order_of_the_pair_is_irrelevant():
    one, other = _only("heptane", "water"), _only("water", "heptane")
    assert other.temperature_K == pytest.approx(one.temperature_K, abs=1e-5)
    assert other.mole_fraction[::-1] == pytest.approx(one.mole_fraction, abs=1e-6)


def test_maximum_of_a_pair_becomes_a_saddle_or_node_of_the_whole():
    found = find_azeotropes(_mixture("acetone", "chloroform", "methanol"), ATMOSPHERE)
    assert found.balanced
    ternary = [a for a in found.azeotropes if len(a.components) == 3]
    assert [a.kind for a in ternary] == ["saddle"]
    assert {len(a.components) for a in found.azeotropes} == {2, 3}


def test_ternary_heteroazeotrope_is_the_coldest_point():
    found = find_azeotropes(_mixture("ethanol", "water", "benzene"), ATMOSPHERE)
    coldest = found.azeotropes[0]
    assert coldest.components == (0, 1, 2)
    assert coldest.stability == "unstable node"
    assert coldest.liquid_phases == 2
    assert found.balanced


@pytest.mark.parametrize("names", [("hexane", "heptane"), ("benzene", "toluene")])
def test_pairs_without_azeotrope_have_none_and_no_doubt(names):
    found = find_azeotropes(_mixture(*names), ATMOSPHERE)
    assert (found.azeotropes, found.undecided) == ((), ())


def test_a_lone_liquid_has_none():
    assert find_azeotropes(_mixture("water"), ATMOSPHERE).azeotropes == ()


def test_known_mixing_is_never_shown_as_two_liquids():
    for other in ("tert-butanol", "tetrahydrofuran", "1,4-dioxane", "acetonitrile"):
        found = find_azeotropes(_mixture(other, "water"), ATMOSPHERE)
        assert all(a.liquid_phases == 1 for a in found.azeotropes), other


def test_predicted_band_is_never_narrower_than_the_floor():
    mixture = _mixture("ethanol", "benzene", corrections=False)
    (found,) = find_azeotropes(mixture, ATMOSPHERE).azeotropes
    half = 0.5 * (found.temperature_band_K[1] - found.temperature_band_K[0])
    f = min(2.0 * (1.0 - found.mole_fraction @ found.mole_fraction), 1.0)
    assert half >= rule_of(mixture.pairs[0]).top_floor_K * f**0.25 - 1e-9
    assert found.basis == "predicted"
    assert found.models_agreeing == (3, 3)


def test_composition_band_widens_where_the_curve_is_flat():
    """The same error of volatility moves a flat azeotrope further."""
    mixture = _mixture("ethanol", "benzene", corrections=False)
    points = singular_points(mixture.arrays, ATMOSPHERE)
    (point,) = [p for p in points if len(p.components) == 2]
    flat = SingularPoint((0, 1), point.temperature_K, point.mole_fraction, None, (0.02,))
    narrow = scatter_of(mixture, point, ())
    wide = scatter_of(mixture, flat, ())
    ratio = point.eigenvalues[0] / 0.02
    limit = 0.5 * AZEOTROPE_SHIFT
    assert wide.composition[0] == pytest.approx(min(narrow.composition[0] * ratio, limit))
    assert narrow.composition[0] > 0.005


def test_existence_is_even_where_the_deciding_end_is_at_one():
    minimum, maximum = existence((0.0, 2.0), (0.2, 0.2))
    assert minimum == pytest.approx(0.5)
    assert maximum < 1e-6
    assert existence((-0.2, 2.0), (0.2, 0.2))[0] == pytest.approx(0.1, abs=1e-4)
    assert existence((-0.5, -2.0), (0.2, 0.2))[1] > 0.99


def test_an_azeotrope_that_may_not_exist_says_so():
    """Nothing is printed of these two here; ours lies 4 % from 2-propanol."""
    found = find_azeotropes(_mixture("2-propanol", "methyl butyrate"), ATMOSPHERE)
    (azeotrope,) = found.azeotropes
    assert azeotrope.certainty == "doubtful"
    assert 0.1 < azeotrope.probability < 0.9
    assert "may or may not exist" in azeotrope.note
    (sure,) = find_azeotropes(_mixture("ethanol", "water"), ATMOSPHERE).azeotropes
    assert sure.certainty == "certain"
    assert sure.probability > 0.99


def test_a_pair_that_may_have_one_all_the_same_is_listed():
    found = find_azeotropes(_mixture("2-propanol", "2-pentanone"), ATMOSPHERE)
    assert found.azeotropes == ()
    (possible,) = found.possible
    assert possible.kind == "minimum"
    assert possible.close_to == (0,)
    assert 0.1 < possible.probability < 0.9


def test_a_model_that_disagrees_is_reported():
    """One model alone splits off an azeotrope of methyl acetate and water, their mean does not."""
    mixture = _mixture("methyl acetate", "water", corrections=False)
    found = find_azeotropes(mixture, ATMOSPHERE)
    assert found.azeotropes == ()
    assert any("methyl acetate and water may" in sentence for sentence in found.undecided)


@pytest.mark.parametrize("pressure", [0.0, -1.0, float("nan"), float("inf")])
def test_a_pressure_that_is_none_is_refused(pressure):
    with pytest.raises(BadInput, match="pressure"):
        find_azeotropes(_mixture("ethanol", "water"), pressure)


def test_six_substances_are_refused():
    names = ("hexane", "heptane", "octane", "benzene", "toluene", "acetone")
    with pytest.raises(BadInput, match="5 substances"):
        find_azeotropes(_mixture(*names), ATMOSPHERE)


def test_high_pressure_is_warned_of():
    for pressure, warned in ((2e5, False), (2.001e5, True), (5e5, True)):
        found = find_azeotropes(_mixture("ethanol", "water"), pressure)
        assert any("2 bar" in sentence for sentence in found.warnings) is warned


def test_kinds_follow_the_signs_of_the_eigenvalues():
    def point(members: tuple[int, ...], *values: float) -> SingularPoint:
        return SingularPoint(members, 350.0, np.zeros(3), None, values)

    assert kind_of(point((0, 1), 0.2, -0.3)) == "minimum"
    assert stability_of(point((0, 1), 0.2, -0.3)) == "saddle"
    assert kind_of(point((0, 1, 2), -0.2, 0.3)) == "saddle"
    assert stability_of(point((0,), -0.2, -0.3)) == "stable node"


def test_a_missing_azeotrope_upsets_the_balance():
    points = singular_points(_mixture("ethanol", "benzene").arrays, ATMOSPHERE)
    assert index_balance(points, 2) == 0
    assert index_balance([p for p in points if len(p.components) == 1], 2) != 0


@pytest.mark.parametrize(
    ("names", "highest"),
    [
        (("phenol", "water"), 340.0),
        (("cyclohexane", "methanol"), 319.0),
        (("heptane", "methanol"), 325.0),
        (("hexane", "methanol"), 308.0),
    ],
)
def test_past_its_critical_solution_temperature_a_pair_boils_as_one_liquid(names, highest):
    """The models go on parting it there; papers that measured it say that it mixes."""
    first, second = (find(name).inchikey for name in names)
    assert past_critical(first, second, highest - 5.0) is None
    assert past_critical(second, first, highest + 5.0) == pytest.approx(highest, abs=1.0)
    search = find_azeotropes(_mixture(*names), ATMOSPHERE)
    (azeotrope,) = search.azeotropes
    assert azeotrope.temperature_K > highest + 5.0
    assert azeotrope.liquid_phases == 1
    assert any("the models part them still" in told for told in search.warnings)
    assert past_critical(first, find("toluene").inchikey, 500.0) is None


def test_miscibility_knows_its_limits_and_its_source():
    keys = [find(name).inchikey for name in ("tetrahydrofuran", "water", "toluene")]
    assert miscible_pairs(keys, 337.0) == {(0, 1)}
    assert miscible_pairs(keys, 380.0) == frozenset()
    measured = known_miscibility(keys[1], keys[2])
    assert measured is not None
    assert measured.kind == "two liquids"
    assert all(source.startswith("10.") for source in measured.sources)
    assert known_miscibility(keys[0], keys[2]) is None
