"""One run of the still, compiled from start to stop: no Python object, no lock held.

The state is integrated with a Rosenbrock method, RODAS3 or, at fine tolerances, RODAS.  Steps end
on the knots of the programme and on the events that change a receiver or stop the run; a trace is
taken between on an even grid.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from forerun.numerics.blocks import factor_blocks, solve_blocks
from forerun.numerics.compiled import kernel
from forerun.numerics.rosenbrock import (
    ALPHA,
    GAMMA,
    STAGES,
    THREE,
    between,
    method_for,
    next_factor,
    point,
    source,
)
from forerun.numerics.signatures import float64, int64
from forerun.numerics.vectors import copy_into, straight_line
from forerun.still.balances import (
    THERMOMETER,
    assemble,
    balances,
    linearise,
    slope_of_accounts,
    sum_up,
)
from forerun.still.boiling_type import BOILED_TYPE, BOILING_TYPE, Boiled, BoilingArrays
from forerun.still.hand import lead_bath
from forerun.still.loads import follow_load, press
from forerun.still.noting import (
    PLAN_TYPE,
    RECORD_TYPE,
    Plan,
    Record,
    close_cut,
    crossing,
    error_norm,
    event,
    nothing_comes_back,
)
from forerun.still.onsets import next_onset
from forerun.still.rig import RIG_TYPE, RigArrays
from forerun.still.slopes import SLOPES_TYPE, Slopes
from forerun.still.stepping import STEPPING_TYPE, Stepping
from forerun.still.streams import temperatures
from forerun.still.tracing import describe, note, note_between
from forerun.substances.liquids import LIQUIDS_TYPE, LiquidArrays

__all__ = ["ENDED_DRY", "ENDED_HEAD", "ENDED_RESIDUE", "ENDED_TIME", "FAILED", "advance"]

Floats = npt.NDArray[np.float64]

ENDED_TIME, ENDED_RESIDUE, ENDED_HEAD, ENDED_DRY, FAILED = 0, 1, 2, 3, 4

_FIRST_STEP = 0.05  # s
_LONGEST_STEP = 300.0  # s
_SHORTEST_STEP = 1e-7  # s: below this the run has failed
_MOST_STEPS = 400_000
_HAND = 30.0  # s: no longer step while a hand, or a pump, follows the run
_SOME_VAPOUR = 1e-2  # 1/s, times what is resolved: vapour counts as having reached the condenser
_ONSET = 1e-6  # s: no shorter step because a stage is about to boil
_NEARLY = 0.97  # of the time to an onset that is far: a straight line comes late to what bends up
_FAR = 1.0  # s
_AGAIN = 0.8  # of a step to an onset that went too far: not so much shorter as an error asks for
_PAST = 1e-7  # an event's step aims this share past the crossing, so that it is crossed

# what most runs have: pairs in a simple still and on plates, three components on plates
_VERSIONS = ({"S": 2, "C": 2, "B": 3}, {"C": 2, "B": 3}, {"C": 3, "B": 4})


@kernel(
    int64(
        float64[::1],
        BOILING_TYPE,
        LIQUIDS_TYPE,
        RIG_TYPE,
        PLAN_TYPE,
        BOILED_TYPE,
        SLOPES_TYPE,
        SLOPES_TYPE,
        STEPPING_TYPE,
        RECORD_TYPE,
    ),
    fast=True,
    versions=_VERSIONS,
)
def advance(  # noqa: C901, PLR0912, PLR0915 -- the loop of the integrator with its events
    y: Floats,
    mixture: BoilingArrays,
    liquids: LiquidArrays,
    rig: RigArrays,
    plan: Plan,
    work: Boiled,
    at: Slopes,
    space: Slopes,
    stepping: Stepping,
    record: Record,
) -> int:
    """Carry out one run.

    Args:
        y: (n,) state at the start [mol, E, K], n = S (C + 1) of the stages and 2 C + 5 accounts;
            overwritten by the state at the end.
        mixture, liquids, rig, plan: what the run is [SI].
        work, at, space, stepping: working space [any].
        record: result [SI].

    Returns:
        How it ended: `ENDED_TIME`, `ENDED_RESIDUE`, `ENDED_HEAD`, `ENDED_DRY` or `FAILED`.

    Validity:
        As `balances`; a step errs by the tolerance of the plan.

    Source:
        Hairer & Wanner, Solving Ordinary Differential Equations II, 2nd ed. (1996), section IV.7.
    """
    stages = rig.glass.shape[0]
    components = plan.room_volume.shape[0]
    b = components + 1
    states = stages * b
    received, size = states + components, y.shape[0]
    head_at = states + 2 * components + THERMOMETER
    u = stepping.u
    y1, f0, f_t = stepping.vectors[0], stepping.vectors[1], stepping.vectors[2]
    room, inside, y_before = stepping.vectors[3], stepping.vectors[4], stepping.vectors[5]
    lower, diagonal, upper = stepping.lower, stepping.diagonal, stepping.upper
    pivots = stepping.pivots
    conditions, trend = stepping.conditions[0], stepping.conditions[1]
    later = stepping.conditions[2]

    # the same numbers seen as stages and as accounts
    z, z_room, z_f = (
        y[:states].reshape((stages, b)),
        room[:states].reshape((stages, b)),
        f0[:states].reshape((stages, b)),
    )
    z_inside = inside[:states].reshape((stages, b))
    z_t, accounts_t = f_t[:states].reshape((stages, b)), f_t[states:]
    accounts, accounts_room, accounts_f = y[states:], room[states:], f0[states:]
    z_u = (
        u[0, :states].reshape((stages, b)),
        u[1, :states].reshape((stages, b)),
        u[2, :states].reshape((stages, b)),
        u[3, :states].reshape((stages, b)),
        u[4, :states].reshape((stages, b)),
        u[5, :states].reshape((stages, b)),
    )
    method = method_for(plan.tolerance)
    last = STAGES[method]
    rows = stepping.rows

    numbers = record.numbers
    for k in range(numbers.shape[0]):
        numbers[k] = 0.0
    numbers[6] = math.nan
    numbers[8] = math.nan
    cuts = record.cuts
    cut = 0  # number of receivers taken away so far
    cuts[0, 0] = 0.0
    cuts[0, 2] = math.nan
    received_before = 0.0
    switches = plan.switch_kind.shape[0]
    segments = plan.times.shape[0] - 1
    ended = -1
    steps, rejected, evaluations = 0, 0, 0
    t = 0.0
    h = _FIRST_STEP
    led = plan.rule > 0.0
    loaded = rig.largest_load > 0.0 or rig.pump_speed > 0.0
    waits = plan.steady_for > 0.0  # for the column to be steady under total reflux
    steady_since = math.nan
    head_before = y[head_at]
    before = 0.0
    waiting = False  # lines of the trace inside the last step, for what stands at its end
    bath = plan.start[0, 0]
    copy_into(conditions, plan.start[0])
    note(t, y, conditions, mixture, liquids, rig, plan, work, space, record)
    sample = 1

    for g in range(segments):
        end = plan.times[g + 1]
        while t < end and ended < 0:
            copy_into(trend, plan.slope[g])
            straight_line(conditions, plan.start[g], trend, t - plan.times[g])
            if led:
                conditions[0] = bath
                trend[0] = lead_bath(bath, h, y, stages, plan, at)
            if waits:
                conditions[2] = 1.0
                trend[2] = 0.0
            if loaded:
                follow_load(before, h, conditions[1], rig, work, at)
            linearise(z, conditions, trend, mixture, liquids, rig, work, at, z_t, accounts_t)
            sum_up(1, z, accounts, conditions, liquids, rig, at, z_f, accounts_f)
            evaluations += 1
            if plan.between_steps > 0.0:
                copy_into(rows[0], rows[1])
                describe(t, y, conditions, rig, plan, at, rows[1])
                if waiting:
                    at_interval = sample * plan.interval
                    while at_interval <= t and at_interval <= plan.times[segments]:
                        place = 1.0 - (t - at_interval) / before
                        # what a line of the trace needs: the pot, what came over, the head
                        between(method, 0, b, place, y_before, y, u, inside)
                        between(method, states, received, place, y_before, y, u, inside)
                        between(method, head_at, head_at + 1, place, y_before, y, u, inside)
                        temperatures(0, 1, z_inside, rig.glass, liquids, space.temperature)
                        warm = space.temperature[0]
                        note_between(place, at_interval, inside, warm, rows, stages, plan, record)
                        sample += 1
                        at_interval = sample * plan.interval
                    waiting = False
            soonest = next_onset(z, z_f, conditions[1], liquids, rig, work, at)
            due_h = 0.0  # an event asks for this step
            place = 2.0
            onset = max(soonest if soonest < _FAR else _NEARLY * soonest, _ONSET)
            while True:
                if due_h > 0.0:
                    step = due_h
                else:
                    step = min(h, _LONGEST_STEP, onset)
                    if led or waits or rig.pump_speed > 0.0:
                        step = min(step, _HAND)
                    left = end - t
                    if step >= left * (1.0 - 1e-9):
                        step = left
                    elif step > 0.5 * left:
                        step = 0.5 * left
                if (step < _SHORTEST_STEP and step < end - t) or steps + rejected > _MOST_STEPS:
                    ended = FAILED
                    break
                inverse = 1.0 / (step * GAMMA[method])
                assemble(inverse, at, rig, lower, diagonal, upper)
                bad = factor_blocks(lower, diagonal, upper, pivots)
                if bad == 0:
                    for i in range(last):
                        right = u[i]
                        if i == 0 or (i == 1 and method == THREE):
                            copy_into(right, f0)
                        else:
                            point(method, i, y, u, room)
                            straight_line(later, conditions, trend, ALPHA[method, i] * step)
                            press(ALPHA[method, i] * step, rig)
                            balances(
                                z_room,
                                accounts_room,
                                later,
                                mixture,
                                liquids,
                                rig,
                                work,
                                space,
                                z_u[i],
                                right[states:],
                            )
                        source(method, i, step, u, f_t, right)
                        solve_blocks(lower, diagonal, upper, pivots, z_u[i])
                        slope_of_accounts(step * GAMMA[method], z_u[i], at, rig, right[states:])
                    evaluations += last - 1 - method
                    point(method, last, y, u, y1)
                    nothing_comes_back(y, y1, at)
                    error = error_norm(y, y1, u[last - 1], at, plan.tolerance, plan.film)
                else:
                    error = math.inf
                if error > 1.0:
                    rejected += 1
                    if step == onset and step > _ONSET:
                        h = step * _AGAIN
                    else:
                        h = step * (next_factor(method, error) if error < math.inf else 0.25)
                    due_h = 0.0
                    continue
                if due_h > 0.0:
                    break
                # the first event that the step has crossed asks for a step that ends on it
                place = 2.0
                if cut < switches and plan.switch_kind[cut] < 2:
                    kind, value = plan.switch_kind[cut], plan.switch_value[cut]
                    if event(kind, value, y1, stages, plan) >= 0.0:
                        place = crossing(kind, value, y, y1, u, stages, plan, room)
                if event(0, plan.stop_head, y1, stages, plan) >= 0.0:
                    place = min(place, crossing(0, plan.stop_head, y, y1, u, stages, plan, room))
                if event(2, plan.stop_residue, y1, stages, plan) >= 0.0:
                    place = min(place, crossing(2, plan.stop_residue, y, y1, u, stages, plan, room))
                if event(3, plan.dry, y1, stages, plan) >= 0.0:
                    place = min(place, crossing(3, plan.dry, y, y1, u, stages, plan, room))
                if (
                    rig.trap[0] > rig.trap[1]
                    and event(1, plan.trap_volume, y1, stages, plan) >= 0.0
                ):
                    place = min(place, crossing(1, plan.trap_volume, y, y1, u, stages, plan, room))
                if place < 1.0 - 2.0 * _PAST:
                    h = step * next_factor(method, error)
                    due_h = max(step * (place + _PAST), _SHORTEST_STEP)
                    continue
                h = step * next_factor(method, error)
                break
            if ended == FAILED:
                break
            steps += 1

            # the trace and the first drop inside the step
            t1 = t + step if step < end - t else end
            at_interval = sample * plan.interval
            waiting = plan.between_steps > 0.0 and due_h == 0.0 and place > 1.0 and t1 < end
            while not waiting and at_interval <= t1 and at_interval <= plan.times[segments]:
                between(method, 0, size, (at_interval - t) / step, y, y1, u, inside)
                straight_line(later, conditions, trend, at_interval - t)
                press(at_interval - t, rig)
                note(at_interval, inside, later, mixture, liquids, rig, plan, work, space, record)
                sample += 1
                at_interval = sample * plan.interval
            if math.isnan(numbers[6]) and event(1, plan.first_drop, y1, stages, plan) >= 0.0:
                numbers[6] = t + step * crossing(1, plan.first_drop, y, y1, u, stages, plan, room)
            if math.isnan(cuts[cut, 2]):
                drop = received_before + plan.first_drop
                if event(1, drop, y1, stages, plan) >= 0.0:
                    share = crossing(1, drop, y, y1, u, stages, plan, room)
                    between(method, states, size, share, y, y1, u, inside)
                    cuts[cut, 2] = event(0, 0.0, inside, stages, plan)
            copy_into(y_before, y)
            copy_into(y, y1)
            t = t1
            before = step
            press(step, rig)
            bath += trend[0] * step
            if rig.trap[0] > rig.trap[1] and event(1, plan.trap_volume, y, stages, plan) >= 0.0:
                rig.trap[1] = 1.0
            if waits:
                head = y[head_at]
                arrived = at.head[3] > _SOME_VAPOUR * plan.film
                if abs(head - head_before) > plan.steady_rate * step or not arrived:
                    steady_since = math.nan
                elif math.isnan(steady_since):
                    steady_since = t - step
                elif t - steady_since >= plan.steady_for:
                    waits = False
                    numbers[8] = t
                    h = _FIRST_STEP
                head_before = head

            # receivers: every switch that is past now, in order
            while cut < switches:
                kind, value = plan.switch_kind[cut], plan.switch_value[cut]
                past = t - value if kind == 2 else event(kind, value, y, stages, plan)
                if past < 0.0:
                    break
                straight_line(later, conditions, trend, step)
                note(t, y, later, mixture, liquids, rig, plan, work, space, record)
                close_cut(cut, t, y, stages, plan, cuts)
                received_before = event(1, 0.0, y, stages, plan)
                cut += 1
                cuts[cut, 0] = t
                cuts[cut, 2] = math.nan
            if event(0, plan.stop_head, y, stages, plan) >= 0.0:
                ended = ENDED_HEAD
            if event(2, plan.stop_residue, y, stages, plan) >= 0.0:
                ended = ENDED_RESIDUE
            if event(3, plan.dry, y, stages, plan) >= 0.0:
                ended = ENDED_DRY
        if ended >= 0:
            break
    if ended < 0:
        ended = ENDED_TIME
    straight_line(later, conditions, trend, before)  # they stand at the start of the last step
    note(t, y, later, mixture, liquids, rig, plan, work, space, record)
    close_cut(cut, t, y, stages, plan, cuts)
    numbers[1] = cut + 1
    numbers[2] = ended
    numbers[3] = steps
    numbers[4] = rejected
    numbers[5] = t
    numbers[7] = evaluations
    return ended
