"""The passport of a column: what its own runs have shown, as prior of the next forecast."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from forerun.equilibrium.band_rules import EIGHTY
from forerun.records.readings import Reading
from forerun.reviewing.fitting_run import Estimate
from forerun.reviewing.review import Review
from forerun.sheets.model import RunSheet, Setting

__all__ = ["in_one_sentence", "log_digest", "passport_from", "passport_of", "with_passport"]

_OF_THE_COLUMN = ("plates", "holdup_m3", "heat_loss_W_K")
# channels by which a log is known again: factor to the unit of the bench, and its zero there
_KNOWN_BY = (
    ("head_K", 1.0, 273.15),
    ("pot_K", 1.0, 273.15),
    ("bath_K", 1.0, 273.15),
    ("distillate_m3", 1e6, 0.0),
    ("distillate_kg", 1e3, 0.0),
)
_LEARNT = 0.15  # of the doubt that a run must take away for its value to be kept
_LEAST_OWN = 0.1  # of what was likely before, that a run must weigh by itself to be counted
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
        Plain values to be kept, None where this run changes nothing. Each quantity is the mean of
        all runs so far, each weighed by its own width in the logarithm. A run whose log is among
        them already takes the place of its earlier review, or takes it away where it says too
        little now; a review without fit and samples did not look, and leaves it.
    """
    if review.fit is None and review.at_total_reflux is None:
        return None
    estimates = {e.name: e for e in (() if review.fit is None else review.fit.estimates)}
    if review.at_total_reflux is not None:
        estimates["plates"] = review.at_total_reflux
    log = log_digest(review)
    return passport_from(estimates.values(), review.sheet.rig.column, before, run, log)


def log_digest(review: Review) -> str:
    """Return by what the log of a run is known again, whatever else is said of the run.

    What was read when counts, in whole seconds from the first reading and in hundredths of a
    degree, a millilitre or a gram; not how the file was written, nor its remarks. The pressure is
    left out, as it is rounded when it is exported in another unit.
    """
    read = [
        (row.time_s, digits)
        for row in review.readings.rows
        if any(digits := [_digits(row, *channel) for channel in _KNOWN_BY])
    ]
    start = read[0][0] if read else 0.0
    told = "\n".join(" ".join([str(round(time - start)), *digits]) for time, digits in read)
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def _digits(row: Reading, channel: str, scale: float, zero: float) -> str:
    """Return what one channel read in hundredths of its bench unit, empty where nothing."""
    value = float(getattr(row, channel))
    return str(round(100.0 * (scale * value - zero))) if math.isfinite(value) else ""


def passport_from(
    estimates: Iterable[Estimate],
    column: str,
    before: Mapping[str, Any] | None,
    run: str = "",
    log: str = "",
) -> dict[str, Any] | None:
    """Return what is known of a column after one more look at it.

    Args:
        estimates: of one run; those that say nothing of the column are passed over.
        column: as the sheet names it.
        before: the passport so far, None for a column never measured.
        run: name of the run, for the history.
        log: by what its log is known again; empty where there is none.

    Returns:
        As `passport_of`, None where there is nothing to add and nothing to take away; under
        ``own`` stands what this run alone showed, with its 80 % band,
        under ``looks`` the same of every run so far. No quantity is left, and ``runs`` is 0, when
        the only run was taken away.
    """
    looked = [_alone(e) for e in estimates if e.name in _OF_THE_COLUMN and _tells(e)]
    own = {e.name: e for e in looked if e is not None}
    known = _looks(before)
    looks = [one for one in known if not log or one.get("log") != log]
    if not own and len(looks) == len(known):
        return None
    if own:
        look: dict[str, Any] = {"run": run, "log": log, "runs": 1}
        look |= {key: {"value": e.value, "relative_sigma": _width(e)} for key, e in own.items()}
        looks.append(look)
    elif before is not None:
        column = str(before.get("column", column))
    found: dict[str, Any] = {}
    for key in _OF_THE_COLUMN:
        kept = _joined([one[key] for one in looks if key in one])
        if kept is not None:
            found[key] = kept
    runs = sum(int(one["runs"]) for one in looks)
    alone = {k: {"value": e.value, "low": e.low, "high": e.high} for k, e in own.items()}
    return {
        **found,
        "own": alone,
        "column": column,
        "runs": runs,
        "last": run,
        "looks": looks,
    }


def _looks(before: Mapping[str, Any] | None) -> list[dict[str, Any]]:
    """Return what each run so far showed by itself; what was kept in one goes on as one, marked."""
    if before is None:
        return []
    if "looks" in before:
        return [dict(one) for one in before["looks"]]
    known = {key: before[key] for key in _OF_THE_COLUMN if key in before}
    runs = int(before.get("runs", 1))
    return [{"run": str(before.get("last", "")), "log": "", "runs": runs, "joined": True, **known}]


def _in_one(kept: Mapping[str, Any]) -> int:
    """Return how many runs of a passport are kept in one, without what each showed by itself.

    So they were before runs were kept one by one; what was likely before counts in each of them.

    Args:
        kept: the passport.
    """
    return sum(int(one["runs"]) for one in _looks(kept) if one.get("joined"))


def in_one_sentence(name: str, kept: Mapping[str, Any]) -> str:
    """Return what is to be said of such runs, and what mends it; empty where there are none.

    Args:
        name: of the passport.
        kept: the passport.
    """
    runs = _in_one(kept)
    if not runs:
        return ""
    which = "A run" if runs == 1 else f"{runs} runs"
    return (
        f'{which} of the passport "{name}" came from before each was kept by itself: its bands may '
        "be too narrow or too wide. To reckon it again from the runs in the library: "
        f'forerun passport "{name}" --anew'
    )


def _tells(own: Estimate) -> bool:
    return own.learnt >= _LEARNT and own.value > 0.0


def _alone(fitted: Estimate) -> Estimate | None:
    """Return what the readings alone say, without what was taken for likely before.

    What was likely before is joined with all runs together, once (`with_passport`); left in each
    of them it would be counted as often as there are runs. None where hardly anything is left.
    """
    if fitted.before is None:
        return fitted
    stated, width = fitted.before
    after = math.log(fitted.high / fitted.low) / (2.0 * EIGHTY)
    weight, prior = after**-2, width**-2
    if weight - prior <= prior * _LEAST_OWN:
        return None
    log = (weight * math.log(fitted.value) - prior * math.log(stated)) / (weight - prior)
    value, factor = math.exp(log), math.exp(EIGHTY * (weight - prior) ** -0.5)
    return replace(fitted, value=value, low=value / factor, high=value * factor, before=None)


def _width(own: Estimate) -> float:
    """Return the relative width of one look, with what runs of one column differ by [-]."""
    width = (own.high - own.low) / (2.0 * EIGHTY * own.value)
    if own.low > 0.0:
        width = min(width, math.log(own.high / own.low) / (2.0 * EIGHTY))
    return math.hypot(width, _BETWEEN_RUNS)


def _joined(looks: Sequence[Mapping[str, Any]]) -> dict[str, float] | None:
    """Return value and relative width of several looks at one quantity."""
    if not looks:
        return None
    weights = [float(one["relative_sigma"]) ** -2 for one in looks]
    logs = [math.log(float(one["value"])) for one in looks]
    log = sum(w * x for w, x in zip(weights, logs, strict=True)) / sum(weights)
    # looks cannot make it surer than one run differs from the next
    width = max(sum(weights) ** -0.5, _BETWEEN_RUNS)
    return {"value": math.exp(log), "relative_sigma": width}


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
    if runs == 0:
        sentence = f'The passport "{name}" holds no run any more: typical values are taken.'
        return replace(sheet, warnings=(*sheet.warnings, sentence))
    doubt = in_one_sentence(name, kept)
    warnings = (*sheet.warnings, doubt) if doubt else sheet.warnings
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
    return replace(sheet, rig=rig, defaults=(*sheet.defaults, note), warnings=warnings)


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
