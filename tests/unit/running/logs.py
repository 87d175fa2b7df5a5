"""Logs of a run that went well, and of the same run with something done to it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import numpy.typing as npt

from forerun.records.readings import CHANNELS, Reading, Readings, readings_of
from forerun.running.case import Case, Weighed, case_of
from forerun.running.courses import Courses, courses_of
from forerun.sheets.reading import read_text
from forerun.sheets.resolving import resolve
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.results import Run
from forerun.still.run import run_still

Floats = npt.NDArray[np.float64]
Log = dict[str, Floats]

PAIR = """
title = "Heptane and toluene"
[[charge]]
substance = "heptane"
amount = "60 mL"
[[charge]]
substance = "toluene"
amount = "60 mL"
[rig]
flask = "250 mL"
plates = 8
holdup = "2 mL"
heat_loss = "0.1 W/K"
[programme]
pressure = "760 mmHg"
bath = [["0 min", "25 °C"], ["25 min", "135 °C"], ["90 min", "165 °C"]]
reflux_ratio = 2.0
stop = { residue = "30 mL" }
"""
SIMPLE = PAIR.replace("plates = 8", "plates = 0").replace(
    "reflux_ratio = 2.0", "reflux_ratio = 0.0"
)
VACUUM = (
    PAIR.replace('"760 mmHg"', '"200 mbar"').replace("135 °C", "85 °C").replace("165 °C", "105 °C")
).replace("[rig]", '[rig]\ncoolant = "0 °C"')
FREEZING = PAIR.replace('"heptane"', '"cyclohexane"').replace("[rig]", '[rig]\ncoolant = "5 °C"')
BLEND = PAIR.replace('"heptane"', '"ethanol"')


@cache
def ran(sheet: str) -> tuple[Prepared, Run]:
    prepared = prepare(resolve(read_text(sheet)))
    return prepared, run_still(prepared.still)


@cache
def courses(sheet: str) -> Courses:
    return courses_of(ran(sheet)[0])


def log_of(sheet: str = PAIR, every: float = 10.0, of: str | None = None) -> Log:
    """Return what honest instruments read of the run of a sheet, or of another run."""
    trace = ran(of or sheet)[1].trace
    time = np.arange(0.0, trace.time_s[-1], every)
    noise = np.random.default_rng(7)
    columns = {
        "head_K": (trace.head_temperature_K, 0.05),
        "pot_K": (trace.pot_temperature_K, 0.05),
        "bath_K": (trace.bath_temperature_K, 0.2),
        "pressure_Pa": (trace.pressure_Pa, 5.0),
        "distillate_m3": (trace.distillate_volume_m3, 0.0),
    }
    log = {"time_s": time}
    for name, (values, sigma) in columns.items():
        log[name] = np.interp(time, trace.time_s, values) + sigma * noise.standard_normal(time.size)
    return log


def readings(log: Log, remarks: Sequence[tuple[float, str]] = ()) -> Readings:
    channels = [name for name in CHANNELS if name in log]
    rows = [
        Reading(float(t), **{name: float(log[name][k]) for name in channels})
        for k, t in enumerate(log["time_s"])
    ]
    for when, text in remarks:
        k = int(np.abs(log["time_s"] - when).argmin())
        rows[k] = replace(rows[k], remark=text)
    return readings_of(rows)


def case(
    log: Log,
    sheet: str = PAIR,
    remarks: Sequence[tuple[float, str]] = (),
    weighed: Weighed | None = None,
) -> Case:
    prepared, run = ran(sheet)
    return case_of(prepared, run.trace, readings(log, remarks), courses(sheet), weighed)


def when_at(log: Log, share: float, sheet: str = PAIR) -> float:
    """Return when so much of the charge had come over."""
    charge = sum(p.volume_m3 for p in ran(sheet)[0].sheet.charge)
    return float(np.interp(share * charge, log["distillate_m3"], log["time_s"]))


def without(log: Log, *names: str) -> Log:
    return {name: values for name, values in log.items() if name not in names}


def ramp(time: Floats, begin: float, length: float) -> Floats:
    """Return 0 before, 1 after, straight between."""
    return np.clip((time - begin) / length, 0.0, 1.0)


def halted(log: Log, begin: float) -> None:
    """Nothing drips any more."""
    held = np.interp(begin, log["time_s"], log["distillate_m3"])
    log["distillate_m3"] = np.minimum(log["distillate_m3"], held)


Doing = Callable[[Log], None]
