"""Handout and key of a class, as PDF: every figure of the key is taken from the runs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from forerun.core.quantities import (
    format_fraction,
    format_per_cent,
    format_temperature,
    format_time,
    format_volume,
)
from forerun.reporting.cautions import cautions_for_class
from forerun.reporting.class_axes import class_axes, lowest_temperature
from forerun.reporting.class_words import (
    azeotrope_words,
    layer_words,
    of_mixture,
    rule_words,
    verdict_words,
)
from forerun.reporting.typeset import typeset

if TYPE_CHECKING:
    from forerun.reporting.lesson import Lesson

__all__ = ["class_pdf", "kit_words", "questions_of", "time_words", "waste_words"]

_RECEIVERS = ("receiver", "mL", "head from, °C", "head to, °C", "g")


def class_pdf(lesson: Lesson, *, key: bool, paper: str, benches: int, length_s: float) -> bytes:
    """Return the handout or its key as a tagged PDF.

    Args:
        lesson: class material about one charge.
        key: whether the answers, the calculated curves and the instructor's lists stand in it.
        paper: as Typst names it.
        benches: that work at a time [-].
        length_s: of the class [s].
    """
    ways, advice = lesson.ways, lesson.advice
    title = ways.sheet.title or " and ".join(ways.mixture.names)
    cautions = [
        f"{g.name.replace('_', ' ').capitalize()}: {g.guidance}"
        for g in advice.gates
        if g.state != "pass" or g.name == "dryness"  # a class always hears when to stop
    ]
    cautions += cautions_for_class(ways.sheet, ways.ways[0].run)
    cautions += lesson.topic.cautions if lesson.topic is not None else ()
    own = ways.ways[0].fractions
    rows = [
        [str(f.number), f"{1e6 * f.volume_m3:.1f}", f"{f.head_low_K - 273.15:.1f}",
         f"{f.head_high_K - 273.15:.1f}", "",
         format_per_cent(of_mixture(f.purity), 0) if np.isfinite(f.purity) else ""]
        for f in own
    ] if key else [[str(k + 1), "", "", "", "", ""] for k in range(5)]  # fmt: skip
    data: dict[str, Any] = {
        "title": f"{title}: key" if key else title,
        "subtitle": lesson.charged,
        "foot": "Advisory: your institution's stricter rule wins.",
        "paper": paper,
        "key": key,
        "cautions": cautions,
        "axes_says": f"Axes from {lowest_temperature(ways) - 273.15:.0f} °C",
        "receivers_title": "Receivers of the simple still" if key else "Your receivers",
        "curve_title": "Calculated curves" if key else "Your curve",
        "receivers_head": [*_RECEIVERS, f"assay, {ways.goal.basis.replace('%', ' %')}"],
        "receivers": rows,
        "questions_title": "Answers, calculated for a simple still first" if key else "Questions",
        "questions": [list(pair) for pair in questions_of(lesson)],
        "ways_head": lesson.cuts()[0],
        "ways": [[_in_lines(cell) for cell in row] for row in lesson.cuts()[1]],
        "ways_note": lesson.cuts_note(),
        "lists": [
            ["Does it fit the class?", time_words(lesson, length_s)],
            [f"Kit for {benches} benches", kit_words(lesson, benches)],
            ["Waste", waste_words(lesson, benches)],
        ],
    }
    return typeset("class", data, axes=class_axes(ways, drawn=key))


def questions_of(lesson: Lesson) -> list[tuple[str, str]]:
    """Return questions with their answers.

    Args:
        lesson: class material about one charge.
    """
    ways, goal = lesson.ways, lesson.ways.goal
    simple = ways.ways[0]
    most = max(ways.ways, key=lambda way: way.plates)
    name = ways.mixture.names[ways.followed]
    lightest = ways.stairs[0]
    asked = [
        (
            f"Pure {lightest.name} boils at {format_temperature(lightest.temperature_K)} here. "
            "Does your first receiver begin there? Why, or why not?",
            _first_words(lesson),
        ),
        (
            f"Which of your receivers is richest in {goal.name}? Is it pure?",
            f"Simple still: {_richest(simple, goal.basis)}. "
            f"{most.label}: {_richest(most, goal.basis)}.",
        ),
        (
            "What if you distil the first half again, and again? What does it cost?",
            "; ".join(
                f"{r.number} time{'' if r.number == 1 else 's'}: "
                f"{format_fraction(of_mixture(r.purity), 'mol%')} {name}, "
                f"{format_fraction(r.share, '%', 0.05)} of it"
                for r in ways.rounds
            )
            + ".",
        ),
        (
            "What does the difference of boiling points suggest? Does your result agree?",
            f"{rule_words(lesson.advice)} {verdict_words(lesson.advice)}",
        ),
    ]
    if ways.layered:
        asked.append(
            (
                "Your receiver holds two layers. Which liquid is below, and how do you part them?",
                layer_words(ways),
            )
        )
    azeotropes = azeotrope_words(lesson.advice.analysis.azeotropes, ways)
    limit = lesson.advice.analysis.limit
    best = (
        f"The best column imaginable holds {format_fraction(goal.recovery, '%', 0.05)} of the "
        f"{goal.name} at {format_fraction(limit.purity, goal.basis)}."
    )
    asked.append(
        ("Is there a limit that no number of plates passes?", " ".join([*azeotropes, best]))
    )
    return asked


def _in_lines(cell: str) -> str:
    """Return a cell with purity, share and temperatures below each other."""
    return cell.replace(" (", "\n(")


def _about(volume: float) -> str:
    """Return a volume to be measured out for a class: whole millilitres from 50 mL on."""
    return format_volume(volume, 1e-6 if 50e-6 <= volume < 1e-3 else None)


def _first_words(lesson: Lesson) -> str:
    told = []
    for way in lesson.ways.ways:
        trace = way.run.trace
        at = 0.02 * lesson.ways.sheet.charge_volume_m3
        drips = trace.distillate_volume_m3 > 0.0
        volume = trace.distillate_volume_m3[drips]
        if not drips.any() or volume[-1] <= at:
            continue
        head = float(np.interp(at, volume, trace.head_temperature_K[drips]))
        followed = trace.distillate_mole_fraction[drips, lesson.ways.followed]
        share = float(np.interp(at, volume, followed))
        name = lesson.ways.mixture.names[lesson.ways.followed]
        told.append(
            f"{way.label}: {format_temperature(head)}, "
            f"{format_fraction(of_mixture(share), 'mol%')} {name}"
        )
    return "After the first fiftieth of the charge: " + "; ".join(told) + "."


def _richest(way: Any, basis: str) -> str:
    known = [f for f in way.fractions if np.isfinite(f.purity)]
    if not known:
        return "nothing came over"
    best = max(known, key=lambda f: f.purity)
    return f"receiver {best.number}, {format_fraction(of_mixture(best.purity), basis)}"


def time_words(lesson: Lesson, length_s: float) -> list[str]:
    """Return for every way whether its cut is ready within the class.

    Args:
        lesson: class material about one charge.
        length_s: of the class [s].
    """
    said = []
    for way in lesson.ways.ways:
        ready = way.best_end_s if way.best_share > 0.0 else way.end_s
        what = "cut ready" if way.best_share > 0.0 else "no such cut; run ends"
        left = length_s - ready
        fits = (
            f"fits, {format_time(left)} left to set up, cool and clean"
            if left > 0.0
            else f"{format_time(-left)} too long"
        )
        said.append(f"{way.label}: {what} after {format_time(ready)}: {fits}.")
    return [f"The class lasts {format_time(length_s)}.", *said]


def kit_words(lesson: Lesson, benches: int) -> list[str]:
    """Return what has to stand ready.

    Args:
        lesson: class material about one charge.
        benches: that work at a time [-].
    """
    sheet, rig = lesson.ways.sheet, lesson.ways.sheet.rig
    glass = [f"flask {_about(rig.flask_volume_m3.value)}", rig.condenser, rig.bath]
    if rig.column != "none":
        glass.append(rig.column)
    said = [f"{benches} of each: {', '.join(g for g in glass if g)}, head with thermometer"]
    said.append(f"{5 * benches} receivers of {format_volume(sheet.charge_volume_m3 / 5)} or more")
    if lesson.ways.layered:
        said.append(f"{benches} separating funnels")
    said += [
        f"{_about(benches * p.volume_m3)} {p.substance.name} ({p.text} a bench)"
        for p in sheet.charge
    ]
    return said


def waste_words(lesson: Lesson, benches: int) -> list[str]:
    """Return how much has to be collected at the end.

    Args:
        lesson: class material about one charge.
        benches: that work at a time [-].
    """
    sheet = lesson.ways.sheet
    whole = benches * sheet.charge_volume_m3
    run = lesson.ways.ways[0].run
    vent = float(run.ledger.vent_mol.sum() / run.ledger.charge_mol.sum())
    pots = benches * run.residue.volume_m3
    return [
        f"At most {_about(whole)} in all; receivers can be pooled and charged again.",
        f"Of it left in the flasks of a simple still: {_about(pots)}.",
        f"Past the condenser of a simple still: {format_fraction(vent, '%')} of the charge.",
    ]
