"""The coefficients of both methods are checked by the order that they give."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from forerun.numerics import rosenbrock as rb

Function = Callable[[float, np.ndarray], np.ndarray]


def _step(
    method: int,
    f: Function,
    jacobian: Function,
    f_t: Function,
    t: float,
    y: np.ndarray,
    h: float,
) -> tuple[np.ndarray, np.ndarray]:
    """Return the end of a step and the solutions of its stages; the last one is the error."""
    stages = int(rb.STAGES[method])
    u = np.zeros((stages, y.size))
    matrix = np.eye(y.size) / (h * rb.GAMMA[method]) - jacobian(t, y)
    at = np.zeros_like(y)
    for i in range(stages):
        rb.point(method, i, y, u, at)
        b = f(t + rb.ALPHA[method, i] * h, at)
        rb.source(method, i, h, u, f_t(t, y), b)
        u[i] = np.linalg.solve(matrix, b)
    rb.point(method, stages, y, u, at)
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


ORDERS = {rb.FOUR: 4, rb.THREE: 3}


@pytest.mark.parametrize("method", ORDERS)
@pytest.mark.parametrize("name", CASES)
def test_order_at_the_end_and_one_less_for_the_estimate(name: str, method: int) -> None:
    f, jacobian, f_t, exact = CASES[name]
    order = ORDERS[method]
    errors, lower = [], []
    counts = [8, 16, 32, 64]
    for n in counts:
        y, h = exact(0.0), 1.0 / n
        for k in range(n):
            before = y
            y, u = _step(method, f, jacobian, f_t, k * h, before, h)
        errors.append(np.abs(y - exact(1.0)).max())
        lower.append(np.abs(u[-1]).max())
    assert order - 0.5 < -np.polyfit(np.log(counts), np.log(errors), 1)[0] < order + 0.6
    if name == "driven":  # the embedded solution errs by one order less, h^order in one step
        assert order - 0.4 < -np.polyfit(np.log(counts), np.log(lower), 1)[0] < order + 0.6


@pytest.mark.parametrize("method", ORDERS)
@pytest.mark.parametrize("name", CASES)
def test_inside_a_step_one_order_less_than_at_its_end(name: str, method: int) -> None:
    f, jacobian, f_t, exact = CASES[name]
    errors = []
    lengths = [0.2, 0.1, 0.05]
    for h in lengths:
        y, u = _step(method, f, jacobian, f_t, 0.3, exact(0.3), h)
        inside = np.zeros_like(y)
        worst = 0.0
        for s in (0.25, 0.5, 0.75):
            rb.between(method, 0, s, exact(0.3), y, u, inside)
            worst = max(worst, np.abs(inside - exact(0.3 + s * h)).max())
        errors.append(worst)
    # local error h^order; a stiff problem may lose one
    assert np.polyfit(np.log(lengths), np.log(errors), 1)[0] > ORDERS[method] - 1.2


@pytest.mark.parametrize("method", ORDERS)
def test_the_ends_of_a_step_are_met_and_what_is_not_wanted_is_left(method: int) -> None:
    f, jacobian, f_t, exact = CASES["driven"]
    y0 = exact(0.3)
    y1, u = _step(method, f, jacobian, f_t, 0.3, y0, 0.1)
    for s, end in ((0.0, y0), (1.0, y1)):
        inside = np.full_like(y0, np.nan)
        rb.between(method, 0, s, y0, y1, u, inside)
        assert inside == pytest.approx(end, abs=1e-15)
        inside[:] = -1.0
        rb.between(method, 1, s, y0, y1, u, inside)
        assert np.all(inside == -1.0)


@pytest.mark.parametrize("method", ORDERS)
def test_both_methods_forget_what_is_infinitely_stiff(method: int) -> None:
    rate = 1e9

    def f(_: float, y: np.ndarray) -> np.ndarray:
        return np.asarray(-rate * y)

    y, _ = _step(method, f, lambda _, y: np.array([[-rate]]), _still, 0.0, np.ones(1), 1.0)
    assert abs(y[0]) < 1e-6


def test_fine_tolerances_take_the_higher_order() -> None:
    assert rb.method_for(1e-7) == rb.FOUR
    assert rb.method_for(1e-4) == rb.THREE


@pytest.mark.parametrize("method", ORDERS)
def test_next_factor_is_bounded_and_falls_with_the_error(method: int) -> None:
    assert rb.next_factor(method, 0.0) == 5.0
    assert rb.next_factor(method, 1e12) == 0.2
    assert rb.next_factor(method, 1.0) == pytest.approx(0.9)
    assert rb.next_factor(method, 16.0) == pytest.approx(0.9 * 16.0 ** (-1.0 / ORDERS[method]))
    assert rb.next_factor(method, float("nan")) > 0.0
