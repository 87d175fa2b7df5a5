"""A run sheet carried to the still: nothing lost, nothing invented on the way."""

from __future__ import annotations

import numpy as np
import pytest

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


def test_plates_that_are_no_whole_number_are_said() -> None:
    prepared = prepare(load(SHEET.replace("plates = 4", "plates = 3.4")))
    assert prepared.still.plates == 3
    assert any("3.4 plates" in warning for warning in prepared.warnings)


@pytest.mark.parametrize("name", example_names())
def test_every_example_can_be_prepared(name: str) -> None:
    still = prepare(load(name)).still
    assert np.all(still.charge_mol > 0.0)
    assert still.condenser_limit_W > 0.0
    assert still.references
