"""What stands on every stage at chosen moments of a run: the same engine, halted at each."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.still.engine import FAILED, advance
from forerun.still.inputs import StillInput
from forerun.still.noting import CUT_COLUMNS, TRACE_COLUMNS, Plan, Record
from forerun.still.rig import own_rig
from forerun.still.run import Case, prepare
from forerun.still.space import working_space

__all__ = ["Inside", "inside_of"]

Floats = npt.NDArray[np.float64]

_ROWS = 4  # of a stretch's trace: its first, its last, and two to spare
_BATH = 3  # column of the trace


@dataclass(frozen=True, slots=True)
class Inside:
    """Liquid on every stage, at n moments.

    Args:
        time_s: (n,) moments since the start of heating [s].
        stage_mol: (n, S, C) on the stages [mol]: the pot, the plates from below, the head.
        stage_m3: (n, S) the same as volumes at room temperature [m3].
    """

    time_s: Floats
    stage_mol: Floats
    stage_m3: Floats

    @property
    def mole_fraction(self) -> Floats:
        """Compositions (n, S, C) [-]."""
        held = np.maximum(self.stage_mol, 0.0)
        return np.asarray(held / held.sum(axis=2, keepdims=True))


def inside_of(given: StillInput, times: Floats) -> Inside:
    """Return what stands on the stages of a run at given times.

    Args:
        given: the run; its receivers and stops are not looked at.
        times: (n,) rising, from 0 to its end [s].

    Returns:
        The liquids.

    Raises:
        BadInput: a run that waits for its column to be steady, which is not known in advance.
        CalculationFailed: the steps became too small.

    Validity: as the run itself, whose steps it does not share: the two agree within the tolerance.

    Not a published model: the engine of the run, called from one moment to the next.
    """
    if given.steady_for_s > 0.0:
        raise BadInput("programme.reflux_ratio", "until steady", "a programme against time")
    case = prepare(given)
    stages, components = case.rig.glass.size, given.charge_mol.size
    width = stages * (components + 1)
    state, rig = case.state.copy(), own_rig(case.rig)
    space = working_space(case)
    found, before, bath = [], 0.0, math.nan
    for time in times:
        if time > before:
            plan = _stretch(case, before, float(time), bath)
            record = _record(components)
            ended = advance(state, case.mixture, given.liquids, rig, plan, *space, record)
            if ended == FAILED:
                raise CalculationFailed(
                    "what stands on the stages",
                    f"stopped at {before + record.numbers[5]:.6g} s, {stages} stages",
                    "Report the run sheet.",
                )
            bath, before = float(record.trace[int(record.numbers[0]) - 1, _BATH]), float(time)
        found.append(state[:width].reshape(stages, components + 1)[:, :components].copy())
    held = np.array(found)
    return Inside(np.asarray(times, dtype=np.float64), held, held @ case.plan.room_volume)


def _record(components: int) -> Record:
    return Record(
        trace=np.zeros((_ROWS, TRACE_COLUMNS + 3 * components)),
        cuts=np.zeros((1, CUT_COLUMNS + components)),
        numbers=np.zeros(9),
    )


def _stretch(case: Case, start: float, end: float, bath: float) -> Plan:
    """Return the plan of the run from one moment to another, counted from the first."""
    plan = case.plan
    inside = plan.times[(plan.times > start) & (plan.times < end)]
    knots = np.array([start, *inside, end])
    segment = np.clip(
        np.searchsorted(plan.times, knots[:-1], side="right") - 1, 0, plan.start.shape[0] - 1
    )
    conditions = plan.start[segment] + plan.slope[segment] * (
        knots[:-1] - plan.times[segment]
    ).reshape(-1, 1)
    if plan.rule > 0.0 and not math.isnan(bath):
        conditions[0, 0] = bath
    return plan._replace(
        times=knots - start,
        start=conditions,
        slope=plan.slope[segment].copy(),
        switch_kind=np.zeros(0, dtype=np.int64),
        switch_value=np.zeros(0),
        stop_residue=-1.0,
        stop_head=math.inf,
        interval=2.0 * (end - start),
    )
