"""Plates of a run by fit; many more of these runs stand in docs/explain/review.md."""

from __future__ import annotations

import numpy as np

from forerun.reviewing.fitting_run import fit_run, fitted_input
from forerun.still.run import run_still
from laws.fit_truth import drawn


def test_plates_of_a_pair_are_found() -> None:
    rng = np.random.default_rng(7)
    inside = 0
    for _ in range(2):
        prepared, log, plates = drawn(rng, "class-pair")
        fit = fit_run(prepared, log)
        assert fit is not None
        found = fit.get("plates")
        assert found is not None
        inside += found.low <= plates <= found.high
        assert fit.head_rms_K < 1.0
        assert abs(sum(weight for _, weight in fit.tried) - 1.0) < 1e-9
        again = run_still(fitted_input(prepared, fit))
        assert again.first_drop_s is not None
    assert inside == 2


def test_too_few_readings_give_no_fit() -> None:
    prepared, log, _ = drawn(np.random.default_rng(1), "class-pair")
    few = type(log)(log.rows[:8])
    assert fit_run(prepared, few) is None
