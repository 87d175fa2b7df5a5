"""Heat in the choice of glass: a bath that only just passes the boiling point is no bath."""

from __future__ import annotations

from dataclasses import replace

import pytest

from forerun.glassware.drawer import find_item
from forerun.glassware.inventory import Combination, Piece, all_kits, combinations_of
from forerun.planning.advice import advise
from forerun.planning.drawer_heat import DrawerHeat
from forerun.sheets.resolving import load

ETHYL_ACETATE = {"charge": [{"substance": "ethyl acetate", "amount": "40 mL"}]}
BOILS = 350.2


def _way(bath: str, column: str = "none") -> Combination:
    """Return the first way with a flask of 100 mL, this bath and this column."""
    ways = combinations_of(all_kits())
    return next(
        way
        for way in ways
        if way.bath.label == bath
        and (way.column.label if way.column else "none") == column
        and abs(way.flask.volume_m3 - 1e-4) < 1e-9
    )


def test_water_boils_hardly_any_ethyl_acetate_over_and_oil_does() -> None:
    heat = DrawerHeat(load(ETHYL_ACETATE), BOILS, BOILS)
    water, oil = heat.boils(_way("water")), heat.boils(_way("silicone oil"))
    assert water < 0.4 * oil
    assert 5.0 < oil < 15.0  # W, some millilitres a minute
    assert heat.limit(find_item("water", "bath", "bath")) == pytest.approx(363.15)


def test_losses_can_take_everything() -> None:
    heat = DrawerHeat(load(ETHYL_ACETATE), BOILS, 362.0)
    assert heat.boils(_way("water")) < 0.0


def test_a_piece_without_its_data_is_a_mistake_of_ours() -> None:
    way = _way("water")
    bare = replace(way, bath=Piece("bath", "unknown"))
    with pytest.raises(AssertionError):
        DrawerHeat(load(ETHYL_ACETATE), BOILS, BOILS).boils(bare)


@pytest.mark.parametrize("name", ["ethyl acetate", "toluene", "hexane", "ethanol"])
def test_a_liquid_alone_is_distilled_simply_and_most_of_it_comes_over(name: str) -> None:
    sheet = load({"charge": [{"substance": name, "amount": "60 mL"}]})
    verdict = advise(sheet, members=12).verdict
    assert verdict.method == "simple"
    assert verdict.plan is not None
    assert verdict.plan.outcome is not None
    assert verdict.plan.outcome.recovery > 0.85
    assert verdict.plan.outcome.probability > 0.8


def test_a_bath_held_back_by_autoignition_asks_for_less_pressure() -> None:
    sheet = load({"charge": [{"substance": "benzaldehyde", "amount": "10 mL"}]})
    advice = advise(sheet, members=12)
    assert advice.verdict.method == "reduced_pressure"
    (bath,) = [limit for limit in advice.window.limits if limit.name == "bath"]
    assert "autoignition" in bath.says
    assert bath.pressure_Pa < 2e4
    assert sheet.programme.held_back not in advice.warnings
