"""The same compiled balances for a general-purpose solver: a cross-check and a yardstick.

The state is that of the stages, then the moles received and the head thermometer: the accounts
that couple the head alone, so that the Jacobian stays banded.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.integrate import solve_ivp

from forerun.core.errors import CalculationFailed
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, void
from forerun.still.balances import SUPPLIED, THERMOMETER, assemble, balances, linearise
from forerun.still.run import Case
from forerun.still.slopes import SLOPES_TYPE, Slopes
from forerun.still.space import working_space

__all__ = ["Equations", "Piece", "band", "integrate", "piece_by_piece"]

Floats = npt.NDArray[np.float64]
_CUBE = float64[:, :, ::1]


@kernel(void(_CUBE, _CUBE, _CUBE, SLOPES_TYPE, float64, float64[:, ::1]))
def band(
    lower: Floats, diagonal: Floats, upper: Floats, at: Slopes, lag: float, out: Floats
) -> None:
    """Write the banded Jacobian of the stages, the moles received and the thermometer.

    Args:
        lower, diagonal, upper: (S, B, B) blocks of -J from `assemble` [1/s].
        at: from `linearise` [see `Slopes`].
        lag: of the thermometer [s].
        out: (4 B - 1, S B + C + 1) result [1/s]; entry (i, j) stands at row 2 B - 1 + i - j.

    Validity:
        As `balances`.

    Derivation: the blocks written along the diagonals.
    """
    stages, b, _ = diagonal.shape
    c = b - 1
    half = 2 * b - 1
    out[:] = 0.0
    for s in range(stages):
        for i in range(b):
            row = s * b + i
            for k in range(b):
                out[half + row - s * b - k, s * b + k] = -diagonal[s, i, k]
                if s > 0:
                    out[half + row - (s - 1) * b - k, (s - 1) * b + k] = -lower[s, i, k]
                if s < stages - 1:
                    out[half + row - (s + 1) * b - k, (s + 1) * b + k] = -upper[s, i, k]
    top = stages - 1
    first = stages * b
    share, d_share = at.head[0], at.head[1]
    for k in range(b):
        asked = at.d_up[top, c, k]
        for i in range(c):
            asked -= at.d_up[top, i, k] * at.cold[i]
        column = top * b + k
        for i in range(c):
            value = share * at.d_up[top, i, k] + d_share * asked * at.up[top, i]
            out[half + first + i - column, column] = (1.0 - at.back[i]) * value
        out[half + first + c - column, column] = at.d_temperature[top, k] / lag
    out[half, first + c] = -1.0 / lag


class Equations:
    """A prepared run as `f(t, y)` and a banded Jacobian for other people's solvers.

    Args:
        case: from `forerun.still.run.prepare`.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.components = case.given.charge_mol.size
        self.stages = case.rig.glass.size
        b = self.components + 1
        self.states = self.stages * b
        self.width = 2 * b - 1
        self._work, self._at, self._space, _ = working_space(case)
        accounts = 2 * self.components + SUPPLIED
        self._accounts = np.zeros(2 * self.components + 5)
        self._received = np.zeros_like(self._accounts)
        self._thermometer = accounts + THERMOMETER
        self._dz = np.zeros((self.stages, b))
        self._blocks = [np.zeros((self.stages, b, b)) for _ in range(3)]
        self._still = np.zeros(4)
        self._band = np.zeros((2 * self.width + 1, self.states + b))
        self.calls = 0

    def start(self) -> Floats:
        """Return the (S B + C + 1,) state at the start [mol, E, K]."""
        y = self.case.state
        accounts = y[self.states :]
        return np.concatenate(
            [y[: self.states], accounts[: self.components], accounts[[self._thermometer]]]
        )

    def conditions(self, t: float, segment: int) -> Floats:
        """Return bath [K], pressure [Pa] and reflux fraction [-] at a time [s] of a segment."""
        plan = self.case.plan
        return np.asarray(
            plan.start[segment] + plan.slope[segment] * (t - plan.times[segment]), dtype=np.float64
        )

    def rates(self, t: float, y: Floats, segment: int) -> Floats:
        """Return dy/dt, (S B + C + 1,) [mol/s, E/s, K/s]; conservation, as `balances`."""
        self.calls += 1
        case = self.case
        z = np.ascontiguousarray(y[: self.states]).reshape(self._dz.shape)
        self._accounts[self._thermometer] = y[-1]
        balances(
            z,
            self._accounts,
            self.conditions(t, segment),
            case.mixture,
            case.given.liquids,
            case.rig,
            self._work,
            self._space,
            self._dz,
            self._received,
        )
        out = np.empty(y.size)
        out[: self.states] = self._dz.ravel()
        out[self.states : -1] = self._received[: self.components]
        out[-1] = self._received[self._thermometer]
        return out

    def jacobian(self, t: float, y: Floats, segment: int) -> Floats:
        """Return the banded Jacobian (4 B - 1, S B + C + 1); differentiation, as `linearise`."""
        case = self.case
        z = np.ascontiguousarray(y[: self.states]).reshape(self._dz.shape)
        linearise(
            z,
            self.conditions(t, segment),
            self._still,
            case.mixture,
            case.given.liquids,
            case.rig,
            self._work,
            self._at,
            self._dz,
            self._received,
        )
        lower, diagonal, upper = self._blocks
        assemble(0.0, self._at, case.rig, lower, diagonal, upper)
        band(lower, diagonal, upper, self._at, case.rig.lag, self._band)
        return self._band

    def dense(self, t: float, y: Floats, segment: int) -> Floats:
        """Return the same Jacobian as a full matrix [1/s]; differentiation, as `jacobian`."""
        packed = self.jacobian(t, y, segment)
        size = y.size
        out = np.zeros((size, size))
        for row in range(packed.shape[0]):
            below = row - self.width
            if below >= size or -below >= size:
                continue
            columns = np.arange(max(0, -below), min(size, size - below))
            out[columns + below, columns] = packed[row, columns]
        return out


Piece = Callable[[Equations, int, Floats, Floats], Floats]
"""States at some times of a segment, from equations, segment, times and the first state."""


def integrate(
    case: Case, times: Floats, method: str = "LSODA", rtol: float = 1e-6, atol: float = 1e-9
) -> tuple[Floats, Equations]:
    """Integrate a run by a solver of SciPy, from knot to knot of its programme.

    Args:
        case: from `forerun.still.run.prepare`; stops and receivers are not looked at.
        times: (n,) [s], rising, from 0 to the end at most.
        method: LSODA, BDF or Radau.
        rtol: relative tolerance [-].
        atol: absolute tolerance [mol, E, K].

    Returns:
        (n,) reading of the head thermometer [K], and the equations with the number of calls.

    Raises:
        CalculationFailed: the solver gave up.

    Source:
        SciPy's `solve_ivp`; LSODA: Petzold, SIAM J. Sci. Stat. Comput. 4 (1983) 136,
        doi:10.1137/0904010 (from memory).
    """

    def piece(equations: Equations, segment: int, wanted: Floats, start: Floats) -> Floats:
        options: dict[str, Any] = {"jac": equations.dense}
        if method == "LSODA":
            width = equations.width
            options = {"jac": equations.jacobian, "lband": width, "uband": width}
        found = solve_ivp(
            equations.rates,
            (wanted[0], wanted[-1]),
            start,
            method=method,
            t_eval=wanted,
            rtol=rtol,
            atol=atol,
            args=(segment,),
            **options,
        )
        if not found.success:
            raise CalculationFailed(
                f"the cross-check with {method}", f"at {wanted[0]:g} s", str(found.message)
            )
        return np.asarray(found.y.T)

    return piece_by_piece(case, times, piece, f"the cross-check with {method}")


def piece_by_piece(case: Case, times: Floats, piece: Piece, name: str) -> tuple[Floats, Equations]:
    """Integrate a run from knot to knot of its programme.

    Args:
        case: from `forerun.still.run.prepare`; stops and receivers are not looked at.
        times: (n,) [s], rising, from 0 to the end at most.
        piece: gives the (m, S B + C + 1) states at m times, the first of which is that of the state
            it begins with.
        name: of the solver, for the error.

    Returns:
        (n,) reading of the head thermometer [K], and the equations with the number of calls.

    Raises:
        CalculationFailed: the solver ended in something that is no number.

    Not a published model: bookkeeping.
    """
    equations = Equations(case)
    plan = case.plan
    y = equations.start()
    readings = np.full(times.size, y[-1])
    for segment in range(plan.times.size - 1):
        begin, end = float(plan.times[segment]), float(plan.times[segment + 1])
        asked = (times > begin) & (times <= end)
        wanted = np.unique(np.concatenate([[begin], times[asked], [end]]))
        states = piece(equations, segment, wanted, y)
        # LSODA may call a step into not-a-number a success
        if not np.all(np.isfinite(states)):
            raise CalculationFailed(name, f"at {begin:g} s", "not a number")
        readings[asked] = states[np.isin(wanted, times[asked]), -1]
        y = states[-1]
    return readings + plan.offset, equations
