"""What a run is to do and what it leaves: events, receivers and error norm, compiled."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.numerics.compiled import kernel
from forerun.numerics.rosenbrock import between, method_for
from forerun.numerics.signatures import float64, int64, record, void
from forerun.still.balances import CONDENSED, THERMOMETER, VENTED_ENTHALPY
from forerun.still.slopes import SLOPES_TYPE, Slopes

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
    "nothing_comes_back",
]

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

TRACE_COLUMNS = 10  # time, head, pot, bath, pressure, volume, boil-up, distillate, pot's pressure,
# share of the largest load; then 3 C
CUT_COLUMNS = 4  # start, end, head at first drop, head at end; then C moles received so far

_TEMPERATURE_TOLERANCE = 10.0  # K for a tolerance of one
_TRACE_SHARE = 0.02  # moles below this share of a stage are held to this share of the tolerance
_ACCOUNTS = 0.1  # of all moles times the tolerance: what a step may put to the wrong account
_ROOT_TRIES = 60


class Plan(NamedTuple):
    """What is done in a run.

    Args:
        times: (G + 1,) knots [s].
        start: (G, 4) bath [K], pressure [Pa], reflux fraction [-], vapour fed [mol/s] where a
            segment begins.
        slope: (G, 4) their rates of change [K/s, Pa/s, 1/s, mol/s2].
        switch_kind: (W,) 0 head, 1 volume, 2 time.
        switch_value: (W,) [K], [m3] or [s].
        room_volume: (C,) molar volumes at room temperature [m3/mol].
        stop_residue: volume at room temperature that ends the run [m3]; negative: never.
        stop_head: [K]; infinity: never.
        dry: volume of the pot at which it counts as dry [m3].
        first_drop: [m3].
        offset: of the thermometer [K].
        interval: of the trace [s].
        between_steps: 1 where streams and temperatures of the trace are read off a straight line
            between the ends of steps, 0 where they are worked out for each line [-].
        tolerance: relative error of a step [-].
        film: amount that counts as nothing [mol].
        stem: share of head minus room by which the thermometer reads low [-].
        room: [K].
        diluent: volume of what does not distil [m3].
        rule: 0 the bath follows its programme, 1 keeps the distillate, 2 bath minus head, 3 bath
            minus pot [-].
        rule_value: what is kept [m3/s or K].
        bath_fastest: how fast the bath changes at most [K/s].
        bath_highest: [K].
        steady_rate: change of the head below which a column under total reflux is steady [K/s].
        steady_for: how long that has to last [s]; 0: not waited for.
        trap_volume: that a decanting trap holds before anything runs back [m3]; 0: none.
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
    between_steps: float
    tolerance: float
    film: float
    stem: float
    room: float
    diluent: float
    rule: float
    rule_value: float
    bath_fastest: float
    bath_highest: float
    steady_rate: float
    steady_for: float
    trap_volume: float


class Record(NamedTuple):
    """What a run leaves.

    Args:
        trace: (rows, 10 + 3 C) see `TRACE_COLUMNS`, then composition of the distillate and the pot
            and moles received so far.
        cuts: (W + 1, 4 + C) see `CUT_COLUMNS`, then moles received since the start.
        numbers: (9,) rows of the trace, cuts, how it ended, steps, rejected, time reached [s],
            first drop [s] or NaN, evaluations of the balances, when the column was steady [s].
    """

    trace: Floats
    cuts: Floats
    numbers: Floats


PLAN_TYPE = record(Plan, 1, "* 4", "* 4", int64[::1], 1, "C", *(float64,) * 19)
RECORD_TYPE = record(Record, 2, 2, 1)


@kernel(float64(int64, float64, float64[::1], int64, PLAN_TYPE), fast=True, inline=True)
def event(kind: int, value: float, y: Floats, stages: int, plan: Plan) -> float:
    """Return how far an event is past its crossing.

    It is of the kind 0 head, 1 distillate, 2 residue with what does not distil, 3 without that.

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
        head = y[accounts + 2 * components + THERMOMETER]
        reading: float = head + plan.offset - plan.stem * (head - plan.room)
        return reading - value
    first = accounts if kind == 1 else 0
    volume = plan.diluent if kind == 2 else 0.0
    for i in range(components):
        volume += y[first + i] * plan.room_volume[i]
    past = volume - value
    return past if kind == 1 else -past


@kernel(
    float64(
        int64, float64, float64[::1], float64[::1], float64[:, ::1], int64, PLAN_TYPE, float64[::1]
    ),
    fast=True,
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
        u: (s, n) stages of the method [mol, E, K].
        stages: S [-].
        plan: what is done [SI].
        room: (n,) working space [any].

    Returns:
        Place [-], by bisection to 1e-12 of the cubic that the state follows inside a step.

    Validity:
        For any state of `balances`.

    Not a published model: bookkeeping of this engine.
    """
    method = method_for(plan.tolerance)
    first = stages * (plan.room_volume.shape[0] + 1) if kind < 2 else 0
    # inside a step an event is a cubic, as it is linear in the state: four values are all of it
    e_0, e_3 = event(kind, value, y0, stages, plan), event(kind, value, y1, stages, plan)
    between(method, first, y0.shape[0], 1.0 / 3.0, y0, y1, u, room)
    e_1 = event(kind, value, room, stages, plan)
    between(method, first, y0.shape[0], 2.0 / 3.0, y0, y1, u, room)
    e_2 = event(kind, value, room, stages, plan)
    d_1, d_2, d_3 = e_1 - e_0, e_2 - 2.0 * e_1 + e_0, e_3 - 3.0 * e_2 + 3.0 * e_1 - e_0
    low, high = 0.0, 1.0
    for _ in range(_ROOT_TRIES):
        middle = 0.5 * (low + high)
        s = 3.0 * middle
        past = e_0 + s * (d_1 + (s - 1.0) * (0.5 * d_2 + (s - 2.0) * d_3 / 6.0))
        if past >= 0.0:
            high = middle
        else:
            low = middle
        if high - low < 1e-12:
            break
    return high


@kernel(
    float64(float64[::1], float64[::1], float64[::1], SLOPES_TYPE, float64, float64),
    fast=True,
    inline=True,
)
def error_norm(
    y0: Floats, y1: Floats, estimate: Floats, at: Slopes, tolerance: float, film: float
) -> float:
    """Return the norm of the error estimate, 1 is just allowed; infinity for negative moles.

    Moles count against the amount on their stage, enthalpy as the temperature that it makes, what
    was received and vented against all moles.

    Args:
        y0, y1: (n,) states at start and end of a step [mol, E, K].
        estimate: (n,) estimate of its error [mol, E, K].
        at: slopes at its start [see `Slopes`].
        tolerance: relative [-].
        film: amount that counts as nothing [mol].

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
        amount = 0.0
        for i in range(c):
            amount += abs(y1[j * b + i])
        warmer = estimate[j * b + c] * at.d_temperature[j, c]
        for i in range(c):
            k = j * b + i
            larger: float = max(abs(y0[k]), abs(y1[k]))
            allowed = tolerance * (larger + _TRACE_SHARE * amount + film)
            # what was below nothing before, as errors leave it, may come along from a neighbour:
            # refused is what this step adds, or no step, however short, would be good enough
            if y1[k] < min(y0[k], 0.0) - allowed:
                return math.inf
            total += (estimate[k] / allowed) ** 2
            warmer += estimate[k] * at.d_temperature[j, i]
        total += (warmer / (_TEMPERATURE_TOLERANCE * tolerance)) ** 2
    # what went to the receiver and what to the vent, against all that there is
    first = stages * b
    everything = film
    for i in range(2 * c):
        everything += abs(y1[first + i])
    for j in range(stages):
        for i in range(c):
            everything += abs(y1[j * b + i])
    for i in range(2 * c):
        total += (estimate[first + i] / (_ACCOUNTS * tolerance * everything)) ** 2
    norm = math.sqrt(total / (stages * b))
    return norm if norm >= 0.0 else math.inf


@kernel(void(float64[::1], float64[::1], SLOPES_TYPE), fast=True, inline=True)
def nothing_comes_back(y0: Floats, y1: Floats, at: Slopes) -> None:
    """Put what a step has taken out of the vent, which only gives, against what was condensed.

    Where the condenser becomes full a stage of the method may lie beyond the kink and count
    against the end of the step.  Moles and energy close as they did.

    Args:
        y0: (n,) state at the start of a step [mol, E, K].
        y1: (n,) state at its end; its accounts are set right [mol, E, K].
        at: for the enthalpy of the condensate [see `Slopes`].

    Validity:
        For any step of `balances`; what is moved is within the error allowed.

    Not a published model: bookkeeping of this engine.
    """
    stages, b = at.d_temperature.shape
    c = b - 1
    first = stages * b
    others = first + 2 * c
    for i in range(c):
        missing = y0[first + c + i] - y1[first + c + i]
        if missing > 0.0:
            y1[first + c + i] = y0[first + c + i]
            y1[first + i] -= missing
            y1[others + VENTED_ENTHALPY] += missing * at.cold[i]
    missing = y0[others + VENTED_ENTHALPY] - y1[others + VENTED_ENTHALPY]
    if missing > 0.0:
        y1[others + VENTED_ENTHALPY] = y0[others + VENTED_ENTHALPY]
        y1[others + CONDENSED] -= missing


@kernel(void(int64, float64, float64[::1], int64, PLAN_TYPE, float64[:, ::1]), fast=True)
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
