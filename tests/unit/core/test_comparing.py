"""Objects side by side: every value counted once, nothing that differs passed over."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forerun.core.comparing import compare

_LEAVES = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text()
_OBJECTS = st.recursive(
    _LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=20,
)


def test_what_differs_is_named_with_its_path_and_size() -> None:
    then = {"cuts": [{"volume_m3": 1.0}, {"volume_m3": 4.0}], "n": 3, "gone": "x"}
    now = {"cuts": [{"volume_m3": 1.0}, {"volume_m3": 5.0}], "n": 3, "new": None, "more": 1}
    found = compare(then, now)
    assert found.values == 6
    assert [(d.path, d.then, d.now) for d in found.differences] == [
        ("cuts[1].volume_m3", 4.0, 5.0),
        ("gone", "x", None),
        ("more", None, 1),
    ]
    assert found.largest is found.differences[0]
    assert found.largest.relative == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("then", "now"), [(True, 1), (0, False), ("1", 1), ([1], []), ([], {}), (1.0, 1.0 + 2**-52)]
)
def test_nearly_the_same_is_not_the_same(then: Any, now: Any) -> None:
    assert compare({"a": then}, {"a": now}).differences


def test_a_whole_number_and_its_float_are_one_number() -> None:
    assert compare({"a": 2}, {"a": 2.0}).differences == ()


def test_what_is_no_number_is_the_largest_only_when_there_is_no_number() -> None:
    words = compare({"a": "x", "b": None}, {"a": "y", "b": 1.0})
    assert words.largest is words.differences[0]
    assert words.largest.relative is None
    assert compare(1, 1).largest is None


@given(_OBJECTS)
def test_an_object_is_the_same_as_its_copy(value: Any) -> None:
    assert compare(value, copy.deepcopy(value)).differences == ()


@given(st.dictionaries(st.text(max_size=4), st.floats(allow_nan=False), min_size=1), st.data())
def test_one_changed_value_is_one_difference(value: dict[str, float], data: Any) -> None:
    key = data.draw(st.sampled_from(sorted(value)))
    found = compare(value, {**value, key: "another"})
    assert [d.path for d in found.differences] == [key]
    assert found.values == len(value)
