"""Logs as loggers and people write them: which column is which, and what is said of it."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.records.readings import read_readings

HEAD_C = [20.5, 78.25]
LOGS = {
    "preamble, date and clock": (
        "Device: TC-200\nSerial: 11842\n\nDate,Time,Temp (°C)\n"
        "2026-11-26,09:12:05,20.5\n2026-11-26,09:13:05,78.25\n"
    ),
    "day first, decimal comma": (
        "Timestamp;Head [°C]\n26.11.2026 09:12;20,5\n26.11.2026 09:13;78,25\n"
    ),
    "month first, half days": (
        "No.,Date Time,T1 (°C)\n1,11/26/2026 11:59:30 AM,20.5\n2,11/26/2026 12:00:30 PM,78.25\n"
    ),
    "past midnight": "Time\tHead/°C\n23:59:30\t20.5\n00:00:30\t78.25\n",
    "minutes": "Elapsed time (min),vapour temp. [C]\n0,20.5\n1,78.25\n",
    "kelvin": "time [s],head [K]\n0,293.65\n60,351.4\n",
    "Fahrenheit and hours": "Time (h),Temperature (°F)\n0,68.9\n0.0166666667,172.85\n",
    "clock under our headings": "time,head_C\n9:12,20.5\n9:13,78.25\n",
}


@pytest.mark.parametrize("text", LOGS.values(), ids=LOGS.keys())
def test_a_log_of_a_logger_is_read(text: str) -> None:
    log = read_readings(text)
    np.testing.assert_allclose(log.time_s, [0.0, 60.0], atol=1e-6)
    np.testing.assert_allclose(log.channel("head_K") - 273.15, HEAD_C, atol=1e-6)
    assert log.text == text


def test_every_place_and_unit_is_told_by_words() -> None:
    log = read_readings(
        "Time (min),Head (°C),Flask temp (°C),Oil bath (°C),Pressure (kPa),Volume (cm3),Weight (g),"
        "Comment\n1,80,90,120,101.325,12.5,9.9,receiver 2\n"
    )
    row = log.rows[0]
    assert row.time_s == 60.0
    assert [row.head_K, row.pot_K, row.bath_K] == pytest.approx([353.15, 363.15, 393.15])
    assert row.pressure_Pa == pytest.approx(101325.0)
    assert row.distillate_m3 == pytest.approx(12.5e-6)
    assert row.distillate_kg == pytest.approx(9.9e-3)
    assert row.remark == "receiver 2"
    assert log.flags == ()


def test_what_was_taken_for_what_is_said() -> None:
    (said,) = read_readings(LOGS["preamble, date and clock"]).notes
    assert '"temp (°c)" was taken as head_C, as it is the only temperature' in said
    (said,) = read_readings("Time (min),Oil (°C)\n0,20\n").notes
    assert '"oil (°c)" was taken as bath_C' in said
    assert read_readings("time_min,head_C\n0,20\n").notes == ()


def test_two_temperatures_of_no_known_place_are_never_guessed() -> None:
    with pytest.raises(BadInput, match="or place and unit in words"):
        read_readings("Time (min),T1 (°C),T2 (°C)\n0,20,21\n")
    log = read_readings("Time (min),Head (°C),T2 (°C)\n0,20,21\n")
    assert [flag.column for flag in log.flags] == ["t2 (°c)"]


def test_a_number_without_a_unit_is_no_time() -> None:
    with pytest.raises(BadInput, match="time_s or time_min"):
        read_readings("Time,Head (°C)\n0,20\n5,21\n")
