"""The points of a sweep: each a whole run, its outcome one row; a failed one is a row too."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from forerun.core.errors import BadInput, CalculationFailed, NotCovered
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.planning.aims import Goal, goal_of, weights_for
from forerun.planning.sweep_plan import SweepPlan, Varied, table_at
from forerun.sheets.model import RunSheet
from forerun.sheets.reading import read_form
from forerun.sheets.resolving import resolve
from forerun.still.from_sheet import prepare
from forerun.still.results import Run
from forerun.still.run import run_still
from forerun.substances.catalogue import find

__all__ = ["COLUMNS", "evaluate", "front_rows", "sheet_at"]

COLUMNS = (
    "point",
    "state",
    "problem",
    "first_drop_s",
    "end_s",
    "distillate_m3",
    "receiver",
    "purity",
    "recovery",
    "product_m3",
    "ready_s",
)
"""What stands in each row beside the varied keys; SI."""

_LEAST = 0.01  # recovery below which a receiver is no product


def sheet_at(plan: SweepPlan, number: int) -> RunSheet:
    """Return the sheet of one point, read like any.

    Args:
        plan: of the sweep.
        number: of the point, from 0.

    Raises:
        BadInput: what the sheet of this point has wrong.
    """
    return resolve(read_form(table_at(plan, number)))


def evaluate(
    table: Mapping[str, Any],
    vary: Sequence[tuple[str, Sequence[float | int | str]]],
    numbers: Sequence[int],
) -> list[dict[str, Any]]:
    """Run some points of a sweep; made of plain things so that any process can take it.

    Args:
        table: the sheet as a table of tables.
        vary: keys and their values.
        numbers: of the points, from 0.

    Returns:
        One row for each point: the columns of `COLUMNS` and one for each key [SI or as written];
        ``state`` is ``done``, ``refused`` (what the point's sheet has wrong) or ``failed``.
    """
    plan = SweepPlan(table, tuple(Varied(key, tuple(values)) for key, values in vary))
    return [_row(plan, number) for number in numbers]


def _row(plan: SweepPlan, number: int) -> dict[str, Any]:
    row: dict[str, Any] = dict.fromkeys(COLUMNS)
    keys = (one.key for one in plan.vary)
    row |= {"point": number, **dict(zip(keys, plan.values_at(number), strict=True))}
    try:
        sheet = sheet_at(plan, number)
        run = run_still(prepare(sheet, _mixture(sheet)).still)
    except (BadInput, NotCovered) as problem:
        return row | {"state": "refused", "problem": str(problem)}
    except (CalculationFailed, ArithmeticError, ValueError, RuntimeError) as problem:
        return row | {"state": "failed", "problem": str(problem) or type(problem).__name__}
    return row | {"state": "done"} | _outcome(run, sheet, goal_of(sheet))


def _mixture(sheet: RunSheet) -> Mixture:
    return _mixture_of(sheet.names)


@lru_cache(maxsize=32)
def _mixture_of(names: tuple[str, ...]) -> Mixture:
    """Return a mixture once for all points that share it."""
    return mixture_of([find(name) for name in names])


def _outcome(run: Run, sheet: RunSheet, goal: Goal) -> dict[str, Any]:
    """Return the figures of a run; the product is the receiver with most of the wanted one."""
    found: dict[str, Any] = {
        "first_drop_s": run.first_drop_s,
        "end_s": float(run.trace.time_s[-1]),
        "distillate_m3": float(run.trace.distillate_volume_m3[-1]),
    }
    full = [cut for cut in run.cuts if cut.amount_mol > 0.0]
    if not full:
        return found
    k = goal.wanted
    best = max(full, key=lambda cut: cut.amount_mol * float(cut.mole_fraction[k]))
    parts = best.mole_fraction * weights_for(sheet, goal.basis)
    return found | {
        "receiver": best.number,
        "purity": float(parts[k] / parts.sum()),
        "recovery": best.amount_mol
        * float(best.mole_fraction[k])
        / float(run.ledger.charge_mol[k]),
        "product_m3": best.volume_m3,
        "ready_s": best.end_s,
    }


def front_rows(rows: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the rows that no other beats in purity, recovery and time at once.

    Args:
        rows: of a sweep.

    Returns:
        Purest first.
    """
    able = [r for r in rows if r["purity"] is not None and r["recovery"] >= _LEAST]
    if not able:
        return []
    # to 0.1 % and 10 s: below that, settings are equal to a bench
    figures = np.array(
        [[round(r["purity"], 3), round(r["recovery"], 3), -round(r["ready_s"], -1)] for r in able]
    )
    kept = []
    for i, mine in enumerate(figures):
        as_good = np.all(figures >= mine, axis=1) & np.any(figures > mine, axis=1)
        twin = np.all(figures[:i] == mine, axis=1)
        if not as_good.any() and not twin.any():
            kept.append(able[i])
    return sorted(kept, key=lambda r: -r["purity"])
