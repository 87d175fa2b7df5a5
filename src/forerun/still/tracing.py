"""The lines of a run's trace, compiled."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, int64, void
from forerun.still.boiling_type import (
    BOILED_TYPE,
    BOILING_TYPE,
    ENTHALPY_UNIT,
    Boiled,
    BoilingArrays,
)
from forerun.still.loads import thinness
from forerun.still.noting import PLAN_TYPE, RECORD_TYPE, TRACE_COLUMNS, Plan, Record, event
from forerun.still.rig import RIG_TYPE, RigArrays
from forerun.still.slopes import SLOPES_TYPE, Slopes
from forerun.still.streams import streams
from forerun.substances.liquids import LIQUIDS_TYPE, LiquidArrays

__all__ = ["describe", "note", "note_between"]

Floats = npt.NDArray[np.float64]

_TRACE = 1e-300  # E: keeps a ratio finite where nothing asks for the condenser


@kernel(
    void(float64, float64[::1], float64[::1], RIG_TYPE, PLAN_TYPE, SLOPES_TYPE, float64[::1]),
    fast=True,
    inline=True,
)
def describe(
    time: float,
    y: Floats,
    conditions: Floats,
    rig: RigArrays,
    plan: Plan,
    at: Slopes,
    out: Floats,
) -> None:
    """Write one line of the trace from streams and temperatures of pot and head that stand ready.

    Args:
        time: [s].
        y: (n,) state with its accounts [mol, E, K].
        conditions: (4,) bath [K], pressure [Pa], reflux fraction [-], vapour fed [mol/s].
        rig, plan: what the run is [SI].
        at: streams and temperatures of this state [see `Slopes`].
        out: (`TRACE_COLUMNS` + 3 C,) result [SI].

    Validity:
        For any state of `balances`.

    Not a published model: bookkeeping of this engine.
    """
    components = plan.room_volume.shape[0]
    b = components + 1
    stages = rig.glass.shape[0]
    top = stages - 1
    pressure = conditions[1]
    out[2] = at.temperature[0]
    boilup, pot = 0.0, 0.0
    for i in range(components):
        boilup += at.up[0, i]
        pot += max(y[i], 0.0)
    asked = at.up[top, components]
    total = 0.0
    for i in range(components):
        asked -= at.up[top, i] * at.cold[i]
        total += at.up[top, i]
    heat = asked * ENTHALPY_UNIT + _TRACE
    share = min(1.0, rig.condenser_limit / heat)
    volume, taken = 0.0, 0.0
    for i in range(components):
        back = rig.trap[1] * rig.returned[i] if rig.trap[0] > 0.0 else conditions[2]
        taken += (1.0 - back) * at.up[top, i]
        volume += y[stages * b + i] * plan.room_volume[i]
        out[TRACE_COLUMNS + i] = at.up[top, i] / total if total > 0.0 else math.nan
        out[TRACE_COLUMNS + components + i] = max(y[i], 0.0) / pot if pot > 0.0 else math.nan
        out[TRACE_COLUMNS + 2 * components + i] = y[stages * b + i]
    out[0] = time
    out[1] = event(0, 0.0, y, stages, plan)
    out[3] = conditions[0]
    out[4] = pressure + rig.extra_pressure[top]
    out[5] = volume
    out[6] = boilup
    out[7] = share * taken
    out[8] = pressure + rig.extra_pressure[0]
    out[9] = 0.0
    if rig.largest_load > 0.0:
        out[9] = boilup / rig.largest_load * thinness(out[8])


@kernel(
    void(
        float64,
        float64[::1],
        float64[::1],
        BOILING_TYPE,
        LIQUIDS_TYPE,
        RIG_TYPE,
        PLAN_TYPE,
        BOILED_TYPE,
        SLOPES_TYPE,
        RECORD_TYPE,
    ),
    fast=True,
)
def note(
    time: float,
    y: Floats,
    conditions: Floats,
    mixture: BoilingArrays,
    liquids: LiquidArrays,
    rig: RigArrays,
    plan: Plan,
    work: Boiled,
    space: Slopes,
    record: Record,
) -> None:
    """Append one line to the trace; uses the working space of the streams of pot and head.

    Args:
        time: [s].
        y: (n,) state with its accounts [mol, E, K].
        conditions: (4,) bath [K], pressure [Pa], reflux fraction [-], vapour fed [mol/s].
        mixture, liquids, rig, plan: what the run is [SI].
        work, space: working space [any].
        record: appended to [SI].

    Validity:
        For any state of `balances`.

    Not a published model: bookkeeping of this engine.
    """
    b = plan.room_volume.shape[0] + 1
    stages = rig.glass.shape[0]
    row = int(record.numbers[0])
    if row >= record.trace.shape[0]:
        return
    record.numbers[0] = row + 1
    top = stages - 1
    z = y[: stages * b].reshape((stages, b))
    streams(0, 1, 0, z, conditions[1], mixture, liquids, rig, work, space)
    streams(top, stages, 0, z, conditions[1], mixture, liquids, rig, work, space)
    describe(time, y, conditions, rig, plan, space, record.trace[row])


@kernel(
    void(float64, float64, float64[::1], float64, float64[:, ::1], int64, PLAN_TYPE, RECORD_TYPE),
    fast=True,
    inline=True,
)
def note_between(
    place: float,
    time: float,
    inside: Floats,
    pot: float,
    rows: Floats,
    stages: int,
    plan: Plan,
    record: Record,
) -> None:
    """Append one line to the trace; streams stand on a straight line between the ends of a step.

    Args:
        place: in the step, 0 to 1 [-].
        time: [s].
        inside: (n,) state there [mol, E, K].
        pot: its temperature there [K].
        rows: (2, `TRACE_COLUMNS` + 3 C) lines at both ends [SI].
        stages: S [-].
        plan: what is done [SI].
        record: appended to [SI].

    Validity:
        Streams err by an eighth of their curvature times the step squared; the rest is exact.

    Not a published model: bookkeeping of this engine.
    """
    components = plan.room_volume.shape[0]
    row = int(record.numbers[0])
    if row >= record.trace.shape[0]:
        return
    record.numbers[0] = row + 1
    out = record.trace[row]
    for k in range(TRACE_COLUMNS + components):
        out[k] = rows[0, k] + place * (rows[1, k] - rows[0, k])
    first = stages * (components + 1)
    volume, left = 0.0, 0.0
    for i in range(components):
        volume += inside[first + i] * plan.room_volume[i]
        left += max(inside[i], 0.0)
        out[TRACE_COLUMNS + 2 * components + i] = inside[first + i]
    for i in range(components):
        share = max(inside[i], 0.0) / left if left > 0.0 else math.nan
        out[TRACE_COLUMNS + components + i] = share
    out[0] = time
    out[1] = event(0, 0.0, inside, stages, plan)
    out[2] = pot
    out[5] = volume
