"""Two stiffly accurate Rosenbrock methods, RODAS 4(3) and RODAS3 3(2), as pieces to build on.

For y' = f(t, y) with J = df/dy, one step of length h solves for i = 0 … s - 1

    (I/(h gamma) - J) U_i = f(t + alpha_i h, y + sum_j a_ij U_j)
                            + sum_j c_ij U_j / h + h gamma_i f_t

and y1 = y + sum_j a_(s-1)j U_j + U_(s-1), error = U_(s-1).  The caller owns f, J and the linear
solver; here are the numbers and the sums.  A linear invariant of f that J shares is kept to
rounding.  `FOUR` has six stages, `THREE` four of which the first two share one f: where it is
curvature that ends a step, and not the order, it does the same for half the work.

Sources: Hairer & Wanner, Solving Ordinary Differential Equations II, 2nd ed. (1996), section IV.7
(FOUR); Sandu et al., Atmos. Environ. 31 (1997) 3459, doi:10.1016/S1352-2310(97)83212-8 (THREE);
digits from memory, checked by the measured order (tests/unit/numerics/test_rosenbrock.py).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void

__all__ = [
    "ALPHA",
    "FOUR",
    "GAMMA",
    "GAMMA_I",
    "MOST_STAGES",
    "STAGES",
    "THREE",
    "between",
    "method_for",
    "next_factor",
    "point",
    "source",
]

Floats = npt.NDArray[np.float64]

FOUR, THREE = 0, 1
MOST_STAGES = 6
STAGES = np.array([6, 4])
GAMMA = np.array([0.25, 0.5])
ALPHA = np.array([[0.0, 0.386, 0.21, 0.63, 1.0, 1.0], [0.0, 0.0, 1.0, 1.0, 0.0, 0.0]])
GAMMA_I = np.array([[0.25, -0.1043, 0.1035, -0.0362, 0.0, 0.0], [0.5, 1.5, 0.0, 0.0, 0.0, 0.0]])

_FINE = 5e-6  # below this tolerance order four is less work, see benchmarks/RESULTS.md

_A = np.array(
    [
        [
            [0.0, 0.0, 0.0, 0.0, 0.0],
            [1.544, 0.0, 0.0, 0.0, 0.0],
            [0.9466785280815826, 0.2557011698983284, 0.0, 0.0, 0.0],
            [3.314825187068521, 2.896124015972201, 0.9986419139977817, 0.0, 0.0],
            [1.221224509226641, 6.019134481288629, 12.53708332932087, -0.687886036105895, 0.0],
            [1.221224509226641, 6.019134481288629, 12.53708332932087, -0.687886036105895, 1.0],
        ],
        [
            [0.0, 0.0, 0.0, 0.0, 0.0],
            [0.0, 0.0, 0.0, 0.0, 0.0],
            [2.0, 0.0, 0.0, 0.0, 0.0],
            [2.0, 0.0, 1.0, 0.0, 0.0],
            [0.0, 0.0, 0.0, 0.0, 0.0],
            [0.0, 0.0, 0.0, 0.0, 0.0],
        ],
    ]
)
_C = np.array(
    [
        [
            [0.0, 0.0, 0.0, 0.0, 0.0],
            [-5.6688, 0.0, 0.0, 0.0, 0.0],
            [-2.430093356833875, -0.2063599157091915, 0.0, 0.0, 0.0],
            [-0.1073529058151375, -9.594562251023355, -20.47028614809616, 0.0, 0.0],
            [7.496443313967647, -10.24680431464352, -33.99990352819905, 11.7089089320616, 0.0],
            [
                8.083246795921522,
                -7.981132988064893,
                -31.52159432874371,
                16.31930543123136,
                -6.058818238834054,
            ],
        ],
        [
            [0.0, 0.0, 0.0, 0.0, 0.0],
            [4.0, 0.0, 0.0, 0.0, 0.0],
            [1.0, -1.0, 0.0, 0.0, 0.0],
            [1.0, -1.0, -8.0 / 3.0, 0.0, 0.0],
            [0.0, 0.0, 0.0, 0.0, 0.0],
            [0.0, 0.0, 0.0, 0.0, 0.0],
        ],
    ]
)
# continuous extensions: of order three for FOUR, same source; of order two for THREE, own
# derivation: the two conditions of that order held, those of order three nearest in least squares
_D2 = np.array(
    [
        [
            10.12623508344586,
            -7.487995877610167,
            -34.80091861555747,
            -7.992771707568823,
            1.025137723295662,
        ],
        [3.0, -1.0, -12.0 / 17.0, 4.0 / 17.0, 0.0],
    ]
)
_D3 = np.array(
    [
        [
            -0.6762803392801253,
            6.087714651680015,
            16.43084320892478,
            24.76722511418386,
            -6.594389125716872,
        ],
        [0.0, 0.0, -8.4 / 17.0, 2.8 / 17.0, 0.0],
    ]
)
_ORDER = np.array([4.0, 3.0])

_SAFETY = 0.9
_SHRINK = 0.2  # a step is never cut or stretched by more than these factors at once
_STRETCH = 5.0


@kernel(int64(float64), fast=True)
def method_for(tolerance: float) -> int:
    """Return the method that is less work for a tolerance.

    Args:
        tolerance: relative error allowed in a step [-].

    Returns:
        `FOUR` or `THREE`; valid for the stills of this project, on which it was measured.

    Not a published model: a choice.
    """
    return FOUR if tolerance < _FINE else THREE


@kernel(void(int64, int64, float64[::1], float64[:, ::1], float64[::1]), fast=True, inline=True)
def point(method: int, i: int, y: Floats, u: Floats, result: Floats) -> None:
    """Write the point at which stage i evaluates f; beyond the last, the end of the step.

    Args:
        method: `FOUR` or `THREE` [-].
        i: stage, from 0, or the number of stages [-].
        y: (n,) state at the start of the step [any].
        u: (s, n) solutions of the stages before i [as the state].
        result: (n,) result [as the state].

    Validity:
        Any length of step for which I/(h gamma) - J is regular.

    Source:
        As the module says.
    """
    last = STAGES[method] - 1
    row = min(i, last)
    for k in range(y.shape[0]):
        result[k] = y[k]
    for j in range(row):
        factor = _A[method, row, j]
        if factor != 0.0:
            for k in range(y.shape[0]):
                result[k] += factor * u[j, k]
    if i > last:
        for k in range(y.shape[0]):
            result[k] += u[last, k]


@kernel(
    void(int64, int64, float64, float64[:, ::1], float64[::1], float64[::1]), fast=True, inline=True
)
def source(method: int, i: int, h: float, u: Floats, f_t: Floats, b: Floats) -> None:
    """Add to b = f(stage i) what the right-hand side of stage i has besides f.

    Args:
        method: `FOUR` or `THREE` [-].
        i: stage, from 0 [-].
        h: length of the step [s].
        u: (s, n) solutions of the stages before i [as the state].
        f_t: (n,) derivative of f in time alone at the start of the step [as f, per s].
        b: (n,) added to [as f].

    Validity:
        Any length of step for which I/(h gamma) - J is regular.

    Source:
        As the module says.
    """
    for j in range(i):
        factor = _C[method, i, j] / h
        for k in range(b.shape[0]):
            b[k] += factor * u[j, k]
    if GAMMA_I[method, i] != 0.0:
        factor = h * GAMMA_I[method, i]
        for k in range(b.shape[0]):
            b[k] += factor * f_t[k]


@kernel(
    void(int64, int64, int64, float64, float64[::1], float64[::1], float64[:, ::1], float64[::1]),
    fast=True,
)
def between(
    method: int, first: int, end: int, s: float, y0: Floats, y1: Floats, u: Floats, result: Floats
) -> None:
    """Write the state inside a step, of order three or two.

    Args:
        method: `FOUR` or `THREE` [-].
        first, end: entries of the state that are wanted, from the first to the one before the
            end [-].
        s: place in the step, 0 to 1 [-].
        y0: (n,) state at its start [any].
        y1: (n,) state at its end [any].
        u: (s, n) solutions of its stages [as the state].
        result: (n,) result [as the state].

    Validity:
        Any length of step for which I/(h gamma) - J is regular.

    Source:
        As the module says.
    """
    r = 1.0 - s
    used = STAGES[method] - 1 + method
    for k in range(first, end):
        result[k] = r * y0[k] + s * y1[k]
    for j in range(used):
        factor = s * r * (_D2[method, j] + s * _D3[method, j])
        for k in range(first, end):
            result[k] += factor * u[j, k]


@kernel(float64(int64, float64), fast=True)
def next_factor(method: int, error: float) -> float:
    """Return by how much to change the step after an error of `error` times the tolerance.

    Args:
        method: `FOUR` or `THREE` [-].
        error: weighted norm of the error estimate, 1 is just allowed [-].

    Returns:
        Factor between 0.2 and 5 [-]; below 1 after a step that failed.

    Validity:
        Any length of step for which I/(h gamma) - J is regular.

    Source:
        As the module says.
    """
    if not error > 0.0:
        return _STRETCH
    wanted: float = _SAFETY * error ** (-1.0 / _ORDER[method])
    return min(max(wanted, _SHRINK), _STRETCH)
