"""Working space of the kernels: made anew, or what a thread used for its run before."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.still.boiling_type import Boiled, boiled_for
from forerun.still.noting import TRACE_COLUMNS
from forerun.still.slopes import Slopes, liquid_enthalpy, slopes_for
from forerun.still.stepping import Stepping, stepping_for

if TYPE_CHECKING:
    from forerun.still.run import Case

__all__ = ["Space", "space_again", "trace_again", "working_space"]

Floats = npt.NDArray[np.float64]


class Space(NamedTuple):
    """What one run of the engine writes into and nobody reads after it.

    Args:
        work: of `boil`.
        at: slopes at the state that a step begins from.
        other: slopes at the states between.
        stepping: of the integrator.
    """

    work: Boiled
    at: Slopes
    other: Slopes
    stepping: Stepping


def working_space(case: Case) -> Space:
    """Return the working space that one caller of the kernels needs for a case.

    Args:
        case: from `forerun.still.run.prepare`.

    Returns:
        Its own, zero but for the enthalpy of what drips. Not a published model: storage.
    """
    given = case.given
    stages, components = case.rig.glass.size, given.charge_mol.size
    at, other = (
        slopes_for(stages, components, given.liquids, given.coolant_temperature_K) for _ in range(2)
    )
    stepping = stepping_for(case.state.size, stages, components)
    return Space(boiled_for(stages, case.mixture), at, other, stepping)


def space_again(case: Case) -> Space:
    """Return the same as `working_space`, which this thread's next call takes back.

    Members of an ensemble mostly are of one shape: they need no arrays of their own, and a kernel
    that was handed these tuples before need not look at them again.

    Args:
        case: from `forerun.still.run.prepare`.

    Returns:
        Space with the same numbers in it as a new one. Not a published model: storage.
    """
    given, areas = case.given, case.mixture.areas.shape
    shape = (case.rig.glass.size, case.state.size, *areas, case.mixture.table.shape[2])
    if getattr(_kept, "shape", None) != shape:
        _kept.space, _kept.block = _in_one_block(working_space(case))
        _kept.shape = shape
    space: Space = _kept.space
    _kept.block.fill(0.0)
    space.at.cold[:] = liquid_enthalpy(given.liquids, given.coolant_temperature_K)
    space.other.cold[:] = space.at.cold
    return space


def trace_again(case: Case, rows: int) -> Floats:
    """Return an array for the lines of a trace, which this thread's next call takes back.

    Args:
        case: from `forerun.still.run.prepare`.
        rows: how many lines it may get [-].

    Returns:
        (rows, 10 + 3 C) with anything in it [SI]. Not a published model: storage.
    """
    columns = TRACE_COLUMNS + 3 * case.given.charge_mol.size
    lines: Floats | None = getattr(_kept, "lines", None)
    if lines is None or lines.size < rows * columns:
        lines = _kept.lines = np.zeros(rows * columns)
    return lines[: rows * columns].reshape(rows, columns)


_kept = threading.local()


def _in_one_block(space: Space) -> tuple[Space, Any]:
    """Return space of the same shapes in one array, and that array, to be emptied at once."""
    block = np.zeros(sum(array.size for part in space for array in part))
    begin = 0
    parts: list[Any] = []
    part: Any
    for part in space:
        views: list[Any] = []
        for array in part:
            end = begin + array.size
            views.append(block[begin:end].view(array.dtype).reshape(array.shape))
            begin = end
        parts.append(part._make(views))
    return Space(*parts), block
