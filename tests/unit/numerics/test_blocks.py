"""Block elimination against a dense solver."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.numerics.blocks import factor_blocks, solve_blocks


@pytest.mark.parametrize(("stages", "size"), [(1, 3), (2, 2), (7, 4), (22, 6)])
def test_solves_what_a_dense_solver_solves(stages: int, size: int) -> None:
    rng = np.random.default_rng(5)
    lower, diagonal, upper = rng.normal(size=(3, stages, size, size))
    diagonal += 4.0 * np.eye(size)[rng.permutation(size)]  # pivots away from the diagonal
    full = np.zeros((stages * size, stages * size))
    for s in range(stages):
        here = slice(s * size, (s + 1) * size)
        full[here, here] = diagonal[s]
        if s > 0:
            full[here, (s - 1) * size : s * size] = lower[s]
        if s < stages - 1:
            full[here, (s + 1) * size : (s + 2) * size] = upper[s]
    b = rng.normal(size=(stages, size))
    expected = np.linalg.solve(full, b.ravel())
    pivots = np.zeros((stages, size), dtype=np.int64)
    assert factor_blocks(lower, diagonal, upper, pivots) == 0
    solve_blocks(lower, diagonal, upper, pivots, b)
    assert b.ravel() == pytest.approx(expected, rel=1e-9, abs=1e-10)


def test_a_singular_block_is_reported() -> None:
    zero = np.zeros((2, 2, 2))
    pivots = np.zeros((2, 2), dtype=np.int64)
    assert factor_blocks(zero.copy(), zero.copy(), zero.copy(), pivots) == 1
    bad = np.full((2, 2, 2), np.nan)
    assert factor_blocks(zero.copy(), bad, zero.copy(), pivots) == 1
