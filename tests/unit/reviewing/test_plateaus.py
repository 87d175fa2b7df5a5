"""Plateaus, transitions, smoothing that respects steps."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.reviewing.changepoints import noise_of, straight_pieces
from forerun.reviewing.plateaus import find_plateaus, smoothed, transitions_between

CORNERS = ([0, 900, 1100, 3000, 3300, 5400, 5600], [20, 22, 78, 78.2, 110, 110.5, 90])


def _curve(step: float, noise: float, seed: int = 3) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    times = np.arange(0.0, 5600.0, step)
    head = np.interp(times, *CORNERS) + rng.normal(0.0, noise, times.size)
    return times, head + 273.15


@pytest.mark.parametrize("step", [1.0, 10.0, 60.0])
@pytest.mark.parametrize("noise", [0.0, 0.1])
def test_two_plateaus(step: float, noise: float) -> None:
    times, head = _curve(step, noise)
    first, second = find_plateaus(times, head)
    for plateau, start, end, level in ((first, 1100, 3000, 78.1), (second, 3300, 5400, 110.25)):
        assert plateau.start_s == pytest.approx(start, abs=max(30.0, step))
        assert plateau.end_s == pytest.approx(end, abs=max(30.0, step))
        assert plateau.temperature_K - 273.15 == pytest.approx(level, abs=0.2)
    (between,) = transitions_between([first, second])
    assert (between.start_s, between.end_s) == (first.end_s, second.start_s)


def test_whole_degrees_and_stray_readings() -> None:
    times, head = _curve(20.0, 0.1)
    head = np.round(head)
    head[[60, 130, 200]] += [15.0, -12.0, 9.0]
    head[100] = np.nan
    assert [round(p.temperature_K - 273.15) for p in find_plateaus(times, head)] == [78, 110]


def test_a_steady_rise_is_no_plateau() -> None:
    times = np.arange(0.0, 6000.0, 10.0)
    head = 293.15 + np.interp(times, [0, 600, 700, 6000], [0, 2, 60, 95])
    assert find_plateaus(times, head) == ()


def test_the_cold_head_before_boiling_is_no_plateau() -> None:
    times = np.arange(0.0, 1800.0, 10.0)
    assert find_plateaus(times, np.full(times.size, 294.0)) == ()


def test_too_few_readings() -> None:
    assert find_plateaus(np.array([0.0, 60.0]), np.array([300.0, 300.0])) == ()


def test_noise_sees_neither_slopes_nor_steps() -> None:
    rng = np.random.default_rng(1)
    values = np.linspace(0.0, 50.0, 4000) + rng.normal(0.0, 0.2, 4000)
    values[2000:] += 30.0
    assert noise_of(values) == pytest.approx(0.2, rel=0.05)
    assert noise_of(np.repeat([20.0, 20.5, 21.0], 30)) == pytest.approx(0.5 / 12**0.5)


def test_pieces_begin_where_the_course_changes() -> None:
    times = np.arange(300.0)
    values = np.interp(times, [0, 100, 100.001, 200, 300], [0, 0, 5, 5, 30])
    values += np.random.default_rng(4).normal(0.0, 0.05, times.size)
    begins = straight_pieces(times, values, 0.05)
    assert len(begins) == 3
    np.testing.assert_allclose(begins, [0, 101, 200], atol=2)


def test_smoothing_keeps_a_step_and_lowers_the_noise() -> None:
    rng = np.random.default_rng(5)
    times = np.arange(0.0, 1000.0, 5.0)
    clean = np.where(times < 500.0, 70.0, 90.0)
    rough = clean + rng.normal(0.0, 0.5, times.size)
    calm = smoothed(times, rough, [500.0])
    assert np.abs(calm - clean).max() < 0.6
    assert np.std(calm - clean) < 0.5 * np.std(rough - clean)
