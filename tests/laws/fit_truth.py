"""Runs of stills whose plates are known, read as at a bench, by a mixture that differs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from forerun.forecast.drawing import LEAST_PLATES, draw_member, prior_of
from forerun.records.readings import Reading, Readings, readings_of
from forerun.sheets.resolving import load
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.results import Run
from forerun.still.run import run_still

SPREAD = 0.3  # of the plates about the stated ones, in the logarithm


def drawn(rng: np.random.Generator, example: str) -> tuple[Prepared, Readings, float]:
    """Return the sheet, a log of a still that differs from it in everything, and its plates."""
    prepared = prepare(load(example))
    prior = prior_of(prepared)
    names = [u.name for u in prior.unknowns]
    while True:
        z = rng.normal(0.0, 1.0, len(names))
        k = names.index("plates")
        log = rng.normal(0.0, SPREAD)
        z[k] = log / prior.unknowns[k].sigma
        plates = max(prepared.sheet.rig.plates.value * math.exp(log), LEAST_PLATES)
        still = replace(draw_member(prior, z), sample_interval_s=20.0)
        run = run_still(still)
        if run.first_drop_s is not None:
            break
    return prepared, read_at_a_bench(rng, run), plates


def read_at_a_bench(rng: np.random.Generator, run: Run) -> Readings:
    """Return a log of a run every half minute, with the errors of bench instruments."""
    trace = run.trace
    rows = []
    for t in np.arange(0.0, trace.time_s[-1], 30.0):
        head, pot, bath, over = (
            float(np.interp(t, trace.time_s, values))
            for values in (
                trace.head_temperature_K,
                trace.pot_temperature_K,
                trace.bath_temperature_K,
                trace.distillate_volume_m3,
            )
        )
        rows.append(
            Reading(
                float(t),
                head_K=round(head + rng.normal(0.0, 0.1), 1),
                pot_K=pot + rng.normal(0.0, 0.3),
                bath_K=bath + rng.normal(0.0, 0.5),
                distillate_m3=max(0.0, over + rng.normal(0.0, 2e-7)),
            )
        )
    return readings_of(rows)
