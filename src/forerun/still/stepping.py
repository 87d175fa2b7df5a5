"""Working space of the integrator for one run."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.numerics.rosenbrock import MOST_STAGES
from forerun.numerics.signatures import Array, int64, record
from forerun.still.noting import TRACE_COLUMNS

__all__ = ["STEPPING_TYPE", "Stepping", "stepping_for"]

Floats = npt.NDArray[np.float64]


class Stepping(NamedTuple):
    """Vectors and blocks of a step; n entries of the state, S stages of the still, B = C + 1.

    Args:
        u: (6, n) solutions of the stages of the method [as the state].
        vectors: (6, n) end of the step, f at its start, derivative of f in time, two points
            between, start of the step before [as the state].
        lower: (S, B, B) blocks below the diagonal [1/s].
        diagonal: (S, B, B) blocks on it [1/s].
        upper: (S, B, B) blocks above it [1/s].
        pivots: (S, B) rows exchanged [-].
        conditions: (3, 4) bath [K], pressure [Pa], reflux fraction [-] and vapour fed [mol/s]:
            now, their trend per second, and later.
        rows: (2, `TRACE_COLUMNS` + 3 C) lines of the trace at the ends of the step before [SI].
    """

    u: Floats
    vectors: Floats
    lower: Floats
    diagonal: Floats
    upper: Floats
    pivots: npt.NDArray[np.int64]
    conditions: Floats
    rows: Floats


STEPPING_TYPE = record(
    Stepping, "6 *", "6 *", "S B B", "S B B", "S B B", Array(int64, 2, ("S", "B")), "3 4", "2 *"
)


def stepping_for(size: int, stages: int, components: int) -> Stepping:
    """Return working space for one run.

    Args:
        size: entries of the state [-].
        stages: pot, plates and head [-].
        components: C [-].

    Returns:
        Zeros of the shapes of `Stepping` [any]. Not a published model.
    """
    b = components + 1
    blocks = (stages, b, b)
    return Stepping(
        u=np.zeros((MOST_STAGES, size)),
        vectors=np.zeros((6, size)),
        lower=np.zeros(blocks),
        diagonal=np.zeros(blocks),
        upper=np.zeros(blocks),
        pivots=np.zeros((stages, b), dtype=np.int64),
        conditions=np.zeros((3, 4)),
        rows=np.zeros((2, TRACE_COLUMNS + 3 * components)),
    )
