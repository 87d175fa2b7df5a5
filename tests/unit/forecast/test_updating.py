"""The belief about a running still: it finds a known truth, narrows, and starts from the prior."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.forecast.calibration import calibrate
from forerun.forecast.drawing import Prior, draw_member, prior_of
from forerun.forecast.observing import Readings, observed_until
from forerun.forecast.stepping import doubt_of
from forerun.forecast.updating import Belief, first_belief, updated
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.results import Run
from forerun.still.run import run_still
from unit.small_still import SHEET

NOW = 1040.0  # the first drop of the truth falls before, its receiver is changed at 1149 s
MEMBERS = 48


@cache
def prior() -> Prior:
    return prior_of(prepare(load(SHEET)))


@cache
def truth(heat: float = 0.8) -> Run:
    z = np.zeros(len(prior().unknowns))
    z[[u.name for u in prior().unknowns].index("heat_transfer")] = heat
    return run_still(draw_member(prior(), z))


@cache
def first() -> Belief:
    return first_belief(prior(), MEMBERS, threads=2)


def log(until: float = NOW, noise: float = 0.1) -> Readings:
    time = np.arange(0.0, until, 2.0)
    trace = truth().trace
    random = np.random.default_rng(3)
    head = np.interp(time, trace.time_s, trace.head_temperature_K)
    return Readings(time, head + noise * random.standard_normal(time.size))


@cache
def corrected(until: float = NOW) -> Belief:
    return updated(first(), prior(), observed_until(log(until), until), members=MEMBERS, threads=2)


def switches(belief: Belief) -> np.ndarray:
    return np.array([run.cuts[0].end_s for run in belief.runs if len(run.cuts) > 1])


def test_readings_move_the_next_switch_towards_the_truth_and_narrow_it() -> None:
    true = truth().cuts[0].end_s
    before, after = switches(first()), switches(corrected())
    assert abs(np.median(after) - true) < 20.0
    assert after.std() < 0.25 * before.std()
    assert np.quantile(after, 0.05) < true < np.quantile(after, 0.95)


def test_what_the_readings_say_of_the_heat_path_is_found() -> None:
    k = [u.name for u in prior().unknowns].index("heat_transfer")
    assert corrected().mean[k] == pytest.approx(0.8, abs=0.4)
    assert corrected().covariance[k, k] < 0.3
    assert corrected().misfit < 1.0


def test_the_quick_way_and_the_thorough_one_foresee_the_same() -> None:
    """`calibrate` minimises to the end on fine runs; the quick way may differ by half its band."""
    thorough = calibrate(prior().prepared, log(), NOW, MEMBERS, seed=1, threads=2)
    later = [run_still(member) for member in thorough.members[:16]]
    theirs = np.array([run.cuts[0].end_s for run in later if len(run.cuts) > 1])
    ours = switches(corrected())
    assert abs(np.median(ours) - np.median(theirs)) < max(ours.std(), 10.0)


def test_a_belief_does_not_depend_on_how_often_it_was_asked() -> None:
    halfway = corrected(850.0)
    on_the_way = updated(halfway, prior(), observed_until(log(), NOW), members=MEMBERS, threads=2)
    one, other = switches(on_the_way), switches(corrected())
    assert np.median(one) == pytest.approx(np.median(other), abs=max(float(other.std()), 8.0))


def test_two_equal_calls_give_equal_beliefs() -> None:
    again = updated(first(), prior(), observed_until(log(), NOW), members=MEMBERS, threads=1)
    np.testing.assert_array_equal(again.mean, corrected().mean)
    np.testing.assert_array_equal(again.z, corrected().z)


def test_members_out_of_range_are_named() -> None:
    with pytest.raises(BadInput, match="members"):
        first_belief(prior(), 3)


def test_members_that_stand_for_what_is_believed_are_not_run_again() -> None:
    later = observed_until(log(NOW + 4.0), NOW + 4.0)
    again = updated(corrected(), prior(), later, members=MEMBERS, threads=2, keep=True)
    assert again.rounds == 0
    assert again.runs is corrected().runs
    from_afar = updated(first(), prior(), later, members=MEMBERS, threads=2, keep=True)
    assert from_afar.rounds > 0


def test_nothing_is_ever_believed_for_certain() -> None:
    """Members that had come together would show the rounding of their runs instead of a slope."""
    wide = first()
    narrow = replace(wide, covariance=1e-12 * wide.covariance, z=1e-6 * wide.z)
    seen = observed_until(log(), NOW)
    found = updated(narrow, prior(), seen, members=MEMBERS, threads=2, rounds=1, keep=True)
    assert np.linalg.eigvalsh(found.covariance).min() > 0.009**2


def test_readings_that_are_met_well_and_long_count_for_more() -> None:
    """As supposed at first; a hundred minutes without a miss say that errors are smaller."""
    short, long = (observed_until(log(until), until) for until in (60.0, NOW))
    assert doubt_of(1.0, short) == pytest.approx(1.0)
    assert doubt_of(0.1, short) > 0.95
    assert doubt_of(0.1, long) < 0.85
    hours = replace(long, until_s=6.0 * 3600.0, value=np.zeros(180))
    assert doubt_of(0.1, hours) < 0.5
    assert doubt_of(0.1, hours) > 0.1


def test_readings_that_are_missed_say_less_however_long() -> None:
    seen = observed_until(log(), NOW)
    assert doubt_of(3.0, seen) == 3.0
    assert doubt_of(3.0, replace(seen, until_s=6.0 * 3600.0)) == 3.0


def test_a_few_readings_teach_little_of_their_errors_however_far_apart() -> None:
    few = replace(observed_until(log(), NOW), until_s=6.0 * 3600.0, value=np.zeros(4))
    assert doubt_of(0.0, few) > 0.9


def test_errors_that_are_found_smaller_narrow_the_belief() -> None:
    seen = observed_until(log(), NOW)
    hours = replace(seen, time_s=seen.time_s + 10.0 * 3600.0, until_s=seen.until_s + 10.0 * 3600.0)
    doubt = doubt_of(corrected().misfit, seen), doubt_of(corrected().misfit, hours)
    assert doubt[1] < doubt[0] < 1.0
