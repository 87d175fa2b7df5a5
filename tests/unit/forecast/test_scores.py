"""The scores against closed forms and against a scheme written out in full."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.forecast.scores import (
    bootstrap_interval,
    covered,
    crps_fair,
    ecdf_band,
    probability_integral,
    spread_skill,
)


def test_the_fair_score_is_the_double_sum() -> None:
    x = np.random.default_rng(1).standard_normal(17)
    pairs = sum(abs(a - b) for a in x for b in x)
    written_out = np.mean(np.abs(x - 0.3)) - pairs / (2 * 17 * 16)
    assert crps_fair(x, 0.3) == pytest.approx(written_out, rel=1e-12)


def test_the_fair_score_does_not_depend_on_the_number_of_members() -> None:
    # the closed form for a standard normal forecast: E|X - y| - 1/sqrt(pi) at y = 0
    exact = np.sqrt(2.0 / np.pi) - 1.0 / np.sqrt(np.pi)
    random = np.random.default_rng(2)
    for n in (3, 30):
        found = np.mean([crps_fair(random.standard_normal(n), 0.0) for _ in range(20_000)])
        assert found == pytest.approx(exact, abs=0.008)


@pytest.mark.parametrize("width", [0.5, 1.0, 2.0])
def test_spread_over_skill_is_the_width_of_the_forecast(width: float) -> None:
    random = np.random.default_rng(3)
    members = width * random.standard_normal((4000, 20))
    truths = random.standard_normal(4000)
    # the mean of 20 members errs too: its error is 1 + width^2/20
    expected = np.sqrt(21 / 20 * width**2 / (1.0 + width**2 / 20))
    assert spread_skill(members, truths) == pytest.approx(expected, rel=0.04)


def test_bands_cover_and_a_narrow_one_is_seen() -> None:
    random = np.random.default_rng(4)
    members, truths = random.standard_normal((3000, 200)), random.standard_normal(3000)
    for share in (0.5, 0.8, 0.9):
        assert covered(members, truths, share).mean() == pytest.approx(share, abs=0.03)
    assert covered(0.5 * members, truths, 0.9).mean() < 0.65


def test_places_of_honest_forecasts_stay_in_the_simultaneous_band() -> None:
    random = np.random.default_rng(5)
    runs, inside = 100, []
    places, low, high = ecdf_band(runs, 0.9, seed=1)
    for _ in range(400):
        pit = np.sort(random.random(runs))
        ecdf = np.searchsorted(pit, places, side="right") / runs
        inside.append(bool(np.all((low <= ecdf) & (ecdf <= high))))
    assert np.mean(inside) == pytest.approx(0.9, abs=0.045)
    narrow = probability_integral(
        0.5 * random.standard_normal((runs, 64)), random.standard_normal(runs), seed=1
    )
    ecdf = np.searchsorted(np.sort(narrow), places, side="right") / runs
    assert not np.all((low <= ecdf) & (ecdf <= high))


def test_places_are_even_with_ties_too() -> None:
    members = np.zeros((2000, 9))
    pit = probability_integral(members, np.zeros(2000), seed=3)
    assert pit.mean() == pytest.approx(0.5, abs=0.03)
    assert pit.std() == pytest.approx(np.sqrt(1 / 12), abs=0.02)


def test_the_bootstrap_knows_the_error_of_a_mean() -> None:
    values = np.random.default_rng(6).standard_normal(400)
    low, high = bootstrap_interval(values, seed=1)
    assert low < values.mean() < high
    assert high - low == pytest.approx(2 * 1.645 / 20, rel=0.15)
