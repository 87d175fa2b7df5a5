"""`forerun diagnose`: something is odd in this log; why, and which test tells."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from forerun.app.asked import asked_of_log
from forerun.app.ready import kernels_ready
from forerun.app.sheet import load
from forerun.core.errors import BadInput
from forerun.records.assays import Assays, read_assays
from forerun.records.readings import Readings, read_readings
from forerun.reporting.findings import Diagnosed
from forerun.sheets.model import RunSheet

if TYPE_CHECKING:
    from forerun.reviewing.findings import Diagnosis
    from forerun.running.case import Weighed
    from forerun.still.results import Run

__all__ = ["FEWEST", "diagnose", "diagnosis_of"]

_MOST_FLAGS = 6
FEWEST = 3
"""Readings below which nothing is looked for."""


def diagnose(
    sheet: str | Path | bytes | Mapping[str, Any] | RunSheet,
    *,
    readings: str | Path | bytes | Readings,
    assays: str | Path | bytes | Assays | None = None,
) -> Diagnosed:
    """Return what a log shows that it should not, and why.

    Args:
        sheet: the sheet of the run, as `forerun.foresee` takes it.
        readings: path or text of the log, or what was read from one.
        assays: path or text of what was weighed afterwards, for mass lost or gained.

    Returns:
        Findings with ranked causes, cautions first, the test that parts the first two, the remedy.

    Raises:
        BadInput: a sheet or file that cannot be used, or fewer than three readings.
    """
    read = load(sheet)
    log = readings if isinstance(readings, Readings) else read_readings(readings)
    if assays is None:
        results = Assays()
    else:
        results = assays if isinstance(assays, Assays) else read_assays(assays)
    if len(log) < FEWEST:
        raise BadInput("--readings", f"{len(log)} readings", "at least three readings")
    kernels_ready()
    from forerun.running.checks import check_readings

    found = diagnosis_of(read, log, results)
    flags = [*log.flags, *results.flags]
    told = [*log.notes, *(str(flag) for flag in flags[:_MOST_FLAGS])]
    if len(flags) > _MOST_FLAGS:
        told.append(f"{len(flags) - _MOST_FLAGS} more rows or cells were not used.")
    warnings = (*read.warnings, *told, *check_readings(log).told())
    asked = asked_of_log("diagnose", read, log, results)
    return Diagnosed(read.title, found, warnings, asked)


def diagnosis_of(
    sheet: RunSheet, readings: Readings, assays: Assays, foreseen: Run | None = None
) -> Diagnosis:
    """Return the findings of a log.

    Args:
        sheet: of the run.
        readings: the log, three readings at least.
        assays: what was weighed; may be empty.
        foreseen: the forecast of the sheet, where somebody has it already.
    """
    from forerun.running.checks import check_readings
    from forerun.running.diagnosing import Diagnoser
    from forerun.still.from_sheet import prepare
    from forerun.still.run import run_still

    prepared = prepare(sheet)
    run = run_still(prepared.still) if foreseen is None else foreseen
    usable = check_readings(readings).readings
    return Diagnoser(prepared, run.trace).diagnose(usable, _weighed(sheet, assays, run))


def _weighed(sheet: RunSheet, assays: Assays, foreseen: Run) -> Weighed | None:
    """Return the account in mass where the pot and at least one receiver were weighed."""
    from forerun.running.case import Weighed

    masses = {r.cut: r.value for r in assays.rows if r.method == "mass" and r.cut != "head"}
    if "pot" not in masses or not any(place.isdecimal() for place in masses):
        return None
    charged = sum(p.mass_kg for p in sheet.charge)
    molar = [p.substance.molar_mass for p in sheet.charge]
    holdup = float(sum(n * m for n, m in zip(foreseen.ledger.holdup_mol, molar, strict=True)))
    held = 0.0 if "column" in masses else holdup
    return Weighed(charged, sum(masses.values()) + held, masses.get("trap", 0.0))
