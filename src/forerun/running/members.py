"""What each member of a belief says of now and of the next change of the receiver.

A member meets the latest readings within its errors, not exactly.  What it misses them by now it
goes on missing for a while: its head is shifted by that, less and less, its distillate throughout.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.forecast.observing import Readings as Seen
from forerun.still.from_sheet import Prepared
from forerun.still.inputs import Switch
from forerun.still.results import Run

__all__ = ["CREEP_K", "Members", "members_of"]

Floats = npt.NDArray[np.float64]

CREEP_K = 0.2
"""By which a thermometer may read wrong without anybody noticing, a judgement [K]."""

_LOOK_BACK = 120.0  # s over which the present miss is taken
_FADES = 900.0  # s in which a miss of the head falls to 1/e: a judgement
_MOST_BELOW_K = 6.0  # a head that is colder yet has not met the member's vapour: a judgement
# how wide: found on simulated benches, seeds from 4000; docs/explain/live.md
_DOUBT_K = 0.08  # of a thermometer at this moment, its drift and its steps
_LEFT_OUT_K = 0.15  # of the head once the present miss has faded: what no member describes
_CLIMB = 0.10  # share of a head's climb from now on by which it is foreseen wrongly
_WARM_S = 300.0  # after the first drop, until which a climb is but the head getting warm
_DOUBT_S = 10.0  # of when a reading shows it: a thermometer's lag, the time between readings
_DOUBT_M3 = 0.25e-6  # m3, of reading a receiver's marks
_WANDER_K = 1.5  # of a bath from now on, which changes the pace as it changes what drives the heat
_WANDER_S = 1800.0  # in which a bath forgets how it wandered, so that a long wait averages over it
_KEPT_PACE = 0.04  # share of any wait by which the pace is foreseen wrongly to its end
_LEAST_DRIVE_K, _MOST_PACE = 5.0, 0.3  # K between bath and pot, and the widest doubt: judgements
_FINE = 5.0  # s between the points that are looked at
_ENOUGH_TURNS = 4  # each leaves a seventh of the error, at most


@dataclass(frozen=True, slots=True)
class _Head:
    miss: float  # K, the latest readings less the member's
    score: float  # standard deviations from the middle of what is not known of it
    left_out: float  # K, what no member describes


class _Due(NamedTuple):
    when_s: float = float("nan")  # since the start of the run
    ahead_m3: float = float("nan")  # distillate from now until then
    creep_s: float = float("nan")  # later by so much with the mark of the head `CREEP_K` higher


@dataclass(frozen=True, slots=True)
class Members:
    """N members beside each other; not-a-number where a member has no such thing.

    Args:
        now_s: since the start of the run [s].
        receiver: number of the one in place.
        has_switch: whether the sheet changes it.
        runs: the members.
        head_miss: (N,) latest readings of the head less the member's [K].
        volume_miss: (N,) latest reading of the distillate less the member's [m3].
        pace: (N,) natural logarithm of the factor on a short time from now on, for what nobody can
            foresee of it; on a long one it is less [-].
        kept: (N,) the same of what lasts however long the time is [-].
        first_drop_s: (N,) [s].
        switch_s: (N,) when the receiver is to be changed; may have passed [s].
        switch_m3: (N,) distillate from now until then [m3].
        creep_s: (N,) how much later it would be with the mark of the head `CREEP_K` higher [s].
        at_switch: (N, C) in the receiver by then [-].
        end_s: (N,) of the run, at the latest when the sheet's time is over [s].
        dripping: (N, C) what comes over now [-].
        held: (N, C) in the receiver now [-].
        held_m3: (N,) [m3].
        pot: (N, C) [-].
        residue_m3: (N,) liquid left in the pot [m3].
        rate_m3_s: (N,) what drips now [m3/s].
        load: (N,) of the column now [-].
    """

    now_s: float
    receiver: int
    has_switch: bool
    runs: tuple[Run, ...]
    head_miss: Floats
    volume_miss: Floats
    pace: Floats
    kept: Floats
    first_drop_s: Floats
    switch_s: Floats
    switch_m3: Floats
    creep_s: Floats
    at_switch: Floats
    end_s: Floats
    dripping: Floats
    held: Floats
    held_m3: Floats
    pot: Floats
    residue_m3: Floats
    rate_m3_s: Floats
    load: Floats

    def heads_at(self, times: Floats) -> Floats:
        """Return (N, n) head temperatures [K], shifted after now by what is missed now."""
        fading = np.exp(-np.maximum(times - self.now_s, 0.0) / _FADES) * (times >= self.now_s)
        rows = [
            _along(run, run.trace.head_temperature_K, own) + miss * fading
            for run, miss, own in zip(self.runs, self.head_miss, self._own(times), strict=True)
        ]
        return np.array(rows)

    def volumes_at(self, times: Floats) -> Floats:
        """Return (N, n) distillate so far [m3], shifted after now by what is missed now."""
        later = times >= self.now_s
        rows = [
            _along(run, run.trace.distillate_volume_m3, own) + miss * later
            for run, miss, own in zip(self.runs, self.volume_miss, self._own(times), strict=True)
        ]
        return np.array(rows)

    def _own(self, times: Floats) -> Floats:
        """Return (N, n) times of the members' own runs, which `_stretched` turns into these."""
        ahead = times - self.now_s
        own = np.repeat(ahead[np.newaxis], self.pace.size, axis=0)
        for _ in range(_ENOUGH_TURNS):
            own = ahead / _stretch(own, self.pace[:, np.newaxis], self.kept[:, np.newaxis])
        return self.now_s + np.where(ahead > 0.0, own, ahead)


def members_of(
    runs: Sequence[Run],
    seen: Seen | None,
    now_s: float,
    receiver: int,
    changed_s: float,
    prepared: Prepared,
    misfit: float = 0.0,
) -> Members:
    """Return what each member says.

    Args:
        runs: the members.
        seen: what was read; None for nothing.
        now_s: since the start of the run [s].
        receiver: number of the one in place, from 1.
        changed_s: when it was put there [s].
        prepared: the sheet made ready; the members may outlast its time.
        misfit: of readings and members: what no member describes is the larger, the worse they
            meet the readings [-].
    """
    switches = prepared.still.switches
    switch = switches[receiver - 1] if receiver <= len(switches) else None
    head_miss = np.array([_head_miss(run, seen, now_s) for run in runs])
    volume_miss = np.array([_volume_miss(run, seen, now_s) for run in runs])
    doubt = _scores(len(runs))
    left_out = _LEFT_OUT_K * max(1.0, misfit)
    due = [
        _due(run, switch, changed_s, now_s, _Head(miss, d, left_out), over + _DOUBT_M3 * d)
        for run, miss, over, d in zip(runs, head_miss, volume_miss, doubt, strict=True)
    ]
    own_switch_s = np.array([one.when_s for one in due])
    by_clock = switch is not None and switch.time_s is not None
    pace = np.array([_pace_doubt(run, now_s) for run in runs]) * _scores(len(runs), 1)
    kept = _KEPT_PACE * _scores(len(runs), 3)
    volume = np.array([_at(run, run.trace.distillate_volume_m3, now_s) for run in runs])
    received_now = np.array([_received(run, changed_s, now_s) for run in runs])
    received_then = np.array(
        [_received(run, changed_s, t) for run, t in zip(runs, own_switch_s, strict=True)]
    )
    since = np.array([_at(run, run.trace.distillate_volume_m3, changed_s) for run in runs])
    return Members(
        now_s=now_s,
        receiver=receiver,
        has_switch=switch is not None,
        runs=tuple(runs),
        head_miss=head_miss,
        volume_miss=volume_miss,
        pace=pace,
        kept=kept,
        first_drop_s=_stretched([r.first_drop_s for r in runs], now_s, pace, kept),
        switch_s=own_switch_s if by_clock else _shown(_stretched(own_switch_s, now_s, pace, kept)),
        switch_m3=np.array([one.ahead_m3 for one in due]),
        creep_s=np.array([one.creep_s for one in due]),
        at_switch=_shares(received_then),
        end_s=np.minimum(
            _stretched([float(run.trace.time_s[-1]) for run in runs], now_s, pace, kept),
            prepared.still.stop.time_s,
        ),
        dripping=np.array([_row(run, run.trace.distillate_mole_fraction, now_s) for run in runs]),
        held=_shares(received_now),
        held_m3=np.maximum(volume - since, 0.0),
        pot=np.array([_row(run, run.trace.pot_mole_fraction, now_s) for run in runs]),
        residue_m3=np.array(
            [_residue(run, now_s, over) for run, over in zip(runs, volume_miss, strict=True)]
        ),
        rate_m3_s=np.array([_rate(run, now_s) for run in runs]),
        load=np.array([_load(run, now_s) for run in runs]),
    )


def _pace_doubt(run: Run, now_s: float) -> float:
    """Return the relative doubt of how fast a member goes on for a short time [-]."""
    trace = run.trace
    drive = _at(run, trace.bath_temperature_K - trace.pot_temperature_K, now_s)
    return min(_WANDER_K / max(drive, _LEAST_DRIVE_K), _MOST_PACE)


def _scores(count: int, which: int = 0) -> Floats:
    """Return standard normal deviates, one for each member, the same each time."""
    even = [NormalDist().inv_cdf((k + 0.5) / count) for k in range(count)]
    return np.random.default_rng(which).permutation(np.array(even))


def _stretched(times: Iterable[float | None], now_s: float, pace: Floats, kept: Floats) -> Floats:
    """Return (N,) times, those to come at each member's own pace; not-a-number for none."""
    known = np.array([np.nan if time is None else time for time in times], dtype=np.float64)
    ahead = known - now_s
    return np.where(ahead > 0.0, now_s + ahead * _stretch(ahead, pace, kept), known)


def _stretch(ahead_s: Floats, pace: Floats, kept: Floats) -> Floats:
    """Return the factor on times ahead [-]."""
    return np.asarray(np.exp(pace * _lasting(ahead_s) + kept), dtype=np.float64)


def _lasting(ahead_s: Floats) -> Floats:
    """Return what is left of a bath's wandering in its mean over a time ahead [-].

    Derivation: deviations whose correlation falls as exp(-t/tau) have, averaged over T, the
    variance 2 (tau/T) (1 - (tau/T) (1 - exp(-T/tau))): 1 for a short time, 2 tau/T for a long one.
    """
    x = np.maximum(ahead_s, 1.0) / _WANDER_S
    return np.asarray(np.sqrt(2.0 / x * (1.0 + np.expm1(-x) / x)), dtype=np.float64)


def _shown(times: Floats) -> Floats:
    """Return (N,) times with what is not known of when a reading shows them.

    A moment that has just passed is no better known than one about to come: doubt of the latter
    only would have a switch called too soon.
    """
    return times + _DOUBT_S * _scores(times.size, 2)


def _along(run: Run, values: Floats, times: Floats) -> Floats:
    return np.interp(times, run.trace.time_s, values, right=np.nan)


def _at(run: Run, values: Floats, time: float) -> float:
    return float(np.interp(time, run.trace.time_s, values))


def _row(run: Run, table: Floats, time: float) -> Floats:
    """Return (C,) a composition; between a line that has none and the next, none."""
    times = run.trace.time_s
    after = min(max(int(np.searchsorted(times, time, side="right")), 1), times.size - 1)
    span = float(times[after] - times[after - 1])
    share = min(max((time - float(times[after - 1])) / span, 0.0), 1.0) if span > 0.0 else 1.0
    if share >= 1.0:
        return np.asarray(table[after])
    return np.asarray(table[after - 1] + share * (table[after] - table[after - 1]))


def _latest(seen: Seen | None, values: Floats | None, now_s: float) -> tuple[Floats, Floats]:
    """Return times and values read shortly before now."""
    none = np.zeros(0)
    if seen is None or values is None:
        return none, none
    use = (seen.time_s > now_s - _LOOK_BACK) & (seen.time_s <= now_s) & np.isfinite(values)
    return seen.time_s[use], values[use]


def _head_miss(run: Run, seen: Seen | None, now_s: float) -> float:
    times, values = _latest(seen, None if seen is None else seen.head_temperature_K, now_s)
    if times.size == 0:
        return 0.0
    away = values - np.interp(times, run.trace.time_s, run.trace.head_temperature_K)
    weight = np.exp((times - now_s) / (0.25 * _LOOK_BACK))
    return max(float(np.sum(weight * away) / np.sum(weight)), -_MOST_BELOW_K)


def _volume_miss(run: Run, seen: Seen | None, now_s: float) -> float:
    times, values = _latest(seen, None if seen is None else seen.distillate_volume_m3, now_s)
    if times.size == 0:
        return 0.0
    over = np.interp(times, run.trace.time_s, run.trace.distillate_volume_m3)
    return float(np.mean(values - over))


def _due(
    run: Run,
    switch: Switch | None,
    changed_s: float,
    now_s: float,
    head: _Head,
    volume_miss: float,
) -> _Due:
    """Return when a member meets the condition of a switch, and what drips until then."""
    if switch is None or run.first_drop_s is None:
        return _Due()
    end = float(run.trace.time_s[-1])
    start = max(changed_s, min(run.first_drop_s, now_s))
    if end <= start:
        return _Due()
    times = np.append(np.arange(start, end, _FINE), end)
    volumes = np.interp(times, run.trace.time_s, run.trace.distillate_volume_m3)
    creep = float("nan")
    if switch.time_s is not None:
        when = switch.time_s if switch.time_s <= end else float("nan")
    elif switch.volume_m3 is not None:
        when = _first(times, volumes + volume_miss, switch.volume_m3)
    else:
        heads = np.interp(times, run.trace.time_s, run.trace.head_temperature_K)
        fading = np.exp(-np.abs(times - now_s) / _FADES)
        steady = max(now_s, run.first_drop_s + _WARM_S)
        doubt = _head_doubt(heads, times, steady, fading, head.left_out)
        shifted = heads + head.miss * fading + head.score * doubt
        mark = switch.head_temperature_K or 0.0
        when, later = (_first(times, shifted, level) for level in (mark, mark + CREEP_K))
        creep = (later if np.isfinite(later) else end) - when
    if not np.isfinite(when):
        return _Due()
    along = np.interp([now_s, when], times, volumes)
    return _Due(when, float(along[1] - along[0]), creep)


def _head_doubt(
    heads: Floats, times: Floats, steady_s: float, fading: Floats, left_out: float
) -> Floats:
    """Return (n,) what is not known of a member's head [K], one standard deviation."""
    climb = np.maximum(heads - np.interp(steady_s, times, heads), 0.0) * (times > steady_s)
    return np.sqrt(
        (_DOUBT_K * fading) ** 2 + left_out**2 * (1.0 - fading**2) + (_CLIMB * climb) ** 2
    )


def _first(times: Floats, values: Floats, level: float) -> float:
    """Return when a curve first reaches a level."""
    over = np.flatnonzero(values >= level)
    if over.size == 0:
        return float("nan")
    k = int(over[0])
    if k == 0:
        return float(times[0])
    share = (level - values[k - 1]) / max(values[k] - values[k - 1], 1e-12)
    return float(times[k - 1] + share * (times[k] - times[k - 1]))


def _received(run: Run, start: float, end: float) -> Floats:
    """Return (C,) what fell into a receiver between two times [mol]."""
    table = run.trace.received_mol
    if not np.isfinite(end):
        return np.full(len(run.trace.names), np.nan)
    return np.array([_at(run, column, end) - _at(run, column, start) for column in table.T])


def _shares(amounts: Floats) -> Floats:
    total = amounts.sum(axis=1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(total > 1e-9, amounts / total, np.nan)


def _residue(run: Run, time: float, volume_miss: float) -> float:
    """Return the liquid in the pot: what the run ends with and what still leaves it."""
    trace = run.trace
    to_come = float(trace.distillate_volume_m3[-1]) - _at(run, trace.distillate_volume_m3, time)
    return max(run.residue.volume_m3 + to_come - volume_miss, 0.0)


def _rate(run: Run, time: float) -> float:
    half = 0.5 * _LOOK_BACK
    start, end = max(time - half, 0.0), time + half
    along = np.interp([start, end], run.trace.time_s, run.trace.distillate_volume_m3)
    return float(along[1] - along[0]) / (end - start)


def _load(run: Run, time: float) -> float:
    load = run.trace.load
    if load.size == 0 or not np.any(load > 0.0):
        return float("nan")
    return _at(run, load, time)
