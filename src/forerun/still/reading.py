"""What the kernels left of a run, put into words that others use."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from forerun.core.references import Reference
from forerun.still.balances import CONDENSED, LOST, SUPPLIED, VENTED_ENTHALPY
from forerun.still.engine import ENDED_DRY
from forerun.still.inputs import StillInput
from forerun.still.noting import CUT_COLUMNS, TRACE_COLUMNS
from forerun.still.results import Cut, Energy, Ledger, Run, Trace
from forerun.still.streams import ENTHALPY_UNIT

if TYPE_CHECKING:
    from forerun.still.run import Outcome

__all__ = ["UNMODELLED", "read_run"]

Floats = npt.NDArray[np.float64]

UNMODELLED = (
    "Heats of mixing and the vapour's own hold-up are left out.",
    "A plate is a stage at equilibrium; its number does not change with the load, and flooding "
    "is not seen.",
    "The pressure drop of a plate is constant.",
    "Two liquid layers in the pot are treated as one liquid.",
    "The condenser holds all vapour up to its duty and then lets the rest pass unchanged.",
)

_METHOD = Reference(
    "hairer1996",
    "E. Hairer, G. Wanner, Solving Ordinary Differential Equations II, 2nd ed., Springer, "
    "Berlin 1996, section IV.7 (RODAS)",
    provenance="coefficients from memory, checked by the measured order",
)
_WATSON = Reference(
    "watson1943",
    "K. M. Watson, Thermodynamics of the liquid state, Ind. Eng. Chem. 35 (1943) 398",
    doi="10.1021/ie50400a004",
    provenance="from memory",
)
_ZERO_CELSIUS = 273.15
_VENT_WORTH_A_WORD = 1e-3  # share of the charge


def read_run(outcome: Outcome) -> Run:
    """Return a run in words: trace, cuts, accounts, warnings.

    Args:
        outcome: from `forerun.still.run.solve`.

    Returns:
        The run.
    """
    trace = _trace(outcome)
    cuts = _cuts(outcome)
    drop = float(outcome.record.numbers[6])
    first_drop = None if math.isnan(drop) else drop
    ledger = _ledger(outcome)
    given = outcome.case.given
    return Run(
        trace=trace,
        first_drop_s=first_drop,
        cuts=cuts,
        residue=_residue(outcome, trace),
        ledger=ledger,
        energy=_energy(outcome),
        warnings=tuple(_warnings(outcome, trace, first_drop, ledger)),
        unmodelled=UNMODELLED,
        references=(*given.references, _WATSON, _METHOD),
    )


def _trace(outcome: Outcome) -> Trace:
    rows = int(outcome.record.numbers[0])
    table = outcome.record.trace[:rows]
    components = outcome.case.given.charge_mol.size
    first = TRACE_COLUMNS
    return Trace(
        names=outcome.case.given.names,
        time_s=table[:, 0].copy(),
        head_temperature_K=table[:, 1].copy(),
        pot_temperature_K=table[:, 2].copy(),
        bath_temperature_K=table[:, 3].copy(),
        pressure_Pa=table[:, 4].copy(),
        distillate_volume_m3=table[:, 5].copy(),
        distillate_mole_fraction=table[:, first : first + components].copy(),
        pot_mole_fraction=table[:, first + components :].copy(),
        boilup_rate_mol_s=table[:, 6].copy(),
        distillate_rate_mol_s=table[:, 7].copy(),
    )


def _portion(
    number: int, span: tuple[float, float], head: tuple[float, float], moles: Floats, out: Outcome
) -> Cut:
    """Return a cut from the moles that it holds."""
    amount = float(moles.sum())
    masses = moles * out.case.given.liquids.molar_mass
    mass = float(masses.sum())
    empty = np.full(moles.size, np.nan)
    return Cut(
        number=number,
        start_s=span[0],
        end_s=span[1],
        start_head_K=head[0],
        end_head_K=head[1],
        volume_m3=float(moles @ out.case.plan.room_volume),
        mass_kg=mass,
        amount_mol=amount,
        mole_fraction=moles / amount if amount > 0.0 else empty,
        mass_fraction=masses / mass if mass > 0.0 else empty,
    )


def _cuts(outcome: Outcome) -> tuple[Cut, ...]:
    """Return the receivers; none at all if not a drop came over."""
    count = int(outcome.record.numbers[1])
    if math.isnan(outcome.record.numbers[6]):
        return ()
    cuts = []
    before = np.zeros(outcome.case.given.charge_mol.size)
    head_before = outcome.case.given.charge_temperature_K
    for k in range(count):
        row = outcome.record.cuts[k]
        moles = row[CUT_COLUMNS:]
        first = head_before if math.isnan(row[2]) else float(row[2])
        span, head = (float(row[0]), float(row[1])), (first, float(row[3]))
        cuts.append(_portion(k + 1, span, head, moles - before, outcome))
        before, head_before = moles, float(row[3])
    return tuple(cuts)


def _stage_moles(outcome: Outcome, state: Floats) -> tuple[Floats, Floats]:
    """Return moles (S, C) and enthalpies (S,) [J] of a state."""
    stages = outcome.case.rig.glass.size
    b = outcome.case.given.charge_mol.size + 1
    z = state[: stages * b].reshape(stages, b)
    return z[:, :-1], z[:, -1] * ENTHALPY_UNIT


def _accounts(outcome: Outcome) -> Floats:
    stages = outcome.case.rig.glass.size
    components = outcome.case.given.charge_mol.size
    return outcome.state[stages * (components + 1) :]


def _residue(outcome: Outcome, trace: Trace) -> Cut:
    moles, _ = _stage_moles(outcome, outcome.state)
    time, head = trace.time_s, trace.head_temperature_K
    return _portion(
        0,
        (float(time[0]), float(time[-1])),
        (float(head[0]), float(head[-1])),
        np.maximum(moles[0], 0.0),
        outcome,
    )


def _ledger(outcome: Outcome) -> Ledger:
    charge = outcome.case.given.charge_mol
    moles, _ = _stage_moles(outcome, outcome.state)
    accounts = _accounts(outcome)
    components = charge.size
    received, vented = accounts[:components], accounts[components : 2 * components]
    holdup = moles[1:].sum(axis=0)
    missing = np.abs(charge - received - vented - moles[0] - holdup)
    return Ledger(
        charge_mol=charge.copy(),
        cuts_mol=received.copy(),
        residue_mol=moles[0].copy(),
        holdup_mol=holdup,
        vent_mol=vented.copy(),
        closure=float(np.max(missing / np.where(charge > 0.0, charge, charge.sum()))),
    )


def _energy(outcome: Outcome) -> Energy:
    components = outcome.case.given.charge_mol.size
    accounts = _accounts(outcome)
    heat = accounts[2 * components :] * ENTHALPY_UNIT
    _, before = _stage_moles(outcome, outcome.case.state)
    _, after = _stage_moles(outcome, outcome.state)
    given = outcome.case.given
    t = given.coolant_temperature_K - 298.15
    capacity = given.liquids.heat_capacity
    cold = t * (capacity[:, 0] + 0.5 * capacity[:, 1] * t)
    stored = float(after.sum() - before.sum() + accounts[:components] @ cold)
    stored += float(heat[VENTED_ENTHALPY])
    supplied, lost = float(heat[SUPPLIED]), float(heat[LOST])
    condenser = float(heat[CONDENSED])
    largest = max(abs(supplied), abs(lost), abs(condenser), abs(stored))
    missing = abs(supplied - lost - condenser - stored)
    return Energy(
        supplied_J=supplied,
        lost_J=lost,
        condenser_J=condenser,
        stored_J=stored,
        closure=missing / largest if largest > 0.0 else 0.0,
    )


def _warnings(
    outcome: Outcome, trace: Trace, first_drop: float | None, ledger: Ledger
) -> list[str]:
    """Return what the user of this run should read."""
    given = outcome.case.given
    said = []
    if first_drop is None:
        hottest = float(trace.pot_temperature_K.max()) - _ZERO_CELSIUS
        said.append(f"Nothing comes over: the pot reaches {hottest:.0f} °C.")
    if outcome.ended == ENDED_DRY:
        minutes = trace.time_s[-1] / 60.0
        said.append(
            f"The pot runs dry after {minutes:.0f} min, and the run ends there: stop earlier, "
            "with liquid left in the pot."
        )
    share = float(ledger.vent_mol.sum() / ledger.charge_mol.sum())
    if share > _VENT_WORTH_A_WORD:
        said.append(
            f"The condenser cannot hold all vapour: {100.0 * share:.1f} mol% of the charge "
            "passes it. Heat less, or cool better."
        )
    said.extend(_coolant_warnings(given, trace))
    return said


def _coolant_warnings(given: StillInput, trace: Trace) -> list[str]:
    """Return what the temperature of the coolant does not fit."""
    said = []
    coldest_head = (
        np.nanmin(np.where(trace.distillate_rate_mol_s > 0.0, trace.head_temperature_K, np.nan))
        if np.any(trace.distillate_rate_mol_s > 0.0)
        else math.inf
    )
    if coldest_head < given.coolant_temperature_K:
        said.append(
            f"Vapour reaches the condenser at {coldest_head - _ZERO_CELSIUS:.0f} °C, below its "
            f"coolant at {given.coolant_temperature_K - _ZERO_CELSIUS:.0f} °C: it would not "
            "condense, though this run counts it as condensed."
        )
    return said
