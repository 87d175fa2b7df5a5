"""Azeotropes of three that stand, or fail to stand, close to one of two."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.azeotropes_border import near_borders
from forerun.equilibrium.mixture import mixture_of
from forerun.substances.catalogue import find

ATMOSPHERE = 101325.0


def _mixture(*names):
    return mixture_of([find(name) for name in names])


def test_an_azeotrope_of_three_missed_by_a_hair_is_called_possible():
    found = find_azeotropes(_mixture("methanol", "acetone", "methyl acetate"), ATMOSPHERE)
    (possible,) = (p for p in found.possible if len(p.components) == 3)
    assert possible.close_to == (0, 2)
    assert possible.kind == "minimum"
    assert 0.1 < possible.probability < 0.5
    assert any("close to that of methanol and methyl acetate" in text for text in found.undecided)


def test_one_far_from_existing_is_not():
    found = find_azeotropes(_mixture("acetone", "methanol", "water"), ATMOSPHERE)
    assert not any(len(p.components) == 3 for p in found.possible)


def test_where_one_of_three_was_found_no_second_is_called_possible():
    found = find_azeotropes(_mixture("methanol", "acetone", "chloroform"), ATMOSPHERE)
    assert any(len(a.components) == 3 for a in found.azeotropes)
    assert near_borders(_mixture("methanol", "acetone", "chloroform"), found.points, []) == []


def test_the_probability_does_not_depend_on_the_order_of_the_substances():
    names = ["methanol", "acetone", "methyl acetate"]
    likely = []
    for order in ([0, 1, 2], [2, 0, 1]):
        found = find_azeotropes(_mixture(*(names[k] for k in order)), ATMOSPHERE)
        likely += [p.probability for p in found.possible if len(p.components) == 3]
    assert likely[0] == pytest.approx(likely[1], rel=1e-4)


@pytest.mark.parametrize(
    ("alcohol", "celsius", "printed", "near"),
    [
        ("2-propanol", 64.3, [0.185, 0.075, 0.74], 0.02),
        # here the third liquid is one that a single parting pair cannot make
        ("1-propanol", 66.6, [0.10, 0.085, 0.815], 0.04),
    ],
)
def test_a_false_third_liquid_does_not_hide_a_heteroazeotrope(alcohol, celsius, printed, near):
    """Printed temperatures and mass fractions: Lange's Handbook, from memory."""
    found = find_azeotropes(_mixture(alcohol, "water", "cyclohexane"), ATMOSPHERE)
    (three,) = (a for a in found.azeotropes if len(a.components) == 3)
    assert three.liquid_phases == 2
    assert three.temperature_K - 273.15 == pytest.approx(celsius, abs=0.5)
    assert np.abs(three.mass_fraction - printed).max() < near
    assert found.balanced
