"""What the readings say of each receiver: when, over which range, how much."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.records.readings import Readings
from forerun.sheets.model import Switch

__all__ = ["ObservedCut", "Receivers", "observed_cuts", "received"]

Floats = npt.NDArray[np.float64]

_CHANGED = re.compile(
    r"\b(?:receivers?|fractions?|cuts?|bottles?|switch(?:ed)?)\b\s*(?:no\.?|#)?\s*(\d{1,2})?",
    re.IGNORECASE,
)
_FIRST_DROP = 3e-7, 2.5e-4  # m3 and kg: less cannot be read off a receiver
_COARSE = 0.05  # share of all distillate in one step of the log that makes it a coarse one
_EMPTIED = 0.5  # the amount falls to less than this share of itself: a new receiver was put there
_WORTH = 1e-6, 1e-3  # m3 and kg that must have been there for that


@dataclass(frozen=True, slots=True)
class Receivers:
    """Distillate added up over all receivers, and when they were changed.

    Args:
        volume_m3: (n,) so far [m3]; not-a-number where nothing was read.
        mass_kg: (n,) so far [kg], likewise.
        emptied: (k,) indices of the rows at which the reading began again [-].
    """

    volume_m3: Floats
    mass_kg: Floats
    emptied: npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class ObservedCut:
    """One receiver as the readings tell it.

    Args:
        number: from 1.
        start_s: when it was put in place, for the first one the first drop [s].
        end_s: when it was taken away [s].
        start_head_K: head at its first drop [K]; not-a-number where it was not read.
        end_head_K: head when it was taken away [K].
        low_head_K: lowest head while it was there [K].
        high_head_K: highest head while it was there [K].
        pressure_Pa: mean pressure while it was there [Pa].
        volume_m3: what fell into it by the readings [m3]; not-a-number where it was not read.
        mass_kg: the same as a mass [kg].
        volume_edge_m3: what fell between the readings around a change of receiver, and may be in
            either [m3].
        mass_edge_kg: the same as a mass [kg].
        by: what ended it: ``remark``, ``reading``, ``sheet`` or ``end``.
    """

    number: int
    start_s: float
    end_s: float
    start_head_K: float
    end_head_K: float
    low_head_K: float
    high_head_K: float
    pressure_Pa: float
    volume_m3: float
    mass_kg: float
    by: str
    volume_edge_m3: float = 0.0
    mass_edge_kg: float = 0.0


def received(readings: Readings) -> Receivers:
    """Return the distillate added up over all receivers.

    Args:
        readings: the log.
    """
    volume, first = _added_up(readings.channel("distillate_m3"), _WORTH[0])
    mass, second = _added_up(readings.channel("distillate_kg"), _WORTH[1])
    return Receivers(volume, mass, np.union1d(first, second))


def _added_up(values: Floats, worth: float) -> tuple[Floats, npt.NDArray[np.int64]]:
    out = np.full(values.size, np.nan)
    base, last, emptied = 0.0, 0.0, []
    for k, value in enumerate(values):
        if not math.isfinite(value):
            continue
        if last > worth and value < _EMPTIED * last:
            base += last
            emptied.append(k)
            last = float(value)
        last = max(last, float(value))
        out[k] = base + float(value)
    return out, np.array(emptied, dtype=np.int64)


def observed_cuts(
    readings: Readings, head: Floats, switches: Sequence[Switch], pressure: float
) -> tuple[ObservedCut, ...]:
    """Return the receivers in order.

    Args:
        readings: the log.
        head: (n,) head temperature, smoothed [K].
        switches: of the sheet: taken only where neither remarks nor the amounts tell when the
            receiver was changed.
        pressure: of the sheet, where it was not read [Pa].

    Returns:
        Receivers from the first drop to the last reading; one where nothing tells of a change;
        none when nothing came over.
    """
    amounts = received(readings)
    first = _first_drop(amounts)
    if first is None:
        return ()
    changes, by = _changes(readings, amounts, head, switches, first)
    edges = [first, *[k for k in changes if k > first], len(readings) - 1]
    pressures = readings.channel("pressure_Pa")
    found = []
    for number, (a, b) in enumerate(itertools.pairwise(edges), 1):
        last = number == len(edges) - 1
        between = slice(a, b + 1)
        found.append(
            ObservedCut(
                number=number,
                start_s=float(readings.time_s[a]),
                end_s=float(readings.time_s[b]),
                start_head_K=float(head[a]),
                end_head_K=float(head[b]),
                low_head_K=_least(head[between], np.nanmin),
                high_head_K=_least(head[between], np.nanmax),
                pressure_Pa=_mean(pressures[between], pressure),
                volume_m3=_gained(amounts.volume_m3, a, b, number == 1),
                mass_kg=_gained(amounts.mass_kg, a, b, number == 1),
                by="end" if last else by,
                volume_edge_m3=_edge(amounts.volume_m3, edges, number),
                mass_edge_kg=_edge(amounts.mass_kg, edges, number),
            )
        )
    return tuple(found)


def _first_drop(amounts: Receivers) -> int | None:
    """Return the first reading that shows liquid and is borne out by those after it."""
    found = []
    for values, least in zip((amounts.volume_m3, amounts.mass_kg), _FIRST_DROP, strict=True):
        read = np.flatnonzero(np.isfinite(values))
        for k in range(read.size):
            ahead = values[read[k : k + 3]]
            if values[read[k]] > least and np.all(ahead > least) and _goes_on(values, read, k):
                found.append(int(read[k]))
                break
    if not found:
        return None
    first = min(found)
    return first - 1 if first > 0 and _much_at_once(amounts, first) else first


def _much_at_once(amounts: Receivers, first: int) -> bool:
    """Return whether so much stands in the first reading that it began with the one before."""
    for values in (amounts.volume_m3, amounts.mass_kg):
        if np.isfinite(values[first]):
            return bool(values[first] > _COARSE * np.nanmax(values))
    return False


def _goes_on(values: Floats, read: npt.NDArray[np.int64], k: int) -> bool:
    """Return whether more comes after this reading, or it is the last but a few."""
    later = values[read[k + 3 : k + 12]]
    return later.size == 0 or float(np.median(later)) > float(values[read[k]])


def _changes(
    readings: Readings,
    amounts: Receivers,
    head: Floats,
    switches: Sequence[Switch],
    first: int,
) -> tuple[list[int], str]:
    told = _by_remarks(readings, first)
    if told:
        return told, "remark"
    if amounts.emptied.size:
        return [int(k) for k in amounts.emptied], "reading"
    return _by_sheet(readings, amounts, head, switches, first), "sheet"


def _by_remarks(readings: Readings, first: int) -> list[int]:
    rows, last = [], 1
    for k, row in enumerate(readings.rows):
        match = _CHANGED.search(row.remark)
        if match is None or k <= first:
            continue
        number = int(match.group(1)) if match.group(1) else last + 1
        if number > last:
            rows.append(k)
            last = number
    return rows


def _by_sheet(
    readings: Readings,
    amounts: Receivers,
    head: Floats,
    switches: Sequence[Switch],
    first: int,
) -> list[int]:
    rows: list[int] = []
    at = first
    for switch in switches:
        values = {"head": head, "volume": amounts.volume_m3, "time": readings.time_s}[switch.kind]
        reached = np.flatnonzero(np.nan_to_num(values[at:], nan=-math.inf) >= switch.value)
        if reached.size == 0:
            break
        at += int(reached[0])
        rows.append(at)
    return rows


def _gained(values: Floats, a: int, b: int, from_nothing: bool) -> float:
    seen = np.flatnonzero(np.isfinite(values))
    upto = seen[seen <= b]
    before = seen[seen <= a]
    if upto.size == 0:
        return math.nan
    start = 0.0 if from_nothing or before.size == 0 else float(values[before[-1]])
    return float(values[upto[-1]]) - start


def _edge(values: Floats, edges: Sequence[int], number: int) -> float:
    """Return what came between a change of receiver and the reading before, both ends together."""
    inner = [edges[k] for k in (number - 1, number) if 0 < k < len(edges) - 1]
    gaps = [_gained(values, max(k - 1, 0), k, False) for k in inner]
    return math.hypot(*[gap for gap in gaps if math.isfinite(gap)])


def _least(values: Floats, pick: Callable[[Floats], float]) -> float:
    return float(pick(values)) if np.isfinite(values).any() else math.nan


def _mean(values: Floats, otherwise: float) -> float:
    return float(np.nanmean(values)) if np.isfinite(values).any() else otherwise
