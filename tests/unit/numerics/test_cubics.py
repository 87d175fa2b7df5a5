"""Cubics through even nodes, against polynomials that they must give back."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.numerics.cubics import cubics, even_slopes

NODES = np.arange(9.0)


def _at(lines: np.ndarray, place: float) -> np.ndarray:
    n = min(int(place), lines.shape[0] - 1)
    return sum(lines[n, k] * (place - n) ** k for k in range(4))


@pytest.mark.parametrize("degree", [0, 1, 2, 3, 4])
def test_slopes_of_polynomials_are_exact_to_the_fourth_degree(degree: int) -> None:
    expected = degree * NODES ** max(degree - 1, 0)
    assert even_slopes(NODES**degree) == pytest.approx(expected, rel=1e-11, abs=1e-10)


def test_the_fifth_degree_is_not() -> None:
    assert np.max(np.abs(even_slopes(NODES**5) - 5.0 * NODES**4)) > 1.0


def test_slopes_fall_with_the_fourth_power_of_the_width() -> None:
    errors = []
    for nodes in (21, 41):
        x = np.linspace(0.0, 1.0, nodes)
        found = even_slopes(np.exp(2.0 * x)) * (nodes - 1)
        errors.append(np.max(np.abs(found - 2.0 * np.exp(2.0 * x))))
    assert errors[0] / errors[1] == pytest.approx(16.0, rel=0.2)


@pytest.mark.parametrize("place", [0.0, 0.3, 1.0, 4.5, 7.999, 8.0])
def test_a_cubic_is_given_back_everywhere_in_every_column(place: float) -> None:
    values = np.stack([NODES**3 - 2.0 * NODES, 5.0 - NODES**2], axis=1)
    found = _at(cubics(values, even_slopes(values)), place)
    assert found == pytest.approx([place**3 - 2.0 * place, 5.0 - place**2], rel=1e-12, abs=1e-10)


def test_values_and_slopes_are_met_at_both_ends_of_an_interval() -> None:
    rng = np.random.default_rng(5)
    values, slopes = rng.normal(size=(2, 6, 3))
    lines = cubics(values, slopes)
    assert lines.shape == (5, 4, 3)
    assert lines[:, 0] == pytest.approx(values[:-1])
    assert lines.sum(axis=1) == pytest.approx(values[1:])
    assert lines[:, 1] == pytest.approx(slopes[:-1])
    assert lines[:, 1] + 2.0 * lines[:, 2] + 3.0 * lines[:, 3] == pytest.approx(slopes[1:])


def test_four_nodes_are_too_few_and_five_enough() -> None:
    with pytest.raises(ValueError, match="slopes need 5 nodes or more, not 4"):
        even_slopes(np.ones(4))
    assert even_slopes(np.arange(5.0) ** 4) == pytest.approx([0.0, 4.0, 32.0, 108.0, 256.0])
