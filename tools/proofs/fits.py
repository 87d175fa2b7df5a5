"""Whether fits to a record keep their word; writes its part of the page of `forecast.py`.

    python tools/proofs/fits.py [--fits N] [--members N] [--threads N] [--seed N]

One truth is one run.  Its head is read up to half-way between first drop and first switch and
fitted; then the fit is asked when the switch comes, what is over at a fixed time, what the glass
is like, and when the first switch of another run of the same glass comes.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from forecast import (
    FIGURES,
    Kept,
    ensemble_of,
    figures,
    outcome,
    outcomes,
    then_of,
    write_page,
    written,
)

from forerun.forecast.calibration import Calibrated, calibrate
from forerun.forecast.circumstances import member_of, with_circumstances
from forerun.forecast.drawing import Prior, draw_member, prior_of
from forerun.forecast.observing import Readings
from forerun.records.readings import Reading
from forerun.records.readings import Readings as Log
from forerun.running.driving import as_driven
from forerun.running.simulated_truth import richer_truth
from forerun.sheets.resolving import load
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.inputs import StillInput
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = ["fits", "main"]

SHEETS = ("simple-still", "class-pair")
_SEED = 130_000
_STRANGE = 500  # between the seeds of the two kinds of truth
_BATH_READ_S = 20.0
_BATH_OFF_K, _BATH_NOISE_K = 0.5, 0.3  # of its thermometer, standard deviations
_OF_THE_RUN = ("charge", "pressure", "room", "charge_temperature", "bath")  # other on another day


@dataclass
class Told:
    """What fits said and what was so.

    Args:
        kept: by quantity, after the fit.
        before: the first switch before it.
        narrower: by unknown, standard deviation after the fit over that before, each run.
        unexplained: runs of which the fit says that the model does not explain them.
        unsettled: fits that had not settled.
    """

    kept: dict[str, Kept]
    before: Kept
    narrower: dict[str, list[float]]
    unexplained: int = 0
    unsettled: int = 0


def fits(
    sheets: Sequence[str], truths: int, members: int, threads: int, strange: bool, seed: int = _SEED
) -> Told:
    """Return what fits to half of a record said of so many runs of each sheet.

    Args:
        sheets: names of examples.
        truths: runs of each.
        members: of each fit.
        threads: how many runs at a time.
        strange: whether truths come from a still that differs from the description.
        seed: of the first sheet; the others follow.
    """
    told = Told({}, Kept(), {})
    for n, sheet in enumerate(sheets):
        prepared = prepare(load(sheet))
        prior = prior_of(prepared)
        first = ensemble_of(sheet, members, 200 + n, threads)[:, 1]
        random = np.random.default_rng(seed + n + _STRANGE * strange)
        for k in range(truths):
            given, run = _with_a_switch(prior, random, strange)
            now = 0.5 * (run.first_drop_s + run.cuts[0].end_s)
            moments = np.arange(0.0, now, 2.0)
            head = np.interp(moments, run.trace.time_s, run.trace.head_temperature_K)
            head = head + 0.1 * random.standard_normal(moments.size)
            driven = _driven(prepared, run, now, random)
            read = Readings(moments, head)
            found = calibrate(driven, read, now, members, seed=k, threads=threads)
            told.unexplained += found.doubt > 1.0
            told.unsettled += any("not settled" in warning for warning in found.warnings)
            later = outcomes(list(found.members), threads, then_of(sheet))
            true = outcome(run, then_of(sheet))
            _add(told, "first switch", sheet, later[:, 1], true[1])
            _add(told, "distillate by a fixed time", sheet, later[:, 2], true[2])
            told.before.add(sheet, first, true[1])
            _glass(told, sheet, found, given)
            ahead, then = _another_day(prior, found, given, random, strange)
            later = outcomes(ahead, threads, then_of(sheet))
            true = outcome(run_still(then), then_of(sheet))
            _add(told, "first switch of another run", sheet, later[:, 1], true[1])
    return told


def _add(told: Told, name: str, sheet: str, members: np.ndarray, truth: float) -> None:
    told.kept.setdefault(name, Kept()).add(sheet, members[np.isfinite(members)], truth)


def _truth(prior: Prior, random: np.random.Generator, strange: bool) -> StillInput:
    if strange:
        return richer_truth(prior, random)
    return draw_member(prior, random.standard_normal(len(prior.unknowns)))


def _with_a_switch(
    prior: Prior, random: np.random.Generator, strange: bool
) -> tuple[StillInput, Run]:
    """Return a truth that comes to its first switch, and its run."""
    while True:
        given = _truth(prior, random, strange)
        run = run_still(given)
        if run.first_drop_s is not None and len(run.cuts) > 1:
            return given, run


def _driven(prepared: Prepared, run: Run, now: float, random: np.random.Generator) -> Prepared:
    """Return the sheet with bath and pressure as they are read until now, as a hood reads them."""
    moments = np.arange(0.0, now, _BATH_READ_S)
    trace = run.trace
    baths = np.interp(moments, trace.time_s, trace.bath_temperature_K)
    baths += _BATH_OFF_K * random.standard_normal()
    baths += _BATH_NOISE_K * random.standard_normal(moments.size)
    pressures = np.interp(moments, trace.time_s, trace.pressure_Pa)
    rows = [
        Reading(float(t), bath_K=float(b), pressure_Pa=float(p))
        for t, b, p in zip(moments, baths, pressures, strict=True)
    ]
    return replace(prepared, still=as_driven(prepared.still, Log(tuple(rows)), now))


def _glass(told: Told, sheet: str, found: Calibrated, given: StillInput) -> None:
    """Take in what the fit says of the glass, in standard deviations of the prior.

    Plates are left out: a strange still has them by another law.
    """
    usual = found.prior.prepared.still
    true = {
        "heat_transfer": np.log(given.bath_conductance_W_K / usual.bath_conductance_W_K),
        "heat_loss": np.log(given.head_loss_W_K / usual.head_loss_W_K),
        "thermometer": given.thermometer_offset_K - usual.thermometer_offset_K,
    }
    if usual.holdup_m3 > 0.0:
        true["holdup"] = np.log(given.holdup_m3 / usual.holdup_m3)
    for k, unknown in enumerate(found.prior.unknowns):
        told.narrower.setdefault(unknown.name.partition(":")[0], []).append(
            float(np.std(found.z[:, k], ddof=1))
        )
        if unknown.name in true:
            deviate = float(true[unknown.name]) / unknown.sigma
            _add(told, unknown.name.replace("_", " "), sheet, found.z[:, k], deviate)


def _another_day(
    prior: Prior,
    found: Calibrated,
    given: StillInput,
    random: np.random.Generator,
    strange: bool,
) -> tuple[list[StillInput], StillInput]:
    """Return members of the next run by the sheet, with what the fit says of the glass, and truth.

    The glass, the thermometer and the mixture are those of the first run; amounts, room, pressure
    and bath are new.
    """
    wide = with_circumstances(prior, bath_read=False)
    z = found.z.copy()
    for k, unknown in enumerate(wide.unknowns):
        if unknown.name.partition(":")[0] in _OF_THE_RUN:
            z[:, k] = random.standard_normal(z.shape[0])
    then = replace(
        _truth(prior, random, strange),
        mixture=given.mixture,
        plates=given.plates,
        carried=given.carried,
        carried_at_largest=given.carried_at_largest,
        holdup_m3=given.holdup_m3,
        pressure_drop_Pa=given.pressure_drop_Pa,
        bath_conductance_W_K=given.bath_conductance_W_K,
        pot_loss_W_K=given.pot_loss_W_K,
        column_loss_W_K=given.column_loss_W_K,
        head_loss_W_K=given.head_loss_W_K,
        thermometer_offset_K=given.thermometer_offset_K,
        thermometer_lag_s=given.thermometer_lag_s,
    )
    return [member_of(wide, one) for one in z], then


def _report(told: Told) -> dict[str, object]:
    prior = {sheet: members for sheet, members, _ in told.before.raw}
    found: dict[str, object] = {
        name: figures(kept, prior if name == "first switch" else None)
        for name, kept in told.kept.items()
    }
    return found


def main() -> int:
    """Fit, judge, and write figures and page."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--fits", type=int, default=8, help="fitted runs of each of two sheets")
    words.add_argument("--members", type=int, default=48)
    words.add_argument("--threads", type=int, default=1)
    words.add_argument("--seed", type=int, default=_SEED)
    given = words.parse_args()
    report = json.loads(FIGURES.read_text(encoding="utf-8"))
    report["fits"] = {
        "date": date.today().isoformat(),
        "command": f"python tools/proofs/fits.py --fits {given.fits} --members {given.members} "
        f"--seed {given.seed}",
        "sheets": list(SHEETS),
    }
    for label, strange in (("fitted_own", False), ("fitted_strange", True)):
        started = time.process_time()
        told = fits(SHEETS, given.fits, given.members, given.threads, strange, given.seed)
        report[label] = _report(told)
        report["fits"][label] = {
            "unexplained": told.unexplained,
            "unsettled": told.unsettled,
            "took_s": round(time.process_time() - started),
            "narrower": {n: float(np.median(v)) for n, v in told.narrower.items()},
        }
        print(label, report["fits"][label], flush=True)
        FIGURES.write_text(written(report), encoding="utf-8")
        write_page()
    return 0


if __name__ == "__main__":
    sys.exit(main())
