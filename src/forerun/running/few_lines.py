"""The lines of a member's trace that straight lines between them need.

A still notes a line every ten seconds; a server keeps the traces of all members of every run that
goes on.  Of a smooth curve straight lines far apart tell as much: those lines go first that lie
nearest the straight line between their neighbours, until so few are left that what is kept of a run
no longer grows with its length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from forerun.still.results import Run, Trace

__all__ = ["FEW_LINES", "few_lines", "with_few_lines"]

Floats = npt.NDArray[np.float64]

FEW_LINES = 300
"""Lines that are kept of a trace at most [-]."""

_AT_ONCE = 0.7  # of every second line, given up in one pass: fewer choose better and take longer
_STRAIGHT = 0.05  # of what is equally bad: lines as straight as that go at once
_HEAD_K, _POT_K, _BATH_K = 0.02, 0.1, 0.1  # K, equally bad; judgements, as all of these
_VOLUME_M3 = 0.02e-6  # m3, likewise
_SHARE = 0.01  # mole fraction, and of the column's largest load, likewise


def with_few_lines(runs: Sequence[Run]) -> tuple[Run, ...]:
    """Return the same runs with few lines each.

    Args:
        runs: from the still, or from here: these stay as they are.
    """
    return tuple(
        replace(run, trace=few_lines(run.trace)) if run.trace.time_s.size > FEW_LINES else run
        for run in runs
    )


def few_lines(trace: Trace, most: int = FEW_LINES) -> Trace:
    """Return a trace with the lines that straight lines between them need most.

    Args:
        trace: of a run.
        most: lines that are kept, >= 3; the first and the last are always among them.

    Returns:
        Lines of the trace as they were, all columns in one block of memory.  Pressures and rates,
        which nothing reads of a member of a running still, are not kept.

    Not a published model: bookkeeping.
    """
    lines = _needed(trace, most)
    single = [
        trace.time_s,
        trace.head_temperature_K,
        trace.pot_temperature_K,
        trace.bath_temperature_K,
        trace.distillate_volume_m3,
    ]
    single += [trace.load] if trace.load.size else []
    tables = [trace.distillate_mole_fraction, trace.pot_mole_fraction]
    tables += [trace.received_mol] if trace.received_mol.size else []
    block = np.vstack([*single, *(table.T for table in tables)]).take(lines, axis=1)
    first, width = len(single), len(trace.names)
    kept = [block[k : k + width].T for k in range(first, block.shape[0], width)]
    none = np.zeros(0)
    return Trace(
        names=trace.names,
        time_s=block[0],
        head_temperature_K=block[1],
        pot_temperature_K=block[2],
        bath_temperature_K=block[3],
        pressure_Pa=none,
        distillate_volume_m3=block[4],
        distillate_mole_fraction=kept[0],
        pot_mole_fraction=kept[1],
        boilup_rate_mol_s=none,
        distillate_rate_mol_s=none,
        load=block[5] if trace.load.size else none,
        received_mol=kept[2] if trace.received_mol.size else trace.received_mol,
    )


def _needed(trace: Trace, most: int) -> npt.NDArray[np.int64]:
    """Return (m,) numbers of the lines that are kept, rising."""
    lines = np.arange(trace.time_s.size)
    times, values = trace.time_s, _weighed(trace)
    while lines.size > most:
        before, after = values[:, :-2:2], values[:, 2::2]
        start = times[:-2:2]
        share = (times[1:-1:2] - start) / np.maximum(times[2::2] - start, 1e-9)
        away = after - before
        away *= share
        away += before
        away -= values[:, 1:-1:2]
        bend = np.abs(away, out=away).max(axis=0)
        straight = int(np.count_nonzero(bend < _STRAIGHT))
        drop = min(lines.size - most, max(int(_AT_ONCE * bend.size), straight, 1))
        stays = np.ones(lines.size, dtype=np.bool_)
        stays[2 * np.argpartition(bend, drop - 1)[:drop] + 1] = False
        kept = np.flatnonzero(stays)
        lines, times, values = lines[kept], times[kept], values.take(kept, axis=1)
    return lines


def _weighed(trace: Trace) -> Floats:
    """Return (k, n) columns by which lines are chosen, over what is equally bad of each [-].

    The last component follows from the others, and what was received from volume and composition.
    """
    others = len(trace.names) - 1
    loaded = bool(trace.load.size and trace.load.any())
    values = np.zeros((4 + 2 * others + loaded, trace.time_s.size))
    np.divide(trace.head_temperature_K, _HEAD_K, out=values[0])
    np.divide(trace.distillate_volume_m3, _VOLUME_M3, out=values[1])
    np.divide(trace.pot_temperature_K, _POT_K, out=values[2])
    np.divide(trace.bath_temperature_K, _BATH_K, out=values[3])
    values[4 : 4 + others] = trace.pot_mole_fraction[:, :others].T / _SHARE
    dripping = values[4 + others : 4 + 2 * others]
    dripping[:] = trace.distillate_mole_fraction[:, :others].T / _SHARE
    dripping[np.isnan(dripping)] = 0.0
    if loaded:
        np.divide(trace.load, _SHARE, out=values[-1])
    return values
