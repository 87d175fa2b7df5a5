"""A log on an even grid, beside what the sheet and its forecast say: what the signs look at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.records.readings import Readings
from forerun.running.courses import Courses, course_of
from forerun.sheets.model import RunSheet
from forerun.still.from_sheet import Prepared
from forerun.still.results import Trace
from forerun.substances.correlations import boiling_temperature

__all__ = ["Azeo", "Case", "Weighed", "case_of"]

Floats = npt.NDArray[np.float64]

_STEP = 15.0  # s
_MOST_POINTS = 2000
_NEWER_RATE = 120.0  # s over which a rate is taken, at least


@dataclass(frozen=True, slots=True)
class Azeo:
    """A constant-boiling blend of the charge.

    Args:
        temperature_K: at the pressure of the run [K].
        liquids: 1, or 2 for two liquids.
    """

    temperature_K: float
    liquids: int


@dataclass(frozen=True, slots=True)
class Weighed:
    """The account in mass.

    Args:
        charge_kg: put in [kg].
        out_kg: weighed afterwards, everything together [kg].
        trap_kg: of it in the trap [kg].
    """

    charge_kg: float
    out_kg: float
    trap_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Case:
    """Everything that a sign may look at; n points of an even grid, not-a-number where unread.

    Args:
        time: (n,) [s].
        step: of the grid [s].
        sampling: median distance of the readings [s].
        head: (n,) [K].
        pot: (n,) [K].
        bath: (n,) [K].
        pressure: (n,) as read [Pa].
        planned: (n,) pressure of the programme [Pa].
        volume: (n,) distillate [m3].
        rate: (n,) of distillate [m3/s].
        raw_time: (k,) of the readings with a head [s].
        raw_head: (k,) [K].
        raw_bath: (k,) at the same times [K].
        remarks: (time [s], text in lower case).
        room: [K].
        coolant: [K].
        charge: [m3].
        holdup: [m3].
        peroxide_former: whether a component forms peroxides.
        boiling: (C,) boiling points at the pressure of the run, coldest first [K].
        boiling_slope: (C,) their change with pressure [K/Pa].
        melting: (C,) highest known melting points, not-a-number where unknown [K].
        azeotropes: of the charge at that pressure.
        has_water: whether water was charged.
        stated_pressure: whether a pressure was read.
        ends: distilled volumes at which a fraction ends [m3].
        foreseen_volume: rising, of the forecast [m3].
        foreseen_head: at these volumes [K].
        foreseen_pot: at these volumes [K].
        planned_bath: (n,) bath of the forecast [K].
        final_volume: of the forecast [m3].
        first_drop: when the forecast has it [s]; 0 where nothing comes over in it.
        plates: of the column; 0 without one [-].
        courses: what the sheet may lead to.
        weighed: None where nobody weighed all.
    """

    time: Floats
    step: float
    sampling: float
    head: Floats
    pot: Floats
    bath: Floats
    pressure: Floats
    planned: Floats
    volume: Floats
    rate: Floats
    raw_time: Floats
    raw_head: Floats
    raw_bath: Floats
    remarks: tuple[tuple[float, str], ...]
    room: float
    coolant: float
    charge: float
    holdup: float
    peroxide_former: bool
    boiling: Floats
    boiling_slope: Floats
    melting: Floats
    azeotropes: tuple[Azeo, ...]
    has_water: bool
    stated_pressure: bool
    ends: tuple[float, ...]
    foreseen_volume: Floats
    foreseen_head: Floats
    foreseen_pot: Floats
    planned_bath: Floats
    final_volume: float
    first_drop: float
    plates: int
    courses: Courses
    weighed: Weighed | None = None

    def has(self, *channels: str) -> bool:
        """Return whether each of these channels was read at least twice."""
        return all(int(np.isfinite(getattr(self, name)).sum()) >= 2 for name in channels)

    def at(self, values: Floats, time: float) -> float:
        """Return a channel at a time, held at its ends; not-a-number where it was never read."""
        known = np.isfinite(values)
        if not known.any():
            return float("nan")
        return float(np.interp(time, self.time[known], values[known]))

    def said(self, *words: str) -> float | None:
        """Return when a remark first held one of these words; None where none did [s]."""
        return next((t for t, text in self.remarks if any(w in text for w in words)), None)


def case_of(
    prepared: Prepared,
    foreseen: Trace,
    readings: Readings,
    courses: Courses,
    weighed: Weighed | None = None,
) -> Case:
    """Return a log beside its expectation.

    Args:
        prepared: the sheet made ready for the still.
        foreseen: the forecast of it.
        readings: the log.
        courses: what the sheet may lead to.
        weighed: the account in mass, where all was weighed.
    """
    sheet = prepared.sheet
    time, step = _grid(readings.time_s)
    charge = sum(p.volume_m3 for p in sheet.charge)
    density = sum(p.mass_kg for p in sheet.charge) / charge
    volume = _even(time, readings, "distillate_m3")
    if not np.isfinite(volume).any():
        volume = _even(time, readings, "distillate_kg") / density
    raw_time, raw_head, raw_bath = _raw(readings)
    pressure = _even(time, readings, "pressure_Pa")
    points = np.array(sheet.programme.pressure_Pa.points)
    planned = np.interp(time, points[:, 0], points[:, 1])
    usual = float(np.nanmedian(pressure)) if np.isfinite(pressure).any() else 0.0
    usual = usual or float(np.median(planned))
    boiling, slopes = _boiling(sheet, usual)
    sampling = float(np.median(np.diff(readings.time_s))) if len(readings) > 1 else step
    planned_course = course_of(foreseen)
    return Case(
        time=time,
        step=step,
        sampling=sampling,
        head=_even(time, readings, "head_K"),
        pot=_even(time, readings, "pot_K"),
        bath=_even(time, readings, "bath_K"),
        pressure=pressure,
        planned=planned,
        volume=volume,
        rate=_rate(time, volume, max(_NEWER_RATE, 2.0 * sampling)),
        raw_time=raw_time,
        raw_head=raw_head,
        raw_bath=raw_bath,
        remarks=tuple((r.time_s, r.remark.lower()) for r in readings.rows if r.remark),
        room=sheet.rig.room_temperature_K.value,
        coolant=sheet.rig.coolant_temperature_K.value,
        charge=charge,
        holdup=sheet.rig.holdup_m3.value,
        peroxide_former=any(
            p.substance.peroxide_class or p.substance.peroxide_signs for p in sheet.charge
        ),
        boiling=boiling,
        boiling_slope=slopes,
        melting=np.array(
            [
                float("nan")
                if p.substance.melting_point is None
                else p.substance.melting_point.value
                for p in sheet.charge
            ]
        ),
        azeotropes=tuple(
            Azeo(a.temperature_K, a.liquid_phases)
            for a in find_azeotropes(prepared.mixture, usual).azeotropes
        )
        if len(sheet.charge) > 1
        else (),
        has_water=any(p.substance.name == "water" for p in sheet.charge),
        stated_pressure=bool(np.isfinite(pressure).any()),
        ends=_ends(sheet, foreseen),
        foreseen_volume=planned_course.volume,
        foreseen_head=planned_course.head,
        foreseen_pot=planned_course.pot,
        planned_bath=np.interp(time, foreseen.time_s, foreseen.bath_temperature_K),
        final_volume=float(foreseen.distillate_volume_m3[-1]),
        first_drop=_first_drop(foreseen),
        plates=prepared.still.plates,
        courses=courses,
        weighed=weighed,
    )


def _grid(times: Floats) -> tuple[Floats, float]:
    length = float(times[-1] - times[0])
    step = max(_STEP, length / _MOST_POINTS)
    return times[0] + step * np.arange(int(length / step) + 1), step


def _even(time: Floats, readings: Readings, channel: str) -> Floats:
    """Return a channel on the grid; nothing is invented before its first and after its last."""
    times, values = readings.time_s, readings.channel(channel)
    known = np.isfinite(values)
    if known.sum() < 2:
        return np.full(time.size, np.nan)
    even = np.interp(time, times[known], values[known])
    even[(time < times[known][0]) | (time > times[known][-1])] = np.nan
    return even


def _raw(readings: Readings) -> tuple[Floats, Floats, Floats]:
    head, bath = readings.channel("head_K"), readings.channel("bath_K")
    known = np.isfinite(head)
    return readings.time_s[known], head[known], bath[known]


def _rate(time: Floats, volume: Floats, over: float) -> Floats:
    half = 0.5 * over
    known = np.isfinite(volume)
    if known.sum() < 2:
        return np.full(time.size, np.nan)
    t, v = time[known], volume[known]
    rate = (np.interp(time + half, t, v) - np.interp(time - half, t, v)) / over
    rate[~known] = np.nan
    return rate


def _boiling(sheet: RunSheet, pressure: float) -> tuple[Floats, Floats]:
    def at(value: float) -> Floats:
        return np.array([boiling_temperature(p.substance, value).temperature for p in sheet.charge])

    low, high = at(0.99 * pressure), at(1.01 * pressure)
    order = np.argsort(low)
    return 0.5 * (low + high)[order], ((high - low) / (0.02 * pressure))[order]


def _first_drop(foreseen: Trace) -> float:
    over = foreseen.time_s[foreseen.distillate_volume_m3 > 0.0]
    return float(over[0]) if over.size else 0.0


def _ends(sheet: RunSheet, foreseen: Trace) -> tuple[float, ...]:
    """Return the volumes at which the distillate's main component changes, or one is used up."""
    x, volume = foreseen.distillate_mole_fraction, foreseen.distillate_volume_m3
    on = np.isfinite(x).all(axis=1)
    main = x[on].argmax(axis=1) if on.any() else np.zeros(0, dtype=np.intp)
    changes = np.flatnonzero(np.diff(main))
    portions = sorted(sheet.charge, key=lambda p: p.substance.boiling_point.value)
    used = np.cumsum([p.volume_m3 for p in portions])[:-1]
    return (*(float(v) for v in volume[on][changes]), *(float(v) for v in used))
