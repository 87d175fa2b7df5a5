"""Faults of column, charge and account on a simulated bench.

Sizes are our own choice, no source: from just visible to plain.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.bubble import bubble_temperature
from forerun.equilibrium.mixture import mixture_of
from forerun.running.simulated_reading import Channels
from forerun.running.simulated_standing import Faulty, Standing, ramp
from forerun.still.from_sheet import Prepared
from forerun.still.inputs import Stop
from forerun.still.run import run_still
from forerun.substances.catalogue import find
from forerun.substances.correlations import boiling_temperature

__all__ = [
    "azeotrope",
    "can_run_dry",
    "carry_over",
    "gained_mass",
    "has_azeotrope",
    "has_plates",
    "lost_mass",
    "near_dry",
    "parts_by_plates",
    "shuns_water",
    "too_few_plates",
    "two_liquids",
    "water",
]

_WATER = "water"
_BELOW_K = 1.5  # by less no plateau tells it from what boils first
_SHOWS_K = 4.0  # what a head can stand too high without plates, at least
_FLOOR = 0.1  # of the charge: where a run is to be stopped
_LEFT = 0.03  # of the charge: a pot that is all but dry


def has_plates(prepared: Prepared) -> bool:
    """Return whether there is a column worth the name.

    Args:
        prepared: the sheet made ready for the still.
    """
    return prepared.still.plates >= 3 and len(prepared.sheet.charge) > 1


def parts_by_plates(prepared: Prepared) -> bool:
    """Return whether the head would show it if the column did not part anything.

    Args:
        prepared: the sheet made ready for the still.
    """
    if not has_plates(prepared):
        return False
    still = prepared.still
    pressure = float(still.pressure[0, 1])
    x = still.charge_mol / still.charge_mol.sum()
    unparted = bubble_temperature(x, pressure, prepared.mixture)[0]
    points = [boiling_temperature(p.substance, pressure).temperature for p in prepared.sheet.charge]
    coldest = min([*points, *(t for t, _ in _of_charge(prepared))])
    return unparted - coldest > _SHOWS_K


def can_run_dry(prepared: Prepared) -> bool:
    """Return whether the sheet stops at a residue that somebody could pass.

    Args:
        prepared: the sheet made ready for the still.
    """
    return prepared.still.stop.residue_m3 is not None


@cache
def _azeotropes(names: tuple[str, ...], pressure: float) -> tuple[tuple[float, int], ...]:
    found = find_azeotropes(mixture_of([find(name) for name in names]), pressure)
    return tuple((a.temperature_K, a.liquid_phases) for a in found.azeotropes)


def _of_charge(prepared: Prepared) -> tuple[tuple[float, int], ...]:
    if len(prepared.sheet.names) < 2:
        return ()
    return _azeotropes(prepared.sheet.names, float(prepared.still.pressure[0, 1]))


def has_azeotrope(prepared: Prepared) -> bool:
    """Return whether a blend of the charge boils below everything in it.

    Args:
        prepared: the sheet made ready for the still.
    """
    pressure = float(prepared.still.pressure[0, 1])
    points = [boiling_temperature(p.substance, pressure).temperature for p in prepared.sheet.charge]
    return any(t < min(points) - _BELOW_K for t, _ in _of_charge(prepared))


def shuns_water(prepared: Prepared) -> bool:
    """Return whether what boils first would boil with water as a second liquid.

    Args:
        prepared: the sheet made ready for the still.
    """
    if _WATER in prepared.sheet.names:
        return False
    return _with_water(prepared) is not None


def _with_water(prepared: Prepared) -> float | None:
    """Return where the charge's first component and water boil as two liquids [K]."""
    first = min(prepared.sheet.charge, key=lambda p: p.substance.boiling_point.value)
    pressure = float(prepared.still.pressure[0, 1])
    found = _azeotropes((first.substance.name, _WATER), pressure)
    return next((temperature for temperature, liquids in found if liquids == 2), None)


def azeotrope(standing: Standing) -> Faulty:
    """Nothing is wrong but the wish: the charge boils as a blend."""
    return Faulty(standing.given, standing.when(0.05))


def too_few_plates(standing: Standing) -> Faulty:
    """The column hardly parts anything: bypassed, flooded long since, or all taken off."""
    plates = int(standing.random.integers(0, 2))
    given = replace(
        standing.given,
        plates=plates,
        carried=0.0,
        holdup_m3=standing.given.holdup_m3 if plates else 0.0,
        reflux_ratio=np.array([[0.0, standing.drawn(0.0, 0.5)]]),
    )
    return Faulty(given, standing.when(0.05))


def carry_over(standing: Standing) -> Faulty:
    """Liquid of the pot is thrown over."""
    start, lasting = standing.some_time(0.05, 0.6), standing.drawn(25.0, 90.0)
    trace = standing.run.trace
    at = [float(np.interp(start, trace.time_s, c)) for c in (
        trace.pot_temperature_K, trace.head_temperature_K)]  # fmt: skip
    jump = max(at[0] - at[1], 4.0) * standing.drawn(0.8, 1.0)
    thrown = standing.drawn(0.5e-6, 3e-6)

    def also(true: Channels) -> None:
        time = true["time_s"]
        up = ramp(time, start, 8.0) * np.exp(-np.maximum(time - start - lasting, 0.0) / 25.0)
        true["head_K"] += jump * up
        true["distillate_m3"] += thrown * ramp(time, start, 10.0)

    said = (start + 60.0, str(standing.random.choice(["coloured drops", "foam in the head"])))
    return Faulty(standing.given, start, also, (said,) if standing.random.random() < 0.6 else ())


def water(standing: Standing) -> Faulty:
    """The charge is wet: what boils first takes the water over, cloudy and cold."""
    prepared = standing.prior.prepared
    temperature = _with_water(prepared) or 0.0
    start = standing.when(0.01)
    until = standing.when(standing.drawn(0.06, 0.12))
    fade = 0.3 * (until - start) + 60.0

    def also(true: Channels) -> None:
        time, head = true["time_s"], true["head_K"]
        early = 1.0 - ramp(time, until, fade)
        true["head_K"] = np.minimum(head, head + early * (temperature - head))

    words = ["first drops cloudy", "drops are cloudy", "milky drops"]
    said = (standing.when(0.03), str(standing.random.choice(words)))
    return Faulty(standing.given, start, also, (said,) if standing.random.random() < 0.8 else ())


def two_liquids(standing: Standing) -> Faulty:
    """Two liquids distil together and part in the receiver."""
    start = standing.some_time(0.2, 0.6)
    words = ["two layers in the receiver", "a second layer in the receiver", "layers in receiver"]
    return Faulty(standing.given, start, None, ((start, str(standing.random.choice(words))),))


def near_dry(standing: Standing) -> Faulty:
    """Nobody stops at the floor."""
    given = standing.given
    charge = sum(p.volume_m3 for p in standing.prior.prepared.sheet.charge)
    stop = Stop(2.0 * given.stop.time_s, _LEFT * charge)
    bath = given.bath_temperature.copy()
    later = np.array([[given.stop.time_s + 1800.0, bath[-1, 1] + 40.0]])
    gone = (1.0 - _FLOOR) * charge - given.holdup_m3
    given = replace(given, stop=stop, bath_temperature=np.vstack([bath, later]))
    trace = run_still(given).trace
    start = float(np.interp(gone, trace.distillate_volume_m3, trace.time_s))
    return Faulty(given, start)


def lost_mass(standing: Standing) -> Faulty:
    """A part of what came over evaporates from warm receivers."""
    return Faulty(
        standing.given, standing.when(1.0), found_again=standing.drawn(0.85, 0.935), in_trap=0.0
    )


def gained_mass(standing: Standing) -> Faulty:
    """A tare is wrong, or the receivers took up water."""
    return Faulty(standing.given, standing.when(1.0), found_again=standing.drawn(1.035, 1.10))
