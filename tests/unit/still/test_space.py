"""Space that a thread uses again is as good as new, and no other thread's."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Barrier

import numpy as np
import pytest

from forerun.still import run as run_module
from forerun.still.inputs import StillInput
from forerun.still.run import prepare, solve
from forerun.still.space import Space, space_again, working_space
from laws.stills import still

RUNS = (
    still([340.0, 365.0]),
    replace(still([340.0, 365.0]), coolant_temperature_K=276.0),
    still([340.0, 365.0], plates=3),
    still([340.0, 365.0, 390.0], plates=1),
)


def _numbers(space: Space) -> list[np.ndarray]:
    return [array.copy() for part in space for array in part]


def test_it_is_the_same_as_new_after_whatever_was_done_in_it() -> None:
    for given in (*RUNS, *RUNS[::-1], RUNS[0]):
        case = prepare(given)
        new, again = working_space(case), space_again(case)
        for part, other in zip(new, again, strict=True):
            assert type(part) is type(other)
            for one, two in zip(part, other, strict=True):
                assert two.dtype == one.dtype
                assert two.flags.carray
                np.testing.assert_array_equal(one, two)
        for part in again:
            for array in part:
                array.fill(7)


def test_nothing_in_it_lies_over_something_else() -> None:
    arrays = [array for part in space_again(prepare(RUNS[2])) for array in part]
    for number, array in enumerate(arrays):
        array.fill(number)
    for number, array in enumerate(arrays):
        assert np.all(array == number)


def test_runs_of_one_shape_take_the_same_and_of_another_shape_their_own() -> None:
    first = space_again(prepare(RUNS[0]))
    assert space_again(prepare(RUNS[1])) is first
    assert space_again(prepare(RUNS[2])) is not first


def test_each_thread_has_its_own() -> None:
    case, both = prepare(RUNS[0]), Barrier(2)

    def one(_: int) -> Space:
        space = space_again(case)
        both.wait(timeout=60.0)
        return space

    with ThreadPoolExecutor(max_workers=2) as pool:
        left, right = pool.map(one, range(2))
    assert not np.shares_memory(left.work.over, right.work.over)


@pytest.mark.parametrize("given", RUNS)
def test_a_run_leaves_the_same_whatever_ran_before(
    given: StillInput, monkeypatch: pytest.MonkeyPatch
) -> None:
    cases = [prepare(replace(run, tolerance=1e-3)) for run in (given, *RUNS)]
    solve(cases[1])
    again = solve(cases[0])
    monkeypatch.setattr(run_module, "space_again", working_space)
    new = solve(cases[0])
    np.testing.assert_array_equal(again.state, new.state)
    rows = int(new.record.numbers[0])
    np.testing.assert_array_equal(again.record.trace[:rows], new.record.trace[:rows])
    np.testing.assert_array_equal(again.record.cuts, new.record.cuts)
