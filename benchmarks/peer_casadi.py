"""The `cvodes` integrator of CasADi on our compiled equations; casadi has to be installed."""

from __future__ import annotations

from typing import Any

import casadi
import numpy as np
import numpy.typing as npt

from forerun.still.crosscheck import Equations

__all__ = ["by_casadi"]

Floats = npt.NDArray[np.float64]

_MOST_STEPS = 200_000


class _Called(casadi.Callback):  # type: ignore[misc]  # casadi has no types
    """A function of time (1, 1) and state (n, 1) that is carried out in Python."""

    def __init__(self, name: str, equations: Equations, segment: int, size: int) -> None:
        casadi.Callback.__init__(self)
        self.equations, self.segment, self.size = equations, segment, size
        self.slope: _Slope | None = None
        self.construct(name, {})

    def get_sparsity_in(self, k: int) -> Any:
        return casadi.Sparsity.dense(1 if k == 0 else self.size, 1)

    def asked(self, given: Any) -> tuple[float, Floats, int]:
        """Return time, state and segment."""
        return float(given[0]), np.asarray(given[1], dtype=np.float64).ravel(), self.segment


class _Slope(_Called):
    """What the rates change by with time, and with each state."""

    def get_n_in(self) -> int:
        return 3

    def get_n_out(self) -> int:
        return 2

    def get_sparsity_out(self, k: int) -> Any:
        return casadi.Sparsity.dense(self.size, 1 if k == 0 else self.size)

    def eval(self, given: Any) -> Any:
        here = self.equations.dense(*self.asked(given))
        return [casadi.DM.zeros(self.size, 1), casadi.DM(here)]


class _Rates(_Called):
    """The balances."""

    def get_n_in(self) -> int:
        return 2

    def get_n_out(self) -> int:
        return 1

    def get_sparsity_out(self, _k: int) -> Any:
        return casadi.Sparsity.dense(self.size, 1)

    def eval(self, given: Any) -> Any:
        return [casadi.DM(self.equations.rates(*self.asked(given)))]

    def has_jacobian(self) -> bool:
        return True

    def get_jacobian(self, name: str, _in: Any, _out: Any, _options: Any) -> Any:
        self.slope = _Slope(name, self.equations, self.segment, self.size)
        return self.slope


def by_casadi(
    equations: Equations, segment: int, times: Floats, start: Floats, rtol: float, atol: float
) -> Floats:
    """Return (n, N) states by the `cvodes` integrator of CasADi with our Jacobian, in full."""
    rates = _Rates("rates", equations, segment, start.size)
    t, x = casadi.MX.sym("t"), casadi.MX.sym("x", start.size)
    options = {"reltol": rtol, "abstol": atol, "max_num_steps": _MOST_STEPS}
    system = {"t": t, "x": x, "ode": rates(t, x)}
    solver = casadi.integrator("run", "cvodes", system, times[0], list(times[1:]), options)
    return np.vstack([start, np.asarray(solver(x0=start)["xf"]).T])
