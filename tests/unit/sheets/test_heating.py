"""The bath of a sheet that names none: hot enough to the end, and no hotter than it has to be."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from forerun.core.errors import BadInput
from forerun.glassware.drawer import find_item
from forerun.sheets.heating import (
    bath_above,
    bath_ceiling,
    boils_up,
    load_difference,
    losing,
    ramp_time,
    wetted_share,
)
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.run import run_still


def _sheet(*charge: tuple[str, str], **tables: object) -> RunSheet:
    return load({"charge": [{"substance": s, "amount": a} for s, a in charge], **tables})


ORDINARY = [
    (("ethyl acetate", "40 mL"),),
    (("ethyl acetate", "500 mL"),),
    (("toluene", "100 mL"),),
    (("water", "100 mL"),),
    (("hexane", "25 mL"),),
    (("ethanol", "150 mL"),),
    (("dichloromethane", "60 mL"),),
    (("cyclohexane", "30 mL"), ("toluene", "30 mL")),
    (("methanol", "60 mL"), ("water", "30 mL")),
]


@pytest.mark.parametrize("charge", ORDINARY, ids=lambda c: "+".join(s for s, _ in c))
def test_an_ordinary_charge_comes_over_down_to_the_residue(
    charge: tuple[tuple[str, str], ...],
) -> None:
    sheet = _sheet(*charge)
    run = run_still(prepare(sheet).still)
    assert sheet.programme.stop.residue_m3 is not None
    assert run.residue.volume_m3 <= 1.02 * sheet.programme.stop.residue_m3 + 1e-7
    assert not sheet.programme.held_back


@pytest.mark.parametrize("charge", ORDINARY[:7], ids=lambda c: c[0][0])
def test_the_bath_stays_near_what_is_customary(charge: tuple[tuple[str, str], ...]) -> None:
    sheet = _sheet(*charge)
    boiling = charge_boils(sheet)
    hottest = max(v for _, v in sheet.programme.bath_K.points)
    assert boiling + 20.0 < hottest < boiling + 60.0


def charge_boils(sheet: RunSheet) -> float:
    """Return the highest boiling point of a charge at the atmosphere [K]."""
    return max(p.substance.boiling_point.value for p in sheet.charge)


def test_bath_above_is_boils_up_turned_round() -> None:
    sheet = _sheet(("toluene", "100 mL"))
    for wetted in (1.0, 0.6, 0.25):
        bath = bath_above(sheet.rig, 383.8, 25.0, wetted)
        wanted = sheet.rig.heat_transfer_W_K.value * wetted * 25.0 * max(wetted, 0.5)
        assert boils_up(sheet.rig, 383.8, bath, wetted) == pytest.approx(wanted, rel=1e-6)


def test_what_is_lost_beyond_reason_asks_for_lagging() -> None:
    charge = (("cyclohexane", "30 mL"), ("toluene", "30 mL"))
    sheet = _sheet(*charge, rig={"plates": 3})
    said = sheet.programme.held_back
    assert "60 K above the pot, for the glass loses" in said
    assert "Lag it before heating harder" in said
    assert not _sheet(*charge, rig={"plates": 3, "lagging": "lagged"}).programme.held_back


def test_more_loss_and_less_wall_ask_for_a_hotter_bath() -> None:
    rig = _sheet(("toluene", "100 mL")).rig
    lossy = replace(rig, heat_loss_W_K=replace(rig.heat_loss_W_K, value=0.3))
    assert bath_above(lossy, 383.8, 25.0, 1.0) > bath_above(rig, 383.8, 25.0, 1.0) + 10.0
    assert bath_above(lossy, 383.8, 25.0, 0.5) > bath_above(lossy, 383.8, 25.0, 1.0)


def test_nothing_comes_over_where_the_losses_take_all() -> None:
    rig = _sheet(("ethyl acetate", "40 mL"), rig={"bath": "water"}).rig
    assert boils_up(rig, 350.2, 351.0, 1.0) < 0.0 < boils_up(rig, 350.2, 400.0, 1.0)


def test_wall_that_is_wetted_shrinks_slower_than_the_volume() -> None:
    sheet = _sheet(("toluene", "100 mL"))
    assert wetted_share(sheet.rig, 1e-4, 1e-4) == pytest.approx(1.0)
    assert 0.2 < wetted_share(sheet.rig, 1e-5, 1e-4) < 0.35
    assert wetted_share(sheet.rig, 3e-4, 1e-4) == 1.0


def test_a_ramp_lasts_as_long_as_its_heat_takes() -> None:
    sheet = _sheet(("water", "250 mL"))
    once = ramp_time(sheet.charge, [0.9], sheet.rig, 25.0, 0.0)
    heat = 0.9 * sheet.charge[0].amount_mol.value * sheet.charge[0].substance.latent_heat.value
    assert once == pytest.approx(1.3 * heat / (25.0 * sheet.rig.heat_transfer_W_K.value))
    assert ramp_time(sheet.charge, [0.0], sheet.rig, 25.0, 0.0) == 1800.0
    assert ramp_time(sheet.charge, [0.9], sheet.rig, 25.0, 9.0) == 6 * 3600.0
    assert ramp_time(sheet.charge, [0.3], sheet.rig, 25.0, 1.0) == pytest.approx(2.0 / 3.0 * once)


def test_a_column_is_not_flooded_by_the_bath() -> None:
    sheet = _sheet(("hexane", "1 L"), ("toluene", "1 L"), rig={"column": "Vigreux 30 cm"})
    assert 8.0 <= load_difference(sheet.charge, sheet.rig, 342.0) < 25.0
    bare = _sheet(("hexane", "1 L"), ("toluene", "1 L"))
    assert load_difference(bare.charge, bare.rig, 342.0) == 25.0


def test_a_bath_held_back_says_so_and_why() -> None:
    sheet = _sheet(("benzaldehyde", "10 mL"))
    assert bath_ceiling(sheet.charge, sheet.rig) < sheet.rig.bath_limit_K
    said = sheet.programme.held_back
    assert "autoignition temperature of benzaldehyde" in said
    assert said in prepare(sheet).warnings
    hot = _sheet(("nitrobenzene", "50 mL"))
    said = hot.programme.held_back
    assert "the usual limit of silicone oil" in said
    assert max(v for _, v in hot.programme.bath_K.points) == hot.rig.bath_limit_K


def test_what_stays_in_the_flask_is_not_heated_for() -> None:
    """Five millilitres of octanol stay as the residue: no bath of 220 degrees for them."""
    sheet = _sheet(("dichloromethane", "100 mL"), ("1-octanol", "5 mL"))
    more = _sheet(("dichloromethane", "100 mL"), ("1-octanol", "20 mL"))
    hottest = [max(v for _, v in s.programme.bath_K.points) for s in (sheet, more)]
    assert hottest[0] < hottest[1]


def test_a_pressure_that_nothing_boils_at_is_still_refused() -> None:
    with pytest.raises(BadInput, match=r"programme\.pressure"):
        _sheet(("ethyl acetate", "40 mL"), programme={"pressure": "90 bar"})


def _lights(value: float, lowest: float | None) -> Any:
    return SimpleNamespace(
        substance=SimpleNamespace(autoignition=SimpleNamespace(value=value, lowest=lowest))
    )


def test_a_bath_stays_below_the_lowest_autoignition_that_is_printed_and_below_its_own_limit() -> (
    None
):
    """Some kelvins below it: less than fifty, more than ten; of several prints the lowest."""
    rig = replace(_sheet(("toluene", "100 mL")).rig, bath_limit_K=520.0)
    none: Any = SimpleNamespace(substance=SimpleNamespace(autoignition=None))
    assert bath_ceiling((none,), rig) == 520.0
    assert bath_ceiling((none, _lights(900.0, None)), rig) == 520.0
    one = bath_ceiling((none, _lights(470.0, None), _lights(900.0, None)), rig)
    assert 420.0 < one < 460.0
    assert bath_ceiling((_lights(480.0, 470.0), none), rig) == one
    assert bath_ceiling((_lights(470.0, 480.0),), rig) == one + 10.0


@pytest.mark.parametrize("conductance", [1.0, 0.4, 4.0])
def test_the_bath_boils_up_a_share_of_what_floods_the_column(conductance: float) -> None:
    """Seven tenths of the drawer's load, by Watson's latent heat, between 8 and 25 K."""
    sheet = _sheet(("toluene", "1 L"), ("hexane", "1 L"), rig={"column": "Vigreux 30 cm"})
    rig = replace(
        sheet.rig, heat_transfer_W_K=replace(sheet.rig.heat_transfer_W_K, value=conductance)
    )
    hexane = sheet.charge[1].substance
    column = find_item("Vigreux 30 cm", "column", "rig.column")
    load = column.spans["highest_boilup_mL_min"].typical * 1e-6 / 60.0 / hexane.molar_volume.v0
    critical, heat = hexane.critical_temperature.value, hexane.latent_heat
    latent = heat.value * (
        (critical - 342.0) / (critical - heat.reference_temperature)
    ) ** heat.exponent  # fmt: skip
    expected = 0.7 * load * latent / conductance
    found = load_difference(sheet.charge, rig, 342.0)
    assert found == pytest.approx(min(max(expected, 8.0), 25.0), rel=1e-6)
    # beyond its critical temperature the latent heat of the light one is still that near it
    assert load_difference(sheet.charge, rig, 700.0) > 0.0


def test_the_wall_that_is_wetted_is_a_cap_of_the_sphere() -> None:
    """Half a full flask: half of its wall; a fifth: by the depth that solves the cap's volume."""
    rig = _sheet(("toluene", "100 mL")).rig
    flask = rig.flask_volume_m3.value

    def depth(share: float) -> float:
        low, high = 0.0, 1.0
        while high - low > 1e-12:
            u = 0.5 * (low + high)
            low, high = (u, high) if 3.0 * u * u - 2.0 * u**3 < share else (low, u)
        return low

    assert wetted_share(rig, 0.5 * flask, flask) == pytest.approx(0.5)
    assert wetted_share(rig, 0.2 * flask, 0.7 * flask) == pytest.approx(depth(0.2) / depth(0.7))
    assert wetted_share(rig, 0.5 * flask, 3.0 * flask) == pytest.approx(0.5)  # no more than full
    assert wetted_share(rig, 2.0 * flask, 0.5 * flask) == 1.0


@pytest.mark.parametrize("wetted", [1.0, 0.6, 0.2])
def test_what_boils_up_is_what_both_walls_pass_less_what_is_lost(wetted: float) -> None:
    rig = _sheet(("toluene", "100 mL")).rig
    pot, bath = 384.0, 420.0
    warm = pot - rig.room_temperature_K.value
    flask, above = rig.flask_loss_W_K.value * warm, rig.heat_loss_W_K.value * warm
    assert losing(rig, pot) == pytest.approx(flask + above)
    through = rig.heat_transfer_W_K.value * (bath - pot)
    left = (1.0 - wetted) * through
    again = flask * left**2 / (left**2 + flask**2) if left else 0.0
    expected = wetted * through + again - flask - above
    assert boils_up(rig, pot, bath, wetted) == pytest.approx(expected)
    assert math.isclose(boils_up(rig, pot, pot, 1.0), -flask - above)


def test_a_ramp_counts_no_more_than_twenty_times_the_reflux() -> None:
    sheet = _sheet(("hexane", "60 mL"), ("toluene", "60 mL"))

    def time(reflux: float, *shares: float) -> float:
        return ramp_time(sheet.charge, shares, sheet.rig, 2000.0, reflux)

    assert time(20.0, 1.0, 1.0) == time(40.0, 1.0, 1.0)
    hot = replace(sheet.rig, heat_transfer_W_K=replace(sheet.rig.heat_transfer_W_K, value=0.25))
    several = [ramp_time(sheet.charge, (1.0, 0.5), hot, 20.0, r) for r in (0.0, 0.5)]
    heats = [p.amount_mol.value * p.substance.latent_heat.value for p in sheet.charge]
    expected = (heats[0] + 0.5 * heats[1]) / (0.25 * 20.0)
    assert 1.2 < several[0] / expected < 1.4  # a third longer than the heat asks for
    assert several[1] == pytest.approx(1.5 * several[0])
