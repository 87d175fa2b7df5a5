"""The same charge distilled in several ways, side by side: what each way gives."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.equilibrium.mixture import Mixture
from forerun.forecast.drawing import as_member
from forerun.planning.aims import Goal, weights_for
from forerun.planning.candidates import planned
from forerun.planning.repeating import Round, rounds_of
from forerun.planning.windows import best_window
from forerun.sheets.model import RunSheet
from forerun.sheets.variants import variant
from forerun.still.from_sheet import prepare
from forerun.still.from_sheet_special import splits
from forerun.still.inputs import StillInput
from forerun.still.results import Run
from forerun.still.run import run_still
from forerun.substances.correlations import boiling_temperature

__all__ = ["COLUMNS", "FRACTIONS", "Fraction", "Step", "Way", "Ways", "ways_of"]

Floats = npt.NDArray[np.float64]
Told = Callable[[int, int], None]

COLUMNS = (2, 5, 10)
"""Theoretical plates of the columns that are set side by side."""
FRACTIONS = 5
"""Receivers of equal volume into which every way is cut."""

_USUAL_REFLUX = 3.0  # where the sheet names none; a judgement, no source
_HOLD = 1200.0  # s at total reflux, counted from the first drop; a judgement, no source
_HELD = 5  # plates of the column that is first held at total reflux
_INTERVAL = 20.0  # s between points


@dataclass(frozen=True, slots=True)
class Fraction:
    """One of the receivers of equal volume.

    Args:
        number: from 1.
        volume_m3: what is in it [m3].
        purity: of the wanted component, in the basis of the aim [-]; NaN when empty.
        share: of the wanted component that was charged [-].
        head_low_K: head thermometer when it was put in place [K].
        head_high_K: head thermometer when it was taken away [K].
    """

    number: int
    volume_m3: float
    purity: float
    share: float
    head_low_K: float
    head_high_K: float


@dataclass(frozen=True, slots=True)
class Step:
    """A level stretch of the staircase that people draw: one component alone.

    Args:
        name: of the component.
        temperature_K: its boiling point at the pressure [K].
        start_m3: distillate at which it begins [m3].
        end_m3: distillate at which it ends [m3].
    """

    name: str
    temperature_K: float
    start_m3: float
    end_m3: float


@dataclass(frozen=True, slots=True)
class Way:
    """One way of distilling the charge.

    Args:
        key: short name without blanks.
        label: for people.
        plates: theoretical plates above the pot [-].
        reflux_ratio: while taking off [-].
        given: the run as the still takes it.
        run: of the still.
        so_far: (n, C) moles over until each point [mol].
        fractions: of equal volume.
        best_share: largest share of the wanted component in one cut as pure as asked [-].
        best_purity: of that cut, in the basis of the aim [-]; NaN where there is none.
        best_start_m3: distillate at which that cut begins [m3]; NaN likewise.
        best_end_m3: distillate at which it ends [m3]; NaN likewise.
        best_end_s: when that cut is complete [s]; NaN likewise.
        pot_purity: of what is left in the flask, in the basis of the aim [-].
        pot_share: of the wanted component that was charged and is left in the flask [-].
        end_s: when the run ended [s].
    """

    key: str
    label: str
    plates: int
    reflux_ratio: float
    given: StillInput
    run: Run
    so_far: Floats
    fractions: tuple[Fraction, ...]
    best_share: float
    best_purity: float
    best_start_m3: float
    best_end_m3: float
    best_end_s: float
    pot_purity: float
    pot_share: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Ways:
    """All of them.

    Args:
        sheet: the run sheet.
        goal: the aim.
        mixture: its substances with their equilibrium.
        pressure_Pa: at which all are run [Pa].
        stairs: the staircase that people draw.
        ways: simple still first.
        rounds: the simple still repeated.
        followed: index of the component that the rounds follow.
        failed: one sentence for each way that could not be run.
        layered: whether the pair stands as two liquids where it boils; then plates and boiling
            diagram of one liquid would mislead.
    """

    sheet: RunSheet
    goal: Goal
    mixture: Mixture
    pressure_Pa: float
    stairs: tuple[Step, ...]
    ways: tuple[Way, ...]
    rounds: tuple[Round, ...]
    followed: int
    failed: tuple[str, ...]
    layered: bool


def ways_of(
    sheet: RunSheet,
    goal: Goal,
    *,
    columns: tuple[int, ...] = COLUMNS,
    progress: Told | None = None,
) -> Ways:
    """Run the charge of a sheet in several ways.

    Args:
        sheet: from `forerun.sheets.resolving.load`.
        goal: from `forerun.planning.aims.goal_of`.
        columns: plates of the columns.
        progress: called with how many ways are done and how many there are.

    Raises:
        BadInput: whatever in the sheet cannot be used.
        CalculationFailed: not even the simple still could be run.
    """
    pressure = sheet.programme.pressure_Pa.points[-1][1]
    reflux = _own_reflux(sheet)
    told = progress or (lambda _done, _all: None)
    plan = [("simple", "simple still", 0, 0.0)]
    plan += [
        (f"plates{n}", f"{n} plate{'' if n == 1 else 's'}, reflux {reflux:g}", n, reflux)
        for n in columns
    ]
    count = len(plan) + 2
    ways, failed = [], []
    simple: StillInput | None = None
    for k, (key, label, plates, ratio) in enumerate(plan):
        told(k, count)
        given = _quick(prepare(_sheet_for(sheet, plates, ratio, pressure)).still)
        simple = simple or given
        try:
            ways.append(_way(key, label, given, ratio, sheet, goal))
        except CalculationFailed as problem:
            if not plates:
                raise
            failed.append(f"{label}: {problem}")
    told(len(plan), count)
    try:
        ways.append(_held(sheet, goal, ways, reflux, pressure))
    except CalculationFailed as problem:
        failed.append(f"total reflux first: {problem}")
    told(len(plan) + 1, count)
    mixture = prepare(sheet).mixture
    assert simple is not None
    followed = _first_over(ways[0])
    rounds = rounds_of(sheet, simple, followed, lambda s: _simple_still(s, pressure))
    told(count, count)
    stairs = _stairs(sheet, pressure)
    return Ways(
        sheet,
        goal,
        mixture,
        pressure,
        stairs,
        tuple(ways),
        rounds,
        followed,
        tuple(failed),
        splits(mixture, stairs[0].temperature_K),
    )


def _own_reflux(sheet: RunSheet) -> float:
    finite = [v for _, v in sheet.programme.reflux_ratio.points if np.isfinite(v) and v > 0.0]
    return float(finite[-1]) if finite else _USUAL_REFLUX


def _sheet_for(
    sheet: RunSheet, plates: int, reflux: float, pressure: float, **programme: Any
) -> RunSheet:
    rig: Mapping[str, Any] = (
        {"column": None, "passport": None, "holdup": None, "plates": 0}
        if plates == 0
        else {"plates": plates}
    )
    method = "fractional" if plates else "simple"
    found = planned(sheet, method, pressure=pressure, reflux=reflux, rig=dict(rig)).sheet
    return variant(found, programme=programme) if programme else found


def _simple_still(sheet: RunSheet, pressure: float) -> StillInput:
    return _quick(prepare(_sheet_for(sheet, 0, 0.0, pressure)).still)


def _quick(given: StillInput) -> StillInput:
    return replace(as_member(given), sample_interval_s=_INTERVAL, switches=())


def _held(sheet: RunSheet, goal: Goal, ways: list[Way], reflux: float, pressure: float) -> Way:
    """Return a column that is first held at total reflux, then taken off as the others."""
    twin = next((w for w in ways if w.plates == _HELD), ways[-1])
    plates = twin.plates or _HELD
    first = twin.run.first_drop_s or 0.0
    until = f"{first + _HOLD:.0f} s"
    course = [["0 s", "total"], [until, "total"], [until, f"{reflux:g}:1"]]
    held = _sheet_for(sheet, plates, reflux, pressure, reflux_ratio=course)
    label = f"{plates} plates, total reflux first"
    return _way("held", label, _quick(prepare(held).still), reflux, sheet, goal)


def _way(
    key: str, label: str, given: StillInput, reflux: float, sheet: RunSheet, goal: Goal
) -> Way:
    run = run_still(given)
    so_far = run.trace.received_mol  # the engine's own account
    weights = weights_for(sheet, goal.basis)
    charged = run.ledger.charge_mol
    best = best_window(so_far, charged, goal.wanted, goal.purity, weights)
    volume = run.trace.distillate_volume_m3
    left = run.ledger.residue_mol * weights
    return Way(
        key,
        label,
        given.plates,
        reflux,
        given,
        run,
        so_far,
        _fractions(run, so_far, sheet, goal, weights),
        0.0 if best is None else best.recovery,
        float("nan") if best is None else best.purity,
        float("nan") if best is None else float(volume[best.first]),
        float("nan") if best is None else float(volume[best.last]),
        float("nan") if best is None else float(run.trace.time_s[best.last]),
        float(left[goal.wanted] / left.sum()),
        float(run.ledger.residue_mol[goal.wanted] / charged[goal.wanted]),
        float(run.trace.time_s[-1]),
    )


def _fractions(
    run: Run, so_far: Floats, sheet: RunSheet, goal: Goal, weights: Floats
) -> tuple[Fraction, ...]:
    """Return receivers that each take the same share of the charge."""
    volume, head = run.trace.distillate_volume_m3, run.trace.head_temperature_K
    each = sheet.charge_volume_m3 / FRACTIONS
    flowing = volume > 0.0
    found = []
    for k in range(FRACTIONS):
        start, end = k * each, min((k + 1) * each, float(volume[-1]))
        if end <= start:
            break
        first, last = (
            np.array([np.interp(edge, volume, over) for over in so_far.T]) for edge in (start, end)
        )
        held_mol = np.maximum(last - first, 0.0)  # the account rounds at 1e-16
        held = held_mol * weights
        heads = np.interp((start, end), volume[flowing], head[flowing])
        found.append(
            Fraction(
                k + 1,
                end - start,
                float(held[goal.wanted] / held.sum()),
                float(held_mol[goal.wanted] / run.ledger.charge_mol[goal.wanted]),
                float(heads[0]),
                float(heads[1]),
            )
        )
    return tuple(found)


def _first_over(simple: Way) -> int:
    """Return the component that the first vapour is enriched in most."""
    share = simple.run.trace.distillate_mole_fraction
    known = share[np.isfinite(share).all(axis=1)]
    charged = simple.run.ledger.charge_mol
    if known.size == 0:
        return 0
    return int(np.argmax(known[0] / (charged / charged.sum())))


def _stairs(sheet: RunSheet, pressure: float) -> tuple[Step, ...]:
    """Return the staircase: every component alone, in the order of the boiling points."""
    boiling = [
        (boiling_temperature(p.substance, pressure, "programme.pressure").temperature, p)
        for p in sheet.charge
    ]
    found, so_far = [], 0.0
    for temperature, portion in sorted(boiling, key=lambda pair: pair[0]):
        end = so_far + portion.volume_m3
        found.append(Step(portion.substance.name, temperature, so_far, end))
        so_far = end
    return tuple(found)
