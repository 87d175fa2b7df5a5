"""Plates at total reflux."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.reviewing.plates import (
    hetp,
    plates_beatty_calingaert1934,
    plates_fenske1932,
    plates_fenske_spread,
    plates_stepped,
)


def _vapour(alpha: float, x: float) -> float:
    return alpha * x / (1.0 + (alpha - 1.0) * x)


@pytest.mark.parametrize("plates", [0, 1, 4, 11])
@pytest.mark.parametrize("alpha", [1.07, 2.4])
def test_steps_are_counted_back(plates: int, alpha: float) -> None:
    pot = x = 0.3
    for _ in range(plates + 1):
        x = _vapour(alpha, x)
    assert plates_fenske1932(x, pot, alpha) == pytest.approx(plates, abs=1e-9)
    assert plates_stepped(x, pot, lambda v: _vapour(alpha, v)) == pytest.approx(plates, abs=1e-9)
    if alpha == 1.07:
        assert plates_beatty_calingaert1934(x, pot) == pytest.approx(plates, abs=1e-9)


def test_a_heavier_first_component_is_stepped_downwards() -> None:
    x = 0.7
    for _ in range(3):
        x = 1.0 - _vapour(2.0, 1.0 - x)
    assert plates_stepped(x, 0.7, lambda v: 1.0 - _vapour(2.0, 1.0 - v)) == pytest.approx(2.0)


def test_an_azeotrope_cannot_be_passed() -> None:
    with pytest.raises(BadInput, match="reach"):
        plates_stepped(0.95, 0.3, lambda x: x + 0.3 * (0.8 - x))


def test_the_spread_is_that_of_drawn_inputs() -> None:
    rng = np.random.default_rng(2)
    top, pot, alpha = 0.9, 0.2, 2.0
    drawn = [
        plates_fenske1932(*values)
        for values in zip(
            rng.normal(top, 0.005, 4000),
            rng.normal(pot, 0.01, 4000),
            rng.normal(alpha, 0.03, 4000),
            strict=True,
        )
    ]
    spread = plates_fenske_spread(top, pot, alpha, 0.005, 0.01, 0.03)
    assert spread == pytest.approx(float(np.std(drawn)), rel=0.06)


@pytest.mark.parametrize("wrong", [(1.0, 0.5, 2.0), (0.9, 0.0, 2.0), (0.9, 0.5, 1.0)])
def test_what_has_no_answer_is_refused(wrong: tuple[float, float, float]) -> None:
    with pytest.raises(BadInput):
        plates_fenske1932(*wrong)


def test_hetp() -> None:
    assert hetp(0.3, 4.0) == pytest.approx(0.075)
