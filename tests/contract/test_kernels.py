"""Every kernel gives without its compiler what the compiler's own call gives, to the last bit.

Kernels whose sums the compiler may reorder are held to rounding instead, and a whole run, whose
steps rounding decides, to the tolerance that it was asked for.
"""

from __future__ import annotations

import copy
from collections import Counter, defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.bubble import bubble_temperature
from forerun.equilibrium.liquid_liquid import miscibility_gap, split_liquid, stability
from forerun.equilibrium.mixture import mixture_of
from forerun.equilibrium.residue import Residues
from forerun.numerics import cache, compiled
from forerun.sheets.resolving import load
from forerun.still.activity_plane import activity_plane
from forerun.still.boiling_table import boiling_arrays
from forerun.still.crosscheck import Equations
from forerun.still.from_sheet import prepare as from_sheet
from forerun.still.inputs import Stop
from forerun.still.run import prepare, solve
from forerun.substances.catalogue import find
from forerun.substances.liquids import liquid_arrays

PACKAGE = Path(cache.__file__).parents[1]
RUN = "forerun.still.engine.advance"
ROUNDING = 1e-10  # of the largest number of an array
RUN_TOLERANCE = 2e-2  # root mean square over the largest of a column, fronts included
CALLS = 60  # of each kernel that are looked at, at most


def _kernels() -> Iterator[compiled.Kernel]:
    for path in cache.kernel_files():
        name = ".".join(("forerun", *path.relative_to(PACKAGE).with_suffix("").parts))
        for value in vars(import_module(name)).values():
            if isinstance(value, compiled.Kernel) and value.__module__ == name:
                yield value


KERNELS = {kernel._name: kernel for kernel in _kernels()}
Calls = dict[str, list[tuple[Any, ...]]]


@pytest.fixture(scope="module")
def calls() -> Calls:
    """Real arguments of every kernel: of what Python calls, and, by running each in Python once
    more, of what that calls in turn."""
    found: Calls = defaultdict(list)
    noted: Counter[tuple[str, object]] = Counter()  # a few calls of each kernel by each task
    plain = compiled.Kernel.__call__
    task: object = None

    def noting(self: compiled.Kernel, *given: Any) -> Any:
        if len(found[self._name]) < CALLS and noted[self._name, task] < CALLS // 20:
            noted[self._name, task] += 1
            found[self._name].append(copy.deepcopy(given))
        return plain(self, *given)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(compiled.Kernel, "__call__", noting)
        for task in (_equilibria, _run, _run_of_an_acid, _run_under_load, _run_led_by_hand):
            task()
        looked_at = dict.fromkeys(KERNELS, 0)
        while new := [name for name in found if looked_at[name] < len(found[name])]:
            for name in new:
                task = (name, looked_at[name])
                _run_in_python(KERNELS[name], copy.deepcopy(found[name][looked_at[name]]))
                looked_at[name] += 1
    return found


def _equilibria() -> None:
    for names in (("ethanol", "water"), ("1-butanol", "water"), ("acetone", "hexane", "water")):
        mixture = mixture_of([find(name) for name in names])
        find_azeotropes(mixture, 101325.0)
        even = np.full(len(names), 1.0 / len(names))
        bubble_temperature(even, 101325.0, mixture)
        stability(even, 300.0, mixture.arrays)
        split_liquid(even, 300.0, mixture.arrays)
        split_liquid(_HARD_TO_SPLIT, 350.0, mixture_of([find(n) for n in _HARD]).arrays)
        if len(names) > 2:
            search = find_azeotropes(mixture, 101325.0)
            Residues(mixture.arrays, 101325.0, search.points).curve(even)
        if len(names) == 2:
            miscibility_gap(300.0, mixture.arrays)
            activity_plane(boiling_arrays(mixture.arrays, liquid_arrays(mixture.substances)))


_HARD = ("ethanol", "water", "cyclohexane")
_HARD_TO_SPLIT = np.array([0.44999546, 0.35175285, 0.1982517])  # the first trial leads nowhere


def _run() -> None:
    case = prepare(from_sheet(load("three-on-eight")).still)
    solve(case)
    equations = Equations(case)
    equations.rates(0.0, equations.start(), 0)
    equations.jacobian(0.0, equations.start(), 0)


def _run_of_an_acid() -> None:
    charge = [{"substance": name, "amount": "50 mL"} for name in ("acetic acid", "water")]
    solve(prepare(from_sheet(load({"charge": charge})).still))


def _run_under_load() -> None:
    charge = [{"substance": name, "amount": "50 mL"} for name in ("cyclohexane", "toluene")]
    rig = {"column": "Vigreux 30 cm", "pump": "diaphragm"}
    programme = {"reflux_ratio": 3, "pressure": "200 mmHg"}
    _short({"charge": charge, "rig": rig, "programme": programme})


def _run_led_by_hand() -> None:
    charge = [{"substance": name, "amount": "50 mL"} for name in ("hexane", "water")]
    # until the hexane is gone: from then on the head boils in pulses, whose moments are chance
    _short({"charge": charge, "programme": {"keep": {"above_pot": "30 K"}}}, until=3000.0)


def _short(sheet: dict[str, Any], until: float = 4000.0) -> None:
    still = replace(from_sheet(load(sheet)).still, stop=Stop(time_s=until))
    solve(prepare(replace(still, rates_between_steps=True)))


def _run_in_python(kernel: compiled.Kernel, given: tuple[Any, ...]) -> None:
    # Python raises where compiled code goes on with infinity; the calls are noted all the same
    with np.errstate(all="ignore"), suppress(ArithmeticError, ValueError):
        kernel._function(*given)


@pytest.mark.parametrize("name", KERNELS)
def test_same_as_by_its_compiler(name: str, calls: Calls) -> None:
    kernel = KERNELS[name]
    by_numba = kernel._compiler.dispatcher()
    assert calls[name], "no call of this kernel is known: let `_use_everything` reach it"
    for given in calls[name]:
        ours, theirs = copy.deepcopy(given), copy.deepcopy(given)
        results = kernel(*ours), by_numba(*theirs)
        if name == RUN:
            assert results[0] == results[1]
            _same_run(ours[-1].trace, theirs[-1].trace)
        else:
            equal = _alike if "fastmath" in kernel._compiler._options else _same
            assert equal(*results)
            assert equal(ours, theirs)


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, tuple):
        return all(_same(a, b) for a, b in zip(one, other, strict=True))
    if one is None or other is None:
        return one is other
    return np.asarray(one).tobytes() == np.asarray(other).tobytes()


def _alike(one: Any, other: Any) -> bool:
    if isinstance(one, tuple):
        return all(_alike(a, b) for a, b in zip(one, other, strict=True))
    if one is None or other is None:
        return one is other
    a, b = np.asarray(one), np.asarray(other)
    largest = np.max(np.abs(a), initial=0.0, where=np.isfinite(a))
    return np.allclose(a, b, rtol=ROUNDING, atol=ROUNDING * largest, equal_nan=True)


def _same_run(one: Any, other: Any) -> None:
    # in the mean over time: a front that comes a second later is another number at that second
    rows = np.isfinite(one) & np.isfinite(other)
    largest = np.max(np.abs(one), axis=0, initial=0.0, where=rows)
    apart = np.where(rows, one - other, 0.0) / np.where(largest > 0.0, largest, 1.0)
    assert np.max(np.sqrt(np.mean(apart**2, axis=0))) < RUN_TOLERANCE


def test_no_kernel_is_left_to_its_compiler() -> None:
    compiled.compile_all()
    assert compiled.left_to_numba == {}


def test_several_threads_at_once() -> None:
    case = prepare(from_sheet(load("spirit")).still)
    alone = solve(case)
    with ThreadPoolExecutor(4) as pool:
        for outcome in pool.map(lambda _: solve(case), range(16)):
            assert _same(outcome.state, alone.state)
            assert _same(outcome.record, alone.record)
