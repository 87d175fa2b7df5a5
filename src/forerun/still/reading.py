"""What the kernels left of a run, put into words that others use."""

from __future__ import annotations

import math
from operator import add, mul
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from forerun.core.references import Reference
from forerun.still.balances import CONDENSED, LOST, SUPPLIED, VENTED_ENTHALPY
from forerun.still.boiling_type import ENTHALPY_UNIT
from forerun.still.engine import ENDED_DRY
from forerun.still.inputs import StillInput
from forerun.still.noting import CUT_COLUMNS, TRACE_COLUMNS
from forerun.still.results import Cut, Energy, Ledger, Run, Trace
from forerun.still.slopes import liquid_enthalpy

if TYPE_CHECKING:
    from forerun.still.run import Outcome

__all__ = ["UNMODELLED", "read_run"]

Floats = npt.NDArray[np.float64]

UNMODELLED = (
    "Heats of mixing and the vapour's own hold-up are left out.",
    "A plate is a stage at equilibrium; what it carries up grows with the load by a rule from "
    "memory.",
    "Weeping at a very small load is not seen.",
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
_ROUNDING = 1e-12  # mole fraction; what is further below nothing is no rounding and stays to see
_FREEZES = 0.8  # mole fraction from which a distillate is taken to freeze like its main part


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
    fed = _fed(outcome)
    ledger = _ledger(outcome, fed)
    given = outcome.case.given
    return Run(
        trace=trace,
        first_drop_s=first_drop,
        cuts=cuts,
        residue=_residue(outcome, trace),
        ledger=ledger,
        energy=_energy(outcome, sum(fed.tolist())),
        warnings=tuple(_warnings(outcome, trace, first_drop, ledger)),
        unmodelled=_unmodelled(given),
        references=(*given.references, _WATSON, _METHOD),
    )


def _unmodelled(given: StillInput) -> tuple[str, ...]:
    """Return what this run leaves out."""
    said = list(UNMODELLED)
    if not given.two_liquids:
        said.append("A liquid is one liquid: two layers in the pot are not looked for in this run.")
    if given.diluent_mol > 0.0:
        said.append(
            "What does not distil counts as an ideal diluent that stays dissolved in the pot."
        )
    if given.trap is not None:
        said.append(
            "The trap keeps its layers apart at once; the layer that runs back displaces nothing "
            "and holds of each component a share that does not change."
        )
    return tuple(said)


def _trace(outcome: Outcome) -> Trace:
    rows = int(outcome.record.numbers[0])
    components = outcome.case.given.charge_mol.size
    # at once: column by column they cost most of this
    columns = outcome.record.trace[:rows].T.copy()
    parts = columns[TRACE_COLUMNS:]
    fractions = parts[: 2 * components]
    below = fractions < 0.0
    if below.any():
        # what rounding left below nothing is set to nothing
        fractions[below & (fractions > -_ROUNDING)] = 0.0
    return Trace(
        names=outcome.case.given.names,
        time_s=columns[0],
        head_temperature_K=columns[1],
        pot_temperature_K=columns[2],
        bath_temperature_K=columns[3],
        pressure_Pa=columns[4],
        distillate_volume_m3=columns[5],
        distillate_mole_fraction=fractions[:components].T,
        pot_mole_fraction=fractions[components:].T,
        boilup_rate_mol_s=columns[6],
        distillate_rate_mol_s=columns[7],
        pot_pressure_Pa=columns[8],
        load=columns[9],
        received_mol=parts[2 * components :].T,
    )


def _portion(
    number: int, span: tuple[float, float], head: tuple[float, float], moles: Floats, out: Outcome
) -> Cut:
    """Return a cut from the moles that it holds."""
    # of two or three numbers each: Python adds them faster than NumPy begins to
    parts = moles.tolist()
    masses = list(map(mul, parts, out.case.given.liquids.molar_mass.tolist()))
    amount, mass = sum(parts), sum(masses)
    return Cut(
        number=number,
        start_s=span[0],
        end_s=span[1],
        start_head_K=head[0],
        end_head_K=head[1],
        volume_m3=sum(map(mul, parts, out.case.plan.room_volume.tolist())),
        mass_kg=mass,
        amount_mol=amount,
        mole_fraction=moles / amount if amount > 0.0 else np.full(moles.size, np.nan),
        mass_fraction=np.array(masses) / mass if mass > 0.0 else np.full(moles.size, np.nan),
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
        start, end, head_first, head_last = row[:CUT_COLUMNS].tolist()
        first = head_before if math.isnan(head_first) else head_first
        cuts.append(_portion(k + 1, (start, end), (first, head_last), moles - before, outcome))
        before, head_before = moles, head_last
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


def _ledger(outcome: Outcome, fed: Floats) -> Ledger:
    charge = outcome.case.given.charge_mol
    moles, _ = _stage_moles(outcome, outcome.state)
    accounts = _accounts(outcome)
    components = charge.size
    received, vented = accounts[:components], accounts[components : 2 * components]
    pot, *above = moles.tolist()
    holdup = [sum(stage) for stage in zip(*above, strict=True)]
    held = list(map(add, charge.tolist(), fed.tolist()))
    found = map(sum, zip(pot, holdup, received.tolist(), vented.tolist(), strict=True))
    whole = sum(held)
    shares = [abs(a - b) / (a or whole) for a, b in zip(held, found, strict=True)]
    return Ledger(
        charge_mol=charge.copy(),
        cuts_mol=received.copy(),
        residue_mol=moles[0].copy(),
        holdup_mol=np.array(holdup),
        vent_mol=vented.copy(),
        closure=float(np.max(shares)),
        fed_mol=fed,
    )


def _fed(outcome: Outcome) -> Floats:
    """Return the moles led in as vapour until the run ended: the programme's own integral."""
    plan, given = outcome.case.plan, outcome.case.given
    fed = np.zeros(given.charge_mol.size)
    if not (any(plan.start[:, 3].tolist()) or any(plan.slope[:, 3].tolist())):
        return fed
    end = float(outcome.record.numbers[5])
    total = 0.0
    for t0, t1, start, slope in zip(
        plan.times[:-1], plan.times[1:], plan.start[:, 3], plan.slope[:, 3], strict=True
    ):
        span = min(float(t1), end) - float(t0)
        if span > 0.0:
            total += span * (float(start) + 0.5 * span * float(slope))
    fed[given.steam_component] = total
    return fed


def _energy(outcome: Outcome, fed_mol: float) -> Energy:
    given = outcome.case.given
    components = given.charge_mol.size
    accounts = _accounts(outcome).tolist()
    heat = [ENTHALPY_UNIT * account for account in accounts[2 * components :]]
    b, end = components + 1, outcome.case.rig.glass.size * (components + 1)
    before, after = (
        ENTHALPY_UNIT * float(np.add.reduce(state[components:end:b]))
        for state in (outcome.case.state, outcome.state)
    )
    cold = liquid_enthalpy(given.liquids, given.coolant_temperature_K).tolist()
    stored = after - before + ENTHALPY_UNIT * sum(map(mul, accounts, cold))
    stored += heat[VENTED_ENTHALPY]
    steam = fed_mol * outcome.case.rig.steam_enthalpy * ENTHALPY_UNIT
    supplied, lost, condenser = heat[SUPPLIED] + steam, heat[LOST], heat[CONDENSED]
    held = abs(after)  # a run that ends at once has moved next to nothing
    largest = max(abs(supplied), abs(lost), abs(condenser), abs(stored), held)
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
    share = sum(ledger.vent_mol.tolist()) / sum(ledger.charge_mol.tolist())
    if share > _VENT_WORTH_A_WORD:
        said.append(
            f"The condenser cannot hold all vapour: {100.0 * share:.1f} mol% of the charge "
            "passes it. Heat less, or cool better."
        )
    said.extend(_coolant_warnings(given, trace))
    said.extend(_freezing_warnings(given, trace))
    said.extend(_load_warnings(trace))
    if given.steady_for_s > 0.0 and math.isnan(outcome.record.numbers[8]):
        said.append("The column never became steady under total reflux: nothing was taken off.")
    return said


def _coolant_warnings(given: StillInput, trace: Trace) -> list[str]:
    """Return what the temperature of the coolant does not fit."""
    said: list[str] = []
    if trace.head_temperature_K.min() >= given.coolant_temperature_K:
        return said
    heads = trace.head_temperature_K[trace.distillate_rate_mol_s > 0.0]
    coldest_head = heads.min() if heads.size else math.inf
    if coldest_head < given.coolant_temperature_K:
        said.append(
            f"Vapour reaches the condenser at {coldest_head - _ZERO_CELSIUS:.0f} °C, below its "
            f"coolant at {given.coolant_temperature_K - _ZERO_CELSIUS:.0f} °C: it would not "
            "condense, though this run counts it as condensed."
        )
    return said


def _freezing_warnings(given: StillInput, trace: Trace) -> list[str]:
    """Return when a distillate would freeze in its condenser."""
    said = []
    melting = given.liquids.melting_point.tolist()
    for i, name in enumerate(given.names):
        if not melting[i] > given.coolant_temperature_K:  # false where none is known
            continue
        dripping = trace.distillate_rate_mol_s > 0.0
        rich = dripping & (trace.distillate_mole_fraction[:, i] > _FREEZES)
        if np.any(rich):
            minutes = float(trace.time_s[np.argmax(rich)]) / 60.0
            said.append(
                f"From {minutes:.0f} min on {name} can freeze in the condenser: it melts at "
                f"{melting[i] - _ZERO_CELSIUS:.0f} °C, the coolant has "
                f"{given.coolant_temperature_K - _ZERO_CELSIUS:.0f} °C."
            )
    return said


def _load_warnings(trace: Trace) -> list[str]:
    """Return when the column floods."""
    if not trace.load.max() > 1.0:
        return []
    flooded = trace.load > 1.0
    minutes = float(trace.time_s[np.argmax(flooded)]) / 60.0
    return [
        f"The column floods from {minutes:.0f} min on: at its worst it gets "
        f"{float(trace.load.max()):.1f} times the vapour that it carries. Heat less."
    ]
