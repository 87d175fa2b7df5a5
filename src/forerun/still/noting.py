"""What a run is to do and what it leaves: events, receivers, trace and error norm, compiled."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.rodas4 import between
from forerun.numerics.signatures import float64, int64, record, void
from forerun.still.balances import THERMOMETER
from forerun.still.boiling import BOILING_TYPE, BoilingArrays
from forerun.still.rig import RIG_TYPE, RigArrays
from forerun.still.slopes import SLOPES_TYPE, Slopes
from forerun.still.streams import ENTHALPY_UNIT, WORK_TYPE, Work, stage_streams
from forerun.substances.liquids import LIQUIDS_TYPE, LiquidArrays

__all__ = [
    "CUT_COLUMNS",
    "PLAN_TYPE",
    "RECORD_TYPE",
    "TRACE_COLUMNS",
    "Plan",
    "Record",
    "close_cut",
    "crossing",
    "error_norm",
    "event",
    "note",
]

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

TRACE_COLUMNS = 8  # time, head, pot, bath, pressure, volume, boil-up, distillate; then 2 C
CUT_COLUMNS = 4  # start, end, head at first drop, head at end; then C moles received so far

_TEMPERATURE_TOLERANCE = 10.0  # K for a tolerance of one
_TRACE_SHARE = 0.01  # moles below this share of a stage are held to this share of the tolerance
_ROOT_TRIES = 60
_TRACE = 1e-300  # E: keeps a ratio finite where nothing asks for the condenser


class Plan(NamedTuple):
    """What is done in a run.

    Args:
        times: (G + 1,) knots [s].
        start: (G, 3) bath [K], pressure [Pa], reflux fraction [-] where a segment begins.
        slope: (G, 3) their rates of change [K/s, Pa/s, 1/s].
        switch_kind: (W,) 0 head, 1 volume, 2 time.
        switch_value: (W,) [K], [m3] or [s].
        room_volume: (C,) molar volumes at room temperature [m3/mol].
        stop_residue: volume at room temperature that ends the run [m3]; negative: never.
        stop_head: [K]; infinity: never.
        dry: volume of the pot at which it counts as dry [m3].
        first_drop: [m3].
        offset: of the thermometer [K].
        interval: of the trace [s].
        tolerance: relative error of a step [-].
        film: amount below which nothing is resolved [mol].
    """

    times: Floats
    start: Floats
    slope: Floats
    switch_kind: Integers
    switch_value: Floats
    room_volume: Floats
    stop_residue: float
    stop_head: float
    dry: float
    first_drop: float
    offset: float
    interval: float
    tolerance: float
    film: float


class Record(NamedTuple):
    """What a run leaves.

    Args:
        trace: (rows, 8 + 2 C) see `TRACE_COLUMNS`, then composition of the distillate and the pot.
        cuts: (W + 1, 4 + C) see `CUT_COLUMNS`, then moles received since the start.
        numbers: (8,) rows of the trace, cuts, how it ended, steps, rejected, time reached [s],
            first drop [s] or NaN, evaluations of the balances.
    """

    trace: Floats
    cuts: Floats
    numbers: Floats


PLAN_TYPE = record(Plan, 1, 2, 2, int64[::1], 1, 1, *(float64,) * 8)
RECORD_TYPE = record(Record, 2, 2, 1)


@kernel(float64(int64, float64, float64[::1], int64, PLAN_TYPE))
def event(kind: int, value: float, y: Floats, stages: int, plan: Plan) -> float:
    """Return how far an event is past its crossing: 0 head, 1 distillate, 2 residue.

    Args:
        kind: which [-].
        value: where the crossing is [K or m3].
        y: (n,) state with its accounts [mol, E, K].
        stages: S [-].
        plan: what is done [SI].

    Returns:
        Distance past the crossing [K or m3].

    Validity:
        For any state of `balances`.

    Not a published model: bookkeeping of this engine.
    """
    components = plan.room_volume.shape[0]
    accounts = stages * (components + 1)
    if kind == 0:
        reading: float = y[accounts + 2 * components + THERMOMETER] + plan.offset
        return reading - value
    first = accounts if kind == 1 else 0
    volume = 0.0
    for i in range(components):
        volume += y[first + i] * plan.room_volume[i]
    past = volume - value
    return past if kind == 1 else -past


@kernel(
    float64(
        int64, float64, float64[::1], float64[::1], float64[:, ::1], int64, PLAN_TYPE, float64[::1]
    )
)
def crossing(
    kind: int,
    value: float,
    y0: Floats,
    y1: Floats,
    u: Floats,
    stages: int,
    plan: Plan,
    room: Floats,
) -> float:
    """Return the place in a step, 0 to 1, where an event that is past at its end was crossed.

    Args:
        kind: which [-].
        value: where the crossing is [K or m3].
        y0, y1: (n,) states at its start and end [mol, E, K].
        u: (6, n) stages of the method [mol, E, K].
        stages: S [-].
        plan: what is done [SI].
        room: (n,) working space [any].

    Returns:
        Place [-], by bisection to 1e-12.

    Validity:
        For any state of `balances`.

    Not a published model: bookkeeping of this engine.
    """
    low, high = 0.0, 1.0
    for _ in range(_ROOT_TRIES):
        middle = 0.5 * (low + high)
        between(middle, y0, y1, u, room)
        if event(kind, value, room, stages, plan) >= 0.0:
            high = middle
        else:
            low = middle
        if high - low < 1e-12:
            break
    return high


@kernel(
    void(
        float64,
        float64[::1],
        float64[::1],
        BOILING_TYPE,
        LIQUIDS_TYPE,
        RIG_TYPE,
        PLAN_TYPE,
        WORK_TYPE,
        SLOPES_TYPE,
        RECORD_TYPE,
    )
)
def note(
    time: float,
    y: Floats,
    conditions: Floats,
    mixture: BoilingArrays,
    liquids: LiquidArrays,
    rig: RigArrays,
    plan: Plan,
    work: Work,
    space: Slopes,
    record: Record,
) -> None:
    """Append one row to the trace; uses the working space of the streams of pot and head.

    Args:
        time: [s].
        y: (n,) state with its accounts [mol, E, K].
        conditions: (3,) bath [K], pressure [Pa], reflux fraction [-].
        mixture, liquids, rig, plan: what the run is [SI].
        work, space: working space [any].
        record: appended to [SI].

    Validity:
        For any state of `balances`.

    Not a published model: bookkeeping of this engine.
    """
    components = plan.room_volume.shape[0]
    b = components + 1
    stages = rig.glass.shape[0]
    row = int(record.numbers[0])
    if row >= record.trace.shape[0]:
        return
    record.numbers[0] = row + 1
    out = record.trace[row]
    top = stages - 1
    pressure = conditions[1]
    z = y[: stages * b].reshape((stages, b))
    up, down = space.response, work.d_rate
    none = space.empty
    out[2] = stage_streams(
        z[0],
        0,
        pressure + rig.extra_pressure[0],
        mixture,
        liquids,
        rig,
        work,
        up,
        down,
        none,
        none,
        up,
    )
    boilup, pot = 0.0, 0.0
    for i in range(components):
        boilup += up[i]
        pot += max(z[0, i], 0.0)
    stage_streams(z[top], top, pressure, mixture, liquids, rig, work, up, down, none, none, up)
    asked = up[components]
    total = 0.0
    for i in range(components):
        asked -= up[i] * space.cold[i]
        total += up[i]
    heat = asked * ENTHALPY_UNIT + _TRACE
    share = min(1.0, rig.condenser_limit / heat)
    volume = 0.0
    for i in range(components):
        volume += y[stages * b + i] * plan.room_volume[i]
        out[TRACE_COLUMNS + i] = up[i] / total if total > 0.0 else math.nan
        out[TRACE_COLUMNS + components + i] = max(z[0, i], 0.0) / pot if pot > 0.0 else math.nan
    out[0] = time
    out[1] = y[stages * b + 2 * components + THERMOMETER] + plan.offset
    out[3] = conditions[0]
    out[4] = pressure
    out[5] = volume
    out[6] = boilup
    out[7] = (1.0 - conditions[2]) * share * total


@kernel(float64(float64[::1], float64[::1], float64[::1], SLOPES_TYPE, float64, float64))
def error_norm(
    y0: Floats, y1: Floats, estimate: Floats, at: Slopes, tolerance: float, film: float
) -> float:
    """Return the norm of the error estimate, 1 is just allowed; infinity for negative moles.

    Moles count against the amount on their stage, enthalpy as the temperature that it makes.

    Args:
        y0, y1: (n,) states at start and end of a step [mol, E, K].
        estimate: (n,) estimate of its error [mol, E, K].
        at: slopes at its start [see `Slopes`].
        tolerance: relative [-].
        film: amount below which nothing is resolved [mol].

    Returns:
        Root mean square over all stages [-].

    Validity:
        For any state of `balances`.

    Not a published model: bookkeeping of this engine.
    """
    stages, b = at.d_temperature.shape
    c = b - 1
    total = 0.0
    for j in range(stages):
        amount = film
        for i in range(c):
            amount += abs(y1[j * b + i])
        warmer = estimate[j * b + c] * at.d_temperature[j, c]
        for i in range(c):
            k = j * b + i
            larger: float = max(abs(y0[k]), abs(y1[k]))
            allowed = tolerance * (larger + _TRACE_SHARE * amount)
            if y1[k] < -allowed:
                return math.inf
            total += (estimate[k] / allowed) ** 2
            warmer += estimate[k] * at.d_temperature[j, i]
        total += (warmer / (_TEMPERATURE_TOLERANCE * tolerance)) ** 2
    norm = math.sqrt(total / (stages * b))
    return norm if norm >= 0.0 else math.inf


@kernel(void(int64, float64, float64[::1], int64, PLAN_TYPE, float64[:, ::1]))
def close_cut(cut: int, time: float, y: Floats, stages: int, plan: Plan, cuts: Floats) -> None:
    """Write when a receiver was taken away, what the head showed and what had come over.

    Args:
        cut: number of the receiver, from 0 [-].
        time: [s].
        y: (n,) state with its accounts [mol, E, K].
        stages: S [-].
        plan: what is done [SI].
        cuts: (W + 1, 4 + C) written to [s, K, mol].

    Validity:
        For any state of `balances`.

    Not a published model: bookkeeping of this engine.
    """
    components = plan.room_volume.shape[0]
    cuts[cut, 1] = time
    cuts[cut, 3] = event(0, 0.0, y, stages, plan)
    for i in range(components):
        cuts[cut, CUT_COLUMNS + i] = y[stages * (components + 1) + i]
