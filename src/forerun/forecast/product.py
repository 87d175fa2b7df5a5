"""Purity, recovery and time of the wanted substance: of the cuts as set, and of other windows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.forecast.bands import Interval, interval, intervals
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import Prepared
from forerun.still.results import Cut, Run

__all__ = ["CutOdds", "Product", "Window", "collected", "front_of", "product_of"]

Floats = npt.NDArray[np.float64]

_GRID = 49  # places at which a window may begin or end
_POINTS = 12  # of the front that are kept
_LEAST = 0.02  # recovery below which a window is no product


@dataclass(frozen=True, slots=True)
class CutOdds:
    """How likely one cut is what is wanted.

    Args:
        number: of the receiver.
        purity: fraction of the wanted substance in it over the members [-]; None where none
            collects anything.
        recovery: share of what was charged over the members [-].
        probability: that it is at least as pure as asked [-]; None where no purity is asked.
    """

    number: int
    purity: Interval | None
    recovery: Interval | None
    probability: float | None


@dataclass(frozen=True, slots=True)
class Window:
    """One way to collect the wanted substance; none of the front is better in all respects.

    Args:
        start_m3: distillate at which it begins [m3].
        end_m3: distillate at which it ends [m3].
        start_head_K: head thermometer in the nominal run there [K].
        end_head_K: the same at its end [K].
        purity: in the nominal run [-].
        recovery: in the nominal run [-].
        time_s: when it is full, since the start of heating, in the nominal run [s].
        purity_band: over the members, same volumes [-].
        recovery_band: over the members, same volumes [-].
    """

    start_m3: float
    end_m3: float
    start_head_K: float
    end_head_K: float
    purity: float
    recovery: float
    time_s: float
    purity_band: Interval | None
    recovery_band: Interval | None


@dataclass(frozen=True, slots=True)
class Product:
    """What a forecast says of the wanted substance.

    Args:
        name: of the substance.
        basis: of the purity: ``mol%``, ``wt%`` or ``vol%``.
        asked: purity asked for [-]; None where nothing was.
        cuts: every receiver of the nominal run.
        front: windows by volume, purest first.
    """

    name: str
    basis: str
    asked: float | None
    cuts: tuple[CutOdds, ...]
    front: tuple[Window, ...]


def product_of(prepared: Prepared, run: Run, runs: Sequence[Run]) -> Product | None:
    """Return what a forecast says of the substance that its sheet wants.

    Args:
        prepared: the sheet made ready.
        run: the nominal run.
        runs: the members.

    Returns:
        None where the sheet wants none, or where nothing comes over.
    """
    sheet = prepared.sheet
    wanted = sheet.aim.substance
    if wanted is None or run.first_drop_s is None or not run.cuts:
        return None
    k = sheet.names.index(wanted.name)
    basis = sheet.aim.purity_basis or "mol%"
    weights = _weights(sheet, basis)
    asked = sheet.aim.purity
    cuts = tuple(_odds(cut.number, k, weights, asked, runs) for cut in run.cuts)
    return Product(wanted.name, basis, asked, cuts, front_of(run, k, weights, runs))


def _weights(sheet: RunSheet, basis: str) -> Floats:
    """Return (C,) what a mole of each component counts in a basis [-, kg/mol or m3/mol]."""
    substances = [portion.substance for portion in sheet.charge]
    if basis == "wt%":
        return np.array([s.molar_mass for s in substances])
    if basis == "vol%":
        return np.array([s.molar_volume.v0 for s in substances])
    return np.ones(len(substances))


def _odds(
    number: int, k: int, weights: Floats, asked: float | None, runs: Sequence[Run]
) -> CutOdds:
    found = [
        (cut.amount_mol, cut.mole_fraction, run.ledger.charge_mol[k])
        for run in runs
        if (cut := _cut_of(run, number)) is not None
    ]
    amounts = np.array([amount for amount, _, _ in found])
    charged = np.array([moles for _, _, moles in found])
    fractions = np.array([fraction for _, fraction, _ in found]).reshape(len(found), weights.size)
    purities = fractions[:, k] * weights[k] / (fractions @ weights)
    probability = None
    if asked is not None:
        # Laplace's rule of succession: never 0 or 1 from a finite number of runs
        probability = (float(np.sum(purities >= asked)) + 1.0) / (len(runs) + 2.0)
    recoveries = amounts * fractions[:, k] / charged
    return CutOdds(number, interval(purities), interval(recoveries), probability)


def _cut_of(run: Run, number: int) -> Cut | None:
    return next((c for c in run.cuts if c.number == number and c.amount_mol > 0.0), None)


def collected(run: Run, volumes: Floats) -> Floats:
    """Return what has come over when so much volume has.

    Args:
        run: of the still.
        volumes: (n,) distillate so far [m3].

    Returns:
        (n, C) amounts of the components [mol].

    Not a published model: the engine's own account of the receivers.
    """
    trace = run.trace
    along = np.maximum.accumulate(trace.distillate_volume_m3)
    return np.array([np.interp(volumes, along, held) for held in trace.received_mol.T]).T


def front_of(run: Run, k: int, weights: Floats, runs: Sequence[Run]) -> tuple[Window, ...]:
    """Return the windows that no other beats in purity, recovery and time at once.

    Args:
        run: the nominal run.
        k: index of the wanted substance.
        weights: (C,) what a mole of each counts in the purity [any].
        runs: the members, for bands.

    Returns:
        At most 12, purest first.
    """
    trace = run.trace
    volumes = np.linspace(0.0, float(trace.distillate_volume_m3[-1]), _GRID)
    amounts = collected(run, volumes)
    along = np.maximum.accumulate(trace.distillate_volume_m3)
    # the first moment of every volume: where the still stands still, nothing is gained by waiting
    first = np.flatnonzero(np.diff(along, prepend=-1.0) > 0.0)
    times = np.interp(volumes, along[first], trace.time_s[first])
    times = np.maximum(times, run.first_drop_s or 0.0)
    heads = np.interp(times, trace.time_s, trace.head_temperature_K)
    start, end = np.triu_indices(_GRID, 1)
    inside = (amounts[end] - amounts[start]) * weights
    whole = inside.sum(axis=1)
    purity = np.divide(inside[:, k], whole, out=np.zeros_like(whole), where=whole > 0.0)
    recovery = inside[:, k] / (weights[k] * float(run.ledger.charge_mol[k]))
    kept = _unbeaten(purity, recovery, times[end], recovery >= _LEAST)
    begins, ends = volumes[start[kept]], volumes[end[kept]]
    pure, got = (intervals(values) for values in _of_members(runs, begins, ends, k, weights))
    found = []
    for i, v0, v1, pure_band, got_band in zip(kept, begins, ends, pure, got, strict=True):
        found.append(
            Window(
                start_m3=float(v0),
                end_m3=float(v1),
                start_head_K=float(heads[start[i]]),
                end_head_K=float(heads[end[i]]),
                purity=float(purity[i]),
                recovery=float(recovery[i]),
                time_s=float(times[end[i]]),
                purity_band=pure_band,
                recovery_band=got_band,
            )
        )
    return tuple(found)


def _unbeaten(
    purity: Floats, recovery: Floats, time: Floats, fit: npt.NDArray[np.bool_]
) -> list[int]:
    """Return indices of a thinned front, purest first, by falling purity and rising recovery."""
    order = [int(i) for i in np.lexsort((time, -recovery, -purity)) if fit[i]]
    front: list[int] = []
    for i in order:
        rival = [j for j in front if recovery[j] >= recovery[i] and time[j] <= time[i]]
        if not rival:
            front.append(i)
    # one for each step of recovery: the purest, so that the table stays short
    best: dict[int, int] = {}
    for i in front:
        best.setdefault(int(recovery[i] * _POINTS), i)
    return sorted(best.values(), key=lambda i: -purity[i])


def _of_members(
    runs: Sequence[Run], begins: Floats, ends: Floats, k: int, weights: Floats
) -> tuple[Floats, Floats]:
    """Return purity, not-a-number where nothing comes over, and recovery of (N, W) windows."""
    volumes = np.concatenate([begins, ends])
    held = np.array([collected(run, volumes) for run in runs])
    held = held.reshape(len(runs), volumes.size, weights.size)
    inside = (held[:, begins.size :] - held[:, : begins.size]) * weights
    whole = inside.sum(axis=2)
    nothing = np.full_like(whole, np.nan)
    purity = np.divide(inside[:, :, k], whole, out=nothing, where=whole > 0.0)
    charged = np.array([run.ledger.charge_mol[k] for run in runs])
    return purity, inside[:, :, k] / (float(weights[k]) * charged[:, None])
