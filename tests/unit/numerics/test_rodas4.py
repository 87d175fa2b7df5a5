"""The coefficients of RODAS 4(3) are checked by the order that they give."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from forerun.numerics import rodas4

Function = Callable[[float, np.ndarray], np.ndarray]


def _step(
    f: Function, jacobian: Function, f_t: Function, t: float, y: np.ndarray, h: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return the end of a step and the solutions of its stages; the last one is the error."""
    u = np.zeros((rodas4.STAGES, y.size))
    matrix = np.eye(y.size) / (h * rodas4.GAMMA) - jacobian(t, y)
    at = np.zeros_like(y)
    for i in range(rodas4.STAGES):
        rodas4.point(i, y, u, at)
        b = f(t + rodas4.ALPHA[i] * h, at)
        rodas4.source(i, h, u, f_t(t, y), b)
        u[i] = np.linalg.solve(matrix, b)
    rodas4.point(rodas4.STAGES, y, u, at)
    return at, u


STIFFNESS = 1e6


def _kaps(_: float, y: np.ndarray) -> np.ndarray:
    """Kaps' problem: the exact solution (exp(-2t), exp(-t)) whatever the stiffness."""
    return np.array([-(STIFFNESS + 2) * y[0] + STIFFNESS * y[1] ** 2, y[0] - y[1] - y[1] ** 2])


def _kaps_jacobian(_: float, y: np.ndarray) -> np.ndarray:
    return np.array([[-(STIFFNESS + 2), 2 * STIFFNESS * y[1]], [1.0, -1 - 2 * y[1]]])


def _still(_: float, y: np.ndarray) -> np.ndarray:
    return np.zeros_like(y)


def _driven(t: float, y: np.ndarray) -> np.ndarray:
    """y' = -y^2 + cos t + sin^2 t has the solution sin t: time dependent, not stiff."""
    return np.array([-(y[0] ** 2) + np.cos(t) + np.sin(t) ** 2])


def _driven_jacobian(_: float, y: np.ndarray) -> np.ndarray:
    return np.array([[-2 * y[0]]])


def _driven_trend(t: float, _: np.ndarray) -> np.ndarray:
    return np.array([-np.sin(t) + 2 * np.sin(t) * np.cos(t)])


CASES = {
    "stiff": (_kaps, _kaps_jacobian, _still, lambda t: np.array([np.exp(-2 * t), np.exp(-t)])),
    "driven": (_driven, _driven_jacobian, _driven_trend, lambda t: np.array([np.sin(t)])),
}


@pytest.mark.parametrize("name", CASES)
def test_order_four_at_the_end_and_three_for_the_estimate(name: str) -> None:
    f, jacobian, f_t, exact = CASES[name]
    errors, lower = [], []
    counts = [8, 16, 32, 64]
    for n in counts:
        y, h = exact(0.0), 1.0 / n
        for k in range(n):
            before = y
            y, u = _step(f, jacobian, f_t, k * h, before, h)
        errors.append(np.abs(y - exact(1.0)).max())
        lower.append(np.abs(u[-1]).max())
    order = -np.polyfit(np.log(counts), np.log(errors), 1)[0]
    assert 3.5 < order < 4.6
    if name == "driven":  # the embedded solution of order three errs by h^4 in one step
        assert 3.6 < -np.polyfit(np.log(counts), np.log(lower), 1)[0] < 4.6


@pytest.mark.parametrize("name", CASES)
def test_order_three_inside_a_step(name: str) -> None:
    f, jacobian, f_t, exact = CASES[name]
    errors = []
    lengths = [0.2, 0.1, 0.05]
    for h in lengths:
        y, u = _step(f, jacobian, f_t, 0.3, exact(0.3), h)
        inside = np.zeros_like(y)
        worst = 0.0
        for s in (0.25, 0.5, 0.75):
            rodas4.between(s, exact(0.3), y, u, inside)
            worst = max(worst, np.abs(inside - exact(0.3 + s * h)).max())
        errors.append(worst)
    # local error h^4 for order three; a stiff problem may lose one
    assert np.polyfit(np.log(lengths), np.log(errors), 1)[0] > 2.8


def test_next_factor_is_bounded_and_falls_with_the_error() -> None:
    assert rodas4.next_factor(0.0) == 5.0
    assert rodas4.next_factor(1e12) == 0.2
    assert rodas4.next_factor(1.0) == pytest.approx(0.9)
    assert rodas4.next_factor(float("nan")) > 0.0
