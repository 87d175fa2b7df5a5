"""A run with something hidden in it, the same for a number whenever it is dealt, and its marks.

The instructor deals; students see the log alone, name the fault and say from which to which volume
of distillate they would collect. Volumes do not move with the thermometer, so that nobody gains or
loses by the one they were handed.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from forerun.core.errors import BadInput
from forerun.forecast.drawing import draw_member, prior_of
from forerun.records.readings import Reading, Readings, readings_of
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.inputs import StillInput
from forerun.still.results import Run, Trace
from forerun.still.run import run_still

__all__ = ["FAULTS", "WEIGHTS", "Dealt", "Marks", "deal", "marks_of"]

FAULTS: Mapping[str, str] = {
    "none": "nothing is wrong",
    "cold-column": "column and neck lose four times as much heat",
    "low-pressure": "the pressure is 6 % lower than the sheet says",
    "weak-heat": "the bath warms the flask half as well",
}
"""What can be hidden, by name."""
WEIGHTS: Mapping[str, float] = {"data": 0.2, "reasoning": 0.3, "recovery": 0.25, "purity": 0.25}
"""Shares of the marks; an instructor may change them."""

_SHARES = (0.3, 0.7)  # of the first component, between which the hidden composition lies
_EVERY_S = 30.0
_NOISE_K = 0.1
_SAME_K = 0.06  # a reading that was copied with one decimal


@dataclass(frozen=True, slots=True)
class Dealt:
    """A hidden run.

    Args:
        student: number it was dealt to.
        fault: a key of `FAULTS`.
        mole_fraction: of the first component in the flask [-].
        log: what the student sees.
        glass: the run as it is, with a thermometer that reads true.
        run: of that glass.
        offset_K: by how much the student's thermometer reads high [K].
    """

    student: int
    fault: str
    mole_fraction: float
    log: Readings
    glass: StillInput
    run: Run
    offset_K: float


@dataclass(frozen=True, slots=True)
class Marks:
    """What a submission is worth.

    Args:
        parts: ``data``, ``reasoning``, ``recovery``, ``purity``, each from 0 to 1 [-].
        total: weighed, from 0 to 100 [-].
        reasons: one sentence for each part.
    """

    parts: Mapping[str, float]
    total: float
    reasons: tuple[str, ...]


def deal(sheet: RunSheet, student: int, secret: str, offset_K: float | None = None) -> Dealt:
    """Deal a hidden run.

    Args:
        sheet: of two substances; its amounts are kept together and shared out anew.
        student: their number.
        secret: words that only the instructor knows; another word deals other runs.
        offset_K: by how much the thermometer reads high [K]; drawn when left out.

    Returns:
        The run: for one sheet, number and secret always the same.

    Raises:
        BadInput: not two substances, or nothing comes over.
    """
    if len(sheet.charge) != 2:
        raise BadInput("charge", ", ".join(sheet.names), "two substances, for a hidden run")
    seed = hashlib.sha256(f"{secret}\n{student}".encode()).digest()
    rng = np.random.default_rng(int.from_bytes(seed[:8], "big"))
    fault = list(FAULTS)[int(rng.integers(len(FAULTS)))]
    share = float(rng.uniform(*_SHARES))
    prepared = prepare(sheet)
    glass = _glass(prepared, fault, share)
    drawn = float(rng.normal(0.0, prepared.sheet.rig.thermometer_offset_K.sigma))
    offset = drawn if offset_K is None else offset_K
    run = run_still(glass)
    if run.first_drop_s is None:
        raise BadInput("programme.bath", "as it is", "a bath at which every hidden run comes over")
    return Dealt(student, fault, share, _log(run.trace, offset, rng), glass, run, offset)


def _glass(prepared: Prepared, fault: str, share: float) -> StillInput:
    prior = prior_of(prepared)
    member = draw_member(prior, np.zeros(len(prior.unknowns)))
    total = float(member.charge_mol.sum())
    pressure = member.pressure.copy()
    pressure[:, 1] *= 0.94 if fault == "low-pressure" else 1.0
    loss = 4.0 if fault == "cold-column" else 1.0
    heat = 0.5 if fault == "weak-heat" else 1.0
    return replace(
        member,
        charge_mol=total * np.array([share, 1.0 - share]),
        pressure=pressure,
        column_loss_W_K=member.column_loss_W_K * loss,
        head_loss_W_K=member.head_loss_W_K * loss,
        bath_conductance_W_K=member.bath_conductance_W_K * heat,
        thermometer_offset_K=0.0,
        switches=(),
        sample_interval_s=20.0,
    )


def _log(trace: Trace, offset: float, rng: np.random.Generator) -> Readings:
    rows = []
    for t in np.arange(0.0, float(trace.time_s[-1]), _EVERY_S):
        head = float(np.interp(t, trace.time_s, trace.head_temperature_K))
        over = float(np.interp(t, trace.time_s, trace.distillate_volume_m3))
        bath = float(np.interp(t, trace.time_s, trace.bath_temperature_K))
        noisy = round(head + offset + rng.normal(0.0, _NOISE_K) - 273.15, 1) + 273.15
        rows.append(Reading(float(t), head_K=noisy, bath_K=bath, distillate_m3=round(over, 7)))
    return readings_of(rows)


def marks_of(
    dealt: Dealt,
    submitted: Readings,
    fault: str,
    start_m3: float,
    end_m3: float,
    weights: Mapping[str, float] = WEIGHTS,
) -> Marks:
    """Return what a submission is worth, with a reason for each part.

    Args:
        dealt: what was dealt to that student.
        submitted: the log as handed in.
        fault: the name of what they think is wrong, a key of `FAULTS`.
        start_m3: distillate at which the receiver of the first component is put in place [m3].
        end_m3: distillate at which it is taken away [m3].
        weights: of the parts; together above zero [-].

    Returns:
        The marks. Purity is measured against the purest single cut of as much of the first
        component that the same glass allows; recovery is of what was charged.

    Raises:
        BadInput: a fault of another name, or weights that cannot be used.
    """
    if fault not in FAULTS:
        raise BadInput("fault", fault, ", ".join(FAULTS))
    whole = math.fsum(weights.get(part, 0.0) for part in WEIGHTS)
    if whole <= 0.0 or min(weights.values()) < 0.0 or set(weights) - set(WEIGHTS):
        raise BadInput("weights", str(dict(weights)), f"shares of {', '.join(WEIGHTS)}")
    kept = _kept(dealt.log, submitted)
    recovery, purity = _cut(dealt.run, start_m3, end_m3)
    best = _best_purity(dealt.run, recovery)
    right = fault == dealt.fault
    parts = {
        "data": kept,
        "reasoning": 1.0 if right else 0.0,
        "recovery": recovery,
        "purity": 0.0 if best <= 0.0 else min(purity / best, 1.0),
    }
    reasons = (
        f"{100 * kept:.0f} % of the readings are handed in as they were read.",
        f"Hidden was: {FAULTS[dealt.fault]}. Named was: {FAULTS[fault]}.",
        f"The cut holds {100 * recovery:.0f} % of the first component.",
        f"It is {100 * purity:.1f} mol% pure; as large a cut could have {100 * best:.1f} mol%.",
    )
    total = 100.0 * math.fsum(weights.get(p, 0.0) * v for p, v in parts.items()) / whole
    return Marks(parts, total, reasons)


def _kept(dealt: Readings, submitted: Readings) -> float:
    """Return the share of the readings that were handed in unchanged [-]."""
    given: dict[float, Any] = {row.time_s: row.head_K for row in submitted.rows}
    same = [
        row.time_s in given and abs(given[row.time_s] - row.head_K) < _SAME_K for row in dealt.rows
    ]
    return float(sum(same)) / max(len(same), len(submitted.rows))


def _so_far(run: Run) -> np.ndarray:
    trace = run.trace
    flow = trace.distillate_rate_mol_s[:, None] * np.nan_to_num(trace.distillate_mole_fraction)
    steps = 0.5 * (flow[1:] + flow[:-1]) * np.diff(trace.time_s)[:, None]
    return np.vstack([np.zeros(flow.shape[1]), np.cumsum(steps, axis=0)])


def _cut(run: Run, start: float, end: float) -> tuple[float, float]:
    """Return the share of the first component between two volumes, and its purity [-]."""
    so_far, over = _so_far(run), run.trace.distillate_volume_m3
    gained = np.array(
        [np.interp(end, over, moles) - np.interp(start, over, moles) for moles in so_far.T]
    )
    if gained.sum() <= 0.0:
        return 0.0, 0.0
    charged = float(run.ledger.charge_mol[0])
    return min(float(gained[0]) / charged, 1.0), float(gained[0] / gained.sum())


def _best_purity(run: Run, recovery: float) -> float:
    """Return the highest purity of a single cut that holds as much of the first component [-]."""
    so_far = _so_far(run)
    own, all_ = so_far[:, 0], so_far.sum(axis=1)
    wanted = recovery * float(run.ledger.charge_mol[0])
    best = 0.0
    for k in range(own.size):
        end = int(np.searchsorted(own, own[k] + wanted - 1e-12))
        if end < own.size and all_[end] > all_[k]:
            best = max(best, float((own[end] - own[k]) / (all_[end] - all_[k])))
    return best
