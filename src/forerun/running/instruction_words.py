"""Words of an instruction: bands, shares and what a receiver then holds, as short as can be."""

from __future__ import annotations

from collections.abc import Callable

from forerun.core.formats import format_band, format_fraction, format_time
from forerun.running.estimate import NextSwitch, Span
from forerun.running.members import CREEP_K

__all__ = [
    "NEAR_M3",
    "NEAR_S",
    "band_words",
    "creeping_words",
    "held_words",
    "near_words",
    "percent_words",
    "span_ahead",
    "sure_words",
    "times_words",
]

NEAR_S, NEAR_M3 = 120.0, 2e-6
"""What counts as close to a switch [s, m3]."""

_THIN = "\N{NARROW NO-BREAK SPACE}"
_SUREST, _WHOLE = 0.98, 0.01
_SHORT, _LONG = 120.0, 5400.0  # s between which times are told in minutes


def near_words(switch: NextSwitch) -> str:
    """Return by which of millilitres and minutes a switch is near.

    Args:
        switch: the next one.
    """
    volume = switch.volume_m3
    if volume is not None and volume.high <= NEAR_M3:
        return "switch within 2 mL"
    if switch.time_s is not None and switch.time_s.high <= NEAR_S:
        return "switch within 2 min"
    return "switch within 2 mL or 2 min"


def creeping_words(switch: NextSwitch) -> str:
    """Return a warning where a thermometer that is slightly wrong moves the switch by minutes.

    Args:
        switch: the next one.
    """
    if switch.creep_s is None or switch.creep_s < NEAR_S:
        return ""
    kelvins = f"{CREEP_K:g}{_THIN}K"
    moved = format_time(switch.creep_s)
    return f" The head creeps through the mark: {kelvins} on its thermometer is {moved}."


def held_words(switch: NextSwitch) -> str:
    """Return what the receiver holds when a switch comes.

    Args:
        switch: the next one.
    """
    if not switch.mole_fraction:
        return "Its purity is not known."
    name, span = max(switch.mole_fraction.items(), key=lambda item: item[1].middle)
    held = band_words(span, lambda value, half: format_fraction(value, "mol%", half))
    return f"Bottle {switch.receiver} then holds {held} {name}."


def span_ahead(span: Span, now_s: float) -> Span:
    """Return a band of moments as times from now, none of them past [s].

    Args:
        span: since the start of the run [s].
        now_s: likewise [s].
    """
    low, middle, high = (max(v - now_s, 0.0) for v in (span.low, span.middle, span.high))
    return Span(low, middle, high)


def times_words(span: Span) -> str:
    """Return a band of times in one unit, as short as it can be told.

    Args:
        span: from now [s].
    """
    if not _SHORT <= span.high < _LONG:
        return band_words(span, lambda seconds, _half: format_time(seconds))
    return _minutes(span)


def _minutes(span: Span) -> str:
    low, high = (round(max(seconds, 0.0) / 60.0) for seconds in (span.low, span.high))
    shown = f"{low}–{high}" if low != high else f"{high}"
    return f"{shown}{_THIN}min"


def band_words(span: Span, write: Callable[[float, float | None], str]) -> str:
    """Return a band of what is never negative.

    Args:
        span: [SI].
        write: puts a number and its doubt into words.
    """
    return format_band(max(span.low, 0.0), max(span.high, 0.0), write)


def percent_words(share: float) -> str:
    """Return a share in whole per cent.

    Args:
        share: [-].
    """
    return format_fraction(share, "%", _WHOLE)


def sure_words(share: float) -> str:
    """Return a probability that a few dozen guesses gave: never more than they can tell.

    Args:
        share: [-].
    """
    return f"> {percent_words(_SUREST)}" if share > _SUREST else percent_words(share)
