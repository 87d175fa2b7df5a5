"""The first sentence of an answer: what was found, in the words of the bench."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from forerun.core.quantities import format_fraction, format_temperature, format_time
from forerun.reporting.bands import Span, value_with_band
from forerun.reporting.cut_rows import CutSpans, strength_words
from forerun.reporting.dripping import BATH_TOO_COLD, bath_too_cold, last_drop
from forerun.reporting.words import WHOLE_DEGREE
from forerun.sheets.model import Aim, RunSheet
from forerun.still.results import Cut, Run

__all__ = ["aimed_fraction", "foreseen"]

_MILLILITRE = 1e-6  # m3


def foreseen(sheet: RunSheet, run: Run, spans: Sequence[CutSpans | None] = ()) -> str:
    """Return what a forecast found, in one sentence.

    Args:
        sheet: the sheet, for its aim.
        run: what comes over.
        spans: bands of the receivers, in order; empty where there are none.

    Returns:
        Nothing comes over, or the cut that answers the aim, or the first cut that holds anything.
    """
    filled = [k for k, cut in enumerate(run.cuts) if cut.amount_mol > 0.0]
    if run.first_drop_s is None or not filled:
        hottest = float(np.nanmax(run.trace.pot_temperature_K))
        return f"Nothing comes over: the pot reaches {format_temperature(hottest, WHOLE_DEGREE)}"
    if sheet.aim.substance is not None:
        return _against_aim(sheet, run, spans, filled)
    return _first(sheet, run, spans, filled)


def _first(
    sheet: RunSheet, run: Run, spans: Sequence[CutSpans | None], filled: Sequence[int]
) -> str:
    place = filled[0]
    cut = run.cuts[place]
    main = int(np.argmax(cut.mole_fraction))
    volume, strength = _volume(cut, place, spans), _strength(cut, main, place, spans)
    name = run.trace.names[main]
    if len(filled) == 1:
        head = f"{format_temperature(cut.end_head_K, WHOLE_DEGREE)} at the head"
        return f"One cut: {volume}, {strength} {name}, up to {head}{_ended(sheet, run, cut)}"
    switch = format_temperature(cut.end_head_K, WHOLE_DEGREE)
    return f"First cut: {volume}, {strength} {name}, switch at {switch}"


def _ended(sheet: RunSheet, run: Run, cut: Cut) -> str:
    """Return when the only cut ended, and why where the run went on without a drop."""
    fell = last_drop(run.trace)
    if fell is None:
        return f" after {format_time(cut.end_s)}"
    why = f": {BATH_TOO_COLD}" if bath_too_cold(sheet, run) else ""
    return f"; drips stop after {format_time(fell)}{why}"


def _against_aim(
    sheet: RunSheet, run: Run, spans: Sequence[CutSpans | None], filled: Sequence[int]
) -> str:
    aim = sheet.aim
    assert aim.substance is not None
    wanted = sheet.names.index(aim.substance.name)
    strengths = {k: aimed_fraction(sheet, run.cuts[k], wanted) for k in filled}
    basis = aim.purity_basis or "mol%"
    name = aim.substance.name
    needed = aim.purity
    good = [k for k in filled if needed is not None and strengths[k] >= needed]
    if good:
        place = max(good, key=lambda k: run.cuts[k].amount_mol * run.cuts[k].mole_fraction[wanted])
    else:
        place = max(filled, key=lambda k: strengths[k])
    cut = run.cuts[place]
    volume = _volume(cut, place, spans)
    purity = _purity_words(sheet, run, cut, wanted, place, spans, strengths[place], basis)
    if needed is not None and not good:
        return (
            f"No cut reaches {_wanted(needed, basis)} {name}: the best, cut {cut.number}, "
            f"is {volume} at {purity}"
        )
    return f"Cut {cut.number}: {volume}, {purity} {name}, {_recovery(run, cut, wanted, aim)}"


def _recovery(run: Run, cut: Cut, wanted: int, aim: Aim) -> str:
    charged = float(run.ledger.charge_mol[wanted])
    share = cut.amount_mol * float(cut.mole_fraction[wanted]) / charged
    words = f"{_percent(share)} of what was charged"
    if aim.recovery is not None and share < aim.recovery:
        words += f" (wanted: {_percent(aim.recovery)})"
    return words


def _percent(share: float) -> str:
    return format_fraction(share, "%", 0.03)


def _wanted(purity: float, basis: str) -> str:
    """Return the aim with the digits that tell it from 100 %."""
    half_width = max((1.0 - purity) / 4.0, 1e-4)
    return format_fraction(purity, basis, half_width)


def aimed_fraction(sheet: RunSheet, cut: Cut, wanted: int) -> float:
    """Return the wanted substance's fraction in the basis of the aim [-].

    Args:
        sheet: the sheet, for its aim.
        cut: that holds something.
        wanted: place of the substance among those of the charge.
    """
    basis = sheet.aim.purity_basis
    if basis == "wt%":
        return float(cut.mass_fraction[wanted])
    if basis == "vol%":
        molar = [p.volume_m3 / p.amount_mol.value for p in sheet.charge]
        volumes = [float(x) * v for x, v in zip(cut.mole_fraction, molar, strict=True)]
        return volumes[wanted] / sum(volumes)
    return float(cut.mole_fraction[wanted])


def _purity_words(
    sheet: RunSheet,
    run: Run,
    cut: Cut,
    wanted: int,
    place: int,
    spans: Sequence[CutSpans | None],
    strength: float,
    basis: str,
) -> str:
    if sheet.aim.purity_basis in {None, "mol%"}:
        return _strength(cut, wanted, place, spans)
    return format_fraction(strength, basis)  # bands are known for mole fractions only


def _strength(cut: Cut, component: int, place: int, spans: Sequence[CutSpans | None]) -> str:
    band = spans[place] if place < len(spans) else None
    span = None if band is None else band.mole_fraction[component]
    return strength_words(float(cut.mole_fraction[component]), span, "mol%")


def _volume(cut: Cut, place: int, spans: Sequence[CutSpans | None]) -> str:
    band = spans[place] if place < len(spans) else None
    span = None
    if band is not None:
        span = Span(band.volume.low / _MILLILITRE, band.volume.high / _MILLILITRE)
    return value_with_band(cut.volume_m3 / _MILLILITRE, span, "mL", 0)
