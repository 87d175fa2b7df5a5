"""From a `StillInput` to a `Run`: one run, or many on several threads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from operator import mul

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.equilibrium.liquid_liquid import stability
from forerun.still.at_start import pressure_over_charge
from forerun.still.balances import THERMOMETER
from forerun.still.boiling_table import boiling_arrays
from forerun.still.boiling_type import ENTHALPY_UNIT, REFERENCE_TEMPERATURE, BoilingArrays
from forerun.still.engine import FAILED, advance
from forerun.still.hand import DROP_RATE, OVER_HEAD, OVER_POT
from forerun.still.inputs import BathRule, StillInput
from forerun.still.noting import CUT_COLUMNS, TRACE_COLUMNS, Plan, Record
from forerun.still.reading import read_run
from forerun.still.results import Run
from forerun.still.rig import RigArrays, own_rig, programme_segments, rig_arrays, volumes_at
from forerun.still.slopes import liquid_enthalpy
from forerun.still.space import space_again, trace_again

__all__ = [
    "Case",
    "Outcome",
    "prepare",
    "run_members",
    "run_still",
    "solve",
    "start_state",
]

Floats = npt.NDArray[np.float64]

_DRY = 2e-3  # pot volume over charge at which the run ends for want of liquid
_NEVER = -1.0  # m3
_RESOLVED = 3e-4  # of the charge: moles on a stage are resolved to the tolerance of this
_FINEST = 3e-8  # of the charge: and to this at least, or a nearly dry stage chatters
_ROWS_BESIDES = 3  # first, last, and one to spare
_TWO_ON_PLATES = (
    "Two liquids that part on the plates of a column are not followed reliably: part the layers "
    "first, or take rig.plates = 0."
)
_TWO_OF_MANY = (
    "Two liquids part in it, and with three or more components only one is followed: part the "
    "layers first and forecast the one that you distil, or leave out what is least."
)
_BOILS_AT_ONCE = (
    "The charge boils at the temperature and pressure it starts from: let programme.pressure begin "
    "higher and fall slowly, or cool the charge."
)
_REPORT = "Try a smoother programme, or report the run sheet."


@dataclass(frozen=True, slots=True)
class Case:
    """A run in the words of the kernels; nothing in it is changed by `solve`.

    Args:
        mixture, rig, plan: arrays of the kernels.
        given: the run they were made from.
        state: (S (C + 1) + 2 C + 5,) state at the start [mol, `ENTHALPY_UNIT`, J, K].
    """

    mixture: BoilingArrays
    rig: RigArrays
    plan: Plan
    given: StillInput
    state: Floats


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the kernels left of a case.

    Args:
        case: the case.
        state: (S (C + 1) + 2 C + 5,) state at the end [mol, `ENTHALPY_UNIT`, J, K].
        record: the trace and the receivers.
        ended: how, one of the constants of `still.engine`.
    """

    case: Case
    state: Floats
    record: Record
    ended: int


def prepare(given: StillInput) -> Case:
    """Return the arrays of a run.

    Args:
        given: the run.

    Returns:
        Its case.

    Raises:
        BadInput: a programme that means nothing.
    """
    times, start, slope = programme_segments(given)
    rig = rig_arrays(given)
    room = volumes_at(given.room_temperature_K, given.liquids.molar_volume)
    charge_m3 = float(given.charge_mol @ room)
    dry = _DRY * charge_m3
    kinds, values = [], []
    for switch in given.switches:
        for kind, value in enumerate((switch.head_temperature_K, switch.volume_m3, switch.time_s)):
            if value is not None:
                kinds.append(kind)
                values.append(value)
    head = given.stop.head_temperature_K
    kind, kept = _kept(given.bath_rule)
    plan = Plan(
        times=times,
        start=start,
        slope=slope,
        switch_kind=np.array(kinds, dtype=np.int64),
        switch_value=np.array(values, dtype=np.float64),
        room_volume=room,
        stop_residue=_NEVER if given.stop.residue_m3 is None else given.stop.residue_m3,
        stop_head=math.inf if head is None else head,
        dry=dry,
        first_drop=given.first_drop_m3,
        offset=given.thermometer_offset_K,
        interval=given.sample_interval_s,
        between_steps=1.0 if given.rates_between_steps else 0.0,
        tolerance=given.tolerance,
        film=min(_RESOLVED, _FINEST / given.tolerance) * sum(given.charge_mol.tolist()),
        stem=given.stem,
        room=given.room_temperature_K,
        diluent=given.diluent_m3,
        rule=float(kind),
        rule_value=kept,
        bath_fastest=given.bath_rule.fastest_K_s if given.bath_rule else 0.0,
        bath_highest=given.bath_rule.highest_K if given.bath_rule else math.inf,
        steady_rate=given.steady_K_s,
        steady_for=given.steady_for_s,
        trap_volume=given.trap.volume_m3 if given.trap else 0.0,
    )
    mixture = boiling_arrays(given.mixture, given.liquids, given.diluent_mol, given.two_liquids)
    return Case(mixture, rig, plan, given, start_state(given, rig))


def _kept(rule: BathRule | None) -> tuple[int, float]:
    """Return number and value of what the bath is led by; 0 where it follows its programme."""
    if rule is None:
        return 0, 0.0
    if rule.drop_rate_m3_s is not None:
        return DROP_RATE, rule.drop_rate_m3_s
    if rule.above_head_K is not None:
        return OVER_HEAD, rule.above_head_K
    return OVER_POT, float(rule.above_pot_K or 0.0)


def start_state(given: StillInput, rig: RigArrays) -> Floats:
    """Return the state before heating: the charge in the pot, a trace of it on every stage above.

    Args:
        given: the run.
        rig: its arrays.

    Returns:
        (S (C + 1) + 2 C + 5,) moles [mol], enthalpies [`ENTHALPY_UNIT`], accounts, all at the
        temperature of the charge.

    Not a published model: a choice, see the film in `forerun.still.rig`.
    """
    charge = given.charge_mol.tolist()
    film = rig.film / sum(charge)  # of each mole
    above = film * (rig.glass.size - 1)
    t = given.charge_temperature_K - REFERENCE_TEMPERATURE
    molar = liquid_enthalpy(given.liquids, given.charge_temperature_K).tolist()
    state: list[float] = []
    for j, glass in enumerate(rig.glass.tolist()):
        moles = [film * amount if j else amount - above * amount for amount in charge]
        state += [*moles, sum(map(mul, moles, molar)) + glass * t / ENTHALPY_UNIT]
    accounts = [0.0] * (2 * len(charge) + 5)
    accounts[2 * len(charge) + THERMOMETER] = given.charge_temperature_K
    return np.array(state + accounts)


def solve(case: Case) -> Outcome:
    """Carry out a prepared run; holds no lock while it calculates.

    Args:
        case: from `prepare`.

    Returns:
        What the kernels left.

    Raises:
        CalculationFailed: the steps became too small.
    """
    columns = TRACE_COLUMNS + 3 * case.given.charge_mol.size
    return _solved(case, own_rig(case.rig), np.zeros((_most_rows(case), columns)))


def _most_rows(case: Case) -> int:
    """Return how many lines the trace of a run may have."""
    plan = case.plan
    return int(plan.times[-1] / plan.interval) + plan.switch_kind.size + _ROWS_BESIDES


def _solved(case: Case, rig: RigArrays, trace: Floats) -> Outcome:
    """Carry out a prepared run; writes into the rig and the trace that it is given."""
    given, plan = case.given, case.plan
    stages, components = rig.glass.size, given.charge_mol.size
    record = Record(
        trace=trace,
        cuts=np.zeros((plan.switch_kind.size + 1, CUT_COLUMNS + components)),
        numbers=np.zeros(9),
    )
    space = space_again(case)
    state = case.state.copy()
    ended = advance(state, case.mixture, given.liquids, rig, plan, *space, record)
    if ended == FAILED:
        raise CalculationFailed(
            "the run of the still",
            f"stopped at {record.numbers[5]:.6g} s after {record.numbers[3]:.0f} steps, "
            f"{stages} stages",
            _what_may_help(given, state[: stages * (components + 1)], space.work.temperature),
        )
    return Outcome(case, state, record, ended)


def _what_may_help(given: StillInput, stages: Floats, temperatures: Floats) -> str:
    """Return what to do about a run that stopped in this state of its stages."""
    if pressure_over_charge(given) > given.pressure[0, 1]:
        return _BOILS_AT_ONCE
    if given.two_liquids:
        return _TWO_ON_PLATES if given.plates > 0 else _REPORT
    liquids = stages.reshape(temperatures.size, -1)[:, :-1]
    for moles, temperature in zip(liquids, temperatures, strict=True):
        x = np.maximum(moles, 0.0)
        if x.sum() > 0.0 and not stability(x / x.sum(), temperature, given.mixture).stable:
            return _TWO_OF_MANY
    return _REPORT


def run_still(given: StillInput) -> Run:
    """Forecast one run from cold flask to its stop.

    Args:
        given: the run.

    Returns:
        Its trace, cuts, ledger, energy, warnings and sources.

    Raises:
        BadInput: a programme that means nothing.
        CalculationFailed: the integrator did not arrive.
    """
    case = prepare(given)
    # neither its rig nor the lines of its trace are anybody else's, or looked at once they are read
    return read_run(_solved(case, case.rig, trace_again(case, _most_rows(case))))


def run_members(members: Sequence[StillInput], threads: int = 2) -> list[Run | CalculationFailed]:
    """Forecast many runs on several threads.

    Args:
        members: the runs; each may differ in everything.
        threads: how many at a time, >= 1.

    Returns:
        A run for each member, in order; where a member failed, its error in the run's place.

    Raises:
        BadInput: a programme of a member that means nothing.
    """

    def one(given: StillInput) -> Run | CalculationFailed:
        try:
            return run_still(given)
        except CalculationFailed as failure:
            return failure

    if threads <= 1:
        return [one(member) for member in members]
    from concurrent.futures import ThreadPoolExecutor  # noqa: PLC0415 -- a single run needs none

    with ThreadPoolExecutor(max_workers=threads) as pool:
        return list(pool.map(one, members))
