"""Solvers that forerun itself does not install, on the same compiled equations.

    python -m pip install scikit-sundae casadi

Each takes a prepared run and returns the reading of its head thermometer, as
`forerun.still.crosscheck.integrate` does for SciPy's solvers, from knot to knot of the programme.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.still.crosscheck import Equations, piece_by_piece
from forerun.still.run import Case

__all__ = ["PEERS", "integrate_by"]

Floats = npt.NDArray[np.float64]
Solver = Callable[[Equations, int, Floats, Floats, float, float], Floats]

MOST_STEPS = 200_000


def by_sundials(
    equations: Equations, segment: int, times: Floats, start: Floats, rtol: float, atol: float
) -> Floats:
    """Return (n, N) states by CVODE (BDF) with our banded Jacobian, through scikit-sundae."""
    from sksundae.cvode import CVODE  # noqa: PLC0415 -- not installed with forerun

    def rates(t: float, y: Floats, out: Floats) -> None:
        out[:] = equations.rates(t, y.copy(), segment)  # its own may not be written to

    def jacobian(t: float, y: Floats, _rates: Floats, out: Floats) -> None:
        out[:] = equations.dense(t, y.copy(), segment)

    width = equations.width
    solver = CVODE(
        rates,
        rtol=rtol,
        atol=atol,
        linsolver="band",
        lband=width,
        uband=width,
        jacfn=jacobian,
        max_num_steps=MOST_STEPS,
    )
    found = solver.solve(times, start)
    if not found.success:
        raise CalculationFailed("CVODE", f"at {found.t[-1]:g} s", str(found.message))
    return np.asarray(found.y)


def by_casadi(
    equations: Equations, segment: int, times: Floats, start: Floats, rtol: float, atol: float
) -> Floats:
    """Return (n, N) states by the `cvodes` integrator of CasADi with our Jacobian, in full."""
    import peer_casadi  # noqa: PLC0415 -- not installed with forerun

    return peer_casadi.by_casadi(equations, segment, times, start, rtol, atol)


PEERS: dict[str, Solver] = {"CVODE (SUNDIALS)": by_sundials, "cvodes (CasADi)": by_casadi}
"""What does a stretch of a run between two knots of its programme."""


def integrate_by(
    peer: str, case: Case, times: Floats, rtol: float, atol: float
) -> tuple[Floats, Equations]:
    """Integrate a run by a peer.

    Args:
        peer: a key of `PEERS`.
        case: from `forerun.still.run.prepare`; stops and receivers are not looked at.
        times: (n,) [s], rising, from 0 to the end at most.
        rtol: relative tolerance [-].
        atol: absolute tolerance [mol, E, K].

    Returns:
        (n,) reading of the head thermometer [K], and the equations with the number of calls.

    Raises:
        CalculationFailed: the solver gave up.
    """

    def piece(equations: Equations, segment: int, wanted: Floats, start: Floats) -> Floats:
        return PEERS[peer](equations, segment, wanted, start, rtol, atol)

    return piece_by_piece(case, times, piece, peer)
