"""Bath and pressure as they were read, and the plan shifted from then on."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.records.readings import Reading, Readings
from forerun.running.driving import as_driven, outlasting, same_drive
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.inputs import StillInput


@pytest.fixture
def still() -> StillInput:
    return prepare(load("simple-still")).still


def log(**channels: float) -> Readings:
    return Readings(tuple(Reading(60.0 * k, **channels) for k in range(10)))


def test_unread_channels_stay_as_planned(still: StillInput) -> None:
    assert as_driven(still, log(head_K=300.0), 600.0) is still


def test_the_bath_keeps_its_distance_from_the_plan(still: StillInput) -> None:
    plan = still.bath_temperature
    then = float(np.interp(540.0, plan[:, 0], plan[:, 1]))
    driven = as_driven(still, log(bath_K=then + 7.0), 600.0)
    late = still.stop.time_s
    planned = np.interp(late, plan[:, 0], plan[:, 1])
    at = np.interp([300.0, late], driven.bath_temperature[:, 0], driven.bath_temperature[:, 1])
    assert at[0] == pytest.approx(then + 7.0)
    assert at[1] == pytest.approx(planned + 7.0)
    assert driven.bath_rule is None


def test_the_pressure_keeps_its_ratio_to_the_plan(still: StillInput) -> None:
    planned = float(still.pressure[0, 1])
    driven = as_driven(still, log(pressure_Pa=1.1 * planned), 600.0)
    assert driven.pressure[-1, 1] == pytest.approx(1.1 * planned)
    assert np.all(np.diff(driven.pressure[:, 0]) > 0.0)


def test_later_readings_do_not_reach_back(still: StillInput) -> None:
    assert as_driven(still, log(bath_K=400.0), 30.0) is still


def test_a_flood_of_readings_is_thinned(still: StillInput) -> None:
    many = Readings(tuple(Reading(0.1 * k, bath_K=350.0 + 0.01 * k) for k in range(6000)))
    driven = as_driven(still, many, 600.0)
    before = driven.bath_temperature[driven.bath_temperature[:, 0] <= 600.0]
    assert before.shape[0] < 70
    assert np.interp(300.0, before[:, 0], before[:, 1]) == pytest.approx(380.0, abs=0.5)


def test_a_turned_dial_is_another_drive_and_a_flickering_display_is_not(still: StillInput) -> None:
    then = float(np.interp(540.0, *still.bath_temperature.T))
    quiet = as_driven(still, log(bath_K=then), 600.0)
    flicker = as_driven(still, log(bath_K=then + 0.5), 600.0)
    turned = as_driven(still, log(bath_K=then + 5.0), 600.0)
    assert same_drive(quiet, flicker, 600.0)
    assert not same_drive(quiet, turned, 600.0)
    planned = float(still.pressure[0, 1])
    pumped = as_driven(quiet, log(pressure_Pa=0.98 * planned), 600.0)
    assert not same_drive(quiet, pumped, 600.0)


def test_the_clock_of_the_sheet_does_not_end_what_is_foreseen(still: StillInput) -> None:
    planned = still.stop.time_s
    assert outlasting(still).stop.time_s > 1.4 * planned
    assert outlasting(still, planned) == outlasting(still)
    late = outlasting(still, 2.0 * planned)
    assert late.stop.time_s > 2.4 * planned
    assert late.stop.residue_m3 == still.stop.residue_m3
    assert not same_drive(outlasting(still), late, 2.0 * planned)
