"""`forerun sweep`: one sheet, many settings."""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from forerun.app.asked import asked_of_sweep
from forerun.app.progress import Progress
from forerun.app.ready import kernels_ready
from forerun.app.sweep_store import SweepStore
from forerun.core.errors import BadInput
from forerun.reporting.sweep import Swept
from forerun.sheets.examples import example, example_names
from forerun.sheets.reading import LARGEST_SHEET, read_bytes, read_file

__all__ = ["sweep", "table_from_words"]

_PART = 40  # points between two visits to the disk
_MOST_WORKERS = 256


def table_from_words(word: str) -> dict[str, Any]:
    """Return the sheet that a command line names as a table of tables.

    Args:
        word: a path, ``-`` for standard input, or the name of an example.

    Raises:
        BadInput: no such sheet, or one that cannot be read.
    """
    if word == "-":
        raw = sys.stdin.buffer.read(LARGEST_SHEET + 1)
    elif word in example_names() and not Path(word).exists():
        raw = example(word).encode("utf-8")
    else:
        read_file(Path(word))
        raw = Path(word).read_bytes()
    read_bytes(raw, word)  # refuses what is no sheet in one sentence
    return tomllib.loads(raw.decode("utf-8-sig"))


def sweep(
    sheet: str | Mapping[str, Any],
    vary: Sequence[str],
    *,
    out: str = "sweep",
    cluster: str | None = None,
    workers: int | None = None,
) -> Swept:
    """Run a sheet with every combination of some keys' values.

    Args:
        sheet: a path, the name of an example, or a table with the keys of a sheet.
        vary: such as ``rig.plates=2:10:5``, see `forerun.planning.sweep_plan.varied`.
        out: folder for plan, parts, results and front; a sweep that was stopped there goes on.
        cluster: address of a Dask scheduler; None for this machine.
        workers: processes on this machine; None for one on each processor.

    Returns:
        Every point's outcome and the settings that no other beats.

    Raises:
        BadInput: a key or value that cannot be used, or a folder that holds another sweep.
    """
    from forerun.planning.aims import goal_of
    from forerun.planning.sweep_plan import plan_of
    from forerun.planning.sweeping import front_rows, sheet_at

    if workers is not None and not 1 <= workers <= _MOST_WORKERS:
        raise BadInput("--workers", workers, f"a whole number from 1 to {_MOST_WORKERS}")
    table = table_from_words(sheet) if isinstance(sheet, str) else dict(sheet)
    plan = plan_of(table, vary)
    first = sheet_at(plan, 0)  # a key that no sheet has is told before anything is run
    goal = goal_of(first)
    if not any(v.key.endswith(".substance") for v in plan.vary):
        # one substance for all points, also where amounts change which there is most of
        table = {**table, "aim": {**table.get("aim", {}), "substance": goal.name}}
        plan = plan_of(table, vary)
    kernels_ready()
    from forerun.app.sweep_workers import run_parts, workers_found

    store = SweepStore(Path(out), plan)
    done = store.rows()
    before = len(done)
    waiting = [number for number in range(plan.points) if number not in done]
    parts = [waiting[k : k + _PART] for k in range(0, len(waiting), _PART)]
    who = workers_found(cluster, len(parts))
    if parts:
        with Progress(f"running {plan.points} settings") as progress:
            progress(before, plan.points)
            for rows in run_parts(plan, parts, cluster, workers):
                store.keep(rows)
                done |= {int(row["point"]): row for row in rows}
                progress(len(done), plan.points)
    rows = [done[number] for number in sorted(done)]
    results, told = store.write_results(rows)
    found = Swept(
        title=first.title,
        wanted=goal.name,
        basis=goal.basis,
        vary=tuple((v.key, v.values) for v in plan.vary),
        rows=tuple(rows),
        front=tuple(front_rows(rows)),
        resumed=before,
        workers=who,
        results=results,
        told=() if told is None else (told,),
        assumed=goal.assumed,
        asked=asked_of_sweep(first, table, vary),
    )
    store.write_front(found.drawing())
    return found
