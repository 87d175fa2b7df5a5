"""The drawer and its small physics."""

from __future__ import annotations

import math

import pytest

from forerun.core.errors import BadInput
from forerun.glassware import baths, columns, condensers, flasks, heads
from forerun.glassware.drawer import (
    drawer_references,
    find_item,
    flask_volumes,
    item,
    item_names,
    span,
)

KINDS = ("column", "condenser", "bath", "thermometer", "lagging", "pump")


@pytest.mark.parametrize("kind", KINDS)
def test_every_value_is_in_order_and_has_a_source(kind: str) -> None:
    for name in item_names(kind):
        for value in item(kind, name).spans.values():
            assert 0.0 <= value.low <= value.typical <= value.high
            assert drawer_references()[value.source].provenance


@pytest.mark.parametrize(
    ("text", "kind", "label"),
    [
        ("Vigreux 30 cm", "column", "Vigreux 30 cm"),
        ("vigreux, 12 in", "column", "Vigreux 30.48 cm"),
        ("Vigreux", "column", "Vigreux 30 cm"),
        ("spinning-band 0.5 m", "column", "spinning band 50 cm"),
        ("straight jacket 25 cm", "condenser", "straight jacket 25 cm"),
        ("PEG 400", "bath", "polyethylene glycol"),
        ("Silicone  Oil", "bath", "silicone oil"),
        ("Pt100", "thermometer", "resistance probe"),
    ],
)
def test_items_are_found_as_people_write_them(text: str, kind: str, label: str) -> None:
    assert find_item(text, kind, "rig.x").label == label


@pytest.mark.parametrize(
    ("text", "kind", "advice"),
    [
        ("Vigrex 30 cm", "column", 'did you mean "Vigreux"'),
        ("Vigreux -3 cm", "column", "length"),
        ("Vigreux 30", "column", "length with its unit"),
        ("Vigreux 5 m", "column", "not above"),
        ("oil 3 cm", "bath", "a bath of the drawer"),
        ("", "bath", "a bath of the drawer"),
    ],
)
def test_unknown_items_get_advice(text: str, kind: str, advice: str) -> None:
    with pytest.raises(BadInput, match=r"rig\.x") as caught:
        find_item(text, kind, "rig.x")
    assert advice in caught.value.accepted


def test_no_column_is_a_simple_still() -> None:
    assert columns.find_column("none", "rig.column") is None


def test_wetted_area_has_its_exact_limits() -> None:
    volume = 2.5e-4
    full = flasks.sphere_area(volume)
    radius = (3.0 * volume / (4.0 * math.pi)) ** (1.0 / 3.0)
    assert full == pytest.approx(4.0 * math.pi * radius**2, rel=1e-12)
    assert flasks.wetted_area(volume, 0.0) == pytest.approx(0.0, abs=1e-9)
    assert flasks.wetted_area(volume, 0.5 * volume) == pytest.approx(0.5 * full, rel=1e-9)
    assert flasks.wetted_area(volume, volume) == pytest.approx(full, rel=1e-9)


def test_wetted_area_solves_the_cap() -> None:
    volume = 1e-4
    radius = (3.0 * volume / (4.0 * math.pi)) ** (1.0 / 3.0)
    for share in (0.05, 0.2, 0.45, 0.7, 0.95):
        depth = flasks.wetted_area(volume, share * volume) / (2.0 * math.pi * radius)
        cap = math.pi * depth**2 * (3.0 * radius - depth) / 3.0
        assert cap == pytest.approx(share * volume, rel=1e-9)


def test_films_in_series_lie_below_the_worst() -> None:
    value = flasks.overall_transfer(120.0, 0.002, 1500.0)
    assert value == pytest.approx(1.0 / (1 / 120.0 + 0.002 / 1.2 + 1 / 1500.0))
    assert value < 120.0


def test_heat_into_the_pot_grows_with_fill_and_loss_shrinks() -> None:
    bath = item("bath", "silicone oil")
    half, more = (flasks.pot_transfer(2.5e-4, fill, bath) for fill in (1e-4, 1.6e-4))
    assert 0.0 < half.low < half.typical < half.high
    assert more.typical > half.typical
    assert flasks.flask_loss(2.5e-4, 1.6e-4).typical < flasks.flask_loss(2.5e-4, 1e-4).typical


def test_a_water_bath_heats_better_than_sand() -> None:
    fills = [flasks.pot_transfer(2.5e-4, 1e-4, item("bath", b)) for b in ("water", "sand")]
    assert fills[0].low > fills[1].high


def test_a_quarter_litre_flask_weighs_what_it_should() -> None:
    # 80 to 130 g of glass, from memory: with 830 J/(kg K) that is 66 to 108 J/K
    assert 66.0 < flasks.flask_heat_capacity(2.5e-4).typical < 108.0


def test_smallest_flask() -> None:
    assert flasks.smallest_flask(1.2e-4, 0.5) == pytest.approx(2.5e-4)
    assert flasks.smallest_flask(1.25e-4, 0.5) == pytest.approx(2.5e-4)
    assert flasks.smallest_flask(1.26e-4, 0.5) == pytest.approx(5e-4)
    assert flasks.smallest_flask(1.0, 0.5) == flask_volumes()[-1]


def test_vigreux_of_20_to_30_cm_has_two_to_four_plates() -> None:
    # laboratory distillation texts (Krell; Vogel), from memory: a range check only
    for text in ("Vigreux 20 cm", "Vigreux 30 cm"):
        column = columns.find_column(text, "rig.column")
        assert column is not None
        plates = columns.column_plates(column)
        assert 2.0 <= plates.typical <= 4.0
        assert plates.low < plates.typical < plates.high


def test_a_longer_column_has_more_of_everything() -> None:
    lagging = item("lagging", "bare")
    short, long = (find_item(f"beads {n} cm", "column", "c") for n in (20, 40))
    assert columns.column_plates(long).typical == pytest.approx(
        2.0 * columns.column_plates(short).typical, rel=1e-5
    )
    assert columns.column_loss(long, lagging).typical == pytest.approx(
        2.0 * columns.column_loss(short, lagging).typical
    )
    assert columns.column_heat_capacity(long).typical > columns.column_heat_capacity(short).typical


def test_lagging_helps_in_its_order() -> None:
    column = item("column", "Vigreux")
    losses = [
        columns.column_loss(column, item("lagging", name)).typical
        for name in ("bare", "foil", "lagged", "vacuum jacket")
    ]
    assert losses == sorted(losses, reverse=True)
    necks = [columns.neck_loss(item("lagging", name)).typical for name in item_names("lagging")]
    assert max(necks) < losses[0]


def test_hold_up_and_pressure_drop_follow_the_plates() -> None:
    column = item("column", "wire helices")
    assert columns.column_holdup(column, 10.0).typical == pytest.approx(8e-6)
    assert columns.column_pressure_drop(column, 10.0).typical == pytest.approx(400.0)
    assert columns.highest_boilup(column).typical == pytest.approx(8e-6 / 60.0)
    assert columns.neck_heat_capacity().typical > 0.0


def test_condenser_duty() -> None:
    jacket = find_item("straight jacket 30 cm", "condenser", "rig.condenser")
    transfer = condensers.condenser_transfer(jacket).typical
    assert transfer == pytest.approx(math.pi * 0.012 * 0.3 * 200.0)
    assert condensers.condenser_duty(jacket, 350.0, 290.0).typical == pytest.approx(60 * transfer)
    assert condensers.condenser_duty(jacket, 280.0, 290.0).high == 0.0
    assert not item("condenser", "air").uses_coolant


def test_limits_of_baths() -> None:
    assert baths.bath_limit(baths.find_bath("mineral oil", "b")) == pytest.approx(423.15)
    assert baths.bath_limit(baths.find_bath("mantle", "b")) == math.inf


def test_thermometers() -> None:
    glass = heads.find_thermometer("mercury", "t")
    couple = heads.find_thermometer("thermocouple", "t")
    assert heads.thermometer_lag(couple).typical < heads.thermometer_lag(glass).typical
    assert heads.thermometer_error(glass) == pytest.approx(0.5)


def test_a_span_read_as_95_per_cent() -> None:
    value = span("neck", "length_m")
    assert value.sigma == pytest.approx((0.16 - 0.06) / 4.0)
    assert value.times(2.0).typical == pytest.approx(0.2)
