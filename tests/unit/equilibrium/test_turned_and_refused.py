"""What must not change when two liquids change places, and what is refused or told beside it."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from forerun.core.errors import BadInput, CalculationFailed
from forerun.equilibrium import fitting
from forerun.equilibrium.bubble import boiling_curve, bubble_temperature
from forerun.equilibrium.fitting import FitSettings, fit_pair
from forerun.equilibrium.fitting_model import MeasuredTable, redlich_kister_design
from forerun.equilibrium.liquid_liquid_known import KnownMiscibility
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.equilibrium.pairs import PairCorrection, base_probe, find_pair
from forerun.equilibrium.pressure_shift import shifts_between
from forerun.equilibrium.projecting import redlich_kister_terms
from forerun.equilibrium.residue import Residues
from forerun.substances.catalogue import find
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, SLOPE, margules
from unit.equilibrium.test_fitting import KNOWN, pair, table


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
