"""Files of readings: every way to write one, and nothing lost without a flag."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.records.readings import read_readings

PLAIN = """time_min,head_C,pot_C,bath_C,pressure_mmHg,distillate_mL,remark
0,20.0,21.0,25,760,0,bath on
5,78.5,85,110,759,2.5,
10,79.0,,112,759,10,"receiver 2, cloudy"
"""


def test_plain_file() -> None:
    log = read_readings(PLAIN)
    assert len(log) == 3
    assert log.flags == ()
    np.testing.assert_allclose(log.time_s, [0.0, 300.0, 600.0])
    np.testing.assert_allclose(log.channel("head_K"), [293.15, 351.65, 352.15])
    np.testing.assert_allclose(log.channel("distillate_m3"), [0.0, 2.5e-6, 1e-5])
    assert log.channel("pressure_Pa")[0] == pytest.approx(101325.0, rel=1e-5)
    assert math.isnan(log.channel("pot_K")[2])
    assert not log.has("distillate_kg")
    assert log.rows[2].remark == "receiver 2, cloudy"


@pytest.mark.parametrize(
    "text",
    [
        "time_s;head_C\n0;20,5\n60;78,25\n",
        "\ufefftime_s\thead_C\r\n0\t20.5\r\n60\t78.25\r\n",
        'time_s,head_C\n0,"20,5"\n60,"78,25"\n',
        "# from the notebook\nTime_s ; HEAD_C\n\n0;20.5\n60;+7.825e1\n",
    ],
)
def test_separators_commas_and_line_ends(text: str) -> None:
    log = read_readings(text)
    np.testing.assert_allclose(log.channel("head_K"), [293.65, 351.4])
    assert log.flags == ()


def test_encodings(tmp_path: Path) -> None:
    text = "time_s;head_C;remark\n0;20,5;trüb\n"
    for encoding in ("utf-8", "cp1252", "utf-16"):
        path = tmp_path / f"{encoding}.csv"
        path.write_bytes(text.encode(encoding))
        assert read_readings(path).rows[0].remark == "trüb"


def test_iso_times_count_from_the_first_row() -> None:
    log = read_readings("time,head_C\n2026-05-04T14:30:00+02:00,20\n2026-05-04T12:31:30Z,21\n")
    np.testing.assert_allclose(log.time_s, [0.0, 90.0])
    assert log.started_utc_s == pytest.approx(1777897800.0)


def test_a_bad_cell_is_flagged_and_its_row_kept() -> None:
    log = read_readings("time_s,head_C,distillate_mL\n0,nan,1\n10,1e9,2\n20,inf,3\n30,hot,x\n")
    assert len(log) == 4
    assert [(f.row, f.column, f.value) for f in log.flags] == [
        (2, "head_c", "nan"), (3, "head_c", "1e9"), (4, "head_c", "inf"), (5, "head_c", "hot"),
        (5, "distillate_ml", "x"),
    ]  # fmt: skip
    assert all("°C" in f.accepted for f in log.flags[:4])
    assert np.isnan(log.channel("head_K")).all()
    np.testing.assert_allclose(log.channel("distillate_m3")[:3], [1e-6, 2e-6, 3e-6])
    assert log.rows[3].flags == ("head_c hot", "distillate_ml x")
    assert "hot" in log.rows[3].raw


def test_a_row_without_a_time_is_flagged() -> None:
    log = read_readings("time_s,head_C\n0,20\n,21\nlater,22\n30,23\n")
    assert len(log) == 2
    assert [f.row for f in log.flags] == [3, 4]


def test_a_decimal_comma_between_commas_is_not_guessed() -> None:
    log = read_readings("time_s,head_C\n0,20\n10,78,5\n")
    assert len(log) == 1
    assert "semicolons" in log.flags[0].accepted
    assert log.flags[0].value == "10,78,5"


def test_rows_out_of_order_are_put_in_place_and_flagged() -> None:
    log = read_readings("time_s,head_C\n0,20\n20,22\n10,21\n20,23\n")
    np.testing.assert_allclose(log.time_s, [0.0, 10.0, 20.0, 20.0])
    np.testing.assert_allclose(log.channel("head_K") - 273.15, [20.0, 21.0, 22.0, 23.0])
    assert [f.row for f in log.flags] == [4]
    assert log.rows[3].flags == ("same time as the row before",)


def test_an_unknown_heading_is_flagged() -> None:
    log = read_readings("time_s,head_C,humidity\n0,20,55\n")
    assert log.flags[0].column == "humidity"
    assert log.flags[0].row == 1


@pytest.mark.parametrize(
    "text",
    [
        "\n",
        "head_C,pot_C\n20,21\n",
        "time_s,colour\n0,red\n",
        "time_s,head_C\nx,20\n",
        "a,a\n1,2\n",
    ],
)
def test_what_is_no_log_is_refused(text: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_readings(text)
    assert caught.value.field == "--readings"
    assert caught.value.accepted


def test_a_missing_or_binary_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no such file"):
        read_readings(tmp_path / "none.csv")
    path = tmp_path / "picture.csv"
    path.write_bytes(b"\x89PNG\x00\x00\x01\n")
    with pytest.raises(BadInput, match="not text"):
        read_readings(path)
