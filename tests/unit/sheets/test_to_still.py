"""A run sheet carried to the still: nothing lost, nothing invented on the way."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.sheets.examples import example_names
from forerun.sheets.resolving import load
from forerun.still.from_sheet import condenser_limit, prepare

SHEET = """
[[charge]]
substance = "acetone"
amount = "0.5 mol"
[[charge]]
substance = "toluene"
amount = "0.7 mol"
[rig]
flask = "250 mL"
plates = 4
holdup = "2 mL"
heat_loss = "0.3 W/K"
heat_transfer = "1.1 W/K"
coolant = "10 °C"
room = "22 °C"
thermometer_offset = "0.4 K"
[programme]
pressure = "1000 mbar"
bath = [["0 min", "22 °C"], ["20 min", "120 °C"]]
reflux_ratio = [["0 min", "total"], ["30 min", "total"], ["30 min", "5:1"]]
stop = { residue = "20 mL", time = "3 h", head = "110 °C" }
[[switch]]
head = "60 °C"
[[switch]]
volume = "50 mL"
[[switch]]
time = "2 h"
"""


def test_every_number_arrives() -> None:
    still = prepare(load(SHEET)).still
    assert still.names == ("acetone", "toluene")
    np.testing.assert_allclose(still.charge_mol, [0.5, 0.7])
    assert still.plates == 4
    assert still.holdup_m3 == pytest.approx(2e-6)
    assert still.column_loss_W_K + still.head_loss_W_K == pytest.approx(0.3)
    assert still.column_loss_W_K > still.head_loss_W_K > 0.0
    assert still.bath_conductance_W_K == pytest.approx(1.1)
    assert still.coolant_temperature_K == pytest.approx(283.15)
    assert still.room_temperature_K == still.charge_temperature_K == pytest.approx(295.15)
    assert still.thermometer_offset_K == pytest.approx(0.4)
    np.testing.assert_allclose(still.pressure, [[0.0, 1e5]])
    np.testing.assert_allclose(still.bath_temperature, [[0.0, 295.15], [1200.0, 393.15]])
    assert still.reflux_ratio.tolist() == [[0.0, np.inf], [1800.0, np.inf], [1800.0, 5.0]]
    assert still.stop.time_s == 10800.0
    assert still.stop.residue_m3 == pytest.approx(2e-5)
    assert still.stop.head_temperature_K == pytest.approx(383.15)
    head, volume, time = still.switches
    assert head.head_temperature_K == pytest.approx(333.15)
    assert volume.volume_m3 == pytest.approx(5e-5)
    assert time.time_s == 7200.0
    assert still.pressure_drop_Pa * 4 == pytest.approx(load(SHEET).rig.pressure_drop_Pa.value)


def test_a_simple_still_has_no_column() -> None:
    still = prepare(load(SHEET.replace("plates = 4", 'column = "none"'))).still
    assert still.plates == 0
    assert still.holdup_m3 == 0.0
    assert still.column_loss_W_K == 0.0
    assert still.head_loss_W_K == pytest.approx(0.3)
    assert still.pressure_drop_Pa == 0.0


def test_the_condenser_takes_more_the_colder_it_is() -> None:
    sheet = load(SHEET)
    assert condenser_limit(sheet, 275.0) > condenser_limit(sheet, 290.0) > 0.0
    assert condenser_limit(sheet, 400.0) == 0.0


def test_a_coolant_that_is_too_warm_is_said() -> None:
    prepared = prepare(load(SHEET.replace('coolant = "10 °C"', 'coolant = "70 °C"')))
    assert any("passes the condenser" in warning for warning in prepared.warnings)


def test_plates_that_are_no_whole_number_carry_liquid_up() -> None:
    still = prepare(load(SHEET.replace("plates = 4", "plates = 3.2"))).still
    assert still.plates == 4
    assert still.carried == pytest.approx(0.25)


SPECIAL = """
[[charge]]
substance = "toluene"
amount = "100 mL"
[[charge]]
substance = "water"
amount = "10 mL"
"""


def test_what_only_some_sheets_have_reaches_the_still() -> None:
    still = prepare(
        load(
            SPECIAL
            + """
[involatile]
mass = "6 g"
molar_mass = "300 g/mol"
[rig]
trap = "8 mL"
emergent_stem = "50 K"
[programme]
keep = { rate = "60 drops/min" }
"""
        )
    ).still
    assert still.two_liquids
    assert still.diluent_mol == pytest.approx(0.02)
    assert still.trap is not None
    assert still.trap.returned[0] > 0.99
    assert still.trap.returned[1] < 0.01
    assert still.stem == pytest.approx(0.008)
    assert still.bath_rule is not None
    assert still.bath_rule.drop_rate_m3_s == pytest.approx(60 * 2.5e-8 / 60.0)


def test_steam_and_settling_reach_the_still() -> None:
    still = prepare(load(SPECIAL + '[programme]\nsteam = "1.8 g/min"\nsettle = "10 min"\n')).still
    assert still.steam[0, 1] == pytest.approx(1.8e-3 / 60.0 / 0.018015, rel=1e-3)
    assert still.steam_component == 1
    assert still.steady_for_s == 600.0


def test_a_leak_sets_the_pressure_that_a_pump_holds() -> None:
    text = SHEET.replace("[rig]", '[rig]\npump = "diaphragm"\nleak = "20 mbar/min"')
    prepared = prepare(load(text.replace('"1000 mbar"', '"2 mbar"')))
    flow = 20e2 / 60.0 * (prepared.sheet.rig.flask_volume_m3.value + 1e-3)
    expected = 500.0 + flow / (12e-3 / 60.0)
    assert prepared.still.pressure[0, 1] == pytest.approx(max(expected, 200.0))


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ('[programme]\nkeep = { rate = "fast" }\n', "programme.keep.rate"),
        ('[programme]\nkeep = { above_pot = "-3 K" }\n', "programme.keep.above_pot"),
        ("[programme]\nkeep = { }\n", "programme.keep"),
        ('[programme]\nbath = "90 °C"\nkeep = { above_pot = "20 K" }\n', "programme.keep"),
        ('[rig]\ntrap = "5 mL"\nplates = 2\n', "rig.trap"),
        ('[rig]\nbulb = "low"\n', "rig.bulb"),
        ('[rig]\nleak = "1 mbar/min"\n', "rig.leak"),
        ('[involatile]\nmass = "5 g"\nmolar_mass = "300"\n', "involatile.molar_mass"),
    ],
)
def test_what_cannot_be_used_is_named(text: str, field: str) -> None:
    with pytest.raises(BadInput) as refused:
        load(SPECIAL + text)
    assert refused.value.field == field


def test_steam_needs_water_in_the_charge() -> None:
    dry = SPECIAL.replace('"water"', '"octane"')
    with pytest.raises(BadInput, match="water"):
        load(dry + '[programme]\nsteam = "2 g/min"\n')


@pytest.mark.parametrize("name", example_names())
def test_every_example_can_be_prepared(name: str) -> None:
    still = prepare(load(name)).still
    assert np.all(still.charge_mol > 0.0)
    assert still.condenser_limit_W > 0.0
    assert still.references
