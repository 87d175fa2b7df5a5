"""Residue curves, boundaries and the order of products, on liquids whose answers are known."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.azeotropes_balanced import balanced_points
from forerun.equilibrium.azeotropes_kernels import boiling
from forerun.equilibrium.azeotropes_search import SingularPoint, singular_points
from forerun.equilibrium.azeotropes_topology import (
    index_balance,
    stability_of,
    unbalanced_faces,
)
from forerun.equilibrium.boundaries import ternary_of
from forerun.equilibrium.course import course_of
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.liquid_liquid import split_liquid, stability
from forerun.equilibrium.mixture import mixture_of
from forerun.equilibrium.residue import Residues
from forerun.equilibrium.residue_kernels import residue_path
from forerun.substances.catalogue import find
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, margules


def of(*names: str, pressure: float = 101325.0) -> Residues:
    mixture = mixture_of([find(name) for name in names])
    search = find_azeotropes(mixture, pressure)
    return Residues(mixture.arrays, pressure, search.points, search.miscible)


def bed(boiling_points, pairs) -> Residues:
    arrays = margules(boiling_points, pairs)
    return Residues(arrays, ATMOSPHERE, tuple(singular_points(arrays, ATMOSPHERE)))


MAPS = [
    ("acetone", "chloroform", "methanol"),
    ("ethanol", "water", "benzene"),
    ("ethanol", "water", "cyclohexane"),
    ("pentane", "hexane", "heptane"),
]


@pytest.mark.parametrize("names", MAPS)
def test_temperature_rises_along_every_curve(names):
    """Gibbs and Konovalov: what is left boils hotter, over one liquid and over two."""
    residues = of(*names)
    for z in np.random.default_rng(3).dirichlet(np.ones(3), 12):
        assert np.diff(residues.curve(z, 1).temperature_K).min() > -2e-4
        assert np.diff(residues.curve(z, -1).temperature_K).max() < 2e-4


@pytest.mark.parametrize("names", MAPS)
def test_every_curve_has_both_ends(names):
    residues = of(*names)
    for z in np.random.default_rng(4).dirichlet(np.ones(3), 12):
        back, on = residues.curve(z, -1).end, residues.curve(z, 1).end
        assert back is not None
        assert on is not None
        assert stability_of(back) == "unstable node"
        assert stability_of(on) == "stable node"


def test_rayleigh_is_met_where_the_relative_volatility_is_constant():
    """Rayleigh (1902): ln(n1/n1_0) = alpha ln(n2/n2_0)."""
    residues = bed([350.0, 370.0], {})
    curve = residues.curve([0.4, 0.6])
    amounts = curve.mole_fraction * curve.left[:, None]
    scratch, y = scratch_for(residues.mixture), np.empty(2)
    alphas = []
    for x, temperature in zip(curve.mole_fraction, curve.temperature_K, strict=True):
        bubble_pressure(temperature, x.copy(), residues.mixture, scratch, y)
        alphas.append(y[0] * x[1] / (y[1] * x[0]))
    late = curve.mole_fraction[:, 0] > 1e-3
    ratio = np.log(amounts[late][-1, 0] / amounts[0, 0]) / np.log(
        amounts[late][-1, 1] / amounts[0, 1]
    )
    assert min(alphas) - 1e-3 < ratio < max(alphas) + 1e-3


def _path(start: np.ndarray, rows: int = 600) -> np.ndarray:
    """Follow the residue curve of two ideal liquids as a still goes, to their higher end."""
    mixture, found = margules([350.0, 370.0], {}), np.empty((rows, 5))
    goals, near = np.array([[0.0, 1.0]]), 1e-4
    count = residue_path(
        ATMOSPHERE, start, 360.0, 1.0, 0, mixture, scratch_for(mixture), goals, near, found
    )
    assert count < 0  # it ends at the goal
    return found[:-count]


def test_a_path_has_as_many_rows_as_its_longest_step_and_its_error_ask_for():
    """0.6 of mole fraction in steps of 0.02 at most, then ever shorter ones in ln(amount)."""
    path = _path(np.array([0.6, 0.4]))
    assert 50 < len(path) < 85
    assert np.abs(np.diff(path[:, 0])).max() < 0.02 * 1.05
    assert np.all(np.diff(path[:, 4]) < 0.0)  # of the amount ever less is left


def test_a_path_loses_what_the_vapour_takes_along():
    """dx/d(ln amount) = x - y by a fine integration of its own, at the amounts of the path."""
    path = _path(np.array([0.6, 0.4]))
    mixture, y = margules([350.0, 370.0], {}), np.empty(2)
    scratch = scratch_for(mixture)

    def slope(x: float) -> float:
        boiling(ATMOSPHERE, np.array([x, 1.0 - x]), 360.0, mixture, scratch, y)
        return float(y[0]) - x

    x, shares, at = 0.6, path[:, 0], path[:, 4]
    for k in range(1, 25):
        h = (at[k - 1] - at[k]) / 4
        for _ in range(4):
            one = -slope(x)
            two = -slope(x + 0.5 * h * one)
            three = -slope(x + 0.5 * h * two)
            x += h / 6.0 * (one + 2.0 * two + 2.0 * three - slope(x + h * three))
        assert shares[k] == pytest.approx(x, abs=2e-5)


def test_a_start_is_a_ratio_of_amounts():
    assert _path(np.array([3.0, 2.0])) == pytest.approx(_path(np.array([0.6, 0.4])), rel=1e-9)


def test_a_curve_is_tangent_to_what_leaves():
    residues = of("acetone", "chloroform", "methanol")
    curve = residues.curve([0.3, 0.3, 0.4])
    scratch, y = scratch_for(residues.mixture), np.empty(3)
    k = 5
    bubble_pressure(
        curve.temperature_K[k], curve.mole_fraction[k].copy(), residues.mixture, scratch, y
    )
    step = curve.mole_fraction[k + 1] - curve.mole_fraction[k - 1]
    leaving = curve.mole_fraction[k] - y
    cosine = step @ leaving / np.linalg.norm(step) / np.linalg.norm(leaving)
    assert cosine > 0.999


@pytest.mark.parametrize(
    "feed",
    [[0.3, 0.3, 0.4], [0.1, 0.1, 0.8], [0.6, 0.2, 0.2], [0.05, 0.9, 0.05]],
)
@pytest.mark.parametrize("names", MAPS)
def test_products_add_up_to_the_charge(names, feed):
    course = course_of(feed, of(*names))
    total = sum(p.share * p.mole_fraction for p in course.products)
    assert np.abs(total - course.feed).max() < 2e-3
    assert sum(p.share for p in course.products) == pytest.approx(1.0, abs=2e-3)


def test_without_azeotropes_the_pure_liquids_come_in_the_order_of_their_boiling():
    course = course_of([0.2, 0.5, 0.3], of("heptane", "pentane", "hexane"))
    assert [p.point.components for p in course.products] == [(1,), (2,), (0,)]
    assert [p.share for p in course.products] == pytest.approx([0.5, 0.3, 0.2], abs=1e-3)


def test_a_minimum_comes_first_and_a_maximum_stays():
    spirit = course_of([0.3, 0.7], of("ethanol", "water"))
    assert [p.point.components for p in spirit.products] == [(0, 1), (1,)]
    acetone = course_of([0.8, 0.2], of("acetone", "chloroform"))
    first, last = acetone.products
    assert first.point.components == (0,)
    assert last.stays
    assert last.point.components == (0, 1)


def test_a_charge_that_is_the_azeotrope_comes_over_as_it_is():
    residues = of("ethanol", "water")
    azeotrope = next(p for p in residues.points if len(p.components) == 2)
    (product,) = course_of(azeotrope.mole_fraction, residues).products
    assert product.point is azeotrope
    assert product.share == 1.0


def test_both_sides_of_a_boundary_give_different_first_products():
    residues = of("acetone", "chloroform", "methanol")
    rich = course_of([0.75, 0.05, 0.2], residues)
    poor = course_of([0.05, 0.6, 0.35], residues)
    assert rich.behind.components == (0, 2)
    assert poor.behind.components == (1, 2)


def test_boundaries_run_from_nodes_to_the_saddle_or_from_it():
    ternary = ternary_of(of("acetone", "chloroform", "methanol"))
    assert len(ternary.boundaries) == 4  # all four arms of the ternary saddle
    assert len(ternary.regions) == 4
    for boundary in ternary.boundaries:
        assert boundary.cold is not None
        assert boundary.hot is not None
        assert np.diff(boundary.temperature_K).min() > -1e-3


def test_no_azeotrope_no_boundary():
    ternary = ternary_of(of("pentane", "hexane", "heptane"))
    assert ternary.boundaries == ()
    assert len(ternary.regions) == 1
    assert ternary.ties == ()


def test_tie_lines_at_boiling_join_liquids_of_equal_activity():
    residues = of("ethanol", "water", "cyclohexane")
    ties = ternary_of(residues).ties
    assert len(ties) > 10
    mixture = mixture_of([find(n) for n in ("ethanol", "water", "cyclohexane")])
    for tie in ties[1::5]:
        a, b = (
            np.log(x) + mixture.ln_activity(tie.temperature_K, x) for x in (tie.first, tie.second)
        )
        assert np.abs(a - b).max() < 1e-7


def test_a_triangle_needs_three():
    with pytest.raises(BadInput):
        ternary_of(of("ethanol", "water"))


def test_a_missing_azeotrope_is_noticed_in_its_face():
    residues = of("acetone", "chloroform", "methanol")
    assert unbalanced_faces(residues.points, 3) == []
    for gone in residues.points:
        if len(gone.components) > 1:
            left = [p for p in residues.points if p is not gone]
            assert gone.components in unbalanced_faces(left, 3)


def test_a_node_and_a_saddle_missed_together_do_not_hide_in_a_larger_face():
    """Without a pair's azeotrope the whole may balance by chance; the pair itself cannot."""
    residues = of("ethanol", "water", "benzene")
    for gone in itertools.combinations([p for p in residues.points if len(p.components) > 1], 2):
        left = [p for p in residues.points if p not in gone]
        if {p.components for p in gone} != {(0, 1, 2)}:
            assert unbalanced_faces(left, 3)


def test_a_search_that_misses_is_repeated_more_finely(monkeypatch):
    """The coarse search is made to miss the ternary saddle: the finer one has to bring it back."""
    arrays = mixture_of([find(n) for n in MAPS[0]]).arrays
    whole = singular_points(arrays, ATMOSPHERE)
    missing = [p for p in whole if len(p.components) < 3]
    monkeypatch.setattr(
        "forerun.equilibrium.azeotropes_balanced.singular_points", lambda *_: list(missing)
    )
    found = balanced_points(arrays, ATMOSPHERE)
    assert found.unbalanced == ()
    assert found.settled == ((0, 1, 2),)
    assert len(found.points) == len(whole)


def test_what_cannot_be_balanced_is_named(monkeypatch):
    names = MAPS[0]
    mixture = mixture_of([find(n) for n in names])
    whole = singular_points(mixture.arrays, ATMOSPHERE)
    missing: list[SingularPoint] = [p for p in whole if len(p.components) < 3]
    place = "forerun.equilibrium.azeotropes_balanced"
    monkeypatch.setattr(f"{place}.singular_points", lambda *_: list(missing))
    monkeypatch.setattr(f"{place}.face_points", lambda *_: [])
    search = find_azeotropes(mixture, ATMOSPHERE)
    assert not search.balanced
    assert any("acetone + chloroform + methanol do not balance" in w for w in search.warnings)


def test_index_of_a_face_is_that_of_the_mixture_of_its_components():
    whole = of("acetone", "chloroform", "methanol").points
    pair = of("acetone", "methanol").points
    assert index_balance(pair, 2) == index_balance(whole, 3, (0, 2)) == 0


def test_every_unstable_ternary_liquid_is_split():
    """Instability proven, a split has to follow; it failed for one in seven of these before."""
    mixture = mixture_of([find(n) for n in ("ethanol", "water", "cyclohexane")])
    tried = 0
    for z in np.random.default_rng(1).dirichlet(np.ones(3), 150):
        if not stability(z, 330.0, mixture.arrays).stable:
            split = split_liquid(z, 330.0, mixture.arrays)
            assert split is not None
            share = split.second_share
            assert np.allclose((1 - share) * split.first + share * split.second, z, atol=1e-9)
            tried += 1
    assert tried > 50


@pytest.mark.parametrize("liquid", [[0.5, 0.5], [-0.1, 0.6, 0.5], [0.0, 0.0, 0.0]])
def test_a_liquid_that_is_none_is_refused(liquid):
    residues = of("pentane", "hexane", "heptane")
    with pytest.raises(BadInput):
        residues.curve(liquid)
    with pytest.raises(BadInput):
        course_of(liquid, residues)


def test_a_curve_tells_how_much_stands_as_a_second_liquid():
    """Within the gap the share of `split_liquid` at the boiling point, outside it none."""
    residues = of("ethanol", "water", "cyclohexane")
    inside = residues.curve([0.1, 0.6, 0.3])
    parted = split_liquid(inside.mole_fraction[0], inside.temperature_K[0], residues.mixture)
    assert parted is not None
    share = inside.second_share[0]
    assert min(abs(share - parted.second_share), abs(1.0 - share - parted.second_share)) < 1e-4
    outside = residues.curve([0.7, 0.2, 0.1])
    assert np.isnan(outside.second_share[0])
