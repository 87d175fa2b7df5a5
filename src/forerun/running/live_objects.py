"""A live run as plain objects: its readings, what was said of it, and one line for the wall."""

from __future__ import annotations

import math
from typing import Any

from forerun.core.provenance import signed
from forerun.records.interface import Entry, RunRow, StoredReading
from forerun.records.readings import CHANNELS
from forerun.running.alarms import not_judged, residue_of
from forerun.running.live import LiveRun
from forerun.sheets.writing import table_of

__all__ = [
    "entry_object",
    "reading_object",
    "row_object",
    "run_object",
    "summary_object",
    "told_objects",
]

_RATE_OVER = 180.0  # s
_DRIPS = 0.05e-6 / 60.0  # m3/s; below this nothing drips
_SILENT = 60.0  # s


def reading_object(stored: StoredReading) -> dict[str, Any]:
    """Return a stored reading as it is sent; what was not read is null.

    Args:
        stored: the reading with its number.
    """
    reading = stored.reading
    return {
        "number": stored.number,
        "time_s": reading.time_s,
        **{name: _plain(getattr(reading, name)) for name in CHANNELS},
        "remark": reading.remark,
        "origin": reading.origin,
        "flags": list(reading.flags),
        "corrects": reading.corrects,
        "utc_s": reading.utc_s,
    }


def _plain(value: float) -> float | None:
    return value if math.isfinite(value) else None


def entry_object(entry: Entry) -> dict[str, Any]:
    """Return what was said beside the readings as it is sent.

    Args:
        entry: with its number.
    """
    return {
        "number": entry.number,
        "kind": entry.kind,
        "data": dict(entry.data),
        "stored_utc_s": entry.stored_utc_s,
        "corrects": entry.corrects,
    }


def told_objects(run: LiveRun) -> dict[str, Any]:
    """Return what is reckoned and judged at this moment.

    Args:
        run: that goes on or has ended.
    """
    told = run.told
    return {
        "estimate": told.estimate,
        "instruction": told.instruction,
        "alarms": [alarm.to_json() for alarm in run.alarms],
        "not_judged": not_judged(run.limits, run.channels()),
        "findings": list(told.findings),
    }


def run_object(run: LiveRun, after: int = 0, entries: int = 0) -> dict[str, Any]:
    """Return a run as it is sent.

    Args:
        run: that goes on or has ended.
        after: only readings with a higher number.
        entries: only entries with a higher number.
    """
    return signed(
        {
            "id": run.id,
            "code": run.code,
            "title": run.title,
            "sheet": None if run.sheet is None else table_of(run.sheet, as_written=True),
            "started_utc_s": run.started_utc_s,
            "ended_utc_s": run.ended_utc_s,
            "pace": run.pace,
            "now_s": run.now_s(),
            "readings": [reading_object(stored) for stored in run.readings(after)],
            "entries": [entry_object(entry) for entry in run.entries(entries)],
            **told_objects(run),
        }
    )


def row_object(row: RunRow, last_reading_s: float | None) -> dict[str, Any]:
    """Return a run as the list shows it.

    Args:
        row: of the store.
        last_reading_s: time of its last reading [s of the run]; None without one.
    """
    return {
        "id": row.id,
        "code": row.code,
        "title": row.title,
        "started_utc_s": row.started_utc_s,
        "ended_utc_s": row.ended_utc_s,
        "readings": row.readings,
        "last_reading_s": last_reading_s,
    }


def summary_object(run: LiveRun) -> dict[str, Any]:
    """Return a run in one line, for the wall.

    Args:
        run: that goes on or has ended.
    """
    recent, now = run.recent(), run.now_s()
    newest = {name: seen.value for name, seen in recent.newest.items()}
    rate = recent.slope("distillate_m3", now - _RATE_OVER, now)
    if rate is None and run.limits is not None:
        mass = recent.slope("distillate_kg", now - _RATE_OVER, now)
        rate = None if mass is None else mass / run.limits.density
    instruction = run.told.instruction
    return {
        "id": run.id,
        "code": run.code,
        "title": run.title,
        "now_s": now,
        "state": _state(run, now, rate),
        "head_K": newest.get("head_K"),
        "bath_K": newest.get("bath_K"),
        "distillate_m3": _distillate(run, newest),
        "rate_m3_s": rate,
        "residue_m3": _residue(run),
        "instruction": None if instruction is None else instruction.get("text"),
        "alarm": run.alarms[0].to_json() if run.alarms else None,
        "last_reading_s": run.last_reading_s,
    }


def _state(run: LiveRun, now: float, rate: float | None) -> str:
    if run.ended_utc_s is not None:
        return "ended"
    if run.last_reading_s is None:
        return "waiting"
    gates = {alarm.gate for alarm in run.alarms}
    if "dryness" in gates:
        return "near_dry"
    if any(f.get("name") == "flooding" for f in run.told.findings):
        return "flooding"
    if "stale" in gates or now - (run.last_arrived_s or 0.0) > 10.0 * _SILENT * run.pace:
        return "silent"
    # a bench that reads no amounts drips by the estimate
    dripping = _middle(run, "rate_m3_s") if rate is None else rate
    return "dripping" if dripping is not None and dripping > _DRIPS else "heating"


def _middle(run: LiveRun, name: str) -> float | None:
    band = (run.told.estimate or {}).get(name)
    if not isinstance(band, list | tuple) or len(band) != 3 or band[1] is None:
        return None
    return float(band[1])


def _distillate(run: LiveRun, newest: dict[str, float]) -> float | None:
    if "distillate_m3" in newest:
        return newest["distillate_m3"]
    if "distillate_kg" in newest and run.limits is not None:
        return newest["distillate_kg"] / run.limits.density
    return None


def _residue(run: LiveRun) -> float | None:
    believed = _middle(run, "residue_m3")
    if believed is not None or run.limits is None:
        return believed
    return residue_of(run.limits, run.recent())
