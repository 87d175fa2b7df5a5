"""A run that measures a column: which pair of known liquids, how much, how long at total reflux.

With everything returned to the column, what stands in the head and in the pot tells the plates.
The pair is right when both ends stay far enough from pure that an assay can tell one plate from the
next, and its relative volatility is known well enough that this does not spoil the count.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.equilibrium.band_rules import EIGHTY
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.planning.plate_by_plate import plates_above
from forerun.sheets.heating import load_difference
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.sheets.variants import form_of
from forerun.sheets.writing import table_of
from forerun.still.from_sheet import prepare
from forerun.still.results import Run
from forerun.still.run import run_still
from forerun.substances.catalogue import find
from forerun.substances.correlations import boiling_temperature
from forerun.substances.model import Substance

__all__ = ["PAIRS", "Calibration", "calibration_of", "calibration_run", "settled_s"]

Floats = npt.NDArray[np.float64]

PAIRS = (
    ("cyclohexane", "toluene"),
    ("cyclohexane", "heptane"),
    ("methylcyclohexane", "toluene"),
    ("ethylbenzene", "chlorobenzene"),
    ("heptane", "methylcyclohexane"),
)
"""Pairs by which columns are commonly measured, or their like; common practice, from memory."""

_FILL = 0.3  # of the flask: enough to boil evenly and no more to throw away; a judgement
_CHARGES = (0.1, 0.2, 0.35, 0.5, 0.65, 0.8)  # mole fraction of the lighter that is tried
_ASSAY = (0.01, 0.002)  # relative and absolute, of a mass fraction by gas chromatography: what
# `forerun.reviewing.assays` takes where none is stated; common practice, no source
_VOLATILITY = 0.01  # of ln(relative volatility), by which papers differ; a judgement, no source
_MOST_PLATES = 60  # of a glass column on a bench; a judgement, no source
_TAKEN_BACK = 6  # passes of pot and hold-up
_LONG = "4 h"
_ABOVE = (0.0, 35.0, 50.0, 70.0)  # K of the bath over the pot, tried in turn; a judgement
_COLD_K = 15.0  # below the lighter's boiling point nothing has reached the head; a judgement
_LEVEL_K, _LEVEL_X = 0.03, 0.002  # of head and pot within which it is settled; a judgement


@dataclass(frozen=True, slots=True)
class Calibration:
    """What to charge and what it will show.

    Args:
        light, heavy: the pair.
        charge_m3: of each, as measured at 20 deg C [m3].
        fraction: mole fraction of the lighter in the charge [-].
        plates: lowest, typical and highest of the middle 80 % that the sheet expects [-].
        head: mole fraction of the lighter in the head for each of these [-].
        pot: likewise in the pot [-].
        sigma: standard deviation of the plates that the samples will tell [-].
        above_pot_K: of the bath over the pot where the column loses little [K].
        pressure_Pa: [Pa].
    """

    light: Substance
    heavy: Substance
    charge_m3: tuple[float, float]
    fraction: float
    plates: tuple[float, float, float]
    head: tuple[float, float, float]
    pot: tuple[float, float, float]
    sigma: float
    above_pot_K: float
    pressure_Pa: float


def calibration_of(sheet: RunSheet, pairs: Sequence[tuple[str, str]] = PAIRS) -> Calibration:
    """Return the pair and charge that tell the plates of a sheet's column best.

    Args:
        sheet: of which the glass is taken; its charge is not used.
        pairs: to choose from, the lighter first.

    Raises:
        BadInput: the sheet has no column, or none of the pairs tells its plates.

    Not a published method: first-order errors of the steps at total reflux (Fenske's relation),
    both samples by gas chromatography, the relative volatility doubted too.
    """
    if not sheet.rig.plates.value > 0.0:
        raise BadInput("rig.column", sheet.rig.column, "a column to measure")
    pressure = sheet.programme.pressure_Pa.points[0][1]
    found = [
        candidate
        for pair in pairs
        if (candidate := _best_charge(sheet, pair, pressure)) is not None
    ]
    if not found:
        raise BadInput(
            "rig.plates", f"{sheet.rig.plates.value:.3g}", "plates that one of the pairs can tell"
        )
    return min(found, key=lambda one: one.sigma)


def calibration_run(sheet: RunSheet, plan: Calibration) -> tuple[RunSheet, Run]:
    """Return the run sheet of a calibration and its run.

    Args:
        sheet: of which the glass is taken.
        plan: from `calibration_of`.

    Returns:
        The sheet, its bath so far over the pot that vapour reaches the head, and the run.

    Raises:
        BadInput: the column loses so much that no allowed bath brings vapour to its head.
        CalculationFailed: the run did not finish.
    """
    light = boiling_temperature(plan.light, plan.pressure_Pa, "programme.pressure").temperature
    for above in _ABOVE:
        own = load(_table(sheet, plan, max(above, plan.above_pot_K)))
        run = run_still(prepare(own).still)
        if run.trace.head_temperature_K[-1] > light - _COLD_K:
            return own, run
    raise BadInput(
        "rig.heat_loss",
        f"{sheet.rig.heat_loss_W_K.value:.2g} W/K",
        "a column that loses less, so that vapour reaches its head: lag it",
    )


def _table(sheet: RunSheet, plan: Calibration, above_pot: float) -> dict[str, object]:
    return {
        "title": f"Calibration of {form_of(sheet).rig.passport or sheet.rig.column}",
        "charge": [
            {"substance": substance.name, "amount": f"{1e6 * volume:.0f} mL"}
            for substance, volume in zip((plan.light, plan.heavy), plan.charge_m3, strict=True)
        ],
        "rig": table_of(sheet).get("rig", {}),
        "programme": {
            "pressure": f"{plan.pressure_Pa / 100.0:.1f} mbar",
            "reflux_ratio": "total",
            "keep": {"above_pot": f"{above_pot:.0f} K"},
            "stop": {"time": _LONG},
        },
    }


def settled_s(run: Run) -> float:
    """Return when head and pot of a run at total reflux stand still.

    Args:
        run: at total reflux to its end.

    Returns:
        Time since the start of heating [s].

    Derivation: the last moment at which the head is more than 0.03 K, or the pot more than 0.2 %
        of its fraction, from where they end.
    """
    trace = run.trace
    head = np.abs(trace.head_temperature_K - trace.head_temperature_K[-1]) > _LEVEL_K
    pot = np.abs(trace.pot_mole_fraction - trace.pot_mole_fraction[-1]).max(axis=1) > _LEVEL_X
    away = np.flatnonzero(head | pot)
    return float(trace.time_s[min(away[-1] + 1, trace.time_s.size - 1)]) if away.size else 0.0


def _best_charge(sheet: RunSheet, names: tuple[str, str], pressure: float) -> Calibration | None:
    pair = (find(names[0]), find(names[1]))
    mixture = mixture_of(list(pair))
    plates = sheet.rig.plates
    ends = tuple(
        min(max(plates.value + k * EIGHTY * plates.sigma, 0.5), float(_MOST_PLATES))
        for k in (-1.0, 0.0, 1.0)
    )
    best = None
    for fraction in _CHARGES:
        try:
            candidate = _weighed(sheet, pair, mixture, fraction, ends, pressure)
        except CalculationFailed:
            continue
        if candidate is not None and (best is None or candidate.sigma < best.sigma):
            best = candidate
    return best


def _weighed(
    sheet: RunSheet,
    pair: tuple[Substance, Substance],
    mixture: Mixture,
    fraction: float,
    plates: tuple[float, ...],
    pressure: float,
) -> Calibration | None:
    molar = np.array([s.molar_volume.v0 for s in pair])
    share = np.array([fraction, 1.0 - fraction])
    volume = _FILL * sheet.rig.flask_volume_m3.value
    moles = volume / float(share @ molar)
    steps = math.ceil(max(plates)) + 1
    heads, pots, doubts = [], [], []
    for count in plates:
        pot, ladder, boiling = _returned(sheet, mixture, fraction, moles, (steps, count), pressure)
        if np.any(np.diff(ladder) <= 1e-5):
            return None  # an azeotrope ends the climb
        heads.append(_between(ladder, count))
        pots.append(pot)
        doubts.append(_doubt(ladder, count, pair))
    charge = moles * share * molar
    return Calibration(
        *pair,
        (float(charge[0]), float(charge[1])),
        fraction,
        (plates[0], plates[1], plates[2]),
        (heads[0], heads[1], heads[2]),
        (pots[0], pots[1], pots[2]),
        float(np.mean(doubts)),
        load_difference(sheet.charge, sheet.rig, boiling),
        pressure,
    )


def _returned(
    sheet: RunSheet,
    mixture: Mixture,
    fraction: float,
    moles: float,
    stages: tuple[int, float],
    pressure: float,
) -> tuple[float, Floats, float]:
    """Return the pot, the lighter from pot vapour upwards, and the pot's boiling point."""
    steps, count = stages
    molar = np.array([s.molar_volume.v0 for s in mixture.substances])
    on_plates = sheet.rig.holdup_m3.value
    pot = fraction
    for _ in range(_TAKEN_BACK):
        liquid, vapour, boiling = plates_above(
            np.array([pot, 1.0 - pot]), np.full(2, np.nan), 0.0, steps, pressure, mixture.arrays
        )
        top = max(round(count), 1)
        held = liquid[1 : top + 1].mean(axis=0)
        held_moles = min(on_plates / float(held @ molar), 0.5 * moles)
        pot = float(
            np.clip((moles * fraction - held_moles * held[0]) / (moles - held_moles), 1e-3, 0.999)
        )
    return pot, np.asarray(vapour[:, 0]), float(boiling[0])


def _between(ladder: Floats, count: float) -> float:
    """Return the head above a number of plates that need not be whole."""
    return float(_expit(np.interp(count, np.arange(ladder.size), _logit(ladder))))


def _doubt(ladder: Floats, count: float, pair: tuple[Substance, Substance]) -> float:
    """Return the standard deviation of the plates that two assays tell [-]."""
    heights = np.concatenate([[2.0 * _logit(ladder)[0] - _logit(ladder)[1]], _logit(ladder)])
    slopes = np.diff(heights)
    at = [float(np.interp(count, np.arange(slopes.size), slopes)), float(slopes[0])]
    ends = [_between(ladder, count), float(_expit(heights[0]))]
    parts = [_spread(x, pair) / (x * (1.0 - x)) / slope for x, slope in zip(ends, at, strict=True)]
    log = float(np.mean(slopes[: max(int(count), 1) + 1]))
    return math.hypot(*parts, (count + 1.0) * _VOLATILITY / log)


def _spread(x: float, pair: tuple[Substance, Substance]) -> float:
    """Return the standard deviation of a mole fraction whose mass fraction is assayed."""
    first, second = pair[0].molar_mass, pair[1].molar_mass
    mean = x * first + (1.0 - x) * second
    mass = x * first / mean
    return math.hypot(_ASSAY[0] * mass, _ASSAY[1]) * mean**2 / (first * second)


def _logit(x: Floats) -> Floats:
    return np.asarray(np.log(x / (1.0 - x)))


def _expit(value: npt.ArrayLike) -> Floats:
    return np.asarray(1.0 / (1.0 + np.exp(-np.asarray(value))))
