"""Advice for people: the verdict first, then the gates, the pressures, the plans."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from forerun.core.provenance import signed
from forerun.core.quantities import (
    format_fraction,
    format_pressure,
    format_time,
)
from forerun.reporting.advise_json import advise_object
from forerun.reporting.bench_card import card_as_pdf, card_as_svg, card_lines, card_text
from forerun.reporting.gates import gates_printed
from forerun.reporting.notebook import Notebook
from forerun.reporting.paper import Paper
from forerun.reporting.pressure_strip import strip_as_svg, strip_printed
from forerun.reporting.sources import sources_printed
from forerun.reporting.table import columns, paragraph, wrapped

if TYPE_CHECKING:
    from forerun.planning.advice import Advice
    from forerun.planning.candidates import Candidate
    from forerun.planning.drawer import OneMore

__all__ = ["METHOD_WORDS", "Counsel"]

_CARD_PARTS = {"Set up", "Heat", "Receivers", "Switching"}

METHOD_WORDS = {
    "simple": "A simple still does it",
    "fractional": "Take a column",
    "reduced_pressure": "Distil it under reduced pressure",
    "steam": "Carry it over with steam",
    "water_carrying": "Let the water go first",
    "not_by_distillation": "Not by distillation",
    "do_not_start": "Do not start",
}


@dataclass(frozen=True, slots=True)
class Counsel(Notebook):
    """An advice that can be printed.

    Args:
        advice: what was computed.
        asked: the question, whole enough to be asked again; empty where it is not.
    """

    advice: Advice
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read, each once."""
        return self.advice.warnings

    @property
    def stopped(self) -> bool:
        """Whether a safety gate says stop."""
        return self.advice.stopped

    @property
    def finding(self) -> str:
        """The verdict in one sentence."""
        verdict, goal = self.advice.verdict, self.advice.goal
        first = verdict.reasons[0] if verdict.reasons else ""
        words = METHOD_WORDS[verdict.method]
        if verdict.method == "do_not_start":
            return f"{words}: {first}"
        aim = f"{format_fraction(goal.purity, goal.basis)} {goal.name}"
        if verdict.method == "not_by_distillation":
            return f"{words}: {aim} is out of reach, {_chance(verdict.probability)}"
        if verdict.needs_s is not None and goal.time_s is not None:
            needed, asked = format_time(verdict.needs_s), format_time(goal.time_s)
            return f"{words}: {aim}, but in {needed}; in {asked} {_chance(verdict.probability)}"
        return f"{words}: {aim}, {_chance(verdict.probability)}"

    def card(self, *, drawn: bool = False) -> str:
        """Return the bench card: one page in the order of work.

        Args:
            drawn: as SVG instead of plain text.
        """
        make = card_as_svg if drawn else card_text
        return make(self.advice, self.finding)

    def card_on_paper(self, paper: str = "a4") -> bytes:
        """Return the bench card as a tagged PDF.

        Args:
            paper: ``a4`` or ``us-letter``.

        Raises:
            CalculationFailed: the page could not be set.
        """
        return card_as_pdf(self.advice, self.finding, paper)

    def drawing(self) -> str:
        """Return the pressures that fit as SVG, with what limits them."""
        return strip_as_svg(self.advice.window, self.advice.goal.name)

    def series(self) -> dict[str, Any]:
        """Return where the charge boils against pressure."""
        boiling = self.to_json()["pressure_window"]["boiling"]
        return {
            "pressure_Pa": [one["pressure_Pa"] for one in boiling],
            "boiling_point_K": [one["temperature_K"] for one in boiling],
        }

    def to_json(self) -> dict[str, Any]:
        """Return the object that the contract promises for ``advise``."""
        return signed(advise_object(self.advice, self.finding), self.asked)

    def printed(self, paper: Paper) -> list[str]:
        """Return the answer in lines for a person."""
        advice, verdict = self.advice, self.advice.verdict
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        lines += paragraph("Why", verdict.reasons, paper, "bold")
        if verdict.after:
            lines += paragraph("Once that is settled", [METHOD_WORDS[verdict.after]], paper, "bold")
        lines += paragraph("Rule of thumb", [advice.rule.says], paper, "bold")
        lines += gates_printed(advice.gates, paper)
        lines += strip_printed(advice.window, paper)
        if verdict.plans:
            lines += ["", *_plan_table(verdict.plans, paper)]
        for title, sentences in card_lines(advice, self.finding):
            if title in _CARD_PARTS:
                lines += paragraph(title, sentences, paper, "bold")
        if verdict.drawer is not None:
            more = [_more_words(m) for m in verdict.drawer.one_more]
            lines += paragraph("What one more piece would buy", more, paper, "bold")
        runner = verdict.runner_up
        if runner is not None:
            chance = "" if runner.probability is None else f", {_chance(runner.probability)}"
            says = f"{METHOD_WORDS[runner.method]}{chance}: {runner.says}"
            lines += paragraph("Runner-up", [says], paper, "bold")
        lines += paragraph("What would change this", verdict.would_change, paper, "bold")
        lines += paragraph("Better ways", [r.says for r in verdict.routes], paper, "bold")
        lines += paragraph("Mind also", advice.specials, paper, "bold")
        lines += paragraph("Look out", self.warnings, paper, "amber", "bold")
        lines += paragraph("Not given, so taken as", advice.assumed, paper, "bold")
        lines += paragraph("Not reckoned with", advice.unmodelled, paper, "bold")
        return lines + sources_printed(advice.references, paper)


def _more_words(more: OneMore) -> str:
    return (
        f"{more.piece}: {format_fraction(more.recovery, '%', 0.05)} of it at the purity asked for, "
        f"{format_fraction(more.gain, '%', 0.05)} more than now (by short-cut)"
    )


def _chance(probability: float) -> str:
    return f"{100.0 * probability:.0f} in 100"


def _plan_table(plans: tuple[Candidate, ...], paper: Paper) -> list[str]:
    head = ("plan", "pressure", "purity", "recovery", "time", "chance")
    rows = []
    for plan in plans:
        outcome = plan.outcome
        if outcome is None:
            rows.append((plan.label, format_pressure(plan.pressure_Pa), "–", "–", "–", "–"))
            continue
        rows.append(
            (
                plan.label,
                format_pressure(plan.pressure_Pa),
                format_fraction(outcome.purity, "%"),
                format_fraction(outcome.recovery, "%", 0.05),
                format_time(outcome.time_s),
                f"{100.0 * outcome.probability:.0f} %" if outcome.members > 1 else "–",
            )
        )
    return columns(head, rows, paper)
