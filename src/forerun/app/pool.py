"""`forerun pool`: the logs of a class together, with plates and what is wrong bench by bench."""

from __future__ import annotations

import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from forerun.app.asked import asked_about
from forerun.app.asked_files import files_asked
from forerun.app.class_files import BENCH_CODE, LOG, write_into
from forerun.app.diagnose import FEWEST, diagnosis_of
from forerun.app.progress import Progress
from forerun.app.ready import kernels_ready
from forerun.core.errors import BadInput, CalculationFailed
from forerun.records.assays import Assays
from forerun.records.readings import Readings, read_readings
from forerun.sheets.model import RunSheet

if TYPE_CHECKING:
    from forerun.reporting.class_pooled import PooledClass
    from forerun.reviewing.findings import Diagnosis
    from forerun.reviewing.fitting_run import Estimate

__all__ = ["Bench", "bench_of", "pool", "write_pooled"]

_A_CODE = 'a code, up to four letters and a number such as "B07.csv"; no names of people'
_MOST = 400  # benches
_MOST_THREADS = 4


@dataclass(frozen=True, slots=True)
class Bench:
    """What is known of a bench beside its curve.

    Args:
        plates: as fitted; None without a column, or where the fit was left out or not possible.
        diagnosis: of its log; None with fewer than three readings.
    """

    plates: Estimate | None
    diagnosis: Diagnosis | None


def bench_of(sheet: RunSheet, readings: Readings, *, fit: bool = True) -> Bench:
    """Return what the log of a bench tells of its glass and of what went wrong.

    Args:
        sheet: that it ran.
        readings: its log.
        fit: whether plates are fitted, which takes seconds.
    """
    from forerun.reviewing.fitting_run import fit_run
    from forerun.still.from_sheet import prepare

    found = None if len(readings) < FEWEST else diagnosis_of(sheet, readings, Assays())
    fitted = None
    if fit:
        try:
            fitted = fit_run(prepare(sheet), readings)
        except CalculationFailed:
            fitted = None  # no still does what this log says; its curve is shown all the same
    return Bench(None if fitted is None else fitted.get("plates"), found)


def pool(
    sheet: RunSheet, folder: str, *, without: str | None = None, fit: bool = True
) -> PooledClass:
    """Return a class from the logs in a folder.

    Args:
        sheet: that all benches ran.
        folder: with ``B07.csv`` and so on, or ``B07/log.csv``.
        without: codes of benches that are left out, commas between.
        fit: whether plates are fitted.

    Returns:
        Curves, quantiles, plates and who stands apart.

    Raises:
        BadInput: no logs there, a file that is not named by a code, or no log that can be used.
    """
    logs, unusable, files = _logs(Path(folder), without)
    asked = asked_about("pool", sheet, files=files, fit=fit)
    kernels_ready()
    from forerun.reporting.class_pooled import PooledClass
    from forerun.reviewing.pooled import pooled

    usable = {}
    for code, log in logs.items():
        try:
            pooled({code: log})
        except BadInput as problem:
            unusable[code] = str(problem)
        else:
            usable[code] = log
    benches = _benches(sheet, usable, fit)
    plates = {code: one.plates for code, one in benches.items() if one.plates is not None}
    found = {code: one.diagnosis for code, one in benches.items() if one.diagnosis is not None}
    seen = pooled(usable, plates, found)
    return PooledClass(sheet.title, seen, found, unusable, asked=asked)


def _logs(
    folder: Path, without: str | None
) -> tuple[dict[str, Readings], dict[str, str], dict[str, Any]]:
    """Return logs, why others cannot be used, and what all files hold."""
    if not folder.is_dir():
        raise BadInput("FOLDER", str(folder), "a folder with the logs of benches, B07.csv")
    out = {code.strip() for code in (without or "").split(",") if code.strip()}
    files = {path.stem: path for path in sorted(folder.glob("*.csv"))}
    files |= {path.parent.name: path for path in sorted(folder.glob(f"*/{LOG}"))}
    for code in files:
        if not BENCH_CODE.fullmatch(code):
            raise BadInput("bench", code, _A_CODE)
    for code in out - set(files):
        raise BadInput("--without", code, f"one of {', '.join(files)}")
    logs: dict[str, Readings] = {}
    unusable: dict[str, str] = {}
    for code, path in sorted(files.items()):
        if code in out:
            continue
        try:
            logs[code] = read_readings(path, path.name)
        except BadInput as problem:  # one file must not keep the class from its curves
            unusable[code] = str(problem)
    if not logs or len(logs) > _MOST:
        raise BadInput("FOLDER", f"{len(logs)} logs", f"1 to {_MOST} logs of benches, B07.csv")
    files = {code: path for code, path in files.items() if code not in out}
    return logs, unusable, files_asked(folder, list(files.values()))


def _benches(sheet: RunSheet, logs: Mapping[str, Readings], fit: bool) -> dict[str, Bench]:
    found: dict[str, Bench] = {}
    threads = min(os.cpu_count() or 1, _MOST_THREADS)
    with (
        Progress(f"looking at {len(logs)} benches") as progress,
        ThreadPoolExecutor(threads) as workers,
    ):
        asked = {c: workers.submit(bench_of, sheet, log, fit=fit) for c, log in logs.items()}
        for done, (code, answer) in enumerate(asked.items(), 1):
            found[code] = answer.result()
            progress(done, len(logs))
    return found


def write_pooled(found: PooledClass, out: str) -> list[str]:
    """Write the table and the drawing of a class; return their names.

    Args:
        found: from `pool`.
        out: the folder; made where it is not there.

    Raises:
        BadInput: the folder cannot be written.
    """
    return write_into(Path(out), {"pooled.csv": found.csv(), "pooled.svg": found.drawing()})
