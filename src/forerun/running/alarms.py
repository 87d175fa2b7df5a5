"""Alarms: rules on the newest readings, judged at once and without any forecast, cautions first.

Advisory: your institution's stricter rule wins.  Limits of bath, residue and melting points are
those of the safety gates; the other figures are common practice, no source.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from forerun.core.quantities import format_pressure, format_temperature, format_volume
from forerun.running.alarm_limits import AlarmLimits
from forerun.running.recent import Recent

__all__ = ["GATES", "Alarm", "alarms_of", "not_judged", "residue_of"]

State = Literal["warn", "stop"]

_STALE = 60.0  # s that a device may be silent
_LASTS = 30.0  # s for which an alarm stays after its cause has gone
_SOON = 300.0  # s before the floor is reached that it is said
_NEAR_FLOOR = 1.25  # times the floor
_BATH_MARGIN = 5.0  # K below the limit
_POT_OVER_BATH = 3.0  # K
_RUNAWAY = 1.0 / 60.0  # K/s
_RISE_Pa, _RISE_SHARE = 200.0, 0.05  # above the programme and above what was usual
_OPEN_Pa, _CLOSED_Pa = 90e3, 112e3  # an open apparatus; a pressure that no open one has
_POT_HOTTER = 2.0  # K in ten minutes
_STALLED = 0.3  # of the rate before
_LEAST_RATE = 0.05e-6 / 60.0  # m3/s; below this nothing dripped
_ORDER = {"stop": 0, "warn": 1}


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something that must not be missed.

    Args:
        id: of this occurrence; a new one when it turns from warn to stop.
        gate: which rule.
        state: ``warn`` or ``stop``.
        caution: what to do at once.
        text: what was found.
        since_s: of the run [s].
        true_s: when its cause was last there [s of the run].
        heard: whether somebody said so.
    """

    id: str
    gate: str
    state: State
    caution: str
    text: str
    since_s: float
    true_s: float
    heard: bool = False

    def to_json(self) -> dict[str, Any]:
        """Return it as it is sent."""
        keys = ("id", "gate", "state", "caution", "text", "since_s", "heard")
        return {key: getattr(self, key) for key in keys}


@dataclass(frozen=True, slots=True)
class _Found:
    state: State
    caution: str
    text: str


_Rule = Callable[[AlarmLimits, Recent, float], _Found | None]


def alarms_of(
    limits: AlarmLimits | None, recent: Recent, now_s: float, before: Sequence[Alarm] = ()
) -> tuple[Alarm, ...]:
    """Return the alarms of a run at a moment, what says stop first.

    Args:
        limits: of its sheet; None where the sheet cannot be read: then only silence is judged.
        recent: its last readings.
        now_s: of the run [s].
        before: the alarms of the moment before.
    """
    known = {alarm.gate: alarm for alarm in before}
    found: dict[str, _Found] = {}
    for gate, rule in _RULES.items():
        seen = None if limits is None else rule(limits, recent, now_s)
        if seen is not None:
            found[gate] = seen
    silence = _silence(recent, now_s)
    if silence is not None:
        found["stale"] = silence
    lasting = _LASTS * recent.pace
    alarms = [_renewed(gate, seen, known.get(gate), now_s) for gate, seen in found.items()]
    alarms += [a for a in before if a.gate not in found and now_s - a.true_s < lasting]
    return tuple(sorted(alarms, key=lambda alarm: (_ORDER[alarm.state], alarm.since_s)))


def _renewed(gate: str, seen: _Found, before: Alarm | None, now_s: float) -> Alarm:
    if before is None or before.state == "warn" != seen.state:
        name = f"{gate}-{seen.state}-{now_s:.0f}"
        return Alarm(name, gate, seen.state, seen.caution, seen.text, now_s, now_s)
    if before.state == "stop" and seen.state == "warn" and now_s - before.true_s < _LASTS:
        return before  # it does not become milder from one reading to the next
    return replace(before, state=seen.state, caution=seen.caution, text=seen.text, true_s=now_s)


def residue_of(limits: AlarmLimits, recent: Recent) -> float | None:
    """Return what should be left in the pot, by what has come over.

    Args:
        limits: of the sheet.
        recent: the last readings.

    Returns:
        Charge less distillate less what column and head hold [m3]; None where nobody reads the
        distillate.
    """
    volume = _distillate(limits, recent)
    return None if volume is None else limits.charge_m3 - volume - limits.holdup_m3


def _distillate(limits: AlarmLimits, recent: Recent) -> float | None:
    if "distillate_m3" in recent.newest:
        seen = recent.stretch("distillate_m3").values
        return seen[-1] if seen else recent.newest["distillate_m3"].value
    if "distillate_kg" in recent.newest:
        return recent.newest["distillate_kg"].value / limits.density
    return None


def _rate(limits: AlarmLimits, recent: Recent, begin_s: float, end_s: float) -> float | None:
    by_volume = recent.slope("distillate_m3", begin_s, end_s)
    if by_volume is not None:
        return by_volume
    by_mass = recent.slope("distillate_kg", begin_s, end_s)
    return None if by_mass is None else by_mass / limits.density


def _dryness(limits: AlarmLimits, recent: Recent, now_s: float) -> _Found | None:
    residue = residue_of(limits, recent)
    if residue is None:
        return None
    least, floor = residue - limits.residue_doubt_m3, limits.floor_m3
    left = (
        f"About {format_volume(max(residue, 0.0))} left in the pot, perhaps only "
        f"{format_volume(max(least, 0.0))}; the floor is {format_volume(floor)}."
    )
    caution = "Take the heat away now: never distil to dryness."
    if limits.formers:
        caution += f" Peroxides of {', '.join(limits.formers)} collect in what is left."
    if least <= floor:
        return _Found("stop", caution, left)
    rate = _rate(limits, recent, now_s - 300.0 * recent.pace, now_s)
    soon = _SOON * recent.pace
    if rate is not None and rate > _LEAST_RATE and (least - floor) / rate < soon:
        minutes = (least - floor) / rate / 60.0
        text = f"{left} It is reached in about {max(minutes, 1.0):.0f} min."
        return _Found("warn", "Be ready to take the heat away.", text)
    if least < _NEAR_FLOOR * floor:
        return _Found("warn", "Be ready to take the heat away.", left)
    return None


def _pressure(limits: AlarmLimits, recent: Recent, now_s: float) -> _Found | None:
    times, seen = recent.stretch("pressure_Pa", now_s - 900.0)
    if not seen:
        return None
    newest, planned = seen[-1], limits.planned_Pa(times[-1])
    if planned >= _OPEN_Pa and newest > _CLOSED_Pa:
        return _Found(
            "stop",
            "Heat away, shield down; open the way to the air only if it is safe to reach.",
            f"The apparatus is at {format_pressure(newest)}: it is closed somewhere.",
        )
    least = max(_RISE_Pa, _RISE_SHARE * planned)
    excess = newest - planned
    over = [p - limits.planned_Pa(t) for t, p in zip(times[-2:], seen[-2:], strict=True)]
    if not all(here > least for here in over):
        return None
    readings = zip(times, seen, strict=True)
    before = [p - limits.planned_Pa(t) for t, p in readings if t < now_s - 60.0]
    usual = statistics.median(before) if len(before) >= 3 else math.inf
    if abs(usual) >= least or excess - usual < least:
        return None
    text = f"The pressure is {excess / 100.0:.1f} mbar above the programme."
    if _risen(recent, "pot_K", now_s - 600.0, now_s) > _POT_HOTTER:
        caution = "Cool, shield, stop: gas from a hot pot can be decomposition. Do not open it."
        return _Found("stop", caution, f"{text} The pot is getting hotter with it.")
    caution = "Do not change the receiver: lower the heat, look at joints, valve, pump and trap."
    return _Found("warn", caution, text)


def _risen(recent: Recent, channel: str, begin_s: float, end_s: float) -> float:
    """Return how much a channel rose over a stretch; not-a-number where it was not read."""
    seen = recent.stretch(channel, begin_s, end_s).values
    return seen[-1] - seen[0] if len(seen) > 1 else math.nan


def _solid_plug(limits: AlarmLimits, recent: Recent, now_s: float) -> _Found | None:
    if not limits.freezing:
        return None
    before = _rate(limits, recent, now_s - 600.0, now_s - 150.0)
    now = _rate(limits, recent, now_s - 120.0, now_s)
    if before is None or now is None or before < _LEAST_RATE or now > _STALLED * before:
        return None
    if _risen(recent, "bath_K", now_s - 600.0, now_s) < -_BATH_MARGIN:
        return None  # it was cooled
    names = ", ".join(f"{name} melts at {format_temperature(t)}" for name, t in limits.freezing)
    text = (
        f"Hardly anything drips any more, and {names} with the coolant at "
        f"{format_temperature(limits.coolant_K)}."
    )
    caution = "Lower the heat at once, then warm the coolant: a plug closes the apparatus."
    hotter = _risen(recent, "pot_K", now_s - 300.0, now_s) > _POT_HOTTER
    pressed = _risen(recent, "pressure_Pa", now_s - 300.0, now_s) > 0.25 * _RISE_Pa
    return _Found("stop" if hotter or pressed else "warn", caution, text)


def _bath(limits: AlarmLimits, recent: Recent, now_s: float) -> _Found | None:
    seen = recent.stretch("bath_K", now_s - 600.0).values
    if not seen or not math.isfinite(limits.bath_K):
        return None
    at, limit = seen[-1], limits.bath_K
    shown = f"The bath is at {format_temperature(at)}; its limit is {format_temperature(limit)} "
    if at > limit:
        return _Found("stop", "Lower the bath now.", f"{shown}({limits.bath_why}).")
    if at > limit - _BATH_MARGIN:
        return _Found("warn", "Do not raise the bath any further.", f"{shown}({limits.bath_why}).")
    return None


def _exotherm(_limits: AlarmLimits, recent: Recent, now_s: float) -> _Found | None:
    pot, bath = (recent.stretch(name, now_s - 180.0).values for name in ("pot_K", "bath_K"))
    slope = recent.slope("pot_K", now_s - 180.0, now_s)
    if not pot or not bath or slope is None or slope < _RUNAWAY:
        return None
    over = pot[-1] - bath[-1]
    if over < _POT_OVER_BATH:
        return None
    text = f"The pot is {over:.0f} K above the bath and rises by {60.0 * slope:.1f} K a minute."
    return _Found("stop", "Heat away, leave the hood closed, go: it may run away.", text)


def _silence(recent: Recent, now_s: float) -> _Found | None:
    silent = recent.silent(now_s, _STALE * recent.pace)
    if not silent:
        return None
    names = ", ".join(f"{origin} for {quiet:.0f} s" for origin, quiet in silent)
    return _Found("warn", "Look at the thermometer itself.", f"No reading from {names}.")


_RULES: dict[str, _Rule] = {
    "exotherm": _exotherm,
    "pressure_gas": _pressure,
    "solid_plug": _solid_plug,
    "dryness": _dryness,
    "bath": _bath,
}

GATES = (*_RULES, "stale")
"""What is judged."""

_NEEDS = {
    "exotherm": (("pot_K",), ("bath_K",)),
    "pressure_gas": (("pressure_Pa",),),
    "solid_plug": (("distillate_m3", "distillate_kg"),),
    "dryness": (("distillate_m3", "distillate_kg"),),
    "bath": (("bath_K",),),
}
_WORDS = {
    "pot_K": "the pot's temperature",
    "bath_K": "the bath's temperature",
    "pressure_Pa": "the pressure",
    "distillate_m3": "the distillate",
}


def not_judged(limits: AlarmLimits | None, channels: Collection[str]) -> dict[str, str]:
    """Return the gates that cannot be judged, each with what is not read.

    Args:
        limits: of the sheet.
        channels: that have been read.
    """
    if limits is None:
        return dict.fromkeys(_NEEDS, "the sheet, which cannot be read")
    missing = {
        gate: " and ".join(
            _WORDS[either[0]] for either in needed if not set(either) & set(channels)
        )
        for gate, needed in _NEEDS.items()
        if gate != "solid_plug" or limits.freezing
    }
    return {gate: words for gate, words in missing.items() if words}
