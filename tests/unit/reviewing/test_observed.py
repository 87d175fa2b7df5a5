"""Receivers by the readings: remarks first, then emptied receivers, then the sheet."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.records.readings import read_readings
from forerun.reviewing.observed import observed_cuts, received
from forerun.sheets.model import Switch

HEAD = "time_min,head_C,distillate_mL,remark\n"
SWITCH = (Switch("head", 90.0 + 273.15, "90 °C"),)
PLAIN = HEAD + "0,20,0,\n10,70,0.0,\n11,78,1,\n20,79,15,\n22,95,16,\n30,110,30,\n"


def _cuts(text: str) -> tuple:  # type: ignore[type-arg]
    log = read_readings(text)
    return observed_cuts(log, log.channel("head_K"), SWITCH, 101325.0)


def test_by_the_sheet() -> None:
    first, second = _cuts(PLAIN)
    assert (first.start_s, first.end_s, second.end_s) == (660.0, 1320.0, 1800.0)
    assert (first.by, second.by) == ("sheet", "end")
    assert first.volume_m3 == pytest.approx(16e-6)
    assert second.volume_m3 == pytest.approx(14e-6)
    assert first.start_head_K == pytest.approx(351.15)
    assert np.isnan(first.mass_kg)
    assert first.pressure_Pa == 101325.0


def test_a_remark_beats_the_sheet() -> None:
    text = PLAIN.replace("20,79,15,", "20,79,15,receiver 2 put on")
    assert [cut.end_s for cut in _cuts(text)] == [1200.0, 1800.0]


def test_an_emptied_receiver_is_a_new_one_and_adds_up() -> None:
    text = PLAIN.replace("22,95,16,", "22,95,1,").replace("30,110,30,", "30,110,15,")
    log = read_readings(text)
    np.testing.assert_allclose(received(log).volume_m3[-2:], [16e-6, 30e-6])
    first, second = _cuts(text)
    assert first.by == "reading"
    assert first.volume_m3 + second.volume_m3 == pytest.approx(30e-6)


def test_nothing_came_over() -> None:
    assert _cuts(HEAD + "0,20,0,\n60,60,0,\n") == ()


def test_a_dip_of_the_reading_is_no_new_receiver() -> None:
    text = PLAIN.replace("22,95,16,", "22,95,14.5,")
    assert received(read_readings(text)).emptied.size == 0
