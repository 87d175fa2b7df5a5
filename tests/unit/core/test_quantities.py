"""Quantities as people write them: what is read, what is refused, and in which words."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forerun.core.errors import BadInput
from forerun.core.quantities import parse_quantity
from forerun.core.units import DIMENSIONS

READ = [
    ("60 mL", "volume", 6e-5, 0.0),
    ("60 ml", "volume", 6e-5, 0.0),
    ("60mL", "volume", 6e-5, 0.0),
    ("0.5 L", "volume", 5e-4, 0.0),
    ("1 000 mL", "volume", 1e-3, 0.0),
    ("1\u202f000\u2009mL", "volume", 1e-3, 0.0),
    ("500 µL", "volume", 5e-7, 0.0),
    ("500 μl", "volume", 5e-7, 0.0),
    ("500 uL", "volume", 5e-7, 0.0),
    ("12 cm³", "volume", 1.2e-5, 0.0),
    ("40 ± 1 mL", "volume", 4e-5, 1e-6),
    ("40 +/- 1 mL", "volume", 4e-5, 1e-6),
    ("40 mL ± 500 µL", "volume", 4e-5, 5e-7),
    ("40 mL ± 2 %", "volume", 4e-5, 8e-7),
    ("12 mmHg", "pressure", 12 * 133.322387415, 0.0),
    ("12 mm Hg", "pressure", 12 * 133.322387415, 0.0),
    ("0.8 bar", "pressure", 8e4, 0.0),
    ("0,5 bar", "pressure", 5e4, 0.0),
    ("1 atm", "pressure", 101325.0, 0.0),
    ("25 °C", "temperature", 298.15, 0.0),
    ("25 C", "temperature", 298.15, 0.0),
    ("25 degC", "temperature", 298.15, 0.0),
    ("25℃", "temperature", 298.15, 0.0),
    ("−5 °C", "temperature", 268.15, 0.0),
    ("77 °F", "temperature", 298.15, 0.0),
    ("25 ± 1 °C", "temperature", 298.15, 1.0),
    ("25 °C ± 1 K", "temperature", 298.15, 1.0),
    ("0 ± 0.5 K", "temperature_difference", 0.0, 0.5),
    ("3 h", "time", 10800.0, 0.0),
    ("20 min", "time", 1200.0, 0.0),
    ("1 h 20 min", "time", 4800.0, 0.0),
    ("1h20min", "time", 4800.0, 0.0),
    ("1 h, 20 min, 5 s", "time", 4805.0, 0.0),
    ("0.4 W/K", "conductance", 0.4, 0.0),
    ("3 mL/min", "rate", 5e-8, 0.0),
    ("30 cm", "length", 0.3, 0.0),
    ("80 %", "share", 0.8, 0.0),
    ("80%", "share", 0.8, 0.0),
    ("95 wt%", "strength", 0.95, 0.0),
    ("98 mol %", "strength", 0.98, 0.0),
]


@pytest.mark.parametrize(("text", "dimension", "value", "sigma"), READ)
def test_reads_what_people_write(text: str, dimension: str, value: float, sigma: float) -> None:
    quantity = parse_quantity(text, dimension, "field")
    assert quantity.value == pytest.approx(value, rel=1e-12, abs=1e-15)
    assert quantity.sigma == pytest.approx(sigma, rel=1e-12, abs=1e-15)
    assert quantity.text == text


@pytest.mark.parametrize(
    ("text", "unit"), [("95 wt%", "wt%"), ("95 % w/w", "wt%"), ("95 vol%", "vol%")]
)
def test_a_strength_keeps_its_basis(text: str, unit: str) -> None:
    assert parse_quantity(text, "strength", "aim.purity").unit == unit


REFUSED = [
    ("60", "volume"),
    ("mL", "volume"),
    ("", "volume"),
    ("   ", "volume"),
    ("-5 mL", "volume"),
    ("nan mL", "volume"),
    ("inf mL", "volume"),
    ("1e9 mL", "volume"),
    ("1e999 mL", "volume"),
    ("1,000 mL", "volume"),
    ("1.2.3 mL", "volume"),
    ("5-6 mL", "volume"),
    ("60 mL mL", "volume"),
    ("60 g", "volume"),
    ("60 parsec", "volume"),
    ("40 ± mL", "volume"),
    ("40 ± -1 mL", "volume"),
    ("40 ± 1 K mL", "volume"),
    ("x" * 500, "volume"),
    ("60 mL\0", "volume"),
    ("-3 mbar", "pressure"),
    ("0 mbar", "pressure"),
    ("2 mPa", "pressure"),
    ("99 bar", "pressure"),
    ("-300 °C", "temperature"),
    ("900 °C", "temperature"),
    ("25", "temperature"),
    ("20 min 1 h", "time"),
    ("1 h 80", "time"),
    ("-3 h", "time"),
    ("120 wt%", "strength"),
    ("95 %", "strength"),
    ("101 %", "share"),
]


@pytest.mark.parametrize(("text", "dimension"), REFUSED)
def test_refuses_with_field_value_and_what_is_accepted(text: str, dimension: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_quantity(text, dimension, "charge[1].amount")
    error = caught.value
    assert error.field == "charge[1].amount"
    assert error.value == text
    assert DIMENSIONS[dimension].example in error.accepted
    assert str(error).count("\n") == 0


@pytest.mark.parametrize("value", [60, 60.0, None, True, ["60 mL"], {"a": 1}])
def test_a_bare_number_has_no_unit(value: object) -> None:
    with pytest.raises(BadInput, match="such as"):
        parse_quantity(value, "volume", "rig.flask")


def test_limits_of_a_place_are_named() -> None:
    with pytest.raises(BadInput, match=r"not above 1500 mmHg"):
        parse_quantity("3 bar", "pressure", "p", high=1500 * 133.322387415)
    with pytest.raises(BadInput, match=r"above 0 mL"):
        parse_quantity("0 mL", "volume", "charge[1].amount", low_excluded=True)


def test_one_of_several_dimensions() -> None:
    kinds = ("volume", "mass", "amount")
    assert parse_quantity("20 g", kinds, "f").dimension == "mass"
    assert parse_quantity("0.2 mol", kinds, "f").dimension == "amount"
    with pytest.raises(BadInput, match="mL, g or mol"):
        parse_quantity("20 °C", kinds, "f")


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_in_one_line(text: str) -> None:
    for dimension in DIMENSIONS:
        sentence = ""
        try:
            quantity = parse_quantity(text, dimension, "field")
            assert math.isfinite(quantity.value)
            assert quantity.sigma >= 0.0
        except BadInput as error:
            sentence = str(error)
        assert "\n" not in sentence


@given(st.sampled_from(sorted(DIMENSIONS)), st.data())
def test_every_unit_goes_there_and_back(dimension: str, data: st.DataObject) -> None:
    kind = DIMENSIONS[dimension]
    unit = data.draw(st.sampled_from(kind.units))
    inside = data.draw(st.floats(0.01, 0.99))
    value = kind.low + inside * (kind.high - kind.low)
    number = (value - unit.offset) / unit.factor
    quantity = parse_quantity(f"{number:.12f} {unit.name}", dimension, "f")
    assert quantity.value == pytest.approx(value, rel=1e-9, abs=1e-9)


def test_every_example_of_a_dimension_is_accepted_by_it() -> None:
    for name, kind in DIMENSIONS.items():
        assert parse_quantity(kind.example, name, "f").dimension == name
