"""Linear systems with a block-tridiagonal matrix: block elimination, pivots inside blocks."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void

__all__ = ["factor_blocks", "solve_blocks"]

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]


@kernel(int64(float64[:, ::1], int64[::1]), fast=True, inline=True)
def _factor(a: Floats, pivots: Integers) -> int:
    """Overwrite a square block by its LU factors with row exchanges; 0, or 1 if singular.

    The diagonal of U is left as its reciprocals: a division is waited for where a solution is
    worked out entry by entry.
    """
    size = a.shape[0]
    for k in range(size):
        best = k
        largest = abs(a[k, k])
        for i in range(k + 1, size):
            if abs(a[i, k]) > largest:
                largest = abs(a[i, k])
                best = i
        pivots[k] = best
        if not largest > 0.0:  # zero or not a number
            return 1
        if best != k:
            for j in range(size):
                a[k, j], a[best, j] = a[best, j], a[k, j]
        inverse = 1.0 / a[k, k]
        a[k, k] = inverse
        for i in range(k + 1, size):
            a[i, k] *= inverse
            factor = a[i, k]
            if factor != 0.0:
                for j in range(k + 1, size):
                    a[i, j] -= factor * a[k, j]
    return 0


@kernel(void(float64[:, ::1], int64[::1], float64[::1]), fast=True, inline=True)
def _solve(lu: Floats, pivots: Integers, b: Floats) -> None:
    """Overwrite b by the solution for a block that `_factor` has treated."""
    size = b.shape[0]
    for k in range(size):
        p = pivots[k]
        if p != k:
            b[k], b[p] = b[p], b[k]
    for i in range(1, size):
        total = b[i]
        for j in range(i):
            total -= lu[i, j] * b[j]
        b[i] = total
    for i in range(size - 1, -1, -1):
        total = b[i]
        for j in range(i + 1, size):
            total -= lu[i, j] * b[j]
        b[i] = total * lu[i, i]


@kernel(void(float64[:, ::1], int64[::1], float64[:, ::1]), fast=True, inline=True)
def _solve_many(lu: Floats, pivots: Integers, b: Floats) -> None:
    """Overwrite the columns of b, row by row so that the inner loop runs along memory."""
    size, columns = b.shape
    for k in range(size):
        p = pivots[k]
        if p != k:
            for c in range(columns):
                b[k, c], b[p, c] = b[p, c], b[k, c]
    for i in range(1, size):
        for j in range(i):
            factor = lu[i, j]
            if factor != 0.0:
                for c in range(columns):
                    b[i, c] -= factor * b[j, c]
    for i in range(size - 1, -1, -1):
        for j in range(i + 1, size):
            factor = lu[i, j]
            if factor != 0.0:
                for c in range(columns):
                    b[i, c] -= factor * b[j, c]
        for c in range(columns):
            b[i, c] *= lu[i, i]


@kernel(
    int64(float64[:, :, ::1], float64[:, :, ::1], float64[:, :, ::1], int64[:, ::1]),
    fast=True,
    inline=True,
)
def factor_blocks(lower: Floats, diagonal: Floats, upper: Floats, pivots: Integers) -> int:
    """Factor a block-tridiagonal matrix in place by block elimination.

    Args:
        lower: (S, B, B) block of row s that multiplies block s - 1 [any]; the first is not read.
        diagonal: (S, B, B) diagonal blocks [any]; overwritten by their LU factors, the
            diagonal of U by its reciprocals.
        upper: (S, B, B) block of row s that multiplies block s + 1 [any]; the last is not read.
            Overwritten by diagonal^-1 upper.
        pivots: (S, B) result: row exchanges inside the blocks [-].

    Returns:
        0, or 1 if a block is singular or holds something that is not a number.

    Validity:
        Stable for matrices that are block diagonally dominant, such as I/(h gamma) - J of a
        cascade; rows are exchanged inside a block only.

    Source:
        Golub & Van Loan, Matrix Computations, 4th ed. (2013), section 4.5.1.
    """
    stages, size, _ = diagonal.shape
    for s in range(stages):
        block = diagonal[s]
        if s > 0:
            a = lower[s]
            b = upper[s - 1]
            for i in range(size):
                for k in range(size):
                    factor = a[i, k]
                    if factor != 0.0:
                        for j in range(size):
                            block[i, j] -= factor * b[k, j]
        if _factor(block, pivots[s]) != 0:
            return 1
        if s < stages - 1:
            _solve_many(block, pivots[s], upper[s])
    return 0


@kernel(
    void(
        float64[:, :, ::1], float64[:, :, ::1], float64[:, :, ::1], int64[:, ::1], float64[:, ::1]
    ),
    fast=True,
    inline=True,
)
def solve_blocks(
    lower: Floats, diagonal: Floats, upper: Floats, pivots: Integers, b: Floats
) -> None:
    """Overwrite b by the solution of the system that `factor_blocks` has treated.

    Args:
        lower, diagonal, upper, pivots: as `factor_blocks` left them [any].
        b: (S, B) right-hand side [any], overwritten by the solution.

    Validity:
        As `factor_blocks`.

    Source:
        Golub & Van Loan, Matrix Computations, 4th ed. (2013), section 4.5.1.
    """
    stages, size = b.shape
    for s in range(stages):
        if s > 0:
            a = lower[s]
            for i in range(size):
                total = b[s, i]
                for k in range(size):
                    total -= a[i, k] * b[s - 1, k]
                b[s, i] = total
        _solve(diagonal[s], pivots[s], b[s])
    for s in range(stages - 2, -1, -1):
        a = upper[s]
        for i in range(size):
            total = b[s, i]
            for k in range(size):
                total -= a[i, k] * b[s + 1, k]
            b[s, i] = total
