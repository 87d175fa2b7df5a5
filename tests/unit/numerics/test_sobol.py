"""Sobol points: those of a kept library, even in every half of every axis."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from scipy.stats import qmc

from forerun.numerics.sobol import MOST_DIMENSIONS, sobol_points


@pytest.mark.parametrize(
    ("dimensions", "power", "seed"), [(1, 4, 1), (7, 6, 2), (40, 8, 3), (200, 5, 4)]
)
def test_the_same_points_as_a_kept_library(dimensions: int, power: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    kept = qmc.Sobol(dimensions, scramble=True, rng=random).random_base2(power)
    assert np.array_equal(sobol_points(dimensions, 2**power, seed), kept)


def test_each_interval_of_each_axis_and_each_quarter_of_a_pair_holds_its_share() -> None:
    points = sobol_points(30, 256, 5)
    filled = np.sort((points * 256).astype(int), axis=0)
    assert np.array_equal(filled, np.tile(np.arange(256)[:, None], 30))
    quarters = (points[:, 0] * 16).astype(int) * 16 + (points[:, 1] * 16).astype(int)
    assert np.array_equal(np.sort(quarters), np.arange(256))


def test_more_points_begin_with_the_fewer_and_another_seed_gives_others() -> None:
    assert np.array_equal(sobol_points(5, 64, 1)[:20], sobol_points(5, 20, 1))
    assert not np.any(sobol_points(5, 64, 1) == sobol_points(5, 64, 2))


@pytest.mark.parametrize("dimensions", [0, MOST_DIMENSIONS + 1])
def test_dimensions_without_numbers_are_refused(dimensions: int) -> None:
    with pytest.raises(ValueError, match="1 to 200"):
        sobol_points(dimensions, 4, 1)


def test_an_ensemble_waits_for_no_library_of_statistics() -> None:
    code = (
        "import sys\nfrom forerun.forecast.ensemble import foresee\n"
        "from forerun.sheets.examples import example\nfrom forerun.sheets.resolving import load\n"
        "foresee(load(example('simple-still')), 8)\n"
        "sys.exit(any(name.startswith('scipy') for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
