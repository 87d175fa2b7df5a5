"""What must not change when two liquids change places, and what is refused or told beside it."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from forerun.core.errors import BadInput, CalculationFailed
from forerun.equilibrium import fitting
from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.azeotropes_bands import rule_in
from forerun.equilibrium.azeotropes_search import boiling_points
from forerun.equilibrium.bubble import boiling_curve, bubble_temperature, dew_temperature
from forerun.equilibrium.fitting import FitSettings, fit_pair, fit_points
from forerun.equilibrium.fitting_evidence import no_evidence
from forerun.equilibrium.fitting_model import MeasuredTable, no_points, redlich_kister_design
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.liquid_liquid import stability
from forerun.equilibrium.liquid_liquid_known import KnownMiscibility
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.equilibrium.pairs import (
    DRIFT_ALLOWED,
    PairCorrection,
    base_drift,
    base_probe,
    find_pair,
    measured_enthalpies,
    measured_solubilities,
    measured_tables,
    measured_warnings,
)
from forerun.equilibrium.pressure_shift import shifts_between
from forerun.equilibrium.projecting import redlich_kister_terms
from forerun.equilibrium.residue import Residues
from forerun.substances.catalogue import find
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, SLOPE, margules
from unit.equilibrium.test_fitting import KNOWN, boiling, pair, table


def _variance(x: float, temperature: float, covariance: Any) -> tuple[float, float]:
    """Return the variance of ln gamma of both components that a fit leaves [-]."""
    square = np.asarray(covariance)
    design = redlich_kister_design(np.array([x]), square.shape[0] // 2)[0]
    both = np.stack([design, design * (350.0 / temperature - 1.0)], axis=2)
    rows = both.reshape(2, -1)
    found = np.einsum("ia,ab,ib->i", rows, square, rows)
    return float(found[0]), float(found[1])


def _ln_gamma(x: float, temperature: float, terms: Any) -> np.ndarray:
    a = np.asarray(terms)
    design = redlich_kister_design(np.array([x]), a.shape[0])[0]
    found: np.ndarray = design @ (a[:, 0] + a[:, 1] * (350.0 / temperature - 1.0))
    return found


def _assert_turned(one: Any, other: Any) -> None:
    """Activities and their variances are those of the same liquid, whichever stands first."""
    for x in (0.03, 0.3, 0.8):
        for t in (310.0, 380.0):
            assert _ln_gamma(x, t, one.terms) == pytest.approx(
                _ln_gamma(1.0 - x, t, other.terms)[::-1], abs=1e-12
            )
            assert _variance(x, t, one.covariance) == pytest.approx(
                _variance(1.0 - x, t, other.covariance)[::-1], rel=1e-9
            )


@pytest.mark.parametrize("names", [("ethanol", "water"), ("hexane", "toluene")])
def test_a_fit_on_file_is_the_same_liquid_whichever_stands_first(names: tuple[str, str]) -> None:
    first, second = (find(n) for n in names)
    one, other = (find_pair(a.inchikey, b.inchikey) for a, b in ((first, second), (second, first)))
    assert isinstance(one, PairCorrection)
    assert isinstance(other, PairCorrection)
    assert len(one.terms) > 1
    _assert_turned(one, other)
    assert one.names == other.names[::-1]
    # the base is looked at in the places that belong to either order
    bare = [mixture_of([a, b], corrections=False) for a, b in ((first, second), (second, first))]
    for fit, mixture in zip((one, other), bare, strict=True):
        assert fit.probe == pytest.approx(base_probe(mixture.arrays), abs=1e-3)
    assert one.flipped().flipped() == one


def test_terms_that_carry_a_model_turn_round_with_their_pair() -> None:
    """Least squares at places that lie evenly about the middle: odd terms change their sign."""

    def activity(_temperature: float, x: np.ndarray) -> np.ndarray:
        return np.array([1.3 * x[1] ** 2 / (1.0 + x[0]), 0.9 * x[0] ** 2 / (1.0 + x[0]) ** 2])

    one = redlich_kister_terms(activity, 4)
    other = redlich_kister_terms(lambda t, x: activity(t, x[::-1])[::-1], 4)
    signs = np.array([1.0, -1.0, 1.0, -1.0])[:, None]
    assert other == pytest.approx(signs * one, abs=1e-12)


def test_a_fit_that_does_not_settle_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fitting, "_SWEEPS", 2)
    with pytest.raises(CalculationFailed, match="still moved after 2 steps"):
        fit_pair([table(pair(KNOWN), "a")], pair(), FitSettings(spread=0.5))


def test_columns_that_are_none_are_named_with_what_is_wrong_in_them() -> None:
    t, p = np.array([350.0, 351.0, 352.0]), np.full(3, ATMOSPHERE)
    for x, wrong in (([0.1, 1.2, -0.3], "1.2"), ([0.1, 0.3, -0.3], "-0.3")):
        with pytest.raises(BadInput) as told:
            MeasuredTable("a table", "a", t, p, np.array(x))
        assert str(told.value.value) == wrong
    with pytest.raises(BadInput, match="above 0"):
        MeasuredTable("a table", "a", t, 0.0 * p, np.array([0.1, 0.2, 0.3]))
    with pytest.raises(BadInput, match="one length"):
        MeasuredTable("a table", "a", t[:2], p, np.array([0.1, 0.2, 0.3]))
    MeasuredTable("ends", "a", t, p, np.array([0.0, 0.5, 1.0]))


@pytest.mark.parametrize("pressure", [0.0, -1.0, np.nan, np.inf])
def test_a_curve_at_a_pressure_that_is_none_is_refused(pressure: float) -> None:
    with pytest.raises(BadInput, match="above zero"):
        boiling_curve(mixture_of([find("heptane"), find("toluene")]), pressure)


def test_a_statement_holds_at_its_limits_and_between_them_and_nowhere_else() -> None:
    known = KnownMiscibility(("a", "b"), "miscible", 290.0, 340.0, ("x",))
    assert [known.holds_at(t) for t in (289.9, 290.0, 310.0, 340.0, 340.1)] == [
        False, True, True, True, False,
    ]  # fmt: skip
    assert replace(known, temperature_low_K=None).holds_at(100.0)
    assert replace(known, temperature_high_K=None).holds_at(900.0)


@pytest.mark.parametrize("tilt", [-9.0, 9.0])
def test_a_pair_that_parts_only_in_the_cold_or_only_in_the_heat_is_followed_as_two_liquids(
    tilt: float,
) -> None:
    """g = A x1 x2 parts where A > 2: here A = 2 at 350 K and runs either way."""
    arrays = margules([330.0, 345.0, 372.0], {(1, 2): [2.0]})
    arrays.pair_correction[1, 2, 0, 1] = tilt

    def points(*temperatures: float) -> Any:
        return tuple(_point(t) for t in temperatures)

    there = Residues(arrays, ATMOSPHERE, points(330.0, 372.0))
    assert there.splits((1, 2))
    assert there.splits((0, 1, 2))
    assert not there.splits((0, 2))
    warm = points(355.0, 372.0) if tilt > 0.0 else points(330.0, 345.0)
    assert not Residues(arrays, ATMOSPHERE, warm).splits((1, 2))
    assert not Residues(arrays, ATMOSPHERE, points(330.0, 372.0), frozenset({(1, 2)})).splits(
        (0, 1, 2)
    )


def _point(temperature: float) -> Any:
    return SimpleNamespace(temperature_K=temperature)


def _of(arrays: Any, count: int) -> Mixture:
    plain = mixture_of([find(n) for n in ("pentane", "hexane", "heptane", "octane")[:count]])
    return replace(plain, arrays=arrays)


def test_azeotropes_of_three_move_with_the_pressure_and_of_four_only_those_of_pairs() -> None:
    """All alike with one term that ignores temperature: compositions stay in the middle."""
    for count, largest in ((3, 3), (4, 2)):
        pairs = {(i, j): [1.2] for i in range(count) for j in range(i + 1, count)}
        found = shifts_between(_of(margules([350.0] * count, pairs), count), 5e4, ATMOSPHERE)
        sizes = [len(s.components) for s in found]
        assert max(sizes) == largest
        assert sizes.count(2) == count * (count - 1) // 2
        for one in found:
            size = len(one.components)
            assert (one.appears_Pa, one.vanishes_Pa) == (None, None)
            assert one.mole_fraction[:, list(one.components)] == pytest.approx(1.0 / size, abs=1e-5)
            ln_p = np.log(one.pressure_Pa / ATMOSPHERE)
            lift = 1.2 * (size - 1) / (2.0 * size)
            expected = 350.0 / (1.0 + (lift - ln_p) / SLOPE)
            assert one.temperature_K == pytest.approx(expected, abs=1e-4)
    for low, high in ((5e4, 5e4), (6e4, 5e4), (0.0, 5e4), (1e4, np.inf)):
        with pytest.raises(BadInput, match="a lower and a higher pressure"):
            shifts_between(_of(margules([350.0] * 3, {}), 3), low, high)


def test_a_fit_made_with_other_models_than_the_mixture_uses_adds_their_difference() -> None:
    """Beside a liquid that a model lacks a pair keeps the activities that it has alone."""
    alone = mixture_of([find("ethanol"), find("benzene")])
    beside = mixture_of([find("ethanol"), find("benzene"), find("dimethyl carbonate")])
    assert set(beside.models) != set(alone.models)
    for x in (0.1, 0.5, 0.9):
        expected = alone.ln_activity(345.0, [x, 1.0 - x])
        found = beside.ln_activity(345.0, [x, 1.0 - x, 0.0])[:2]
        assert found == pytest.approx(expected, abs=0.03)
        temperature, _ = bubble_temperature([x, 1.0 - x, 0.0], ATMOSPHERE, beside)
        assert temperature == pytest.approx(
            bubble_temperature([x, 1.0 - x], ATMOSPHERE, alone)[0], abs=0.5
        )


def test_what_was_measured_of_a_pair_is_the_same_whichever_is_asked_first() -> None:
    first, second = find("1-butanol"), find("water")
    spirit = find("ethanol")
    tables = [measured_tables(a.cas, b.cas, suspect=True)
              for a, b in ((spirit, second), (second, spirit))]  # fmt: skip
    assert len(tables[0]) == len(tables[1]) > 0
    mixture = mixture_of([spirit, second])
    for one, other in zip(*tables, strict=True):
        assert one.name == other.name
        assert one.liquid_fraction == pytest.approx(1.0 - other.liquid_fraction)
        assert one.temperature_K.tolist() == other.temperature_K.tolist()
        k = one.temperature_K.size // 2  # kelvins and pascals: the models come near it
        x = float(one.liquid_fraction[k])
        over = bubble_pressure(
            float(one.temperature_K[k]), np.array([x, 1.0 - x]), mixture.arrays,
            mixture.scratch(), np.zeros(2),
        )  # fmt: skip
        if one.name not in measured_warnings():
            assert over == pytest.approx(float(one.pressure_Pa[k]), rel=0.07)
        if one.vapour_fraction is not None and other.vapour_fraction is not None:
            gap = one.vapour_fraction + other.vapour_fraction - 1.0
            assert np.nanmax(np.abs(gap), initial=0.0) < 1e-12
    layers = [measured_solubilities(a.cas, b.cas) for a, b in ((first, second), (second, first))]
    assert len(layers[0]) == len(layers[1]) > 0
    for lower, upper in zip(*layers, strict=True):
        assert lower.poor == pytest.approx(1.0 - upper.rich)
        assert lower.rich == pytest.approx(1.0 - upper.poor)
        assert lower.poor.max() < 0.1  # butanol hardly dissolves in water, water well in butanol
        assert 0.3 < lower.rich.min() <= lower.rich.max() < 0.7
    heats = [measured_enthalpies(a.cas, b.cas)
             for a, b in ((spirit, second), (second, spirit))]  # fmt: skip
    assert len(heats[0]) == len(heats[1]) > 0
    for here, there in zip(*heats, strict=True):
        assert here.liquid_fraction == pytest.approx(1.0 - there.liquid_fraction)
        assert here.excess_enthalpy.tolist() == there.excess_enthalpy.tolist()
    kept = measured_tables(spirit.cas, second.cas)
    assert {t.name for t in kept} <= {t.name for t in tables[0]}
    assert find_pair(first.inchikey, first.inchikey) is None


def test_a_base_that_has_moved_is_noticed_by_its_farthest_place() -> None:
    first, second = find("hexane"), find("toluene")
    correction = find_pair(first.inchikey, second.inchikey)
    assert correction is not None
    base = mixture_of([first, second], corrections=False).arrays
    plain = base_drift(correction, base)
    assert plain <= DRIFT_ALLOWED
    for place, moved in ((0, 0.3), (8, -0.3)):
        probe = list(correction.probe)
        probe[place] += moved
        drift = base_drift(replace(correction, probe=tuple(probe)), base)
        assert drift == pytest.approx(0.3, abs=2.0 * DRIFT_ALLOWED)
    cold = pytest.approx(base_probe(base)[:3], abs=1e-12)
    y = np.zeros(2)
    places = [
        np.log(bubble_pressure(300.0, np.array([x, 1.0 - x]), base, scratch_for(base), y))
        for x in (0.1, 0.5, 0.9)
    ]
    assert places == cold


def test_without_points_a_fit_is_what_was_believed_before() -> None:
    """Each further term may be so much smaller, and each slope so much of its term: variances."""
    settings = FitSettings(terms=3, spread=0.2, spread_ratio=0.5, tilt_spread=0.7)
    fit = fit_points(no_points(), settings, None, no_evidence())
    sizes = [0.2, 0.14, 0.1, 0.07, 0.05, 0.035]
    assert fit.covariance == pytest.approx(np.diag(np.square(sizes)), abs=1e-12)
    assert fit.terms.tolist() == np.zeros((3, 2)).tolist()
    assert (fit.points, fit.rms_before_K, fit.rms_after_K) == (0, 0.0, 0.0)
    assert fit.paper_offset_K.size == fit.paper_weight.size == fit.point_weight.size == 0


def test_a_fit_tells_its_misses_weights_and_what_each_paper_reads_too_high() -> None:
    """Misses by bisection; a paper that reads a kelvin high says so and weighs less."""
    truth = pair(KNOWN)
    tables = [table(truth, "a"), table(truth, "b", 5e4), table(truth, "c", offset=2.5)]
    fit = fit_pair(tables, pair(), FitSettings(spread=0.5, one_liquid=False))
    assert fit.papers == ("a", "b", "c")
    assert fit.table_names == tuple(t.name for t in tables)
    assert fit.points == sum(t.temperature_K.size for t in tables) == fit.point_weight.size
    assert fit.paper_offset_K[2] > 1.5
    assert abs(fit.paper_offset_K[0]) < 0.5
    assert fit.paper_weight[2] < 0.6 < fit.paper_weight[0] <= 1.0
    assert fit.point_weight.max() <= 1.0
    for terms, told in ((None, fit.rms_before_K), (fit.terms, fit.rms_after_K)):
        miss = [
            boiling(pair(terms), float(x), float(p))[0] - t
            for one in tables
            for x, p, t in zip(one.liquid_fraction, one.pressure_Pa, one.temperature_K, strict=True)
        ]
        assert told == pytest.approx(float(np.sqrt(np.mean(np.square(miss)))), rel=0.02)


def test_an_acid_is_marked_as_pairing_up_with_its_own_constants() -> None:
    acid = find("acetic acid")
    mixture = mixture_of([find("toluene"), acid])
    assert acid.dimerisation is not None
    assert mixture.arrays.dimerisation[0].tolist() == [0.0, 0.0, 0.0]
    assert mixture.arrays.dimerisation[1].tolist() == [1.0, *acid.dimerisation.coefficients]
    fit = find("toluene").vapour_pressure
    held = [*fit.coefficients, fit.temperature_low, fit.temperature_high]
    assert mixture.arrays.vapour_pressure[0].tolist() == held


@pytest.mark.parametrize("pressure", [0.0, -1.0, np.nan, np.inf])
def test_a_dew_point_at_a_pressure_that_is_none_is_refused(pressure: float) -> None:
    mixture = mixture_of([find("heptane"), find("toluene")])
    with pytest.raises(BadInput, match="above zero"):
        dew_temperature([0.5, 0.5], pressure, mixture)


@pytest.mark.parametrize("liquid", [[0.5, np.inf], [np.inf, np.inf], [0.5, np.nan]])
def test_a_liquid_without_end_is_refused(liquid: list[float]) -> None:
    with pytest.raises(BadInput, match="add up to 1"):
        stability(liquid, 350.0, margules([350.0, 360.0], {}))


def test_a_model_is_cited_where_it_speaks_for_one_pair_of_several() -> None:
    """Only the tables that hold a carbonate know the one pair; the other two rest on all."""
    lone = mixture_of([find("dimethyl carbonate"), find("ethanol")], corrections=False)
    three = mixture_of(
        [find("ethanol"), find("hexane"), find("phosphorus trichloride")], corrections=False
    )
    assert [p.basis for p in three.pairs] == ["predicted", "ideal", "ideal"]
    keys = {r.key for r in three.references}
    assert len(keys) > 1  # the models of ethanol + hexane, though nothing knows the other pairs
    assert {r.key for r in lone.references} <= keys


def test_water_has_a_rule_of_its_own_where_no_model_knows_the_pair() -> None:
    mixture = mixture_of([find("water"), find("phosphorus trichloride"), find("hexane")])
    rules = {p.components: rule_in(mixture, p) for p in mixture.pairs if p.basis == "ideal"}
    assert set(rules) == {(0, 1), (1, 2)}
    assert rules[0, 1].end_middle > 2.0 * rules[1, 2].end_middle
    assert rules[0, 1].end_floor > rules[1, 2].end_floor


def test_a_pressure_at_which_one_liquid_cannot_boil_has_no_azeotropes() -> None:
    """The made-up pair boils at Tb/(1 - ln(P/P0)/SLOPE): the heavy one not below 2000 K there."""
    arrays = margules([350.0, 352.0], {(0, 1): [1.0]})
    heavy = arrays._replace(vapour_pressure=arrays.vapour_pressure.copy())
    heavy.vapour_pressure[1] = [np.log(1e3), 0.0, 0.0, 0.0, 100.0, 1000.0]  # never above 1 kPa
    assert np.isfinite(boiling_points(heavy, ATMOSPHERE)).tolist() == [True, False]
    assert shifts_between(_of(heavy, 2), 5e4, ATMOSPHERE) == ()
