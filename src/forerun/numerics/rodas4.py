"""RODAS 4(3): a stiffly accurate Rosenbrock method of order four, as pieces to build on.

For y' = f(t, y) with J = df/dy, one step of length h solves for i = 0 … 5

    (I/(h gamma) - J) U_i = f(t + alpha_i h, y + sum_j a_ij U_j)
                            + sum_j c_ij U_j / h + h gamma_i f_t

and y1 = y + sum_j a_5j U_j + U_5, error = U_5.  The caller owns f, J and the linear solver; here
are the numbers and the sums.  A linear invariant of f that J shares is kept to rounding.

Source: Hairer & Wanner, Solving Ordinary Differential Equations II, 2nd ed. (1996), section IV.7;
digits from memory, checked by the measured order (tests/unit/numerics/test_rodas4.py).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void

__all__ = ["ALPHA", "GAMMA", "GAMMA_I", "STAGES", "between", "next_factor", "point", "source"]

Floats = npt.NDArray[np.float64]

STAGES = 6
GAMMA = 0.25
ALPHA = (0.0, 0.386, 0.21, 0.63, 1.0, 1.0)
GAMMA_I = (0.25, -0.1043, 0.1035, -0.0362, 0.0, 0.0)

_A = np.array(
    [
        [0.0, 0.0, 0.0, 0.0, 0.0],
        [1.544, 0.0, 0.0, 0.0, 0.0],
        [0.9466785280815826, 0.2557011698983284, 0.0, 0.0, 0.0],
        [3.314825187068521, 2.896124015972201, 0.9986419139977817, 0.0, 0.0],
        [1.221224509226641, 6.019134481288629, 12.53708332932087, -0.687886036105895, 0.0],
        [1.221224509226641, 6.019134481288629, 12.53708332932087, -0.687886036105895, 1.0],
    ]
)
_C = np.array(
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
    ]
)
# continuous extension of order three, same source
_D2 = np.array(
    [
        10.12623508344586,
        -7.487995877610167,
        -34.80091861555747,
        -7.992771707568823,
        1.025137723295662,
    ]
)
_D3 = np.array(
    [
        -0.6762803392801253,
        6.087714651680015,
        16.43084320892478,
        24.76722511418386,
        -6.594389125716872,
    ]
)

_SAFETY = 0.9
_SHRINK = 0.2  # a step is never cut or stretched by more than these factors at once
_STRETCH = 5.0


@kernel(void(int64, float64[::1], float64[:, ::1], float64[::1]), fast=True)
def point(i: int, y: Floats, u: Floats, result: Floats) -> None:
    """Write the point at which stage i evaluates f; for i = 6, the end of the step.

    Args:
        i: stage, 0 to 5, or 6 [-].
        y: (n,) state at the start of the step [any].
        u: (6, n) solutions of the stages before i [as the state].
        result: (n,) result [as the state].

    Validity:
        Any length of step for which I/(h gamma) - J is regular.

    Source:
        Hairer & Wanner (1996), section IV.7, as the module says.
    """
    row = min(i, STAGES - 1)
    for k in range(y.shape[0]):
        result[k] = y[k]
    for j in range(row):
        factor = _A[row, j]
        for k in range(y.shape[0]):
            result[k] += factor * u[j, k]
    if i == STAGES:
        for k in range(y.shape[0]):
            result[k] += u[STAGES - 1, k]


@kernel(void(int64, float64, float64[:, ::1], float64[::1], float64[::1]), fast=True)
def source(i: int, h: float, u: Floats, f_t: Floats, b: Floats) -> None:
    """Add to b = f(stage i) what the right-hand side of stage i has besides f.

    Args:
        i: stage, 0 to 5 [-].
        h: length of the step [s].
        u: (6, n) solutions of the stages before i [as the state].
        f_t: (n,) derivative of f in time alone at the start of the step [as f, per s].
        b: (n,) added to [as f].

    Validity:
        Any length of step for which I/(h gamma) - J is regular.

    Source:
        Hairer & Wanner (1996), section IV.7, as the module says.
    """
    for j in range(i):
        factor = _C[i, j] / h
        for k in range(b.shape[0]):
            b[k] += factor * u[j, k]
    if GAMMA_I[i] != 0.0:
        factor = h * GAMMA_I[i]
        for k in range(b.shape[0]):
            b[k] += factor * f_t[k]


@kernel(void(float64, float64[::1], float64[::1], float64[:, ::1], float64[::1]), fast=True)
def between(s: float, y0: Floats, y1: Floats, u: Floats, result: Floats) -> None:
    """Write the state inside a step, of order three.

    Args:
        s: place in the step, 0 to 1 [-].
        y0: (n,) state at its start [any].
        y1: (n,) state at its end [any].
        u: (6, n) solutions of its stages [as the state].
        result: (n,) result [as the state].

    Validity:
        Any length of step for which I/(h gamma) - J is regular.

    Source:
        Hairer & Wanner (1996), section IV.7, as the module says.
    """
    r = 1.0 - s
    for k in range(y0.shape[0]):
        first = 0.0
        second = 0.0
        for j in range(STAGES - 1):
            first += _D2[j] * u[j, k]
            second += _D3[j] * u[j, k]
        result[k] = r * y0[k] + s * (y1[k] + r * (first + s * second))


@kernel(float64(float64), fast=True)
def next_factor(error: float) -> float:
    """Return by how much to change the step after an error of `error` times the tolerance.

    Args:
        error: weighted norm of the error estimate, 1 is just allowed [-].

    Returns:
        Factor between 0.2 and 5 [-]; below 1 after a step that failed.

    Validity:
        Any length of step for which I/(h gamma) - J is regular.

    Source:
        Hairer & Wanner (1996), section IV.7, as the module says.
    """
    if not error > 0.0:
        return _STRETCH
    wanted: float = _SAFETY * error**-0.25
    return min(max(wanted, _SHRINK), _STRETCH)
