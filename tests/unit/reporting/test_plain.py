"""JSON stays standard."""

from __future__ import annotations

import json

import numpy as np
import pytest

from forerun.reporting.plain import by_name, number, numbers, to_text


def test_what_is_not_a_number_becomes_null() -> None:
    assert number(np.nan) is None
    assert number(np.float64(np.inf)) is None
    assert number(None) is None
    assert numbers(np.array([1.0, np.nan, -np.inf])) == [1.0, None, None]


def test_numbers_are_plain_floats() -> None:
    assert type(number(np.float64(2.5))) is float
    assert [type(v) for v in numbers(np.arange(2.0))] == [float, float]


def test_names_keep_their_order() -> None:
    assert list(by_name(("water", "ethanol"), np.array([0.1, 0.9]))) == ["water", "ethanol"]


def test_text_is_one_object_without_nan() -> None:
    assert json.loads(to_text({"x": numbers([1.0, np.nan])})) == {"x": [1.0, None]}
    with pytest.raises(ValueError, match="JSON"):
        to_text({"x": float("nan")})
