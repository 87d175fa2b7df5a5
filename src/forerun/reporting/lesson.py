"""Class material: one charge in several ways, as text, as JSON and as a page of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

from forerun.core.provenance import signed
from forerun.core.quantities import (
    format_fraction,
    format_per_cent,
    format_pressure,
    format_temperature,
    format_time,
    format_volume,
)
from forerun.planning.comparison import FRACTIONS
from forerun.reporting.cautions import cautions_for_class
from forerun.reporting.class_data import class_data, drops_per_mL
from forerun.reporting.class_html import html_fold, html_list, html_page, html_table
from forerun.reporting.class_words import (
    azeotrope_words,
    finding_of,
    of_mixture,
    rule_words,
    verdict_words,
    why_words,
)
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number
from forerun.reporting.sources import sources_printed
from forerun.reporting.table import columns, paragraph, wrapped

if TYPE_CHECKING:
    from forerun.planning.advice import Advice
    from forerun.planning.comparison import Fraction, Way, Ways
    from forerun.sheets.topics import Topic

__all__ = ["Lesson"]

_NONE = "–"
_TO = "\u2060–\u2060"  # a range that is never broken between two lines
_STANDS_K = 0.5  # a head that moves less stands; a judgement, no source


@dataclass(frozen=True, slots=True)
class Lesson:
    """Class material about one charge.

    Args:
        ways: the charge distilled in several ways.
        advice: the common rule, the computed verdict and the gates.
        topic: of the ready ones, where it is one.
        asked: the question, whole enough to be asked again; empty where it is not.
    """

    ways: Ways
    advice: Advice
    topic: Topic | None = None
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def finding(self) -> str:
        """What the comparison shows, in one sentence."""
        return finding_of(self.ways)

    @property
    def stopped(self) -> bool:
        """Whether a safety gate says stop."""
        return self.advice.stopped

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read, each once."""
        own = [w for way in self.ways.ways for w in way.run.warnings]
        told = self.topic.cautions if self.topic is not None else ()
        return tuple(dict.fromkeys([*self.ways.failed, *told, *self.advice.warnings, *own]))

    @property
    def why(self) -> tuple[str, ...]:
        """Why the ways differ."""
        return (*why_words(self.ways), *azeotrope_words(self.advice.analysis.azeotropes, self.ways))

    def page(self) -> str:
        """Return the page: one file of HTML that opens and prints without anything else."""
        ways, goal = self.ways, self.ways.goal
        stops = [
            f"Stop: {g.name.replace('_', ' ')}. {g.guidance}"
            for g in self.advice.gates
            if g.state == "stop"
        ]
        unmodelled = dict.fromkeys(s for way in ways.ways for s in way.run.unmodelled)
        fire = cautions_for_class(ways.sheet, ways.ways[0].run)
        given = [*goal.assumed, *ways.sheet.defaults]
        sources = [str(r) for r in self._references()]
        words = {
            "TITLE": escape(ways.sheet.title or self.finding),
            "SUBTITLE": escape(self.subtitle),
            "FINDING": escape(self.finding),
            "TOPIC": self._topic(),
            "STOPS": "".join(f'<p class="stop">{escape(s)}</p>' for s in stops),
            "RULE": escape(rule_words(self.advice)),
            "VERDICT": escape(verdict_words(self.advice)),
            "FLASK": format_volume(ways.sheet.rig.flask_volume_m3.value),
            "EACH": format_volume(ways.sheet.charge_volume_m3 / FRACTIONS),
            "DROPS": f"{drops_per_mL(ways):.0f}",
            "WANTED": escape(goal.name),
            "CUTS": html_table(*self.cuts()),
            "CUTSNOTE": escape(self.cuts_note()),
            "ROUNDS": html_table(*self._rounds()),
            "WHY": html_list(self.why),
            "NOTES": html_list(dict.fromkeys([*fire, *self.warnings, *unmodelled]))
            + html_fold("Not given, so taken as", given)
            + html_fold(f"Sources: {len(sources)}", sources),
        }
        return html_page(words, class_data(ways, self.finding))

    def to_json(self) -> dict[str, Any]:
        """Return what was found, SI units."""
        ways, verdict, rule = self.ways, self.advice.verdict, self.advice.rule
        return signed(
            {
                "finding": self.finding,
                "why": list(self.why),
                "topic": None
                if self.topic is None
                else {"aim": self.topic.aim, "misconception": self.topic.misconception},
                "rule_of_thumb": {
                    "method": rule.method,
                    "difference_K": number(rule.difference_K),
                    "says": rule.says,
                },
                "verdict": {"method": verdict.method, "reasons": list(verdict.reasons)},
                "pressure_Pa": ways.pressure_Pa,
                "wanted": ways.goal.name,
                "purity": ways.goal.purity,
                "basis": ways.goal.basis,
                "staircase": [
                    {
                        "name": s.name,
                        "temperature_K": number(s.temperature_K),
                        "start_m3": s.start_m3,
                        "end_m3": s.end_m3,
                    }
                    for s in ways.stairs
                ],
                "ways": [_way_object(way) for way in ways.ways],
                "repeated": {
                    "component": ways.mixture.names[ways.followed],
                    "rounds": [
                        {
                            "number": r.number,
                            "purity": number(r.purity),
                            "recovery": number(r.share),
                            "volume_m3": number(r.volume_m3),
                            "lost": number(r.lost),
                        }
                        for r in ways.rounds
                    ],
                },
                "warnings": list(self.warnings),
            },
            self.asked,
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return what was found, in lines for a person."""
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        if self.topic is not None:
            lines += paragraph("Aim", [self.topic.aim], paper, "bold")
            lines += paragraph("Often believed", [self.topic.misconception], paper, "bold")
        lines += paragraph("Rule of thumb", [rule_words(self.advice)], paper, "bold")
        lines += paragraph("Calculated", [verdict_words(self.advice)], paper, "bold")
        lines += ["", *columns(*self._best(), paper), "", *columns(*self._rounds(), paper)]
        lines += paragraph("Why they differ", self.why, paper, "bold")
        lines += paragraph("Look out", self.warnings, paper, "amber", "bold")
        return lines + sources_printed(self._references(), paper)

    def _topic(self) -> str:
        if self.topic is None:
            return ""
        return (
            f"<dl><dt>Aim</dt><dd>{escape(self.topic.aim)}</dd><dt>Often believed</dt>"
            f"<dd>{escape(self.topic.misconception)}</dd><dt>Rests on</dt>"
            f"<dd>{escape('; '.join(self.topic.sources))}</dd></dl>"
        )

    def _references(self) -> tuple[Any, ...]:
        found = {r.key: r for way in self.ways.ways for r in way.run.references}
        found |= {r.key: r for r in self.advice.references}
        return tuple(found.values())

    @property
    def subtitle(self) -> str:
        """Title, charge and pressure."""
        title = self.ways.sheet.title
        return f"{title}. {self.charged}" if title else self.charged

    @property
    def charged(self) -> str:
        """Charge and pressure."""
        parts = ", ".join(f"{p.text} {p.substance.name}" for p in self.ways.sheet.charge)
        return f"{parts}, {format_pressure(self.ways.pressure_Pa)}"

    def cuts_note(self) -> str:
        """Return what the table of all cuts shows."""
        goal = self.ways.goal
        each = format_volume(self.ways.sheet.charge_volume_m3 / FRACTIONS)
        return (
            f"Five receivers of {each}: purity in {goal.basis} and, in brackets, share of all "
            f"the {goal.name}. One cut: the largest of the distillate that is "
            f"{format_fraction(goal.purity, goal.basis)} pure. In the flask: what is left there."
        )

    def cuts(self) -> tuple[list[str], list[list[str]]]:
        """Return head and rows of the table of all cuts; a cell has one line or two."""
        most = max(len(way.fractions) for way in self.ways.ways)
        head = [
            "way",
            *(f"receiver {k + 1}" for k in range(most)),
            "one cut",
            "of it",
            "ready",
            "in the flask",
        ]
        rows = []
        for way in self.ways.ways:
            cells = [_fraction_words(f) for f in way.fractions]
            cells += [_NONE] * (most - len(cells))
            rows.append([way.label, *cells, *_best_words(way), _pot_words(way)])
        return head, rows

    def _best(self) -> tuple[list[str], list[list[str]]]:
        head = ["way", "one cut", "of it", "ready", "in the flask"]
        rows = [[w.label, *_best_words(w), _pot_words(w)] for w in self.ways.ways]
        return head, rows

    def _rounds(self) -> tuple[list[str], list[list[str]]]:
        name = self.ways.mixture.names[self.ways.followed]
        head = ["distilled", f"{name} in the receiver", "of all of it", "volume", "lost this time"]
        rows = [
            [
                "once" if r.number == 1 else f"{r.number} times",
                format_fraction(of_mixture(r.purity), "mol%"),
                format_fraction(r.share, "%", 0.05),
                format_volume(r.volume_m3),
                format_fraction(r.lost, "%", 0.05),
            ]
            for r in self.ways.rounds
        ]
        return head, rows


def _fraction_words(fraction: Fraction) -> str:
    if not np.isfinite(fraction.purity):
        return _NONE
    share = format_fraction(max(fraction.share, 0.0), "%", 0.05)
    low, high = fraction.head_low_K, fraction.head_high_K
    stands = abs(high - low) < _STANDS_K
    between = (
        format_temperature(high)
        if stands
        else _from_to(f"{low - 273.15:.0f}", f"{high - 273.15:.0f}")
    )
    return f"{format_per_cent(of_mixture(fraction.purity), 0)} ({share})\n{between}"


def _from_to(low: str, high: str) -> str:
    return f"{low}\u202f°C" if low == high else f"{low}{_TO}{high}\u202f°C"


def _pot_words(way: Way) -> str:
    share = format_fraction(way.pot_share, "%", 0.05)
    return f"{format_per_cent(of_mixture(way.pot_purity), 0)} ({share})"


def _best_words(way: Way) -> tuple[str, str, str]:
    if way.best_share <= 0.0:
        return _NONE, "nothing", _NONE
    start, end = 1e6 * way.best_start_m3, 1e6 * way.best_end_m3
    share = format_fraction(way.best_share, "%", 0.05)
    return f"{start:.0f} to {end:.0f} mL", share, format_time(way.best_end_s)


def _way_object(way: Way) -> dict[str, Any]:
    return {
        "key": way.key,
        "label": way.label,
        "plates": way.plates,
        "reflux_ratio": way.reflux_ratio,
        "end_s": way.end_s,
        "closure": number(way.run.ledger.closure),
        "cut": {
            "recovery": number(way.best_share),
            "purity": number(way.best_purity),
            "start_m3": number(way.best_start_m3),
            "end_m3": number(way.best_end_m3),
            "end_s": number(way.best_end_s),
        },
        "residue": {"purity": number(way.pot_purity), "recovery": number(way.pot_share)},
        "fractions": [
            {
                "number": f.number,
                "volume_m3": f.volume_m3,
                "purity": number(f.purity),
                "recovery": number(f.share),
                "start_head_K": number(f.head_low_K),
                "end_head_K": number(f.head_high_K),
            }
            for f in way.fractions
        ],
    }
