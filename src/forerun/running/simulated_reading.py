"""Instruments of a simulated bench: they drift, round, and a millilitre is lost on the way.

Widths are our own choice, no source; the steps of the displays are those of usual instruments,
from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.records.readings import Reading, Readings, readings_of
from forerun.still.results import Trace

__all__ = ["SEEN", "Channels", "channels_of", "read_off"]

Floats = npt.NDArray[np.float64]
Channels = dict[str, Floats]
"""Channels of `Reading` along the times of a log, and ``time_s`` itself."""

SEEN = ("head_K", "pot_K", "bath_K", "pressure_Pa", "distillate_m3")
"""What a fully fitted bench reads."""


@dataclass(frozen=True, slots=True)
class _Instrument:
    drift: float  # standard deviation at the end of the run
    offset: float  # standard deviation
    noise: float
    display: float  # smallest step shown


_INSTRUMENTS = {
    "head_K": _Instrument(0.2, 0.0, 0.05, 0.1),  # its offset is the run's own
    "pot_K": _Instrument(0.3, 0.5, 0.08, 0.1),
    "bath_K": _Instrument(0.5, 1.0, 0.2, 0.5),
    "pressure_Pa": _Instrument(10.0, 30.0, 5.0, 10.0),
    "distillate_m3": _Instrument(0.0, 0.0, 3e-8, 1e-7),
}
_ZERO_K = 273.15
_LOST = 0.6e-6  # m3, on average, once in a run


def channels_of(trace: Trace, every_s: float) -> Channels:
    """Return what happened, at the times of a log.

    Args:
        trace: the run.
        every_s: distance of the readings [s].
    """
    time = np.arange(0.0, trace.time_s[-1], every_s)
    courses = {
        "head_K": trace.head_temperature_K,
        "pot_K": trace.pot_temperature_K,
        "bath_K": trace.bath_temperature_K,
        "pressure_Pa": trace.pressure_Pa,
        "distillate_m3": trace.distillate_volume_m3,
    }
    found = {name: np.interp(time, trace.time_s, course) for name, course in courses.items()}
    return {"time_s": time, **found}


def read_off(
    true: Channels,
    remarks: Sequence[tuple[float, str]],
    random: np.random.Generator,
    channels: Sequence[str] = SEEN,
    origin: str = "simulated bench",
) -> Readings:
    """Return what instruments show of what happened.

    Args:
        true: what happened.
        remarks: what was written down, each with its time [s].
        random: source of chance.
        channels: those that are read.
        origin: name of the device.
    """
    time = true["time_s"]
    shown = {name: _shown(name, true, random) for name in SEEN}
    said = {int(np.abs(time - when).argmin()): text for when, text in remarks}
    unread = np.full(time.size, np.nan)
    columns = {name: shown[name] if name in channels else unread for name in SEEN}
    rows = [
        Reading(
            float(t),
            head_K=float(columns["head_K"][k]),
            pot_K=float(columns["pot_K"][k]),
            bath_K=float(columns["bath_K"][k]),
            pressure_Pa=float(columns["pressure_Pa"][k]),
            distillate_m3=float(columns["distillate_m3"][k]),
            remark=said.get(k, ""),
            origin=origin,
        )
        for k, t in enumerate(time)
    ]
    return readings_of(rows)


def _shown(name: str, true: Channels, random: np.random.Generator) -> Floats:
    instrument, values, time = _INSTRUMENTS[name], true[name], true["time_s"]
    late = time / max(float(time[-1]), 1.0)
    wrong = random.normal(0.0, instrument.offset) + late * random.normal(0.0, instrument.drift)
    if name == "distillate_m3":
        wrong = -_lost(values, time, random)
    noisy = values + wrong + instrument.noise * random.standard_normal(values.size)
    zero = _ZERO_K if name.endswith("_K") else 0.0
    shown = zero + np.round((noisy - zero) / instrument.display) * instrument.display
    return np.maximum(shown, 0.0)


def _lost(volume: Floats, time: Floats, random: np.random.Generator) -> Floats:
    """Return what has missed the receiver so far: a splash or a drop left behind, once."""
    amount = random.exponential(_LOST)
    when = random.uniform(0.2, 1.0) * float(volume[-1])
    return np.minimum(amount * (volume > when), volume) if volume[-1] > 0.0 else 0.0 * time
