"""Whether a passport narrows the next forecast and the truth stays inside; draws the figure of it.

    python tools/proofs/passport.py [COLUMNS]

Each column has plates, hold-up and losses of its own, drawn from what the sheet says of columns
of its kind, and they wander a little from run to run. It is run once, read as at a bench and
fitted; then the sheet is forecast without and with that passport, and four further runs of the
column are held against both. Charge, heat, thermometer, pressure and the mixture's distance from
its models are drawn anew for every run.
"""

from __future__ import annotations

import json
import math
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from forerun.forecast.bands import CutBand  # noqa: E402 -- after the path is set
from forerun.forecast.drawing import Prior, draw_member, prior_of  # noqa: E402
from forerun.forecast.ensemble import foresee  # noqa: E402
from forerun.reporting.passport import narrowing_as_svg  # noqa: E402
from forerun.reviewing.fitting_run import fit_run  # noqa: E402
from forerun.reviewing.passport import passport_from, with_passport  # noqa: E402
from forerun.sheets.examples import example  # noqa: E402
from forerun.sheets.model import RunSheet  # noqa: E402
from forerun.sheets.resolving import load  # noqa: E402
from forerun.still.from_sheet import prepare  # noqa: E402
from forerun.still.results import Run  # noqa: E402
from forerun.still.run import run_still  # noqa: E402
from laws.fit_truth import read_at_a_bench  # noqa: E402

__all__ = ["main"]

FIGURES = ROOT / "docs" / "explain" / "passport.json"
PLOT = ROOT / "docs" / "pictures" / "passport.svg"
_EXAMPLE, _COLUMN = "class-pair", "glass helices 20 cm"  # in place of its Vigreux
_MEMBERS = 64
_FURTHER = 4
_WANDERS = 0.05  # relative, from run to run of one column; as the passport supposes
_GLASS = ("plates", "heat_loss", "holdup")
_QUANTITIES = ("purity of cut 1", "volume of cut 1")


def main(arguments: list[str]) -> int:
    """Write figures and picture; returns the exit code."""
    columns = int(arguments[0]) if arguments else 24
    rng = np.random.default_rng(29)
    sheet = load(example(_EXAMPLE).replace("Vigreux 20 cm", _COLUMN))
    sheet = replace(sheet, rig=replace(sheet.rig, passport="own"))
    rows: list[list[list[dict[str, Any]]]] = []
    while len(rows) < columns:
        found = _of_one_column(sheet, rng)
        if not found:
            continue
        rows.append(found)
        print(len(rows), json.dumps(_summary(rows)), flush=True)
    summary = _summary(rows)
    FIGURES.write_text(json.dumps(summary, indent=1) + "\n", encoding="utf-8")
    PLOT.write_text(narrowing_as_svg(summary), encoding="utf-8")
    return 0


def _of_one_column(sheet: RunSheet, rng: np.random.Generator) -> list[list[dict[str, Any]]]:
    """Return what each further run says of the forecasts without and with a passport."""
    prepared = prepare(sheet)
    prior = prior_of(prepared)
    glass = rng.normal(0.0, 1.0, len(prior.unknowns))
    first = _truth(prior, glass, rng)
    if first is None:
        return []
    fit = fit_run(prepared, read_at_a_bench(rng, first))
    kept = None if fit is None else passport_from(fit.estimates, sheet.rig.column, None, "run 1")
    known = sheet if kept is None else with_passport(sheet, kept)
    bands = [foresee(one, members=_MEMBERS, seed=1).cut_bands[0] for one in (sheet, known)]
    truths = [_truth(prior, glass, rng) for _ in range(_FURTHER)]
    return [[_held_against(band, t) for band in bands] for t in truths if t is not None]


def _truth(prior: Prior, glass: np.ndarray, rng: np.random.Generator) -> Run | None:
    """Return one run of a column, None where nothing came over."""
    z = rng.normal(0.0, 1.0, len(prior.unknowns))
    for i, unknown in enumerate(prior.unknowns):
        if unknown.name in _GLASS:
            z[i] = glass[i] + rng.normal(0.0, _WANDERS) / unknown.sigma
    run = run_still(replace(draw_member(prior, z), sample_interval_s=20.0))
    return None if run.first_drop_s is None or not run.cuts else run


def _held_against(band: CutBand, truth: Run) -> dict[str, Any]:
    cut = truth.cuts[0]
    rows = {}
    for name, low, high, value in (
        (
            _QUANTITIES[0],
            band.mole_fraction_low[0],
            band.mole_fraction_high[0],
            cut.mole_fraction[0],
        ),
        (_QUANTITIES[1], 1e6 * band.volume_low_m3, 1e6 * band.volume_high_m3, 1e6 * cut.volume_m3),
    ):
        rows[name] = {"width": float(high - low), "inside": bool(low <= value <= high)}
    return rows


def _summary(columns: list[list[list[dict[str, Any]]]]) -> dict[str, Any]:
    """Return mean widths and shares inside, without and with a passport."""
    rows = [row for column in columns for row in column]
    found: dict[str, Any] = {
        "date": date.today().isoformat(),
        "columns": len(columns),
        "runs": len(rows),
        "example": _EXAMPLE,
        "column": _COLUMN,
        "members": _MEMBERS,
    }
    for name in _QUANTITIES:
        # runs of one column share their bands: the width is a figure of the column
        widths = np.array([[one[name]["width"] for one in column[0]] for column in columns])
        inside = np.array([[one[name]["inside"] for one in row] for row in rows], dtype=float)
        found[name] = {
            "width": [round(float(v), 5) for v in widths.mean(axis=0)],
            "width_error": [
                round(float(v), 5) for v in widths.std(axis=0) / math.sqrt(len(columns))
            ],
            "inside": [int(v) for v in inside.sum(axis=0)],
            "inside_95": [_coverage_band(columns, name, which) for which in (0, 1)],
        }
    return found


def _coverage_band(columns: list[list[list[dict[str, Any]]]], name: str, which: int) -> list[float]:
    """Return the middle 95 % of the share inside, columns drawn again (runs of one hang together).

    Args:
        columns: what each run of each column says of the forecasts.
        name: of the quantity.
        which: 0 without a passport, 1 with one.
    """
    shares = np.array([np.mean([run[which][name]["inside"] for run in one]) for one in columns])
    drawn = np.random.default_rng(0).choice(shares, (10_000, shares.size)).mean(axis=1)
    return [round(float(v), 3) for v in np.quantile(drawn, (0.025, 0.975))]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
