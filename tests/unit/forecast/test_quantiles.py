"""Quantiles over members that may have ended, held against NumPy's."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.forecast.quantiles import quantiles_of_members

SHARES = (0.0, 0.1, 0.5, 0.9, 1.0)


@pytest.mark.parametrize("members", [1, 2, 9, 48])
def test_they_are_those_of_numpy_to_the_last_digit(members: int) -> None:
    random = np.random.default_rng(members)
    values = random.normal(350.0, 20.0, (members, 40))
    values[1:][random.random((members - 1, 40)) < 0.4] = np.nan
    expected = np.nanquantile(values, SHARES, axis=0)
    np.testing.assert_array_equal(quantiles_of_members(values, SHARES), expected)


def test_where_no_member_is_there_nothing_is_said() -> None:
    values = np.array([[np.nan, 1.0], [np.nan, 3.0]])
    found = quantiles_of_members(values, (0.5,))
    assert np.isnan(found[0, 0])
    assert found[0, 1] == 2.0
