"""Readings in, estimate out: the belief about a running still and what follows from it.

One `Estimator` belongs to one run.  What it keeps between two calls only saves time: a new one
that is given all readings comes to the same belief within a few passes more.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.forecast.drawing import Prior, prior_of
from forerun.forecast.observing import Observed, observed_until
from forerun.forecast.observing import Readings as Seen
from forerun.forecast.posterior import learned_from
from forerun.forecast.quantiles import quantiles_of_members
from forerun.forecast.updating import Belief, first_belief, updated
from forerun.records.readings import Readings
from forerun.reviewing.observed import received
from forerun.running.checks import check_readings
from forerun.running.driving import as_driven, outlasting, same_drive
from forerun.running.estimate import Course, Estimate, NextSwitch, Portion, Span
from forerun.running.few_lines import with_few_lines
from forerun.running.members import Members, members_of
from forerun.running.saying import said_of
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.inputs import StillInput
from forerun.still.run import run_still

__all__ = ["Drops", "Estimator"]

Floats = npt.NDArray[np.float64]

_FEWEST = 3
_POINTS = 180
_MARGIN = 300.0  # s that courses are told beyond what ends them
_DROPS_DOUBT = 0.15  # relative, of a volume told by counting drops: a judgement
_SCALE_DOUBT = 0.03  # relative, of a volume told by a balance and the density of the charge
_LEAST_DOUBT = 0.5e-6  # m3
_CLOSE = (2e-6, 120.0)  # m3 and s: what counts as close to the switch
_DRY_SHARE = 0.5  # of the members that must reach a thing for a band of it to be told


@dataclass(frozen=True, slots=True)
class Drops:
    """Drops counted.

    Args:
        time_s: at the end of the count [s].
        count: how many [-].
        over_s: during so long [s].
    """

    time_s: float
    count: float
    over_s: float


class Estimator:
    """Follows one run.

    Args:
        sheet: of the run, or what `forerun.still.from_sheet.prepare` made of it.
        members: of the ensemble, 8 to 1,024.
        seed: makes it reproducible.
        threads: how many runs at a time; None for one on each processor.
        rounds: passes of runs in one call at most; the next call goes on from there.

    Raises:
        BadInput: members out of range.
        CalculationFailed: the sheet's own run did not finish.
    """

    def __init__(
        self,
        sheet: RunSheet | Prepared,
        members: int = 64,
        seed: int = 1,
        threads: int | None = None,
        rounds: int = 4,
    ) -> None:
        self._rounds = rounds
        self._prepared = sheet if isinstance(sheet, Prepared) else prepare(sheet)
        longer = outlasting(self._prepared.still)
        self._prior = prior_of(replace(self._prepared, still=longer))
        self._members, self._seed, self._threads = members, seed, threads
        self._planned = run_still(longer).trace
        self._first = _kept(first_belief(self._prior, members, seed, threads))
        self._belief = self._first
        self._told_by: Members | None = None
        self._driven: StillInput | None = None

    @property
    def members(self) -> Members:
        """What each member said in the last call.

        Raises:
            BadInput: nothing was asked yet.
        """
        if self._told_by is None:
            raise BadInput("members", "none", "an estimate first")
        return self._told_by

    def uncorrected(self, now_s: float, receiver: int = 1, changed_s: float = 0.0) -> Floats:
        """Return (N,) when the receiver is to be changed by the forecast before the run [s].

        Args:
            now_s: since the start of the run [s].
            receiver: number of the one in place, from 1.
            changed_s: when it was put there [s].
        """
        runs = self._first.runs
        return members_of(runs, None, now_s, receiver, changed_s, self._prepared).switch_s

    @property
    def belief(self) -> Belief:
        """What is believed since the last call."""
        return self._belief

    @property
    def prior(self) -> Prior:
        """What was not known before the run."""
        return self._prior

    def estimate(
        self,
        readings: Readings,
        now_s: float,
        *,
        receiver: int = 1,
        changed_s: float = 0.0,
        drops: Sequence[Drops] = (),
        drops_per_m3: float | None = None,
    ) -> Estimate:
        """Return what readings say by now.

        Args:
            readings: all so far, as they were stored.
            now_s: since the start of the run [s].
            receiver: number of the one in place, from 1.
            changed_s: when it was put there [s].
            drops: counts of drops, where somebody counted.
            drops_per_m3: of this tip and liquid [1/m3]; None where nobody said.

        Raises:
            CalculationFailed: hardly a member finished.
        """
        started = time.perf_counter()
        checked = check_readings(readings)
        seen = _seen(checked.readings, self._prepared, drops, drops_per_m3)
        longer = outlasting(self._prepared.still, now_s)
        driven = as_driven(longer, checked.readings, now_s, self._planned)
        prior = replace(self._prior, prepared=replace(self._prepared, still=driven))
        observed = _observed(seen, now_s)
        if observed is None:
            belief = self._waiting(prior, driven is not longer)
        else:
            belief = updated(
                self._belief,
                prior,
                observed,
                members=self._members,
                seed=self._seed,
                threads=self._threads,
                rounds=self._rounds,
                keep=self._driven is not None and same_drive(self._driven, driven, now_s),
            )
            if belief.rounds:
                self._driven, belief = driven, _kept(belief)
            self._belief = belief
        members = members_of(
            belief.runs, seen, now_s, receiver, changed_s, self._prepared, belief.misfit
        )
        self._told_by = members
        return self._told(
            belief, members, observed, checked.told(), time.perf_counter() - started, drops_per_m3
        )

    def _waiting(self, prior: Prior, driven: bool) -> Belief:
        """Return the forecast before any reading that teaches something."""
        if not driven:
            return self._first
        return _kept(first_belief(prior, self._members, self._seed, self._threads))

    def _told(
        self,
        belief: Belief,
        members: Members,
        observed: Observed | None,
        doubts: tuple[str, ...],
        took_s: float,
        drops_per_m3: float | None,
    ) -> Estimate:
        names = self._prepared.sheet.names
        switch = _next_switch(members, names, drops_per_m3)
        first = members.first_drop_s
        learned = [entry for entry in learned_from(self._prior, belief.z) if entry.learned]
        narrowed = self._narrowed(members, switch)
        state, says = said_of(observed is not None, belief.misfit, narrowed)
        grid = np.linspace(0.0, _shown_until(members), _POINTS)
        return Estimate(
            now_s=members.now_s,
            readings=0 if observed is None else int(observed.time_s.size),
            took_s=took_s,
            state=state,
            says=says,
            time_s=grid,
            head_K=_course(members.heads_at(grid)),
            distillate_m3=_course(members.volumes_at(grid)),
            first_drop_s=_span_of(first) if np.isfinite(first).mean() >= _DRY_SHARE else None,
            next_switch=switch,
            dripping=_fractions(members.dripping, names),
            receiver=(
                members.receiver,
                Portion(_span_of(members.held_m3), _fractions(members.held, names)),
            ),
            pot=Portion(_span_of(members.residue_m3), _fractions(members.pot, names)),
            residue_m3=_must(_span_of(members.residue_m3)),
            end_s=_must(_span_of(members.end_s)),
            rate_m3_s=_must(_span_of(members.rate_m3_s)),
            load=_span_of(members.load),
            misfit=belief.misfit,
            learned=tuple(entry.says for entry in learned),
            warnings=doubts,
        )

    def _narrowed(self, members: Members, switch: NextSwitch | None) -> float:
        """Return the width of the time to the next event over that of the first forecast [-]."""
        before = members_of(
            self._first.runs, None, members.now_s, members.receiver, 0.0, self._prepared
        )
        mine, theirs = (m.switch_s if switch is not None else m.end_s for m in (members, before))
        widths = [
            float(np.subtract(*np.quantile(t[np.isfinite(t)], (0.9, 0.1))))
            if np.isfinite(t).sum() > 1
            else np.nan
            for t in (mine, theirs)
        ]
        return widths[0] / widths[1] if widths[1] > 0.0 else np.nan


def _kept(belief: Belief) -> Belief:
    """Return a belief as it is kept until the next readings."""
    return replace(belief, runs=with_few_lines(belief.runs))


def _seen(
    readings: Readings,
    prepared: Prepared,
    drops: Sequence[Drops],
    drops_per_m3: float | None,
) -> Seen | None:
    """Return a log as the forecast reads it; None where it is empty."""
    head, pot = readings.channel("head_K"), readings.channel("pot_K")
    times = readings.time_s
    volume, doubt = _volume(readings, prepared)
    if not np.isfinite(volume).any() and drops and drops_per_m3:
        at, counted = _counted(drops, drops_per_m3)
        times = np.concatenate([times, at])
        order = np.argsort(times, kind="stable")
        unread = np.full(at.size, np.nan)
        head, pot, volume = (
            np.concatenate(parts)[order]
            for parts in ((head, unread), (pot, unread), (volume, counted))
        )
        times = times[order]
        doubt = max(_LEAST_DOUBT, _DROPS_DOUBT * float(counted[-1]))
    if times.size == 0:
        return None
    return Seen(times, head, volume, noise_m3=doubt, pot_temperature_K=pot)


def _volume(readings: Readings, prepared: Prepared) -> tuple[Floats, float]:
    """Return the distillate along a log and its standard deviation [m3]."""
    amounts = received(readings)
    if np.isfinite(amounts.volume_m3).any():
        return amounts.volume_m3, _LEAST_DOUBT
    portions = prepared.sheet.charge
    density = sum(p.mass_kg for p in portions) / sum(p.volume_m3 for p in portions)
    volume = amounts.mass_kg / density
    known = volume[np.isfinite(volume)]
    most = float(known.max()) if known.size else 0.0
    return volume, max(_LEAST_DOUBT, _SCALE_DOUBT * most)


def _counted(drops: Sequence[Drops], drops_per_m3: float) -> tuple[Floats, Floats]:
    """Return times and volume so far: each count gives a rate that holds half-way to the next."""
    ordered = sorted(drops, key=lambda d: d.time_s)
    times = np.array([d.time_s for d in ordered])
    rates = np.array([d.count / max(d.over_s, 1.0) for d in ordered]) / drops_per_m3
    first = rates[0] * ordered[0].over_s
    between = 0.5 * (rates[1:] + rates[:-1]) * np.diff(times)
    return times, first + np.concatenate([[0.0], np.cumsum(between)])


def _observed(seen: Seen | None, now_s: float) -> Observed | None:
    """Return the readings in blocks, None where they are too few to teach anything."""
    if seen is None:
        return None
    kinds = (seen.head_temperature_K, seen.distillate_volume_m3, seen.pot_temperature_K)
    use = (seen.time_s >= 0.0) & (seen.time_s <= now_s)
    read = sum(int(np.isfinite(kind[use]).sum()) for kind in kinds if kind is not None)
    return observed_until(seen, now_s, heads_needed=False) if read >= _FEWEST else None


def _next_switch(
    members: Members, names: Sequence[str], drops_per_m3: float | None
) -> NextSwitch | None:
    reached = np.isfinite(members.switch_s)
    if not members.has_switch:
        return None
    ahead = members.switch_s[reached] - members.now_s
    volumes = members.switch_m3[reached]
    close = (np.abs(ahead) <= _CLOSE[1]) | (np.abs(volumes) <= _CLOSE[0])
    volume = _span_of(volumes)
    return NextSwitch(
        receiver=members.receiver,
        probability=float(reached.mean()),
        due=float(np.sum(ahead <= 0.0) / reached.size),
        time_s=_span_of(ahead),
        volume_m3=volume,
        drops=None if volume is None or not drops_per_m3 else _times(volume, drops_per_m3),
        within=float(np.sum(close) / reached.size),
        mole_fraction=_fractions(members.at_switch, names),
        creep_s=_middle(members.creep_s),
    )


def _middle(values: Floats) -> float | None:
    span = _span_of(values)
    return None if span is None else span.middle


def _shown_until(members: Members) -> float:
    """Return how far the courses are told: to the end, or past it where the switch is later [s]."""
    due = members.switch_s[np.isfinite(members.switch_s)]
    latest = float(np.quantile(due, 0.9)) if due.size else 0.0
    shown = max(float(np.quantile(members.end_s, 0.9)), latest, members.now_s) + _MARGIN
    return min(shown, float(np.quantile([run.trace.time_s[-1] for run in members.runs], 0.9)))


def _times(span: Span, factor: float) -> Span:
    return Span(span.low * factor, span.middle * factor, span.high * factor)


def _span_of(values: Floats) -> Span | None:
    known = values[np.isfinite(values)]
    if known.size == 0:
        return None
    low, middle, high = (float(q) for q in np.quantile(known, (0.1, 0.5, 0.9)))
    return Span(low, middle, high)


def _must(span: Span | None) -> Span:
    return Span(float("nan"), float("nan"), float("nan")) if span is None else span


def _fractions(values: Floats, names: Sequence[str]) -> dict[str, Span]:
    spans = {name: _span_of(values[:, k]) for k, name in enumerate(names)}
    return {name: span for name, span in spans.items() if span is not None}


def _course(values: Floats) -> Course:
    """Return the fan of (N, n) values, where at least half of the members are still there."""
    enough = np.isfinite(values).mean(axis=0) >= _DRY_SHARE
    quantiles = np.full((3, values.shape[1]), np.nan)
    quantiles[:, enough] = quantiles_of_members(values[:, enough], (0.1, 0.5, 0.9))
    return Course(*quantiles)
