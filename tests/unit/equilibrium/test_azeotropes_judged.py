"""How likely an azeotrope is, what print does to that, and what is listed as open: part by part."""

from __future__ import annotations

import math
from statistics import NormalDist
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium import azeotropes as judged
from forerun.equilibrium.azeotropes import (
    PossibleAzeotrope,
    _at_ends,
    _azeotrope,
    _by_model,
    _closed_by_print,
    _possible,
    _probability,
    _sentence,
    _too_thin,
    _warnings,
    find_azeotropes,
)
from forerun.equilibrium.azeotropes_bands import Scatter, _twin, end_half_width, rule_in
from forerun.equilibrium.azeotropes_border import Border
from forerun.equilibrium.azeotropes_printed import Printed
from forerun.equilibrium.azeotropes_search import SingularPoint
from forerun.equilibrium.azeotropes_words import close_to_words, undecided_words
from forerun.equilibrium.band_rules import EIGHTY
from forerun.equilibrium.bubble import bubble_temperature
from forerun.equilibrium.mixture import Mixture, _without_splitters, mixture_of
from forerun.substances.catalogue import find

ATMOSPHERE = 101325.0


def point(
    members: tuple[int, ...],
    x: list[float],
    values: tuple[float, ...] = (),
    liquids: Any = None,
    temperature: float = 350.0,
    *,
    flattened: bool = False,
) -> SingularPoint:
    return SingularPoint(members, temperature, np.array(x), liquids, values, flattened)


def scatter(composition: list[float], temperature: float = 1.0) -> Scatter:
    return Scatter(temperature, np.array(composition), 0.2, "predicted", (2, 3))


NAMES = ("ethanol", "water", "benzene")


@pytest.fixture(scope="module")
def three() -> Mixture:
    return mixture_of([find(n) for n in NAMES])


@pytest.fixture
def laid_down(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Lay down what is found of a pair: its ends, how likely it is, and what print says."""
    known: dict[str, Any] = {"ends": {}, "likely": {}, "print": {}, "borders": []}
    monkeypatch.setattr(
        judged, "_at_ends", lambda _m, pair, *_: (known["ends"].get(pair, (1.0, 2.0)), (0.1, 0.1))
    )
    monkeypatch.setattr(
        judged, "_of_pair", lambda _m, pair, *_: known["likely"].get(pair, (0.0, 0.0))
    )
    monkeypatch.setattr(judged, "printed_of", lambda _m, pair, _p: known["print"].get(pair))
    monkeypatch.setattr(judged, "near_borders", lambda *_: known["borders"])
    return known


def printed(kind: Any) -> Printed:
    row: Any = SimpleNamespace(
        temperature_K=None, mole_fraction=None, kind=kind, source="a handbook", provenance=""
    )
    return Printed((row,), kind)


def test_an_open_pair_is_listed_with_its_likelier_kind_and_the_nearer_pure_liquid(
    three: Mixture, laid_down: dict[str, Any]
) -> None:
    laid_down["likely"] = {(0, 1): (0.3, 0.2), (0, 2): (0.05, 0.4), (1, 2): (0.09, 0.05)}
    laid_down["ends"] = {(0, 1): (0.5, -0.1), (0, 2): (-0.2, 0.9)}
    assert _possible(three, (), (), ATMOSPHERE) == [
        PossibleAzeotrope((0, 1), "minimum", (1,), 0.3),
        PossibleAzeotrope((0, 2), "maximum", (0,), 0.4),
    ]
    found = (point((0, 1), [0.4, 0.6, 0.0]),)
    assert [p.components for p in _possible(three, found, (), ATMOSPHERE)] == [(0, 2)]
    thin = (point((0, 1), [1.0 - 1e-4, 1e-4, 0.0]),)
    assert len(_possible(three, thin, (), ATMOSPHERE)) == 2  # too thin to count as found


def test_print_closes_what_is_open_and_opens_what_is_closed(
    three: Mixture, laid_down: dict[str, Any]
) -> None:
    laid_down["likely"] = {(0, 1): (0.6, 0.0), (0, 2): (0.0, 0.01), (1, 2): (0.7, 0.0)}
    laid_down["print"] = {(0, 1): printed("none"), (0, 2): printed("maximum")}
    laid_down["print"][1, 2] = printed(None)  # prints that disagree change nothing
    found = _possible(three, (), (), ATMOSPHERE)
    assert [(p.components, p.kind, p.probability) for p in found] == [
        ((0, 2), "maximum", 0.5),
        ((1, 2), "minimum", 0.7),
    ]
    laid_down["print"][1, 2] = printed("minimum")
    assert _possible(three, (), (), ATMOSPHERE)[1].probability == 0.7  # print never lowers it so


def test_larger_sets_are_listed_where_they_are_likely_enough(
    three: Mixture, laid_down: dict[str, Any]
) -> None:
    laid_down["borders"] = [
        Border((0, 1, 2), (0, 1), "saddle", 0.2),
        Border((0, 1, 2), (1, 2), "saddle", 0.05),
    ]
    assert _possible(three, (), (), ATMOSPHERE) == [
        PossibleAzeotrope((0, 1, 2), "saddle", (0, 1), 0.2)
    ]


def test_what_print_denies_is_told_where_it_was_open_and_not_found(
    three: Mixture, laid_down: dict[str, Any]
) -> None:
    laid_down["likely"] = {(0, 1): (0.3, 0.0), (0, 2): (0.05, 0.02), (1, 2): (0.0, 0.3)}
    laid_down["print"] = {p: printed("none") for p in ((0, 1), (0, 2), (1, 2))}

    def told(*points: SingularPoint) -> list[str]:
        return list(_closed_by_print(three, points, (), ATMOSPHERE))

    both = told()
    assert len(both) == 2
    assert both[0] == (
        "ethanol and water, which the models leave open (probability 30 %): print: no azeotrope "
        "(a handbook)."
    )
    assert both[1].startswith("water and benzene")
    assert told(point((0, 1), [0.4, 0.6, 0.0])) == both[1:]
    assert told(point((0, 1), [1.0 - 1e-4, 1e-4, 0.0])) == both
    laid_down["print"][0, 1] = printed("minimum")
    laid_down["print"][1, 2] = None
    assert told() == []


def test_an_open_pair_is_told_with_what_print_says_and_a_triple_without(
    three: Mixture, laid_down: dict[str, Any]
) -> None:
    pair = PossibleAzeotrope((0, 2), "minimum", (2,), 0.4)
    plain = "ethanol and benzene may or may not have a minimum azeotrope (probability 40 %)"
    assert _sentence(three, pair, ATMOSPHERE) == f"{plain}, close to pure benzene."
    laid_down["print"] = {(0, 2): printed("none"), (0, 1): printed("none")}
    assert _sentence(three, pair, ATMOSPHERE) == (
        f"{plain}, close to pure benzene. Print: no azeotrope (a handbook)."
    )
    triple = PossibleAzeotrope((0, 1, 2), "saddle", (0, 1), 0.4)
    assert "rint" not in _sentence(three, triple, ATMOSPHERE)


def test_words_of_what_is_open_name_the_pressure_where_one_is_given() -> None:
    assert undecided_words(["a", "b", "c"], "saddle", 0.126, "1 bar") == (
        "a, b and c may or may not have a saddle azeotrope at 1 bar (probability 13 %)"
    )
    assert " at " not in undecided_words(["a", "b"], "saddle", 0.1)
    assert close_to_words(["a"]) == "close to pure a"
    assert close_to_words(["a", "b"]) == "close to that of a and b"


@pytest.mark.parametrize(("kind", "expected"), [("minimum", 0.7), ("maximum", 0.1)])
def test_a_pair_is_as_likely_as_the_volatilities_at_its_ends_say(
    three: Mixture, laid_down: dict[str, Any], kind: str, expected: float
) -> None:
    laid_down["likely"] = {(0, 1): (0.7, 0.1)}
    found = point((0, 1), [0.4, 0.6, 0.0], (0.3, 0.2) if kind == "minimum" else (-0.3, 0.2))
    assert _probability(three, found, scatter([0.1, 0.1, 0.0]), (), ()) == expected


def test_a_pair_with_both_ends_on_one_side_is_as_likely_as_it_is_deep(
    three: Mixture, laid_down: dict[str, Any]
) -> None:
    """Depth below the nearer pure liquid of the pair, in standard deviations of the temperature."""
    laid_down["ends"] = {(0, 1): (0.4, -0.3)}
    pures = tuple(
        point((k,), list(np.eye(3)[k]), temperature=t) for k, t in enumerate((352.0, 373.0, 350.1))
    )
    found = point((0, 1), [0.4, 0.6, 0.0], (0.3, 0.2), temperature=350.0)
    likely = _probability(three, found, scatter([0.1] * 3, 2.5), pures, ())
    assert likely == pytest.approx(NormalDist(0.0, 2.5 / EIGHTY).cdf(2.0), rel=1e-9)


@pytest.mark.parametrize("x", [[0.05, 0.35, 0.6], [0.5, 0.02, 0.48]])
def test_an_azeotrope_of_three_is_as_likely_as_its_composition_is_inside(
    three: Mixture, x: list[float]
) -> None:
    width = [0.04, 0.06, 0.05]
    found = point((0, 1, 2), x, (0.3, 0.2))
    nearest = min(a / (w / EIGHTY) for a, w in zip(x, width, strict=True))
    likely = _probability(three, found, scatter(width), (), ())
    assert likely == pytest.approx(NormalDist().cdf(nearest), rel=1e-9)
    assert 0.6 < likely < 0.999
    assert _probability(three, found, scatter([1e-14] * 3), (), ()) == pytest.approx(1.0)


def test_the_ends_of_a_pair_are_ln_volatilities_with_what_is_to_be_expected(
    three: Mixture,
) -> None:
    """Eigenvalue 1 - y/x of each pure liquid towards the other, in the order of the absent."""
    pures = (
        point((0,), [1.0, 0.0, 0.0], (1.0 - 3.0, 1.0 - 0.5)),
        point((1,), [0.0, 1.0, 0.0], (1.0 - 7.0, 1.0 - 40.0)),
        point((2,), [0.0, 0.0, 1.0], (1.0 - 5.0, 1.0 - 9.0)),
    )
    expected = {(0, 1): (3.0, 7.0), (0, 2): (0.5, 5.0), (1, 2): (40.0, 9.0)}
    for basis in three.pairs:
        middle = rule_in(three, basis).end_middle
        values, widths = _at_ends(three, basis.components, pures, ())
        ratios = [math.exp(v - middle) for v in values]
        assert ratios == pytest.approx(expected[basis.components])
        assert widths == tuple(
            end_half_width(three, basis, k, (), of_truth=True) for k in basis.components
        )


def _found(
    three: Mixture, one: SingularPoint, monkeypatch: pytest.MonkeyPatch, **known: Any
) -> Any:
    own = known.get("scatter", scatter([0.05, 0.05, 0.0], 0.6))
    monkeypatch.setattr(judged, "scatter_of", lambda *_: own)
    monkeypatch.setattr(judged, "_probability", lambda *_: known.get("likely", 0.95))
    monkeypatch.setattr(judged, "printed_of", lambda *_: known.get("print"))
    return _azeotrope(three, one, ATMOSPHERE, (), ())


MINIMUM = point((0, 1), [0.9, 0.1, 0.0], (0.3, 0.2), temperature=351.3)


def test_numbers_of_an_azeotrope_stand_in_their_bands(
    three: Mixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = _found(three, MINIMUM, monkeypatch, scatter=scatter([0.15, 0.15, 0.0], 0.6))
    assert found.temperature_band_K == pytest.approx((350.7, 351.9))
    low, high = found.composition_band
    assert low == pytest.approx([0.75, 0.0, 0.0])
    assert high == pytest.approx([1.0, 0.25, 0.0])
    masses = [s.molar_mass for s in three.substances]
    over = 0.9 * masses[0] / (0.9 * masses[0] + 0.1 * masses[1])
    assert found.mass_fraction == pytest.approx([over, 1.0 - over, 0.0])
    assert (found.kind, found.liquid_phases, found.note) == ("minimum", 1, "")
    assert (found.probability, found.certainty) == (0.95, "certain")
    layers = (np.array([0.1, 0.9, 0.0]), np.array([0.9, 0.1, 0.0]))
    split = point((0, 1), [0.5, 0.5, 0.0], (0.3, 0.2), layers)
    assert _found(three, split, monkeypatch).liquid_phases == 2


@pytest.mark.parametrize(
    ("kind", "likely", "expected"),
    [("minimum", 0.3, 0.98), ("minimum", 0.995, 0.995), ("maximum", 0.95, 0.5),
     ("none", 0.2, 0.2), (None, 0.95, 0.95)],
)  # fmt: skip
def test_print_of_the_same_kind_makes_sure_and_of_another_makes_doubtful(
    three: Mixture, monkeypatch: pytest.MonkeyPatch, kind: Any, likely: float, expected: float
) -> None:
    found = _found(three, MINIMUM, monkeypatch, likely=likely, print=printed(kind))
    assert found.probability == expected
    assert found.certainty == ("certain" if expected >= 0.9 else "doubtful")
    assert ("it may or may not exist" in found.note) == (expected < 0.9)
    assert ("print:" in found.note) == (likely < 0.9 or kind != "minimum")


def test_a_levelled_split_is_told(three: Mixture, monkeypatch: pytest.MonkeyPatch) -> None:
    one = point((0, 1), [0.9, 0.1, 0.0], (1.0, 0.2), flattened=True)
    assert "three phases meet" in _found(three, one, monkeypatch).note


def test_only_one_liquid_can_be_too_thin_to_be_told_from_a_pure_one() -> None:
    assert _too_thin(point((0, 1), [0.9995, 0.0005, 0.0]))
    assert not _too_thin(point((0, 1), [0.995, 0.005, 0.0]))
    assert not _too_thin(point((0, 1), [0.9995, 0.0005, 0.0], (), (np.ones(3), np.ones(3))))


def test_two_liquids_that_were_measured_and_are_not_shown_are_warned_of() -> None:
    """Butanol and water part near their boiling point; the search is told of one liquid."""
    mixture = mixture_of([find("1-butanol"), find("water")])
    search: Any = SimpleNamespace(unbalanced=(), settled=())

    def told(phases: int, members: tuple[int, ...] = (0, 1), temperature: float = 365.0) -> int:
        one: Any = SimpleNamespace(
            liquid_phases=phases,
            components=members,
            temperature_K=temperature,
            liquid_compositions=None,
        )
        return len(_warnings(mixture, ATMOSPHERE, [one], search))

    assert told(1) == 1
    assert told(2) == 0
    assert told(1, (0, 1, 1)) == 0
    assert len(_warnings(mixture, 2.1e5, [], search)) == 1
    assert _warnings(mixture, 1.9e5, [], search) == []


def test_azeotropes_of_three_are_asked_of_every_model_alone() -> None:
    mixture = mixture_of(
        [find(n) for n in ("acetone", "chloroform", "methanol")], corrections=False
    )
    found = find_azeotropes(mixture, ATMOSPHERE)
    own = _by_model(mixture, ATMOSPHERE, frozenset(), found.points)
    assert len(own) == len(mixture.models) > 1
    for points in own:
        (triple,) = [p for p in points if len(p.components) == 3]
        pairs = [p for p in points if len(p.components) == 2]
        assert pairs
        assert all(p.components in {(0, 1), (0, 2), (1, 2)} for p in pairs)
        assert triple.mole_fraction.sum() == pytest.approx(1.0)
    several = [next(p for p in points if len(p.components) == 3) for points in own]
    assert several[0].temperature_K != several[1].temperature_K


def test_the_twin_of_a_point_is_the_nearest_in_its_farthest_component() -> None:
    here = point((0, 1, 2), [0.3, 0.3, 0.4])
    alike = point((0, 1, 2), [0.3, 0.45, 0.25])  # the same in one, far in another
    near = point((0, 1, 2), [0.25, 0.25, 0.5])
    other = point((0, 1), [0.3, 0.3, 0.4])
    assert _twin(here, (alike, near, other)) is near
    assert _twin(here, (other,)) is None


def test_models_that_split_what_mixes_are_left_out_until_a_set_does_not() -> None:
    models = ("a", "b", "c")
    every = {frozenset({"a", "b", "c"}), frozenset({"a", "b"}), frozenset({"b", "c"})}

    def kept(*sets: Any, fitted: Any = ()) -> tuple[str, ...]:
        known: Any = dict.fromkeys(fitted)
        return _without_splitters(models, {(0, k + 1): frozenset(s) for k, s in enumerate(sets)},
                                  known)  # fmt: skip

    assert kept() == models
    assert kept(every) == ("a", "c")
    one = {frozenset({"a", "c"}), frozenset({"a"}), frozenset({"b"})}
    assert kept(every, one) == ("c",)  # a single model, where no two will do
    assert kept(every, one, {frozenset({"c"})}) == models  # none will do: all
    assert kept(every, fitted=[(0, 1)]) == models  # a fit mends it


@pytest.mark.parametrize(
    "wrong", [[math.nan, 1.0], [0.5, math.inf], [-0.1, 1.1], [0.5, 0.6], [1.0]]
)
def test_fractions_that_are_none_are_refused(wrong: list[float]) -> None:
    mixture = mixture_of([find("ethanol"), find("water")])
    with pytest.raises(BadInput, match="mole fractions, none negative"):
        bubble_temperature(wrong, ATMOSPHERE, mixture)
