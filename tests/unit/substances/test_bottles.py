"""Mixtures sold as one bottle: what is in them adds up, and boils where the label says."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.equilibrium.bubble import bubble_temperature, dew_temperature
from forerun.equilibrium.mixture import mixture_of
from forerun.substances.bottles import Bottle, all_bottles, bottle_named
from forerun.substances.catalogue import find


@pytest.mark.parametrize("bottle", all_bottles(), ids=lambda b: b.name)
def test_shares_add_up_and_lie_in_their_ranges(bottle: Bottle):
    assert sum(p.mass_fraction for p in bottle.parts) == pytest.approx(1.0)
    assert sum(bottle.mole_fractions) == pytest.approx(1.0)
    assert 2 <= len(bottle.parts) <= 5
    for part in bottle.parts:
        assert 0.0 < part.low < part.mass_fraction < part.high < 1.0
        assert part.spread > 0.0
    assert bottle.reference.citation.startswith(f"composition of {bottle.name}: ")


@pytest.mark.parametrize("bottle", all_bottles(), ids=lambda b: b.name)
def test_it_boils_within_the_range_on_its_label(bottle: Bottle):
    mixture = mixture_of([p.substance for p in bottle.parts])
    x = np.array(bottle.mole_fractions)
    first, _ = bubble_temperature(x, 101325.0, mixture)
    last, _ = dew_temperature(x, 101325.0, mixture)
    assert bottle.sold_low - 0.5 <= first <= last <= bottle.sold_high + 0.5


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Hexanes", "hexanes"),
        ("xylene", "xylenes"),
        ("petroleum ether 40–60", "petroleum ether 40-60"),
        ("Petroleum ether 40-60 °C", "petroleum ether 40-60"),
        ("pet. ether", "petroleum ether 40-60"),
        ("Gum Turpentine", "turpentine"),
        ("ethanol 96 %", "rectified spirit"),
    ],
)
def test_found_by_what_people_write(written: str, name: str):
    found = bottle_named(written)
    assert found is not None
    assert found.name == name


@pytest.mark.parametrize("written", ["hexane", "o-xylene", "ethanol", "cyclohexane", "", "CCO"])
def test_a_pure_liquid_is_no_mixture(written: str):
    assert bottle_named(written) is None


def test_no_bottle_hides_a_substance_of_the_file():
    for bottle in all_bottles():
        for name in (bottle.name, *bottle.synonyms):
            with pytest.raises(Exception, match="cannot be used"):
                find(name)


def test_density_of_rectified_spirit():
    """0.8074 g/mL at 20 degC for 96 vol% in the alcohol tables (OIML R 22, from memory); volumes
    are added here, and ethanol and water contract by about 1 %."""
    spirit = bottle_named("rectified spirit")
    assert spirit is not None
    assert spirit.density == pytest.approx(807.4, rel=0.015)
