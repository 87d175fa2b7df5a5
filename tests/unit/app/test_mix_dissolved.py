"""A liquid with something in it that does not boil."""

from __future__ import annotations

import math

import pytest

from forerun.app.mix import mix
from forerun.core.errors import BadInput
from forerun.reporting.paper import Paper

LIQUID = [0.3, 0.7]


def test_what_is_dissolved_raises_the_boiling_point_by_its_share_of_the_pressure():
    """Raoult: (1 - s) P(T) = 1 atm, so the liquid boils where it would at 1 atm / (1 - s)."""
    with_salt = mix("ethanol", "water", at=LIQUID, dissolved=0.1).bubble
    higher = mix("ethanol", "water", at=LIQUID, pressure=f"{101325.0 / 0.9:.10g} Pa").bubble
    assert with_salt is not None
    assert higher is not None
    assert with_salt.temperature_K == pytest.approx(higher.temperature_K, abs=1e-4)
    assert with_salt.dissolved == 0.1


def test_the_rise_follows_the_ebullioscopic_constant_of_water():
    """0.512 K kg/mol for water: common knowledge of textbooks, from memory."""
    share = 0.01
    salty = mix("water", "ethylene glycol", at=[1.0, 0.0], dissolved=share).bubble
    plain = mix("water", "ethylene glycol", at=[1.0, 0.0]).bubble
    assert salty is not None
    assert plain is not None
    molality = share / (1.0 - share) / 0.018015
    assert salty.temperature_K - plain.temperature_K == pytest.approx(0.512 * molality, rel=0.03)


def test_it_is_said_that_salting_out_is_left_out():
    found = mix("ethanol", "water", at=LIQUID, dissolved=0.05)
    text = " ".join(" ".join(found.printed(Paper())).split())
    assert "5 mol% of the liquid are dissolved particles" in text
    assert "salting out is not in it" in text
    assert "dissolved particles" not in " ".join(
        mix("ethanol", "water", at=LIQUID).printed(Paper())
    )


@pytest.mark.parametrize("share", [-0.01, 0.21, math.nan])
def test_more_than_an_ideal_diluent_can_stand_for_is_refused(share):
    with pytest.raises(BadInput, match="dissolved"):
        mix("ethanol", "water", at=LIQUID, dissolved=share)


def test_without_a_liquid_there_is_nothing_to_dissolve_in():
    with pytest.raises(BadInput, match="--at"):
        mix("ethanol", "water", dissolved=0.1)
