"""What a sheet may truly lead to: where all goes well, and where its column parts nothing.

Both are simulated with what the sheet leaves open, so that a log is held against every run that
it may be, not against the one that the sheet names.  Thermometer and pressure are left as stated:
whether they are wrong is what a log is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.forecast.drawing import Prior, as_member, draw_member, normal_points, prior_of
from forerun.forecast.ensemble import run_ensemble
from forerun.still.from_sheet import Prepared
from forerun.still.inputs import StillInput
from forerun.still.results import Run, Trace

__all__ = ["Course", "Courses", "course_of", "courses_of"]

Floats = npt.NDArray[np.float64]

_MEMBERS = 24
_UNPARTED = 8
_SEED = 7
_LEAST_PLATES = 2  # fewer part so little that their loss does not show
_ASKED_OF_THE_LOG = frozenset({"thermometer", "pressure"})


@dataclass(frozen=True, slots=True)
class Course:
    """Temperatures of one simulated run against what has come over.

    Args:
        volume: (n,) distillate, rising [m3].
        head: (n,) at these volumes [K].
        pot: (n,) at these volumes [K].
    """

    volume: Floats
    head: Floats
    pot: Floats


@dataclass(frozen=True, slots=True)
class Courses:
    """Runs that a sheet allows.

    Args:
        healthy: where all goes well; the first is the sheet's own.
        unparted: where the column parts hardly anything; empty without a column.
        charge_sigma: standard deviation of the whole charge, relative [-].
    """

    healthy: tuple[Course, ...]
    unparted: tuple[Course, ...]
    charge_sigma: float


def course_of(trace: Trace) -> Course:
    """Return the temperatures of a run against what has come over.

    Args:
        trace: the run.
    """
    volume = trace.distillate_volume_m3
    rising = np.concatenate([[False], np.diff(volume) > 0.0])
    return Course(volume[rising], trace.head_temperature_K[rising], trace.pot_temperature_K[rising])


def courses_of(prepared: Prepared, members: int = _MEMBERS, threads: int | None = None) -> Courses:
    """Return what a sheet may lead to.

    Args:
        prepared: the sheet made ready for the still.
        members: runs that go well, besides the sheet's own.
        threads: how many runs at a time; None for one on each processor.
    """
    prior = prior_of(prepared)
    points = normal_points(len(prior.unknowns), members, _SEED)
    asked = [k for k, u in enumerate(prior.unknowns) if u.name in _ASKED_OF_THE_LOG]
    points[:, asked] = 0.0
    drawn = [draw_member(prior, z) for z in points]
    bare = drawn[:_UNPARTED] if prepared.still.plates >= _LEAST_PLATES else []
    inputs = [prepared.still, *drawn, *(_parting_nothing(one, k % 2) for k, one in enumerate(bare))]
    runs = run_ensemble([as_member(given) for given in inputs], threads)
    return Courses(_usable(runs[: 1 + members]), _usable(runs[1 + members :]), _charge_sigma(prior))


def _parting_nothing(given: StillInput, plates: int) -> StillInput:
    """Return a run with no plate and all taken off, or with one and a third sent back."""
    return replace(
        given,
        plates=plates,
        carried=0.0,
        holdup_m3=given.holdup_m3 if plates else 0.0,
        pressure_drop_Pa=given.pressure_drop_Pa if plates else 0.0,
        reflux_ratio=np.array([[0.0, 0.5 * plates]]),
    )


def _usable(runs: Sequence[Run | Exception]) -> tuple[Course, ...]:
    courses = (course_of(run.trace) for run in runs if isinstance(run, Run))
    return tuple(course for course in courses if course.volume.size > 2)


def _charge_sigma(prior: Prior) -> float:
    """Return how far the whole charge may be from the sheet's, by mass, relative [-]."""
    sigmas = {u.name: u.sigma for u in prior.unknowns}
    portions = prior.prepared.sheet.charge
    each = [p.mass_kg * sigmas.get(f"charge:{p.substance.name}", 0.0) for p in portions]
    return float(np.hypot.reduce(each)) / sum(p.mass_kg for p in portions)
