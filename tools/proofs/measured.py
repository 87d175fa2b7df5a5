"""Records of real distillations, replayed reading by reading; writes the figures.

    python tools/proofs/measured.py [--only ID]

The records are those that were found with enough readings in them, in ``measured_runs.json``:
what each leaves unsaid is in its line ``assumed``, and nothing was fitted to it.  They print no
times, so that theirs are those of the sheet's own rate from the sheet's own first drop.  The
receiver is to be changed at a head temperature three tenths, and at one six tenths, of the way from
the lower boiling point to the higher; the record itself says by interpolation at how many
millilitres that was.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path

import numpy as np
from live_figures import MEMBERS as LIVE_MEMBERS
from live_page import write_page

from forerun.records.readings import Reading, readings_of
from forerun.running.estimating import Estimator
from forerun.running.instructing import CALL_AT
from forerun.running.members import members_of
from forerun.sheets.resolving import load
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.run import run_still
from forerun.substances.correlations import boiling_temperature

__all__ = ["Replayed", "main", "replayed"]

HERE = Path(__file__).resolve().parent
FIGURES = HERE.parents[1] / "docs" / "explain" / "live.json"
LEVELS = (0.3, 0.6)
MEMBERS = 64
_BETWEEN = 4  # moments asked between two readings
_AFTER_M3 = 6e-6
_BEYOND_S = 120.0  # after the last reading, in which it may still call


@dataclass(frozen=True, slots=True)
class Replayed:
    """One switch of one record.

    Args:
        record: its name.
        level_C: head temperature of the switch [deg C].
        true_mL: distillate by then, as the record has it.
        before_mL: as foreseen before the run: 10, 50 and 90 %.
        half_mL, late_mL: the same at half and at four fifths of that distillate.
        called_mL: distillate when it was called; not-a-number for never.
        misfit: of the last estimate [-].
    """

    record: str
    level_C: float
    true_mL: float
    before_mL: list[float]
    half_mL: list[float]
    late_mL: list[float]
    called_mL: float
    misfit: float


def replayed(record: dict) -> list[Replayed]:
    """Return what was foreseen along one record, for each level that it reaches."""
    low, high = sorted(
        boiling_temperature(portion.substance, 101325.0, "pressure").temperature - 273.15
        for portion in load(_sheet(record, 80.0)).charge
    )
    found = []
    for share in LEVELS:
        level = low + share * (high - low)
        true = _crossing(record, level)
        if true is not None:
            found.append(_one(record, level, true))
    return found


def _crossing(record: dict, level: float) -> float | None:
    """Return the distillate at which the head first comes to a level [mL]."""
    volumes, heads = np.array(record["volume_mL"], float), np.array(record["head_C"], float)
    over = np.flatnonzero(heads >= level)
    if over.size == 0 or over[0] == 0:
        return None
    k = int(over[0])
    share = (level - heads[k - 1]) / (heads[k] - heads[k - 1])
    return float(volumes[k - 1] + share * (volumes[k] - volumes[k - 1]))


def _sheet(record: dict, level: float) -> str:
    charge = "".join(
        f'[[charge]]\nsubstance = "{name}"\namount = "{amount}"\n'
        for name, amount in record["charge"]
    )
    rig = "".join(f'{key} = "{value}"\n' for key, value in record["rig"].items())
    return (
        f'title = "{record["id"]}"\n{charge}[rig]\n{rig}bath = "silicone oil"\n'
        '[programme]\npressure = "760 mmHg"\n'
        f'keep = {{ rate = "{record["rate_mL_min"]} mL/min" }}\n'
        'stop = { residue = "1 mL", time = "8 h" }\n'
        f'[[switch]]\nhead = "{level:.2f} °C"\n'
    )


def _one(record: dict, level: float, true_mL: float) -> Replayed:
    prepared = prepare(load(_sheet(record, level)))
    first = run_still(prepared.still).first_drop_s
    if first is None:
        raise SystemExit(f"{record['id']}: nothing distils")
    log = _log(record, first)
    estimator = Estimator(prepared, MEMBERS)
    before = _spanned(_before(estimator, prepared), 0.0)
    seen: dict[str, list[float]] = {}
    called, misfit = np.nan, 0.0
    for now, volume in _moments(log):
        if volume > true_mL + 1e6 * _AFTER_M3:
            break
        estimate = estimator.estimate(
            readings_of([row for row in log if row.time_s <= now]), now, receiver=1
        )
        misfit = estimate.misfit
        ahead = _spanned(estimator.members.switch_m3, volume)
        if volume >= 0.5 * true_mL and volume <= 0.75 * true_mL:
            seen.setdefault("half", ahead)
        if volume >= 0.8 * true_mL and volume <= true_mL:
            seen.setdefault("late", ahead)
        if estimate.next_switch is not None and estimate.next_switch.due >= CALL_AT:
            called = volume
            break
    none = [np.nan] * 3
    return Replayed(
        record["id"], level, true_mL, before, seen.get("half", none), seen.get("late", none),
        float(called), misfit,
    )  # fmt: skip


def _log(record: dict, first_s: float) -> list[Reading]:
    rate = record["rate_mL_min"] / 60.0
    return [
        Reading(first_s + volume / rate, head_K=head + 273.15, distillate_m3=1e-6 * volume)
        for volume, head in zip(record["volume_mL"], record["head_C"], strict=True)
    ]


def _moments(log: list[Reading]) -> list[tuple[float, float]]:
    """Return times and distillate [s, mL] at which the estimate is asked."""
    times = np.array([row.time_s for row in log])
    volumes = 1e6 * np.array([row.distillate_m3 for row in log])
    where = np.linspace(2.0, times.size - 1.0, (times.size - 3) * _BETWEEN + 1)
    steps = np.arange(times.size)
    asked, amounts = np.interp(where, steps, times), np.interp(where, steps, volumes)
    pace = (volumes[-1] - volumes[0]) / (times[-1] - times[0])
    beyond = np.arange(1, 5) * _BEYOND_S / 4.0
    return [
        *zip(asked, amounts, strict=True),
        *zip(times[-1] + beyond, volumes[-1] + pace * beyond, strict=True),
    ]


def _before(estimator: Estimator, prepared: Prepared) -> np.ndarray:
    """Return how much distils until the switch, as foreseen before the run [m3]."""
    first = estimator.belief.runs
    return members_of(first, None, 0.0, 1, 0.0, prepared).switch_m3


def _spanned(ahead_m3: np.ndarray, volume_mL: float) -> list[float]:
    """Return 10, 50 and 90 % of the distillate at the switch [mL]."""
    known = ahead_m3[np.isfinite(ahead_m3)]
    if known.size == 0:
        return [np.nan] * 3
    return [float(volume_mL + 1e6 * q) for q in np.quantile(known, (0.1, 0.5, 0.9))]


def summary(found: list[Replayed]) -> dict[str, object]:
    """Return the figures: how far off, and how often within 2 mL."""
    called = np.array([r.called_mL - r.true_mL for r in found])
    stages = {}
    for name in ("before_mL", "half_mL", "late_mL"):
        spans = np.array([getattr(r, name) for r in found])
        true = np.array([r.true_mL for r in found])
        known = np.isfinite(spans).all(axis=1)
        spans, true = spans[known], true[known]
        stages[name] = {
            "count": int(known.sum()),
            "median_error_mL": float(np.median(np.abs(spans[:, 1] - true))),
            "inside_80": float(np.mean((spans[:, 0] <= true) & (true <= spans[:, 2]))),
        }
    return {
        "switches": len(found),
        "close": float(np.mean(np.abs(called) <= 2.0)),
        "never_called": int(np.isnan(called).sum()),
        "median_error_mL": float(np.nanmedian(np.abs(called))),
        "stages": stages,
    }


def main() -> int:
    """Replay every record and write the figures."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--only")
    given = words.parse_args()
    records = json.loads((HERE / "measured_runs.json").read_text(encoding="utf-8"))
    found: list[Replayed] = []
    for record in records:
        if given.only in (None, record["id"]):
            for one in replayed(record):
                print(one, flush=True)
                found.append(one)
    if given.only is None:
        report = json.loads(FIGURES.read_text(encoding="utf-8"))
        report["measured"] = {**summary(found), "date": date.today().isoformat()}
        report["measured"]["each"] = [asdict(one) for one in found]
        FIGURES.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
        write_page(report, LIVE_MEMBERS)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
