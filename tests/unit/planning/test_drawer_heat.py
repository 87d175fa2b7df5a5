"""Heat in the choice of glass: a bath that only just passes the boiling point is no bath."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from forerun.glassware.baths import bath_limit
from forerun.glassware.drawer import find_item, item, span
from forerun.glassware.flasks import flask_loss, pot_transfer
from forerun.glassware.inventory import Combination, Piece, all_kits, combinations_of
from forerun.planning.advice import advise
from forerun.planning.drawer_heat import DrawerHeat
from forerun.sheets.heating import bath_above, boils_up, load_difference
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


@pytest.mark.parametrize("bath", ["water", "silicone oil"])
@pytest.mark.parametrize("column", ["none", "Vigreux 30 cm"])
@pytest.mark.parametrize("pot", [340.0, 352.0, 395.0])
def test_heat_of_a_way_is_that_of_its_own_glass_lagged_where_it_loses_much(
    bath: str, column: str, pot: float
) -> None:
    """Mean of what it is at first and with half of a half full flask over.

    The bath is as hot as it has to be, or at its limit.
    Bare glass loses its film times the surface of neck and column; above 5 W it is lagged.
    """
    sheet = load(ETHYL_ACETATE)
    way = _way(bath, column)
    held = way.bath.item
    assert held is not None

    def loss(how: str) -> float:
        film = item("lagging", how).spans["film_W_m2_K"].typical
        return film * _surface(column)

    lost = loss("bare")
    if lost * (pot - sheet.rig.room_temperature_K.value) > 5.0:
        lost = loss("lagged")
    charge = sheet.charge_volume_m3

    def setting(value: float) -> object:
        return replace(sheet.rig.heat_loss_W_K, value=value)

    rig = replace(
        sheet.rig,
        flask_volume_m3=setting(way.flask.volume_m3),
        column=column,
        heat_transfer_W_K=setting(pot_transfer(way.flask.volume_m3, charge, held).typical),
        heat_loss_W_K=setting(lost),
        flask_loss_W_K=setting(flask_loss(way.flask.volume_m3, charge).typical),
    )
    above = load_difference(sheet.charge, rig, BOILS)
    limit = bath_limit(held)
    temperature = min(bath_above(rig, pot, above, 1.0), limit)
    # a half full sphere is wetted up to half of its height; with a quarter left up to u of it
    u = 0.5 - math.sin(math.asin(1.0 - 2.0 * 0.25) / 3.0)
    whole, part = (boils_up(rig, pot, temperature, w) for w in (1.0, u / 0.5))
    found = DrawerHeat(sheet, BOILS, pot).boils(way)
    assert found == pytest.approx(0.5 * (whole + part), abs=0.02 * abs(whole - part) + 1e-9)


def _surface(column: str) -> float:
    """Return the outer surface of neck and column [m2]."""
    neck = math.pi * span("neck", "diameter_m").typical * span("neck", "length_m").typical
    if column == "none":
        return neck
    return neck + math.pi * find_item(column, "column", "").spans["diameter_m"].typical * 0.3


def test_each_way_is_computed_once_and_ways_are_told_apart() -> None:
    heat = DrawerHeat(load(ETHYL_ACETATE), BOILS, BOILS)
    ways = [_way(b, c) for b in ("water", "silicone oil") for c in ("none", "Vigreux 30 cm")]
    values = [heat.boils(way) for way in ways]
    assert len(set(values)) == len(heat.known) == 4
    assert [heat.boils(way) for way in ways] == values
    assert len(heat.known) == 4


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
