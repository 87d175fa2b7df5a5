"""Short-cuts: against closed answers, and their limits."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forerun.planning.plates import relative_volatility_trouton1884, stages_fenske1932
from forerun.planning.shortcut import (
    batch_path,
    best_product,
    top_of_ideal_column,
    top_of_trouton_pair,
)
from forerun.planning.windows import best_window, window_between

ONES = np.ones(2)


def test_fenske_is_what_the_column_does() -> None:
    """With as many stages as Fenske names, the top of the column has the purity asked for."""
    stages = stages_fenske1932(2.0, 0.95, 0.5)
    assert stages == pytest.approx(math.log(19.0) / math.log(2.0))
    top = top_of_ideal_column(np.array([2.0, 1.0]), 3)
    assert top(np.array([0.5, 0.5]))[0] == pytest.approx(2.0**4 / (2.0**4 + 1.0))


def test_rayleigh_in_closed_form() -> None:
    """Constant volatility, no plates: ln(heavy left) = ln(light left)/alpha."""
    path = batch_path([1.0, 1.0], top_of_ideal_column(np.array([3.0, 1.0]), 0), 400)
    light, heavy = path.left[:, 0], path.left[:, 1]
    keep = light > 0.1  # the steps are equal in moles, so they grow coarse where little is left
    assert np.log(heavy[keep]) == pytest.approx(np.log(light[keep]) / 3.0, abs=2e-4)


def test_nothing_is_lost_or_negative() -> None:
    path = batch_path([0.3, 0.0, 0.7], top_of_ideal_column(np.array([9.0, 3.0, 1.0]), 6), 60)
    assert (path.left >= 0.0).all()
    assert path.so_far[-1].sum() == pytest.approx(0.99, abs=1e-6)
    assert path.so_far[:, 1] == pytest.approx(0.0)


def test_more_plates_recover_more() -> None:
    found = []
    for plates in (2, 4, 8):
        path = batch_path([1.0, 1.0], top_of_trouton_pair(350.15, 375.15, plates))
        best = best_product(path, 0, 0.95, ONES)
        found.append(best[1].recovery if best and best[0] == "distillate" else 0.0)
    assert found[0] < found[1] < found[2]


def test_the_pot_can_be_the_product() -> None:
    path = batch_path([1.0, 1.0], top_of_ideal_column(np.array([4.0, 1.0]), 2))
    kind, window = best_product(path, 1, 0.95, ONES) or ("", None)
    assert kind == "residue"
    assert window is not None
    assert window.purity >= 0.95


def test_trouton_is_one_for_equal_boiling_points() -> None:
    assert relative_volatility_trouton1884(350.0, 350.0) == pytest.approx(1.0)


def test_best_window_by_hand() -> None:
    """Four equal portions of 50, 90, 100 and 60 %: the best for 85 % is the second and third,
    and for 80 % the last three, since 90 + 100 + 60 makes 83 %."""
    portions = np.array([[0.5, 0.5], [0.9, 0.1], [1.0, 0.0], [0.6, 0.4]])
    so_far = np.vstack([np.zeros(2), np.cumsum(portions, axis=0)])
    charged = np.array([3.0, 1.0])
    strict = best_window(so_far, charged, 0, 0.85, ONES)
    assert strict is not None
    assert (strict.first, strict.last) == (1, 3)
    assert strict.recovery == pytest.approx(1.9 / 3.0)
    loose = best_window(so_far, charged, 0, 0.80, ONES)
    assert loose is not None
    assert (loose.first, loose.last) == (1, 4)
    assert best_window(so_far, charged, 0, 1.01, ONES) is None
    assert window_between(so_far, charged, 0, ONES, 0, 4).purity == pytest.approx(0.75)
