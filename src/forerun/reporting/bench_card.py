"""One page for the bench, in the order of work: text, a page as SVG, and one on paper."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from forerun.core.provenance import made_by
from forerun.core.quantities import (
    format_fraction,
    format_mass,
    format_pressure,
    format_temperature,
    format_temperature_difference,
    format_time,
    format_volume,
)
from forerun.reporting.aim_met import aim_met_by_plan
from forerun.reporting.gates import gate_sentences
from forerun.reporting.typeset import typeset

if TYPE_CHECKING:
    from forerun.planning.advice import Advice
    from forerun.planning.cuts import CutPlan, CutsPlan
    from forerun.planning.setpoints import SetPoints

__all__ = ["NOT_RECKONED", "card_as_pdf", "card_as_svg", "card_lines", "card_text"]

NOT_RECKONED = "Not reckoned with"  # to read, not to tick
_WIDTH = 92  # characters of the text card
_WHOLE = 3.0  # K, band for which a set-point is written without decimals
_HELD = 2.0  # K, by which a bath wanders anyway; common practice, no source
_DROP = 1e-6  # m3, band for volumes on the card
_MMHG = 133.322387415  # Pa
_REDUCED = 5.0e4  # Pa
_PAGE = (794, 1123)  # px, A4 at 96 dots an inch
_LINE, _MARGIN, _SIZE = 17, 48, 12.5


def card_lines(advice: Advice, finding: str) -> list[tuple[str, tuple[str, ...]]]:
    """Return the card as titled steps, in the order of work.

    Args:
        advice: the answer.
        finding: its first sentence.

    Returns:
        (title, sentences) pairs; each sentence is one thing to do or to look at.
    """
    stops = gate_sentences(advice.gates, "stop")
    if stops:
        return [("Verdict", (finding,)), ("STOP", tuple(stops))]
    met = aim_met_by_plan(advice)
    aim: tuple[str, ...] = () if met is None else (met.says,)
    steps: list[tuple[str, tuple[str, ...]]] = [("Verdict", (finding, *aim))]
    steps.append(("Before anything else", tuple(gate_sentences(advice.gates, "warn"))))
    steps.append(("Charge", (*_charge(advice), *advice.specials)))
    if advice.setpoints is not None and advice.verdict.plan is not None:
        steps += _running(advice, advice.setpoints)
    if advice.cuts is not None:
        steps.append(("Receivers", tuple(_cut_words(c, k) for k, c in enumerate(advice.cuts.cuts))))
        steps.append(("Switching", _switching_words(advice.cuts, _vacuum(advice))))
    if advice.verdict.routes:
        steps.append(("Better ways", tuple(route.says for route in advice.verdict.routes)))
    steps.append(("After", _after(advice)))
    steps.append((NOT_RECKONED, advice.unmodelled))
    return [(title, sentences) for title, sentences in steps if sentences]


def _charge(advice: Advice) -> tuple[str, ...]:
    sheet = advice.sheet if advice.verdict.plan is None else advice.verdict.plan.sheet
    parts = [f"{p.substance.name} {p.text} ({format_mass(p.mass_kg)})" for p in sheet.charge]
    fill = sheet.charge_volume_m3 / sheet.rig.flask_volume_m3.value
    return (
        "; ".join(parts),
        f"Flask {sheet.rig.flask_volume_m3.text}, {format_fraction(fill, '%', 0.05)} full; weigh "
        "it empty and full.",
    )


def _running(advice: Advice, points: SetPoints) -> list[tuple[str, tuple[str, ...]]]:
    plan = advice.verdict.plan
    assert plan is not None
    rig = plan.sheet.rig
    pump = f"; pump: {rig.pump}" if rig.pump and plan.pressure_Pa < _REDUCED else ""
    set_up = (
        f"{plan.label}; flask {rig.flask_volume_m3.text}; {rig.condenser}; bath of "
        f"{rig.bath}{pump}. {points.lagging.capitalize()}.",
        f"Boiling aid: {points.boiling_aid}. Bulb's top level with the lower lip of the side arm.",
        f"Coolant {format_temperature(points.coolant_K, _WHOLE)}; pressure "
        f"{format_pressure(points.pressure_Pa, None)}.",
    )
    first = "–" if points.first_drop_s is None else format_time(points.first_drop_s)
    heat = (
        f"Bath to {format_temperature(points.bath_first_K, _WHOLE)} in "
        f"{format_time(points.warm_up_s)}, then {_onwards(points)} ({_bath_origin(advice)}).",
        f"First drop expected after {first}; product complete after {format_time(points.end_s)}.",
        f"Take-off about {points.drops_per_min:.0f} drops/min "
        f"({6e7 * points.takeoff_m3_s:.2g} mL/min)"
        + (f", reflux ratio {points.reflux_ratio:g}." if points.reflux_ratio > 0.0 else "."),
        _end_of_heat(advice, points),
    )
    return [("Set up", set_up), ("Heat", heat)]


def _end_of_heat(advice: Advice, points: SetPoints) -> str:
    """Return when the heat is taken away; a product that stays in the pot is not distilled on."""
    least = format_volume(points.stop_residue_m3, _DROP)
    plan = advice.verdict.plan
    if plan is None or plan.outcome is None or plan.outcome.policy.product != "residue":
        return f"Stop with {least} in the pot, never dry."
    product = format_volume(plan.outcome.volume_m3, _DROP)
    return (
        f"Heat away when the forerun is over: the {product} in the pot are the product. "
        f"Never below {least}, never dry."
    )


def _onwards(points: SetPoints) -> str:
    """Return how the bath is led after the warm-up."""
    if points.bath_last_K - points.bath_first_K < _HELD:
        return "held there"
    last = format_temperature(points.bath_last_K, _WHOLE)
    return f"slowly to {last} over {format_time(points.ramp_s)}"


def _bath_origin(advice: Advice) -> str:
    """Return whose course of the bath the card gives: a plan works out its own."""
    sheet = advice.sheet
    if not sheet.programme.bath_K.given and not sheet.special.keeps:
        return "assumed: the sheet names no course"
    return "worked out for this plan, in place of the sheet's own"


def _cut_words(cut: CutPlan, number: int) -> str:
    name = "Pot" if cut.name == "pot" else f"{number + 1} {cut.name}"
    start = "first drop" if cut.start_head_K is None else format_temperature(cut.start_head_K)
    end = "the end" if cut.end_head_K is None else format_temperature(cut.end_head_K)
    span = "" if cut.name == "pot" else f" head {start} to {end},"
    drops = "" if cut.drops is None else f" (about {_rounded(cut.drops)} drops)"
    chance = "" if cut.probability is None else f"; {100 * cut.probability:.0f} in 100 that it is"
    return f"{name}:{span} {format_volume(cut.volume_m3, _DROP)}{drops}: {cut.says}{chance}."


def _rounded(count: int) -> str:
    """Return a count with two figures."""
    digits = max(len(str(count)) - 2, 0)
    return str(round(count, -digits))


def _switching_words(plan: CutsPlan, vacuum: bool) -> tuple[str, ...]:
    steps = 1.0 if vacuum else 10.0
    move = format_temperature_difference(plan.head_slope_K_Pa * steps * _MMHG)
    what = "1 mmHg of pressure" if vacuum else "10 mmHg of barometer"
    words = [
        f"Watch the {'head' if plan.watch == 'head' else 'volume'}. Head readings move by {move} "
        f"for {what}, up with it."
    ]
    words += [plan.redistil.says] if plan.redistil is not None else []
    words += [plan.repeated.says] if plan.repeated is not None else []
    return tuple(words)


def _vacuum(advice: Advice) -> bool:
    plan = advice.verdict.plan
    if plan is not None:
        return plan.pressure_Pa < _REDUCED
    return min(p for _, p in advice.sheet.programme.pressure_Pa.points) < _REDUCED


def _after(advice: Advice) -> tuple[str, ...]:
    vacuum = _vacuum(advice)
    cool = "Cool, let in inert gas, pump off" if vacuum else "Heat off, lower the bath, let it cool"
    return (
        f"{cool}. Weigh every cut and the pot; label with name, hazard, lot, grams, date.",
        "Advisory only: your institution's stricter rule wins.",
    )


def card_text(advice: Advice, finding: str) -> str:
    """Return the card as plain text with boxes to tick.

    Args:
        advice: the answer.
        finding: its first sentence.
    """
    lines = [advice.sheet.title, "=" * min(_WIDTH, len(advice.sheet.title))]
    for title, sentences in card_lines(advice, finding):
        lines += ["", title]
        for sentence in sentences:
            tick = "  - " if title == NOT_RECKONED else "  [ ] "
            lines += textwrap.wrap(
                sentence, _WIDTH, initial_indent=tick, subsequent_indent=" " * len(tick)
            )
    return "\n".join(lines) + "\n"


def card_as_svg(advice: Advice, finding: str) -> str:
    """Return the card as one page, black on white.

    Args:
        advice: the answer.
        finding: its first sentence.
    """
    width, height = _PAGE
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" role="img" font-family="Georgia, serif">',
        f"<title>{escape(advice.sheet.title)}</title>",
        f'<rect width="{width}" height="{height}" fill="#fffdf8"/>',
    ]
    at = _MARGIN
    parts.append(_text(_MARGIN, at, advice.sheet.title, 20, bold=True))
    at += 10
    for title, sentences in card_lines(advice, finding):
        at += int(1.35 * _LINE)
        parts.append(_text(_MARGIN, at, title, 13.5, bold=True, stop=title == "STOP"))
        for sentence in sentences:
            for n, line in enumerate(textwrap.wrap(sentence, 100)):
                at += _LINE
                if n == 0 and title != NOT_RECKONED:
                    parts.append(
                        f'<rect x="{_MARGIN}" y="{at - 10}" width="10" height="10" fill="none" '
                        'stroke="#222"/>'
                    )
                parts.append(_text(_MARGIN + 20, at, line, _SIZE))
    if at > height - _MARGIN:  # a full card grows downwards rather than lose a line
        grown = at + _MARGIN
        parts[0] = (
            parts[0]
            .replace(f'height="{height}"', f'height="{grown}"')
            .replace(f"{width} {height}", f"{width} {grown}")
        )
        parts[2] = parts[2].replace(f'height="{height}"', f'height="{grown}"')
    return "\n".join([*parts, "</svg>"]) + "\n"


def card_as_pdf(advice: Advice, finding: str, paper: str = "a4") -> bytes:
    """Return the card as a tagged PDF with boxes to tick.

    Args:
        advice: the answer.
        finding: its first sentence.
        paper: ``a4`` or ``us-letter``.

    Raises:
        CalculationFailed: the page could not be set.
    """
    steps = [
        {
            "title": title,
            "items": list(sentences),
            "stop": title == "STOP",
            "aside": title == NOT_RECKONED,
        }
        for title, sentences in card_lines(advice, finding)
    ]
    data = {
        "title": advice.sheet.title,
        "paper": paper,
        "steps": steps,
        "foot": f"forerun {made_by()['forerun']} · a forecast: the bench decides",
    }
    return typeset("card", data)


def _text(
    x: float, y: float, words: str, size: float, *, bold: bool = False, stop: bool = False
) -> str:
    weight = ' font-weight="bold"' if bold else ""
    ink = "#b00020" if stop else "#1a1a1a"
    return f'<text x="{x}" y="{y}" font-size="{size}"{weight} fill="{ink}">{escape(words)}</text>'
