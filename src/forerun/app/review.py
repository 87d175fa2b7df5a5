"""`forerun review`: what did I get, where is the rest, shall I do it again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from forerun.app.asked import asked_of_log
from forerun.app.diagnose import FEWEST, diagnosis_of
from forerun.app.output import write_new
from forerun.app.progress import Progress
from forerun.app.ready import kernels_ready
from forerun.app.sheet import load, text_of_sheet
from forerun.core.errors import BadInput
from forerun.records.assays import Assays, read_assays
from forerun.records.readings import Readings, read_readings
from forerun.reporting.review import Reviewed
from forerun.sheets.model import RunSheet

if TYPE_CHECKING:
    from forerun.reviewing.mixture_curves import MeasuredCurve
    from forerun.reviewing.review import Review
    from forerun.reviewing.scoring import Score

__all__ = ["review", "write_again"]

_KEPT_MEMBERS = 32


def review(
    sheet: str | Path | bytes | Mapping[str, Any] | RunSheet,
    *,
    readings: str | Path | bytes | Readings,
    assays: str | Path | bytes | Assays | None = None,
    calibration: str | Path | bytes | None = None,
    fit: bool = True,
    members: int = 0,
    keep: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Reviewed:
    """Return the review of a run.

    Args:
        sheet: the sheet of the run, as `forerun.foresee` takes it.
        readings: path or text of the log, or what was read from one.
        assays: path or text of what was weighed and analysed; none where nothing was.
        calibration: of a pair, a table of ``x1`` or ``w1`` against ``n`` or ``rho_g_mL`` at 20 °C,
            that goes before ideal mixing.
        fit: whether the still is fitted to the readings, for plates and losses.
        members: runs of the forecast that is held against the record; 0 for none.
        keep: whether the run is kept in this user's library, with its score and the passport of
            its column.
        progress: told how far the fit is; a bar on stderr where nobody else is told.

    Returns:
        Plateaus, cuts, the account of every gram, what cannot be right, plates, and whether
        another run is worth it.

    Raises:
        BadInput: a sheet or file that cannot be used.
    """
    read = load(sheet)
    log = readings if isinstance(readings, Readings) else read_readings(readings)
    if assays is None:
        results = Assays()
    else:
        results = assays if isinstance(assays, Assays) else read_assays(assays)
    curves = None if calibration is None else _curves(calibration, read)
    kernels_ready()
    # here and not above, so that bad input is answered before anything heavy is loaded
    from forerun.reviewing.review import review_run

    with Progress("fitting the still to the readings") as bar:
        found = review_run(read, log, results, fit=fit, curves=curves, progress=progress or bar)
    tried = members or (_KEPT_MEMBERS if keep else 0)
    score = _score(read, found, tried)
    asked = asked_of_log(
        "review", read, log, results, fit=fit, members=tried, calibration=_as_text(calibration)
    )
    seen = diagnosis_of(read, log, results, found.foreseen) if len(log) >= FEWEST else None
    if not keep:
        return Reviewed(found, score, diagnosis=seen, asked=asked)
    from forerun.app.keep import keep_run, standing
    from forerun.records.library import open_store

    with open_store() as store:
        number = keep_run(store, _written(sheet, read), Reviewed(found, score), score)
        return Reviewed(found, score, f"Kept as run {number}. {standing(store)}", seen, asked)


def _written(source: object, read: RunSheet) -> str:
    """Return the sheet as it was written, or what it says as TOML where it came as a table."""
    from forerun.sheets.form import SheetForm
    from forerun.sheets.writing import toml_of

    text = text_of_sheet(source)
    if text or not isinstance(read.written, SheetForm):
        return text
    return toml_of(read, as_written=True)


def _as_text(table: str | Path | bytes | None) -> str | None:
    if table is None:
        return None
    from forerun.records.tables import read_table

    return read_table(table, "--calibration").text


def _curves(calibration: str | Path | bytes, sheet: RunSheet) -> dict[str, MeasuredCurve]:
    """Return a measured curve against mass fraction, in SI."""
    from forerun.app.fit_reading import calibration_curves

    substances = [portion.substance for portion in sheet.charge]
    if len(substances) != 2:
        raise BadInput("--calibration", str(calibration)[:60], "a sheet with two substances")
    first, second = (s.molar_mass for s in substances)
    found = {}
    for kind, (basis, curve) in calibration_curves(calibration, substances).items():
        x = curve.fractions
        w = x * first / (x * first + (1.0 - x) * second) if basis == "x1" else x
        factor = 1e3 if kind == "rho_g_ml" else 1.0
        name = "density" if kind == "rho_g_ml" else "refractive_index"
        found[name] = replace(
            curve, fractions=w, values=curve.values * factor, sigma=curve.sigma * factor
        )
    return found


def _score(sheet: RunSheet, review: Review, members: int) -> Score | None:
    """Return the forecast of the sheet held against what was read."""
    if not members:
        return None
    from forerun.forecast.ensemble import foresee
    from forerun.reviewing.scoring import score_of

    with Progress("running the forecast that is held against the record") as progress:
        forecast = foresee(sheet, members=members, progress=progress)
    first = review.observed[0].start_s if review.observed else None
    return score_of(forecast, review.readings, first, review.account)


def write_again(found: Reviewed, name: str) -> str:
    """Write the sheet of the off-cuts that would be run again and return the file's name.

    Raises:
        BadInput: nothing is to be run again, or the file is there already or cannot be written.
    """
    text = found.next_sheet()
    if text is None:
        raise BadInput("--again", name, "a run with an aim and an off-cut; here is none to run")
    return write_new(name, text, "--again")
