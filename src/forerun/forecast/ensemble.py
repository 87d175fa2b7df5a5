"""A forecast: the nominal run, and the bands of its ensemble."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.forecast.bands import (
    CutBand,
    Interval,
    TimeBand,
    VolumeBand,
    cut_bands,
    first_drop_band,
    residue_band,
    time_band,
    volume_band,
)
from forerun.forecast.outlook import Outlook
from forerun.forecast.product import Product, product_of
from forerun.forecast.sensitivity import Sensitivity, sensitivities_of
from forerun.forecast.unknowns import Unknown
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.inputs import StillInput
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = ["Forecast", "Progress", "forecast_of_runs", "foresee", "run_ensemble"]

Floats = npt.NDArray[np.float64]

Progress = Callable[[int, int], None]
"""Called with the number of members done and the number of all."""

MOST_MEMBERS = 10_000
_MOST_THREADS = 16
_AT_ONCE = 16  # members that a thread takes at once, as handing out takes time, too; a choice
_TURNS = 4  # of each thread at least, so that none waits long in the end; a choice


@dataclass(frozen=True, slots=True)
class Forecast:
    """What a sheet leads to, and how sure that is.

    Args:
        sheet: the run sheet.
        run: the nominal run, every unknown at its stated value.
        members: how many members were run; 0 for the nominal run alone.
        failed: how many of them did not finish and are not in the bands.
        seed: of the ensemble.
        band: head temperature against time; None without members.
        volume_band: head temperature against distillate volume [m3]; None without members, or
            where in most of them nothing came over.
        cut_bands: one per cut of the nominal run; empty without members.
        residue_band: the same for the residue; None without members.
        first_drop_s: when the first drop falls [s]; None without members.
        nothing_over: share of members in which nothing came over [-].
        unknowns: what was varied, with its distribution.
        warnings: of the sheet, of the mixture, of the run and of the ensemble.
        defaults: one sentence for every value that the sheet left out.
        sensitivities: what moves each result most; empty without enough members.
        product: how likely each cut is pure enough, and what other windows would give; None
            without members or where nothing came over.
        outlook: what lies ahead of a running still; None before it runs.
    """

    sheet: RunSheet
    run: Run
    members: int
    failed: int
    seed: int
    band: TimeBand | None
    volume_band: VolumeBand | None
    cut_bands: tuple[CutBand, ...]
    residue_band: CutBand | None
    first_drop_s: Interval | None
    nothing_over: float
    unknowns: tuple[Unknown, ...]
    warnings: tuple[str, ...]
    defaults: tuple[str, ...]
    sensitivities: tuple[Sensitivity, ...] = ()
    product: Product | None = None
    outlook: Outlook | None = None


def foresee(
    sheet: RunSheet,
    members: int = 0,
    seed: int = 1,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Forecast:
    """Forecast the run of a sheet.

    Args:
        sheet: from `forerun.sheets.resolving.load`.
        members: of the ensemble that makes the bands, 0 to 10,000; 0 gives no bands.
        seed: makes the ensemble reproducible to the last digit on one machine.
        threads: how many members run at a time; None for one on each processor.
        progress: called after every member with done and all.

    Returns:
        The nominal run, bands, what was varied and all warnings.

    Raises:
        BadInput: a number of members or a seed outside its range.
        CalculationFailed: the nominal run did not finish, or no member did.
    """
    if not 0 <= members <= MOST_MEMBERS:
        raise BadInput("members", members, f"a number from 0 to {MOST_MEMBERS}")
    if not 0 <= seed < 2**63:
        raise BadInput("seed", seed, "a whole number from 0 on")
    prepared = prepare(sheet)
    run = run_still(prepared.still)
    if not members:
        return forecast_of_runs(prepared, run, (), seed, (), np.zeros((0, 0)))
    from forerun.forecast.drawing import (  # noqa: PLC0415 -- only an ensemble needs it
        draw_members,
        normal_points,
        prior_of,
    )

    prior = prior_of(prepared)
    points = normal_points(len(prior.unknowns), members, seed)
    results = run_ensemble(draw_members(prior, points), threads, progress)
    return forecast_of_runs(prepared, run, results, seed, prior.unknowns, points)


def forecast_of_runs(
    prepared: Prepared,
    run: Run,
    results: Sequence[Run | CalculationFailed],
    seed: int,
    unknowns: tuple[Unknown, ...],
    points: Floats,
) -> Forecast:
    """Put a forecast together from the runs of an ensemble.

    Args:
        prepared: the sheet made ready.
        run: the nominal run.
        results: of the members, from `run_ensemble`.
        seed: of the ensemble.
        unknowns: what was varied.
        points: (N, D) the members' deviates [-], in the order of the results.

    Returns:
        The run, its bands, and what they rest on.

    Raises:
        CalculationFailed: there are members and none finished.
    """
    sheet = prepared.sheet
    fine = [isinstance(result, Run) for result in results]
    runs = [result for result in results if isinstance(result, Run)]
    members = len(results)
    if members and not runs:
        raise CalculationFailed(
            "the ensemble", f"none of {members} members finished", "Report the run sheet."
        )
    failed = members - len(runs)
    dry = sum(r.first_drop_s is None for r in runs)
    warnings = [*prepared.warnings, *run.warnings, *_ensemble_warnings(runs, failed, dry, run)]
    return Forecast(
        sheet=sheet,
        run=run,
        members=members,
        failed=failed,
        seed=seed,
        band=time_band(runs) if runs else None,
        volume_band=volume_band(runs) if runs else None,
        cut_bands=cut_bands(run, runs) if runs else (),
        residue_band=residue_band(runs) if runs else None,
        first_drop_s=first_drop_band(runs),
        nothing_over=dry / len(runs) if runs else 0.0,
        unknowns=unknowns,
        warnings=tuple(dict.fromkeys(warnings)),
        defaults=sheet.defaults,
        sensitivities=sensitivities_of(unknowns, points[fine], run, runs) if runs else (),
        product=product_of(prepared, run, runs) if runs else None,
    )


def run_ensemble(
    inputs: Sequence[StillInput], threads: int | None = None, progress: Progress | None = None
) -> list[Run | CalculationFailed]:
    """Run many members on threads; the compiled part holds no lock.

    Args:
        inputs: of the members; a thread takes each from there when it runs it.
        threads: how many at a time; None for one on each processor.
        progress: called after every member, in order, with done and all.

    Returns:
        In order, a run, or the error of a member that did not finish.
    """
    count = len(inputs)
    workers = threads or min(os.cpu_count() or 1, _MOST_THREADS)
    size = max(1, min(_AT_ONCE, count // (_TURNS * workers)))
    batches = [inputs[k : k + size] for k in range(0, count, size)]
    results: list[Run | CalculationFailed] = []
    from concurrent.futures import ThreadPoolExecutor  # noqa: PLC0415 -- a single run needs none

    with ThreadPoolExecutor(max_workers=workers) as pool:
        try:
            for batch in pool.map(_each, batches):
                for result in batch:
                    results.append(result)
                    if progress is not None:
                        progress(len(results), count)
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise
    return results


def _each(batch: Sequence[StillInput]) -> list[Run | CalculationFailed]:
    return [_one(given) for given in batch]


def _one(given: StillInput) -> Run | CalculationFailed:
    try:
        return run_still(given)
    except CalculationFailed as failure:
        return failure


def _ensemble_warnings(runs: list[Run], failed: int, dry: int, nominal: Run) -> list[str]:
    sentences = []
    if failed:
        sentences.append(
            f"{failed} of {failed + len(runs)} members did not finish and are not in the bands."
        )
    if dry and nominal.first_drop_s is not None:
        sentences.append(f"In {dry} of {len(runs)} members nothing comes over.")
    return sentences
