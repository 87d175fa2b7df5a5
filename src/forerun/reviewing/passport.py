"""The passport of a column: what its own runs have shown, as prior of the next forecast."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from forerun.equilibrium.band_rules import EIGHTY
from forerun.reviewing.fitting_run import Estimate
from forerun.reviewing.review import Review
from forerun.sheets.model import RunSheet, Setting

__all__ = ["passport_from", "passport_of", "with_passport"]

_OF_THE_COLUMN = ("plates", "holdup_m3", "heat_loss_W_K")
_LEARNT = 0.15  # of the doubt that a run must take away for its value to be kept
# Beside the width of the fit: runs of one column differ by load and packing; from memory.
_BETWEEN_RUNS = 0.05  # relative


def passport_of(
    review: Review, before: Mapping[str, Any] | None, run: str = ""
) -> dict[str, Any] | None:
    """Return what is now known of the column of a run.

    Args:
        review: of the run, with a fit or samples at total reflux.
        before: the passport so far, None for a column never measured.
        run: name of the run, for the history.

    Returns:
        Plain values to be kept, None where this run says nothing of the column. Each quantity is
        the mean of all runs so far, each weighed by its own width in the logarithm.
    """
    estimates = {e.name: e for e in (() if review.fit is None else review.fit.estimates)}
    if review.at_total_reflux is not None:
        estimates["plates"] = review.at_total_reflux
    return passport_from(estimates.values(), review.sheet.rig.column, before, run)


def passport_from(
    estimates: Iterable[Estimate], column: str, before: Mapping[str, Any] | None, run: str = ""
) -> dict[str, Any] | None:
    """Return what is known of a column after one more look at it.

    Args:
        estimates: of one run; those that say nothing of the column are passed over.
        column: as the sheet names it.
        before: the passport so far, None for a column never measured.
        run: name of the run, for the history.

    Returns:
        As `passport_of`; under ``own`` stands what this run alone showed, with its 80 % band.
    """
    own = {e.name: e for e in estimates if e.name in _OF_THE_COLUMN and _tells(e)}
    if not own:
        return None
    found: dict[str, Any] = {}
    for key in _OF_THE_COLUMN:
        kept = _joined(own.get(key), None if before is None else before.get(key))
        if kept is not None:
            found[key] = kept
    runs = 1 + (0 if before is None else int(before.get("runs", 0)))
    alone = {k: {"value": e.value, "low": e.low, "high": e.high} for k, e in own.items()}
    return {**found, "own": alone, "column": column, "runs": runs, "last": run}


def _tells(own: Estimate) -> bool:
    return own.learnt >= _LEARNT and own.value > 0.0


def _joined(own: Estimate | None, old: Mapping[str, Any] | None) -> dict[str, float] | None:
    """Return value and relative width of two looks at one quantity."""
    if own is None:
        return None if old is None else dict(old)
    width = (own.high - own.low) / (2.0 * EIGHTY * own.value)
    width = math.hypot(width, _BETWEEN_RUNS)
    if old is None:
        return {"value": own.value, "relative_sigma": width}
    weight, weight_old = width**-2, float(old["relative_sigma"]) ** -2
    log = weight * math.log(own.value) + weight_old * math.log(float(old["value"]))
    joint = (weight + weight_old) ** -0.5
    # two looks cannot make it surer than one run differs from the next
    return {
        "value": math.exp(log / (weight + weight_old)),
        "relative_sigma": max(joint, _BETWEEN_RUNS),
    }


def with_passport(sheet: RunSheet, kept: Mapping[str, Any] | None) -> RunSheet:
    """Return a sheet with the measured values of its column.

    Args:
        sheet: that names a passport.
        kept: the passport, None where none is kept under that name.

    Returns:
        The sheet, its typical values joined with the measured ones, each weighed by its width;
        what the sheet itself states stays, and so does everything where the passport is of
        another column.
    """
    name = sheet.rig.passport
    if kept is None:
        sentence = f'No passport is kept under "{name}": typical values are taken.'
        return replace(sheet, warnings=(*sheet.warnings, sentence))
    if str(kept.get("column", "")) != sheet.rig.column:
        sentence = (
            f'The passport "{name}" is of a {kept.get("column")}, not of a {sheet.rig.column}: '
            "typical values are taken."
        )
        return replace(sheet, warnings=(*sheet.warnings, sentence))
    runs = int(kept.get("runs", 1))
    origin = f'passport "{name}", {runs} run' + ("s" if runs > 1 else "")
    changes = {
        key: _setting(kept[key], _stated(sheet, key), origin)
        for key in _OF_THE_COLUMN
        if key in kept and not _stated(sheet, key).given
    }
    told = ", ".join(changes)
    note = f"{told} from the {origin}." if told else f"nothing new from the {origin}."
    rig = replace(
        sheet.rig,
        plates=changes.get("plates", sheet.rig.plates),
        holdup_m3=changes.get("holdup_m3", sheet.rig.holdup_m3),
        heat_loss_W_K=changes.get("heat_loss_W_K", sheet.rig.heat_loss_W_K),
    )
    return replace(sheet, rig=rig, defaults=(*sheet.defaults, note))


def _stated(sheet: RunSheet, key: str) -> Setting:
    rig = sheet.rig
    return {
        "plates": rig.plates,
        "holdup_m3": rig.holdup_m3,
        "heat_loss_W_K": rig.heat_loss_W_K,
    }[key]


def _setting(kept: Mapping[str, Any], typical: Setting, origin: str) -> Setting:
    """Return what is measured and what is typical together, each weighed by its width."""
    value, width = float(kept["value"]), float(kept["relative_sigma"])
    if typical.sigma > 0.0 and typical.value > 0.0:
        weight, other = width**-2, (typical.sigma / typical.value) ** -2
        log = weight * math.log(value) + other * math.log(typical.value)
        value, width = math.exp(log / (weight + other)), (weight + other) ** -0.5
    return Setting(value, value * width, False, "", origin)
