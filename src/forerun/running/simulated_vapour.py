"""Faults of pressure, vapour and condenser on a simulated bench.

Sizes are our own choice, no source: from just visible to plain.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from forerun.running.simulated_reading import Channels
from forerun.running.simulated_standing import Faulty, Standing, halted, ramp
from forerun.still.from_sheet import Prepared
from forerun.still.inputs import StillInput
from forerun.substances.correlations import boiling_temperature

__all__ = [
    "can_freeze",
    "condenser_breakthrough",
    "decomposition",
    "flooding",
    "leak",
    "open_to_air",
    "solid_plug",
    "solvent_vapour",
    "under_vacuum",
]

Floats = npt.NDArray[np.float64]

_AIR = 9e4  # Pa; a still below this hangs on a pump
_MBAR = 100.0  # Pa
_PLUG_K = 5.0  # above the coolant: what freezes there may plug


def under_vacuum(prepared: Prepared) -> bool:
    """Return whether a pump draws on the still all the time.

    Args:
        prepared: the sheet made ready for the still.
    """
    return float(prepared.still.pressure[:, 1].max()) < _AIR


def open_to_air(prepared: Prepared) -> bool:
    """Return whether the pressure is that of the room.

    Args:
        prepared: the sheet made ready for the still.
    """
    return float(prepared.still.pressure[:, 1].min()) >= _AIR


def can_freeze(prepared: Prepared) -> bool:
    """Return whether something of the charge can freeze in the condenser.

    Args:
        prepared: the sheet made ready for the still.
    """
    limit = prepared.still.coolant_temperature_K - _PLUG_K
    melting = (p.substance.melting_point for p in prepared.sheet.charge)
    return any(point is not None and point.value > limit for point in melting)


def _raised(given: StillInput, start: float, length: float, rise: float) -> Floats:
    """Return the programme with the pressure risen [Pa] from a moment on."""
    end = given.stop.time_s
    times = np.union1d(given.pressure[:, 0], [0.0, *np.linspace(start, start + length, 8), end])
    usual = np.interp(times, given.pressure[:, 0], given.pressure[:, 1])
    return np.column_stack([times, usual + rise * ramp(times, start, length)])


def _usual(standing: Standing, time: float) -> float:
    course = standing.given.pressure
    return float(np.interp(time, course[:, 0], course[:, 1]))


def _warmer(standing: Standing, pressure: float) -> float:
    """Return how much hotter the charge boils for a rise of the pressure [K/Pa]."""
    points = [
        boiling_temperature(p.substance, 1.05 * pressure).temperature
        - boiling_temperature(p.substance, pressure).temperature
        for p in standing.prior.prepared.sheet.charge
    ]
    return max(points) / (0.05 * pressure)


def leak(standing: Standing) -> Faulty:
    """A joint lets air in; pressure and boiling points rise together."""
    start = standing.some_time(0.15, 0.6)
    rise = max(standing.drawn(0.08, 0.5) * _usual(standing, start), 2.0 * _MBAR)
    length = standing.drawn(120.0, 1500.0)
    given = replace(standing.given, pressure=_raised(standing.given, start, length, rise))
    return Faulty(given, start)


def decomposition(standing: Standing) -> Faulty:
    """Something in the pot gives off gas and heat."""
    start = standing.some_time(0.2, 0.7)
    rise = max(standing.drawn(0.05, 0.3) * _usual(standing, start), 1.5 * _MBAR)
    length, hotter = standing.drawn(300.0, 1200.0), standing.drawn(8.0, 30.0)
    given = replace(standing.given, pressure=_raised(standing.given, start, length, rise))

    def also(true: Channels) -> None:
        true["pot_K"] += hotter * ramp(true["time_s"], start, length)

    said = (start + standing.drawn(60.0, 400.0), "gas evolved, pot darkens")
    return Faulty(given, start, also, (said,) if standing.random.random() < 0.7 else ())


def solvent_vapour(standing: Standing) -> Faulty:
    """Vapour of a volatile solvent, not a leak: with the pump shut off the pressure levels off."""
    start, lasting = standing.some_time(0.1, 0.5), standing.drawn(400.0, 900.0)
    most = max(standing.drawn(0.05, 0.3) * _usual(standing, start), 1.5 * _MBAR)
    over = standing.drawn(0.08, 0.15) * lasting
    slope = _warmer(standing, _usual(standing, start))

    def also(true: Channels) -> None:
        since = np.clip(true["time_s"] - start, 0.0, lasting)
        shut = true["time_s"] <= start + lasting
        risen = shut * most * (1.0 - np.exp(-since / over))
        true["pressure_Pa"] += risen
        true["pot_K"] += slope * risen
        true["head_K"] += slope * risen

    remarks = ((start, "isolated from the pump"), (start + lasting, "valve open again"))
    return Faulty(standing.given, start, also, remarks)


def condenser_breakthrough(standing: Standing) -> Faulty:
    """The coolant warms or runs dry; vapour goes to trap and pump, and less drips."""
    start = standing.some_time(0.15, 0.6)
    low, kept = standing.drawn(0.12, 0.3), standing.drawn(0.1, 0.4)
    length = standing.drawn(120.0, 600.0)
    fall = -low * _usual(standing, start)
    given = replace(standing.given, pressure=_raised(standing.given, start, length, fall))

    def also(true: Channels) -> None:
        halted(true, start + 0.5 * length, kept=kept)

    said = (start + 900.0, "liquid in the trap")
    return Faulty(given, start, also, (said,) if standing.random.random() < 0.5 else ())


def solid_plug(standing: Standing) -> Faulty:
    """What freezes in the condenser closes it: nothing drips, the pot comes under pressure."""
    start, length = standing.some_time(0.1, 0.5), standing.drawn(200.0, 700.0)
    hotter = standing.drawn(4.0, 12.0)
    pressure = _usual(standing, start)
    over = hotter / _warmer(standing, pressure)  # Pa that make the pot so much hotter
    closed = standing.prior.prepared.still.pressure[:, 1].max() < _AIR

    def also(true: Channels) -> None:
        grown = ramp(true["time_s"], start, length)
        true["pot_K"] += hotter * grown
        if not closed:
            true["pressure_Pa"] += over * grown
        halted(true, start)

    return Faulty(standing.given, start, also)


def flooding(standing: Standing) -> Faulty:
    """Liquid fills the column, comes over in a surge, then nothing does."""
    start, surge = standing.some_time(0.1, 0.6), standing.drawn(90.0, 240.0)
    times, hotter = standing.drawn(3.0, 6.0), standing.drawn(2.0, 6.0)
    stalled = standing.drawn(600.0, 1500.0)

    def also(true: Channels) -> None:
        time, volume = true["time_s"], true["distillate_m3"]
        at = np.interp([start - 300.0, start], time, volume)
        rate = max(float(at[1] - at[0]) / 300.0, 1e-8)
        halted(true, start + surge, start + surge + stalled, kept=0.05)
        true["distillate_m3"] += (times - 1.0) * rate * surge * ramp(time, start, surge)
        there = ramp(time, start - 200.0, 200.0) * (
            1.0 - ramp(time, start + surge + stalled, 300.0)
        )
        true["pot_K"] += hotter * there

    said = (start + surge + 120.0, "the column floods")
    return Faulty(standing.given, start, also, (said,) if standing.random.random() < 0.3 else ())
