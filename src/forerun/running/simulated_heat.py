"""Faults of heat and thermometers on a simulated bench.

Sizes are our own choice, no source: from just visible to plain.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from forerun.running.simulated_reading import Channels
from forerun.running.simulated_standing import Faulty, Standing, halted, led_by, ramp
from forerun.still.from_sheet import Prepared
from forerun.still.run import run_still

__all__ = [
    "barometer",
    "bumping",
    "exotherm",
    "heat_loss",
    "heater_cycling",
    "heater_fault",
    "light_exhausted",
    "loses_heat",
    "parts_in_steps",
    "superheated_vapour",
    "thermometer_offset",
]

Floats = npt.NDArray[np.float64]

_LATE = 1800.0  # s that a first drop must be late before loss of heat is a fault
_STEP_K = 12.0  # between boiling points of two neighbours that part in a step
_TRIES = 8


def loses_heat(prepared: Prepared) -> bool:
    """Return whether there is a column or neck that can lose heat.

    Args:
        prepared: the sheet made ready for the still.
    """
    return prepared.sheet.rig.heat_loss_W_K.value > 0.0


def parts_in_steps(prepared: Prepared) -> bool:
    """Return whether two neighbours boil far enough apart for a fraction to end.

    Args:
        prepared: the sheet made ready for the still.
    """
    points = sorted(p.substance.boiling_point.value for p in prepared.sheet.charge)
    return prepared.still.plates > 1 and bool((np.diff(points) > _STEP_K).any())


def heat_loss(standing: Standing) -> Faulty:
    """Column and neck stand bare in a draught, and hardly any vapour reaches the head."""
    given, factor = standing.given, standing.drawn(2.5, 4.0)
    usual = standing.run.first_drop_s or 0.0
    for _ in range(_TRIES):
        cold = replace(
            given,
            column_loss_W_K=max(factor * given.column_loss_W_K, 0.0),
            head_loss_W_K=factor * given.head_loss_W_K,
        )
        first = run_still(cold).first_drop_s
        if first is None or first > usual + _LATE:
            break
        factor *= 1.5
    return Faulty(cold, usual)


def light_exhausted(standing: Standing) -> Faulty:
    """The bath is set for the lightest component; when that has gone it drives nothing over.

    The model keeps its head wet, so the fall of the thermometer is drawn by hand.
    """
    start = _first_fraction(standing)
    depth, length = standing.drawn(10.0, 30.0), standing.drawn(120.0, 400.0)

    def held(time: Floats, bath: Floats) -> Floats:
        return np.minimum(bath, float(np.interp(start, time, bath)))

    def also(true: Channels) -> None:
        halted(true, start + 0.3 * length)
        before = float(np.interp(start, true["time_s"], true["head_K"]))
        fallen = np.minimum(true["head_K"], before) - depth
        grown = ramp(true["time_s"], start, length)
        true["head_K"] = (1.0 - grown) * true["head_K"] + grown * fallen

    return Faulty(led_by(standing, held), start, also)


def _first_fraction(standing: Standing) -> float:
    """Return when the lightest component ceases to be the most of what drips [s]."""
    trace = standing.run.trace
    x = trace.distillate_mole_fraction
    on = np.isfinite(x).all(axis=1)
    main = x[on].argmax(axis=1)
    ends = np.flatnonzero(main != main[0])
    return float(trace.time_s[on][ends[0]]) if ends.size else standing.when(0.5)


def heater_fault(standing: Standing) -> Faulty:
    """The heater fails, and the bath cools."""
    start = standing.some_time()
    room, over = standing.given.room_temperature_K, standing.drawn(900.0, 2400.0)

    def cools(time: Floats, bath: Floats) -> Floats:
        at = float(np.interp(start, time, bath))
        falling = room + (at - room) * np.exp(-np.maximum(time - start, 0.0) / over)
        return np.where(time < start, bath, np.minimum(bath, falling))

    return Faulty(led_by(standing, cools), start)


def thermometer_offset(standing: Standing) -> Faulty:
    """The bulb of the head thermometer sits too high, or it is out of calibration."""
    off = standing.given.thermometer_offset_K - standing.drawn(3.0, 7.0)
    return Faulty(replace(standing.given, thermometer_offset_K=off), standing.when(0.02))


def barometer(standing: Standing) -> Faulty:
    """The air is thinner than the sheet says, and nobody read a barometer."""
    pressure = standing.given.pressure.copy()
    pressure[:, 1] *= standing.drawn(0.80, 0.92)
    given = replace(standing.given, pressure=pressure)
    return Faulty(given, standing.when(0.02), unread=frozenset({"pressure_Pa"}))


def bumping(standing: Standing) -> Faulty:
    """The pot boils in bursts; the head swings, and drops come in bursts."""
    start, lasting = standing.some_time(0.1, 0.6), standing.drawn(900.0, 2400.0)
    size, period = standing.drawn(1.2, 3.0), standing.drawn(20.0, 55.0)
    kicks = standing.random

    def also(true: Channels) -> None:
        time = true["time_s"]
        steps = np.diff(time, prepend=time[0])
        phase = np.cumsum(2.0 * np.pi * steps / period * kicks.uniform(0.8, 1.2, time.size))
        on = (time >= start) & (time < start + lasting)
        true["head_K"] += on * size * np.sin(phase) * kicks.uniform(0.6, 1.2, time.size)

    return Faulty(standing.given, start, also)


def heater_cycling(standing: Standing) -> Faulty:
    """The controller lets the bath swing, and the vapour is superheated in step with it."""
    start = standing.some_time(0.05, 0.4)
    size, period = standing.drawn(4.0, 8.0), standing.drawn(120.0, 400.0)
    share, behind = standing.drawn(0.3, 0.5), standing.drawn(10.0, 40.0)

    def swings(time: Floats, bath: Floats) -> Floats:
        wave = np.sin(2.0 * np.pi * (time - start) / period)
        return np.where(time < start, bath, bath + size * wave)

    def also(true: Channels) -> None:
        time = true["time_s"]
        wave = np.sin(2.0 * np.pi * (time - start - behind) / period)
        true["head_K"] += (time >= start) * share * size * wave

    return Faulty(led_by(standing, swings), start, also)


def superheated_vapour(standing: Standing) -> Faulty:
    """A bath far too hot on a small fill: early vapour is hotter than it condenses."""
    start, lasting = standing.when(0.01), standing.when(standing.drawn(0.25, 0.4))
    points = [p.substance.boiling_point.value for p in standing.prior.prepared.sheet.charge]
    above = max(points) - min(points) + standing.drawn(8.0, 18.0)

    def also(true: Channels) -> None:
        time = true["time_s"]
        there = ramp(time, start, 120.0) * (1.0 - ramp(time, lasting, 1200.0))
        true["head_K"] += above * there
        true["bath_K"] += 40.0 * ramp(time, start - 600.0, 600.0)

    return Faulty(standing.given, start, also)


def exotherm(standing: Standing) -> Faulty:
    """The pot makes its own heat and outruns the bath."""
    start = standing.some_time()
    doubled = standing.drawn(60.0, 180.0)
    most = standing.drawn(30.0, 80.0)

    def also(true: Channels) -> None:
        time = true["time_s"]
        since = np.maximum(time - start, 0.0)
        gap = max(float(np.interp(start, time, true["bath_K"] - true["pot_K"])), 0.0)
        rise = np.minimum(2.0 ** (np.minimum(since, 3600.0) / doubled) - 1.0, gap + most)
        true["pot_K"] += rise
        volume = true["distillate_m3"]
        faster = volume + 0.5 * (volume - np.interp(start, time, volume)) * (since > 0.0)
        true["distillate_m3"] = np.minimum(faster, float(volume[-1]))

    return Faulty(standing.given, start, also)
