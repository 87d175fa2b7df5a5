"""Numbers as the bench writes them: no more digits than the band allows."""

from __future__ import annotations

import math

import pytest

from forerun.core.quantities import (
    decimals_for,
    format_amount,
    format_band,
    format_boiling_range,
    format_fraction,
    format_mass,
    format_number,
    format_per_cent,
    format_pressure,
    format_temperature,
    format_temperature_difference,
    format_time,
    format_volume,
)


def plain(text: str) -> str:
    return text.replace("\u202f", " ").replace("\N{MINUS SIGN}", "-")


@pytest.mark.parametrize(
    ("half_width", "decimals"),
    [
        (None, 1),
        (0.0, 1),
        (math.nan, 1),
        (5.0, 0),
        (2.0, 0),
        (0.8, 1),
        (0.13, 1),
        (0.097, 1),
        (0.04, 2),
    ],
)
def test_decimals_follow_the_band(half_width: float | None, decimals: int) -> None:
    assert decimals_for(half_width) == decimals


def test_numbers() -> None:
    assert format_number(-0.04, 1) == "0.0"
    assert format_number(-1.5, 1) == "\N{MINUS SIGN}1.5"
    assert format_number(math.nan, 1) == "–"


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        (format_temperature(351.52), "78.4 °C"),
        (format_temperature(351.52, 4.0), "78 °C"),
        (format_temperature(351.523, 0.05), "78.37 °C"),
        (format_temperature(268.15), "-5.0 °C"),
        (format_temperature_difference(25.0, 4.0), "25 K"),
        (format_pressure(101325.0), "760 mmHg"),
        (format_pressure(101325.0, "mbar"), "1013 mbar"),
        (format_pressure(1600.0), "12 mmHg"),
        (format_pressure(101325.0, None), "760 mmHg (1013 mbar)"),
        (format_pressure(80.0, "mbar"), "0.8 mbar"),
        (format_volume(6.04e-5), "60.4 mL"),
        (format_volume(6.04e-5, 0.15e-6), "60.4 mL"),
        (format_volume(6.04e-5, 5e-6), "60 mL"),
        (format_volume(1.5e-3), "1.50 L"),
        (format_mass(0.0254), "25.40 g"),
        (format_mass(1.2), "1.20 kg"),
        (format_amount(0.25), "0.250 mol"),
        (format_amount(0.025), "25.0 mmol"),
        (format_fraction(0.973), "97.3 mol %"),
        (format_fraction(0.973, "wt%", 0.04), "97 wt %"),
        (format_fraction(0.9998), "99.98 mol %"),
        (format_fraction(0.0002), "0.02 mol %"),
        (format_time(45.0), "45 s"),
        (format_time(1200.0), "20 min"),
        (format_time(4800.0), "1 h 20 min"),
        (format_time(7199.0), "2 h"),
        (format_time(7200.0), "2 h"),
        (format_boiling_range(351.2, 353.4, 1333.2), "78–80 °C/10 mmHg"),
        (format_boiling_range(351.2, 351.3, 101325.0), "78 °C/760 mmHg"),
        (format_band(351.2, 352.6, format_temperature), "78.1–79.5 °C"),
        (format_band(0.95e-3, 1.05e-3, format_volume), "950 mL – 1.05 L"),
    ],
)
def test_bench_forms(written: str, expected: str) -> None:
    assert plain(written) == expected


@pytest.mark.parametrize(
    ("fraction", "decimals", "expected"),
    [
        (1.0, 1, "100.0"),
        (1.0, 0, "100"),
        (1.0 - 1e-14, 0, "100"),
        (0.9998, 1, "99.98"),
        (0.9998, 0, "99.98"),
        (0.996, 0, "99.6"),
        (0.994, 0, "99"),
        (0.99996, 0, ">99.99"),
        (0.0, 1, "0.0"),
        (-1e-15, 0, "0"),
        (0.0002, 1, "0.02"),
        (0.004, 0, "0.4"),
        (0.00004, 1, "<0.01"),
        (float("nan"), 1, "–"),
    ],
)
def test_only_what_is_pure_is_100_and_only_nothing_is_0(
    fraction: float, decimals: int, expected: str
) -> None:
    assert format_per_cent(fraction, decimals) == expected


def test_a_fraction_needs_its_basis() -> None:
    with pytest.raises(ValueError, match="basis"):
        format_fraction(0.5, "area%")
