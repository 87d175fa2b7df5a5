"""A mixture: tables against the formula, limits, order, what is left out and said."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forerun.core.errors import BadInput
from forerun.equilibrium.exact import activity_exact
from forerun.equilibrium.groups import group_model, groups_of
from forerun.equilibrium.kernels import bubble_pressure, ln_vapour_pressure
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.substances.catalogue import find
from forerun.substances.model import Dimerisation, Substance


def _mixture(*names: str, **options: bool) -> Mixture:
    return mixture_of([find(name) for name in names], **options)


def _pairing(name: str) -> Substance:
    """Return a substance whose vapour pairs up; ln(K Pa) = -28.3 + 7200 K/T is a round figure."""
    return replace(find(name), dimerisation=Dimerisation((-28.3, 7200.0), ("test",), "estimated"))


SOLVENTS = ("water", "ethanol", "acetone", "hexane", "toluene")


@pytest.fixture(scope="module")
def five() -> Mixture:
    return _mixture(*SOLVENTS, corrections=False)


@given(
    st.floats(200.0, 590.0),
    st.lists(st.floats(0.0, 1.0), min_size=5, max_size=5).filter(lambda v: sum(v) > 0.1),
)
@settings(max_examples=60, deadline=None)
def test_tables_agree_with_the_formula(five: Mixture, temperature: float, parts: list[float]):
    x = np.array(parts) / np.sum(parts)
    for m, name in enumerate(five.models):
        row = replace(five, arrays=five.alone(m)).ln_activity(temperature, x)
        groups = [groups_of(s)[name] for s in five.substances]
        expected = activity_exact(temperature, x, groups, group_model(name))
        np.testing.assert_allclose(row, expected, atol=1e-7)


@given(
    st.floats(280.0, 420.0),
    st.lists(st.floats(0.02, 1.0), min_size=5, max_size=5),
    st.lists(st.floats(-1.0, 1.0), min_size=5, max_size=5),
)
@settings(max_examples=60, deadline=None)
def test_gibbs_duhem(five: Mixture, temperature: float, parts: list[float], way: list[float]):
    x = np.array(parts) / np.sum(parts)
    step = np.array(way) - np.mean(way)
    step *= 1e-5 / max(np.abs(step).max(), 1e-12)
    change = five.ln_activity(temperature, x + step) - five.ln_activity(temperature, x - step)
    assert abs(x @ change) < 1e-10


def test_pure_component_has_its_own_vapour_pressure(five: Mixture):
    y = np.empty(5)
    for i in range(5):
        x = np.eye(5)[i]
        pressure = bubble_pressure(330.0, x, five.arrays, five.scratch(), y)
        expected = np.exp(ln_vapour_pressure(i, five.arrays.vapour_pressure, 330.0))
        assert pressure == pytest.approx(expected, rel=1e-12)
        np.testing.assert_allclose(y, x, atol=1e-15)


@pytest.mark.parametrize("acid", ["acetic acid", "formic acid", "propionic acid"])
def test_pure_acid_keeps_its_vapour_pressure_although_it_pairs_up(acid: str):
    mixture = mixture_of([_pairing(acid), find("water")])
    assert mixture.arrays.dimerisation[0, 0] == 1.0
    y = np.empty(2)
    pressure = bubble_pressure(370.0, np.array([1.0, 0.0]), mixture.arrays, mixture.scratch(), y)
    expected = np.exp(ln_vapour_pressure(0, mixture.arrays.vapour_pressure, 370.0))
    assert pressure == pytest.approx(expected, rel=1e-12)


def test_order_of_components_does_not_matter():
    order = [3, 0, 4, 1, 2]
    first, second = _mixture(*SOLVENTS), _mixture(*(SOLVENTS[k] for k in order))
    x = np.array([0.1, 0.3, 0.2, 0.25, 0.15])
    y, z = np.empty(5), np.empty(5)
    p = bubble_pressure(345.0, x, first.arrays, first.scratch(), y)
    q = bubble_pressure(345.0, x[order].copy(), second.arrays, second.scratch(), z)
    assert p == pytest.approx(q, rel=1e-12)
    np.testing.assert_allclose(y[order], z, rtol=1e-11)


def test_models_whose_mean_splits_a_pair_wrongly_are_left_out_or_named():
    assert _mixture("2-propanol", "water", corrections=False).warnings == ()
    piperidine = _mixture("piperidine", "water", corrections=False)
    assert piperidine.models == ("dortmund", "nist")
    assert "unifac" in piperidine.warnings[0]
    butanol = _mixture("tert-butanol", "water", corrections=False)
    assert butanol.models == ("unifac", "dortmund", "nist")
    assert "mix in all proportions" in butanol.warnings[0]
    assert butanol.miscible_pairs == ((0, 1),)


def test_an_acid_beside_a_base_is_pointed_out():
    assert "acid-base" in _mixture("acetic acid", "pyridine", corrections=False).warnings[0]
    assert _mixture("acetic acid", "toluene", corrections=False).warnings == ()


def test_a_missing_interaction_is_never_silently_ideal():
    mixture = _mixture("ethanol", "phosphorus trichloride", "hexane", corrections=False)
    assert [p.basis for p in mixture.pairs] == ["ideal", "predicted", "ideal"]
    assert len(mixture.warnings) == 3
    assert mixture.models == ()


def test_pairs_carried_by_terms_come_close_to_the_models():
    whole = _mixture("ethanol", "hexane", corrections=False)
    carried = _mixture("ethanol", "phosphorus trichloride", "hexane", corrections=False)
    for x in (0.05, 0.3, 0.8):
        expected = whole.ln_activity(340.0, [x, 1 - x])
        got = carried.ln_activity(340.0, [x, 0.0, 1 - x])[[0, 2]]
        np.testing.assert_allclose(got, expected, atol=0.1)


def test_one_component_alone_needs_no_model():
    mixture = _mixture("phosphorus trichloride")
    assert mixture.warnings == ()
    assert mixture.ln_activity(330.0, [1.0]) == pytest.approx([0.0])


def test_equal_components_are_refused():
    with pytest.raises(BadInput, match="each substance once"):
        _mixture("ethanol", "ethanol")


def test_a_molecule_outside_all_tables_has_no_groups():
    assert groups_of(SimpleNamespace(inchikey="AAAAAAAAAAAAAA-AAAAAAAAAA-N")) == {}


def test_references_name_what_was_used():
    keys = {r.key for r in _mixture("dimethyl carbonate", "ethanol", corrections=False).references}
    assert keys == {"kang2015"}
    acid = mixture_of([_pairing("acetic acid"), find("water")])
    assert "marek1954" in {r.key for r in acid.references}
