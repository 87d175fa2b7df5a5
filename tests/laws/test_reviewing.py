"""What a review claims, on invented runs whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from laws import balance_truth, plateau_truth


def test_plateaus_are_found_within_half_a_kelvin_and_a_minute() -> None:
    score = plateau_truth.scored(runs=150, seed=5)
    assert score.made > 300
    assert score.found >= 0.95 * score.made
    assert score.reported <= 1.05 * score.made


@pytest.mark.parametrize("mishap", balance_truth.MISHAPS)
def test_a_single_gross_error_is_found_and_named(mishap: str) -> None:
    score = balance_truth.scored(mishap, runs=100, seed=11)
    assert score.named >= 0.90 * score.runs


def test_honest_runs_are_not_accused() -> None:
    score = balance_truth.scored(None, runs=100, seed=12)
    assert score.accused <= 0.05 * score.runs


def test_bands_of_the_account_cover_the_truth() -> None:
    rng = np.random.default_rng(3)
    inside = total = 0
    for _ in range(80):
        run = balance_truth.bench(rng)
        found = balance_truth.reconciled(rng, run)
        for place, true in zip(
            [*map(str, range(1, run.receivers + 1)), "pot"], run.true, strict=True
        ):
            line = found.line(place)
            assert line is not None
            inside += int(np.sum(np.abs(line.by_component_kg - true) <= line.component_band_kg))
            total += true.size
    assert 0.72 <= inside / total <= 0.90


def test_adjusting_brings_masses_nearer_to_the_truth() -> None:
    rng = np.random.default_rng(9)
    raw, adjusted = [], []
    for _ in range(40):
        run = balance_truth.bench(rng)
        found = balance_truth.reconciled(rng, run)
        for k in range(run.receivers + 1):
            line = found.line(str(k + 1) if k < run.receivers else "pot")
            assert line is not None
            raw.append(run.mass[k] * run.fraction[k, 0] - run.true[k, 0])
            adjusted.append(line.by_component_kg[0] - run.true[k, 0])
    assert np.std(adjusted) < np.std(raw)


def test_the_account_closes() -> None:
    rng = np.random.default_rng(4)
    found = balance_truth.reconciled(rng, balance_truth.bench(rng))
    parts = sum(line.mass_kg for line in found.lines)
    assert parts == pytest.approx(found.charge.mass_kg, rel=1e-12)
    assert [line.place for line in found.lines][-3:] == ["pot", "column", "lost"]
