"""What each receiver holds, in the words that table and drawing share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.quantities import format_band, format_temperature
from forerun.reporting.bands import Span, value_with_band
from forerun.reporting.dripping import last_drop
from forerun.still.results import Cut, Run

__all__ = ["CutRow", "CutSpans", "composition_words", "cut_rows", "strength_words"]

Floats = npt.NDArray[np.float64]

_NARROW = 0.05  # mL: no band worth a line
_MILLILITRE = 1e-6  # m3
_GRAM = 1e-3  # kg
_NEARLY_ALL = 0.999  # mole fraction beyond which a bare number would claim too much
_ALWAYS = 0.995  # share of runs that goes without saying
_TRACE = 0.0005  # mole fraction below which a component is not worth a word
_THIN = "\N{NARROW NO-BREAK SPACE}"


@dataclass(frozen=True, slots=True)
class CutSpans:
    """The bands of one receiver.

    Args:
        volume: [m3].
        mole_fraction: (C,) one per component [-].
        reached: share of the runs in which anything fell into it [-].
    """

    volume: Span
    mole_fraction: tuple[Span, ...]
    reached: float = 1.0


@dataclass(frozen=True, slots=True)
class CutRow:
    """One receiver (or the pot) in words.

    Args:
        badge: its number, or "pot".
        time: when, with unit.
        head: range of the head thermometer, with unit.
        volume: how much, with band and unit.
        mass: how much, with unit.
        composition: what it holds in mol%, the most first.
        holds: the same with its unit.
        fractions: (C,) mole fractions [-]; empty when it holds nothing.
    """

    badge: str
    time: str
    head: str
    volume: str
    mass: str
    composition: str
    holds: str
    fractions: tuple[float, ...]


def cut_rows(run: Run, spans: Sequence[CutSpans | None] = ()) -> tuple[CutRow, ...]:
    """Return the receivers in order, then the pot.

    Args:
        run: what came over.
        spans: bands of the receivers in order and of the pot; empty where there are none.
    """
    names, ends = run.trace.names, last_drop(run.trace)
    rows = []
    for place, cut in enumerate(run.cuts):
        band = spans[place] if place < len(spans) else None
        rows.append(_row(str(cut.number), _while_it_drips(cut, run, ends), names, band))
    last = spans[len(run.cuts)] if len(run.cuts) < len(spans) else None
    return (*rows, _row("pot", run.residue, names, last))


def _while_it_drips(cut: Cut, run: Run, last: float | None) -> Cut:
    """Return the receiver from its first drop to its last instead of from lighting the bath on."""
    first, start, end = run.first_drop_s, cut.start_s, cut.end_s
    if first is not None and start < first < end:
        start = first
    if last is not None and start < last < end:
        end = last
    return replace(cut, start_s=start, end_s=end)


def _row(badge: str, cut: Cut, names: Sequence[str], band: CutSpans | None) -> CutRow:
    pot = badge == "pot"
    held = cut.amount_mol > 0.0 and bool(np.isfinite(cut.mole_fraction).all())
    volume = None if band is None else _scaled(band.volume, 1.0 / _MILLILITRE)
    if volume is not None and volume.high - volume.low < _NARROW:
        volume = None  # a bottle that is full at a volume holds that volume
    fractions = tuple(float(x) for x in cut.mole_fraction) if held else ()
    return CutRow(
        badge=badge,
        time="" if pot else _between(cut.start_s, cut.end_s),
        head="" if pot or not held else _head(cut),
        volume=value_with_band(cut.volume_m3 / _MILLILITRE, volume, "mL"),
        mass=f"{cut.mass_kg / _GRAM:.1f}{_THIN}g",
        composition=_holds(names, fractions, band) if held else "nothing",
        holds=_holds(names, fractions, band, f"{_THIN}mol{_THIN}%") if held else "nothing",
        fractions=fractions,
    )


def _holds(
    names: Sequence[str], fractions: Sequence[float], band: CutSpans | None, unit: str = ""
) -> str:
    words = composition_words(names, fractions, band) + unit
    if band is None or band.reached > _ALWAYS:
        return words
    return f"{words} (in {100.0 * band.reached:.0f} % of the runs)"


def _scaled(span: Span, factor: float) -> Span:
    return Span(span.low * factor, span.high * factor)


def _head(cut: Cut) -> str:
    low, high = sorted((cut.start_head_K, cut.end_head_K))
    if not np.isfinite(low) or not np.isfinite(high):
        return "–"
    if high - low < 0.05:
        return format_temperature(high)
    # A cut's range is read from a thermometer: tenths where it is narrow, whole degrees else.
    width = 0.5 if high - low < 10.0 else 5.0
    return format_band(low, high, lambda value, _: format_temperature(value, width))


def _between(start: float, end: float) -> str:
    """Return ``27–50 min``."""
    if not np.isfinite(start) or not np.isfinite(end):
        return "–"
    return f"{start / 60.0:.0f}–{end / 60.0:.0f}{_THIN}min"


def strength_words(fraction: float, span: Span | None, unit: str = "") -> str:
    """Return a mole fraction in per cent with its band.

    Args:
        fraction: [-].
        span: its band [-], or None.
        unit: printed after it; may be empty.

    Returns:
        ``97 ± 1``; without a band never more than three digits, so that 99.99 is not shown as
        100.0.
    """
    per_cent = None if span is None else _scaled(span, 100.0)
    narrow = span is None or not span.known() or span.half_width < (1.0 - _NEARLY_ALL) / 2.0
    if narrow and fraction > 0.5 * (1.0 + _NEARLY_ALL):
        return f">{_THIN}{value_with_band(100.0 * _NEARLY_ALL, None, unit)}"
    return value_with_band(100.0 * fraction, per_cent, unit)


def composition_words(
    names: Sequence[str], fractions: Sequence[float], band: CutSpans | None = None
) -> str:
    """Return ``acetone 97 ± 1, ethanol 3 ± 1`` in mol%, the most first, traces left out.

    Args:
        names: (C,) names.
        fractions: (C,) mole fractions [-].
        band: bands of the same components, or None.
    """
    order = sorted(range(len(names)), key=lambda k: -fractions[k])
    shown = [k for k in order if fractions[k] >= _TRACE] or order[:1]
    words = []
    for k in shown:
        span = None if band is None else band.mole_fraction[k]
        words.append(f"{names[k]} {strength_words(fractions[k], span)}")
    return ", ".join(words)
