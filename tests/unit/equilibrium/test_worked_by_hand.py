"""Made-up liquids whose answers a lever rule, a limit or an exact formula gives."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.azeotropes_search import (
    SingularPoint,
    _vertex,
    follow,
    singular_points,
)
from forerun.equilibrium.azeotropes_words import likely_words
from forerun.equilibrium.boundaries import _whole
from forerun.equilibrium.course import Product, _first_vapour, _joined, _leg, _Pot, course_of
from forerun.equilibrium.fitting import FitSettings, _trust
from forerun.equilibrium.fitting_evidence import Evidence
from forerun.equilibrium.mixture import mixture_of
from forerun.equilibrium.own_pairs import OwnPair, own_pair_file, read_own_pair
from forerun.equilibrium.pressure_shift import Shift, _continue, shifts_between
from forerun.equilibrium.projecting import redlich_kister_terms
from forerun.equilibrium.residue import ResidueCurve, Residues, _nearest
from forerun.equilibrium.settling import settled
from forerun.equilibrium.steam import steam_distillation, with_residue
from forerun.substances.catalogue import find
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, SLOPE, margules


def _bed(boiling_points: list[float], pairs: dict[tuple[int, int], list[float]]) -> Residues:
    arrays = margules(boiling_points, pairs)
    return Residues(arrays, ATMOSPHERE, tuple(singular_points(arrays, ATMOSPHERE)))


def test_the_first_vapour_of_ideal_liquids_is_raoults() -> None:
    x = np.array([0.3, 0.5, 0.2])
    residues = _bed([340.0, 355.0, 370.0], {})
    course = course_of(x, residues)
    temperature = course.still.temperature_K[0]
    pure = np.exp(SLOPE * (1.0 - np.array([340.0, 355.0, 370.0]) / temperature))
    assert float(x @ pure) == pytest.approx(1.0, abs=1e-6)
    assert course.first_vapour == pytest.approx(x * pure, abs=5e-3)
    assert course.feed == pytest.approx(x)
    short = replace(course.still, left=course.still.left[:1])
    assert _first_vapour(short) is course.still.mole_fraction[0] or np.array_equal(
        _first_vapour(short), course.still.mole_fraction[0]
    )


@pytest.mark.parametrize("strength", [1.0, 1.6])
@pytest.mark.parametrize("light", [0.1, 0.3, 0.9])
def test_products_of_a_pair_with_a_minimum_are_those_of_the_lever(
    strength: float, light: float
) -> None:
    """The azeotrope takes all of what there is too little of beside it; the rest stays pure."""
    residues = _bed([350.0, 360.0], {(0, 1): [strength]})
    azeotrope = next(p for p in residues.points if len(p.components) == 2)
    a = float(azeotrope.mole_fraction[0])
    first, last = course_of([light, 1.0 - light], residues).products
    assert first.point is azeotrope
    share = light / a if light < a else (1.0 - light) / (1.0 - a)
    assert first.share == pytest.approx(share, abs=2e-3)
    assert last.share == pytest.approx(1.0 - share, abs=2e-3)
    assert last.point is not None
    assert last.point.components == ((1,) if light < a else (0,))
    assert not first.stays


@pytest.mark.parametrize("light", [0.2, 0.8])
def test_products_of_a_pair_with_a_maximum_are_those_of_the_lever(light: float) -> None:
    residues = _bed([350.0, 360.0], {(0, 1): [-1.2]})
    azeotrope = next(p for p in residues.points if len(p.components) == 2)
    a = float(azeotrope.mole_fraction[0])
    first, last = course_of([light, 1.0 - light], residues).products
    assert last.point is azeotrope
    assert last.stays
    share = light / a if light < a else (1.0 - light) / (1.0 - a)
    assert last.share == pytest.approx(share, abs=0.03)
    assert first.point is not None
    assert first.point.components == ((1,) if light < a else (0,))


@pytest.mark.parametrize("charge", [[0.5], [0.5, -0.1], [0.0, 0.0], [np.nan, 1.0], [np.inf, 1.0]])
def test_a_charge_that_is_none_is_refused(charge: list[float]) -> None:
    residues = _bed([350.0, 360.0], {})
    with pytest.raises(BadInput):
        course_of(charge, residues)
    assert course_of([3.0, 1.0], residues).feed == pytest.approx([0.75, 0.25])


def test_what_goes_over_and_what_stays_is_what_was_there() -> None:
    pot = _Pot(np.array([0.5, 0.3, 0.2]), 0.8)
    over, share = np.array([0.9, 0.1, 0.0]), 0.4
    after = pot.without(over, share)
    assert after.left == pytest.approx(0.8 * 0.6)
    moles = after.left * after.x + 0.8 * share * over
    assert moles == pytest.approx(0.8 * pot.x, abs=1e-12)
    assert _Pot(np.array([0.99995, 5e-5]), 1.0).purged().x.tolist() == [1.0, 0.0]
    kept = _Pot(np.array([0.9998, 2e-4]), 1.0).purged()
    assert kept.x[1] == pytest.approx(2e-4)


def test_a_leg_ends_where_a_component_is_spent() -> None:
    residues = _bed([340.0, 355.0, 370.0], {})
    node = residues.nodes((0, 1, 2), "unstable node")[0]
    pot = _Pot(np.array([0.25, 0.45, 0.3]), 1.0)
    ahead, product, border = _leg(pot, node, residues)
    assert product.share == pytest.approx(0.25, abs=1e-6)
    assert ahead.left == pytest.approx(0.75, abs=1e-6)
    assert ahead.x == pytest.approx([0.0, 0.6, 0.4], abs=1e-6)
    assert border is False


def test_products_of_one_point_in_a_row_are_one() -> None:
    residues = _bed([350.0, 360.0], {})
    light, heavy = residues.points
    one = Product(light, np.array([1.0, 0.0]), 0.2)
    two = Product(light, np.array([0.9, 0.1]), 0.1)
    last = Product(heavy, np.array([0.0, 1.0]), 0.7, True)
    joined = _joined([one, two, last])
    assert [p.share for p in joined] == pytest.approx([0.3, 0.7])
    assert joined[0].mole_fraction == pytest.approx([0.29 / 0.3, 0.01 / 0.3])
    assert joined[1] is last
    assert _joined([one, last, two])[2] is two
    # a crumb after a border belongs to it, unless it is what stays
    border = Product(None, np.array([0.5, 0.5]), 0.3, along=True)
    crumb, more = (Product(heavy, np.array([0.0, 1.0]), s) for s in (0.05, 0.07))
    assert [p.share for p in _joined([border, crumb])] == pytest.approx([0.35])
    assert len(_joined([border, more])) == 2
    assert len(_joined([border, replace(crumb, stays=True)])) == 2
    assert _joined([]) == []


def test_terms_of_a_redlich_kister_function_come_back_exactly() -> None:
    """ln gamma from g by differences of n g, not by the formula that is fitted."""
    terms = np.array([[0.7, 0.4], [-0.2, 0.1], [0.05, -0.3]])

    def excess(n1: float, n2: float, temperature: float) -> float:
        total, tilt = n1 + n2, 350.0 / temperature - 1.0
        x1, x2 = n1 / total, n2 / total
        a = terms[:, 0] + terms[:, 1] * tilt
        return float(total * x1 * x2 * np.sum(a * (x1 - x2) ** np.arange(3)))

    def ln_gamma(temperature: float, x: np.ndarray) -> np.ndarray:
        h = 1e-6
        first = excess(x[0] + h, x[1], temperature) - excess(x[0] - h, x[1], temperature)
        second = excess(x[0], x[1] + h, temperature) - excess(x[0], x[1] - h, temperature)
        return np.array([first, second]) / (2.0 * h)

    assert redlich_kister_terms(ln_gamma, 3) == pytest.approx(terms, abs=1e-7)
    more = redlich_kister_terms(ln_gamma, 4)
    assert more == pytest.approx(np.vstack([terms, np.zeros(2)]), abs=1e-7)
    # with fewer terms what is left over is as small as any choice can make it
    one = redlich_kister_terms(ln_gamma, 1)
    assert one[0, 0] == pytest.approx(0.7, abs=0.1)


def test_one_layer_has_the_mass_and_volume_of_its_parts() -> None:
    mixture = mixture_of([find("ethanol"), find("water")])
    z = np.array([0.3, 0.7])
    for temperature in (293.15, 313.15):
        (layer,) = settled(2.0 * z, temperature, mixture)
        masses = np.array([s.molar_mass for s in mixture.substances])
        t = temperature - 293.15
        volumes = np.array(
            [
                s.molar_volume.v0 + t * (s.molar_volume.v1 + t * s.molar_volume.v2)
                for s in mixture.substances
            ]
        )
        assert layer.mole_fraction == pytest.approx(z)
        assert layer.mass_fraction == pytest.approx(z * masses / (z @ masses))
        assert layer.density_kg_m3 == pytest.approx(float(z @ masses / (z @ volumes)))
        assert (layer.mole_share, layer.volume_share) == (1.0, pytest.approx(1.0))


def test_two_layers_hold_what_was_poured_in_by_mass_and_by_volume() -> None:
    mixture = mixture_of([find("1-butanol"), find("water")])
    z = np.array([0.2, 0.8])
    masses = np.array([s.molar_mass for s in mixture.substances])
    layers = settled(z, 298.15, mixture)
    assert len(layers) == 2
    whole = sum(one.mass_share * one.mass_fraction for one in layers)
    assert whole == pytest.approx(z * masses / (z @ masses), rel=1e-6)
    for one, other in (layers, layers[::-1]):
        ratio = one.mass_share / other.mass_share
        assert ratio == pytest.approx(
            one.volume_share * one.density_kg_m3 / (other.volume_share * other.density_kg_m3),
            rel=1e-9,
        )
        assert one.mole_share * float(one.mole_fraction @ masses) == pytest.approx(
            one.mass_share * float(z @ masses), rel=1e-9
        )


@pytest.mark.parametrize("names", [("1-butanol", "water"), ("water", "1-butanol")])
def test_steam_is_told_by_mass_whichever_stands_first(names: tuple[str, str]) -> None:
    """Butanol and water boil together at 92.7 °C, 42.5 % water by mass in the vapour.

    The layers there hold some 8 and 80 % butanol (all three from handbooks, from memory).
    """
    mixture = mixture_of([find(name) for name in names])
    steam = steam_distillation(mixture, ATMOSPHERE)
    assert steam is not None
    assert names[steam.product] == "1-butanol"
    assert steam.temperature_K - 273.15 == pytest.approx(92.7, abs=1.0)
    y, masses = steam.vapour_mole_fraction, [s.molar_mass for s in mixture.substances]
    water = 1 - steam.product
    ratio = y[water] * masses[water] / (y[steam.product] * masses[steam.product])
    assert steam.water_per_product == pytest.approx(ratio, rel=1e-12)
    assert ratio == pytest.approx(0.425 / 0.575, rel=0.15)  # the models miss by 13 %
    in_water, in_product = steam.dissolved
    assert in_water == pytest.approx(0.08, abs=0.03)
    assert in_product == pytest.approx(0.22, abs=0.06)
    with pytest.raises(BadInput):
        steam_distillation(mixture_of([find(n) for n in (*names, "ethanol")]), ATMOSPHERE)


@pytest.mark.parametrize("particles", [0.0, 0.2])
def test_dissolved_particles_up_to_the_limit_are_taken(particles: float) -> None:
    thinned, factor = with_residue([2.0, 6.0], particles)
    assert thinned == pytest.approx([0.25 * (1.0 - particles), 0.75 * (1.0 - particles)])
    assert factor * (1.0 - particles) == pytest.approx(1.0)
    for wrong in (-0.01, 0.201, math.nan):
        with pytest.raises(BadInput):
            with_residue([1.0, 1.0], wrong)


def _own(terms: tuple[tuple[float, float], ...], **changes: object) -> OwnPair:
    size = 2 * len(terms)
    generator = np.random.default_rng(3)
    root = generator.normal(size=(size, size))
    made = OwnPair(
        components=("A", "B"),
        names=("a", "b"),
        smiles=("C", "CC"),
        terms=terms,
        covariance=tuple(tuple(float(v) for v in row) for row in root @ root.T),
        base_models=("m",),
        scatter_K=0.3,
        label="l",
        points=(),
        rms={},
        consistency=(),
        probe=tuple(float(k) for k in range(9)),
    )
    return replace(made, **changes)  # type: ignore[arg-type]  # any field


def test_a_turned_pair_says_the_same_of_every_liquid_with_the_same_doubt() -> None:
    """sum A_k (x1 - x2)^k and its variance do not know which component is called the first."""
    own = _own(((0.5, 0.1), (-0.3, 0.2), (0.1, -0.4)))
    turned = own.flipped()
    assert (turned.components, turned.names, turned.smiles) == (("B", "A"), ("b", "a"), ("CC", "C"))
    for x1, temperature in ((0.1, 300.0), (0.7, 380.0)):
        tilt = 350.0 / temperature - 1.0

        def row(x: float, tilt: float = tilt) -> np.ndarray:
            powers = (2.0 * x - 1.0) ** np.arange(3)
            return np.stack([powers, powers * tilt], axis=1).reshape(-1)

        for one, x in ((own, x1), (turned, 1.0 - x1)):
            value = row(x) @ np.array(one.terms).reshape(-1)
            doubt = row(x) @ np.array(one.covariance) @ row(x)
            assert value == pytest.approx(row(x1) @ np.array(own.terms).reshape(-1))
            assert doubt == pytest.approx(row(x1) @ np.array(own.covariance) @ row(x1))
    # nine places: three temperatures, three compositions each, of which the middle one stays
    assert turned.probe == (2.0, 1.0, 0.0, 5.0, 4.0, 3.0, 8.0, 7.0, 6.0)
    assert replace(own, probe=(1.0,)).flipped().probe == ()


def test_a_file_is_the_same_whichever_component_is_asked_first() -> None:
    assert own_pair_file("A", "B") == own_pair_file("B", "A") != own_pair_file("A", "C")


@pytest.mark.parametrize(
    ("own", "good"),
    [
        (_own(((20.0, -20.0),)), True),
        (_own(((20.1, 0.0),)), False),
        (_own(((0.0, -20.1),)), False),
        (_own(((0.1, 0.0),) * 5), True),
        (_own(((0.1, 0.0),) * 6), False),
        (_own(((0.1, 0.0),), scatter_K=0.0), False),
        (_own(((0.1, 0.0),), scatter_K=math.inf), False),
        (_own(((0.1, 0.0),), covariance=((math.nan, 0.0), (0.0, 1.0))), False),
        (_own(((0.1, 0.0),), covariance=((1.0, 0.0),)), False),
        (_own(((0.1, 0.0),), covariance=((1.0, 0.0), (0.0, 1.0, 0.0))), False),
    ],
)
def test_what_a_file_of_a_pair_may_hold(tmp_path: Path, own: OwnPair, good: bool) -> None:
    file = tmp_path / "pair.json"
    file.write_text(own.text(), encoding="utf-8")
    if good:
        assert read_own_pair(file).terms == own.terms
    else:
        with pytest.raises(BadInput, match="one to five terms"):
            read_own_pair(file, "--with")


def test_a_large_file_and_none_are_refused_by_their_field(tmp_path: Path) -> None:
    large = tmp_path / "large.json"
    large.write_text(_own(((0.1, 0.0),)).text() + " " * 2_000_000, encoding="utf-8")
    for file in (large, tmp_path / "none.json"):
        with pytest.raises(BadInput) as told:
            read_own_pair(file, "--with")
        assert told.value.field == "--with"
    with pytest.raises(BadInput) as plain:
        read_own_pair(large)
    assert plain.value.field == "fitted pair"


def _shift(fractions: list[list[float]], components: tuple[int, ...] = (0, 1)) -> Shift:
    n = len(fractions)
    x = np.array(fractions)
    return Shift(components, np.geomspace(1e4, 1e5, n), np.full(n, 350.0), x, None, None)


def test_an_azeotrope_passes_only_charges_of_its_own_pair_between_its_ends() -> None:
    moves = _shift([[0.3, 0.7], [0.4, 0.6], [0.5, 0.5]])
    assert moves.passes([0.4, 0.6])
    assert moves.passes([4.0, 6.0])
    for feed in ([0.3, 0.7], [0.5, 0.5], [0.2, 0.8], [0.6, 0.4]):
        assert not moves.passes(feed)
    beside = _shift([[0.0, 0.3, 0.7], [0.0, 0.5, 0.5]], (1, 2))
    assert beside.passes([0.0, 0.4, 0.6])
    assert not beside.passes([0.01, 0.4, 0.59])
    three = _shift([[0.2, 0.3, 0.5], [0.4, 0.3, 0.3]], (0, 1, 2))
    assert not three.passes([0.3, 0.3, 0.4])


def test_an_azeotrope_exists_on_one_side_of_where_it_appears_and_not_on_the_other() -> None:
    """Within half a per cent, by the search itself at a pressure on either side."""
    mixture = mixture_of([find("ethanol"), find("water")])
    (shift,) = shifts_between(mixture, 5e3, 2e4)
    assert shift.appears_Pa is not None

    def there(pressure: float) -> bool:
        points = singular_points(mixture.arrays, pressure)
        return any(len(p.components) == 2 for p in points)

    assert there(1.006 * shift.appears_Pa)
    assert not there(0.994 * shift.appears_Pa)
    assert shift.pressure_Pa[0] > shift.appears_Pa
    assert shift.pressure_Pa[-1] == pytest.approx(2e4)
    assert shift.mole_fraction.sum(axis=1) == pytest.approx(1.0)
    assert np.all(np.diff(shift.temperature_K) > 0.0)


@pytest.mark.parametrize("nodes", [[0.0, 1.0, 2.0], [0.0, 0.5, 2.0], [-3.0, -1.0, -0.5]])
def test_the_extremum_of_a_parabola_is_met_exactly(nodes: list[float]) -> None:
    t = np.array(nodes)
    for top in (t[1], 0.5 * (t[0] + t[1]), 0.3 * t[1] + 0.7 * t[2]):
        for bend in (2.0, -0.7):
            found = _vertex(t, 0.4 + bend * (t - top) ** 2)
            assert found == pytest.approx(top, abs=1e-12)
    beyond = 0.1 * (t - (t[2] + 5.0)) ** 2
    assert _vertex(t, beyond) == t[2]  # kept between the outer two
    assert _vertex(t, 0.1 * (t - (t[0] - 5.0)) ** 2) == t[0]
    assert _vertex(np.array([0.0, 1.0, 2.0]), np.array([1.0, 2.0, 3.0])) == 1.0


def test_the_nearest_point_is_near_in_every_component() -> None:
    here, there = _seen([0.3, 0.3, 0.4]), _seen([0.3, 0.6, 0.1])
    x = np.array([0.3, 0.34, 0.36])
    assert _nearest(x, (there, here), 0.05) is here
    assert _nearest(x, (there, here), 0.03) is None  # the same amount of the first is not enough
    assert _nearest(x, (there,), 0.05) is None
    assert _nearest(x, (), 1.0) is None


def _seen(x: list[float], components: tuple[int, ...] = (0, 1, 2)) -> SingularPoint:
    return SingularPoint(components, 350.0, np.array(x), None, ())


def test_an_azeotrope_goes_on_from_the_nearest_of_the_pressure_before() -> None:
    """No mole fraction may have moved by a quarter, the largest counts, and none may be skipped."""
    first, second = _seen([0.2, 0.3, 0.5]), _seen([0.5, 0.3, 0.2])
    tracks: list[list[tuple[int, SingularPoint]]] = []
    _continue(tracks, 0, [first, second])
    assert [len(t) for t in tracks] == [1, 1]
    near = _seen([0.36, 0.3, 0.34])  # 0.16 from the first, 0.14 from the second
    _continue(tracks, 1, [near])
    assert [len(t) for t in tracks] == [1, 2]
    far = _seen([0.62, 0.3, 0.08])
    _continue(tracks, 2, [far])  # the same amount of the second component is not enough
    assert [len(t) for t in tracks] == [1, 2, 1]
    _continue(tracks, 3, [_seen([0.6, 0.3, 0.1]), _seen([0.6, 0.4, 0.0], (0, 1))])
    assert [len(t) for t in tracks] == [1, 2, 2, 1]
    _continue(tracks, 5, [_seen([0.6, 0.3, 0.1])])  # one pressure was without it
    assert len(tracks) == 5


def test_an_azeotrope_is_followed_from_one_model_to_another() -> None:
    """One-term Margules: at the end it is where the search finds it anew; beyond A it is lost."""
    start, end = (margules([350.0, 360.0], {(0, 1): [a]}) for a in (1.0, 1.5))
    (point,) = [p for p in singular_points(start, ATMOSPHERE) if len(p.components) == 2]
    (expected,) = [p for p in singular_points(end, ATMOSPHERE) if len(p.components) == 2]
    for steps in (1, 4):
        found = follow(point, start, end, ATMOSPHERE, steps)
        assert found is not None
        assert found.mole_fraction == pytest.approx(expected.mole_fraction, abs=1e-7)
        assert found.temperature_K == pytest.approx(expected.temperature_K, abs=1e-6)
        assert found.components == (0, 1)
        assert found.eigenvalues == ()
    ideal = margules([350.0, 360.0], {(0, 1): [0.0]})
    assert follow(point, start, ideal, ATMOSPHERE) is None


def test_two_halves_of_a_curve_are_one_in_the_direction_of_a_still() -> None:
    """The liquid at which they meet stands there once."""

    def half(columns: np.ndarray, end: SingularPoint | None) -> ResidueCurve:
        return ResidueCurve(
            np.stack([columns, 1.0 - columns], axis=1), 300.0 + columns, columns, columns, end
        )

    end = _seen([1.0, 0.0], (0,))
    whole = _whole(half(np.array([0.5, 0.4, 0.2]), None), half(np.array([0.5, 0.6, 0.9]), end))
    assert whole.mole_fraction[:, 0].tolist() == [0.2, 0.4, 0.5, 0.6, 0.9]
    assert whole.temperature_K.tolist() == [300.2, 300.4, 300.5, 300.6, 300.9]
    assert whole.left.tolist() == whole.second_share.tolist() == [0.2, 0.4, 0.5, 0.6, 0.9]
    assert whole.end is end


def test_an_order_that_cannot_be_followed_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    residues = _bed([340.0, 355.0, 370.0], {})
    monkeypatch.setattr(Residues, "origin", lambda _self, _liquid: None)
    course = course_of([0.2, 0.3, 0.5], residues)
    assert course.warnings == ("The order could not be followed to its end.",)
    (product,) = course.products
    assert (product.point, product.share, product.stays) == (None, 1.0, True)


def test_a_row_of_evidence_that_stands_out_loses_its_weight() -> None:
    """Student's t: (nu + 1)/(nu + r^2) for a row that is r standard deviations off."""
    design = np.zeros((3, 10))
    design[:, 0] = [1.0, 0.0, 2.0]
    none = np.zeros(3)
    both = none.astype(bool)
    rows = Evidence(design, np.array([1.5, 3.0, 0.0]), none.astype(np.int64), none, ("p",), both)
    found = _trust(rows, np.array([0.5, 9.0]), FitSettings(freedom=4.0))
    assert found == pytest.approx([5.0 / 5.0, 5.0 / 13.0, 5.0 / 5.0])


def test_a_one_sided_row_counts_only_while_it_is_not_reached() -> None:
    design = np.zeros((3, 10))
    design[:, 0] = 1.0
    none, gap = np.zeros(3), np.array([1.5, 0.5, -2.0])
    sides = np.array([True, True, True])
    rows = Evidence(design, gap, none.astype(np.int64), none, ("p",), sides)
    found = _trust(rows, np.array([0.5, 0.0]), FitSettings(freedom=4.0))
    assert found == pytest.approx([5.0 / 5.0, 0.0, 0.0])


def test_a_chance_is_told_in_whole_per_cent() -> None:
    assert likely_words(0.49) == "probability 49 %"
    assert likely_words(0.5) == "probability 50 %"
