"""The marks of a class: a table, a sentence for each part, a page of words for each student."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from forerun.core.provenance import signed
from forerun.reporting.class_hidden import cut_object
from forerun.reporting.paper import Paper
from forerun.reporting.table import columns, paragraph, wrapped
from forerun.reporting.tables_csv import csv_text
from forerun.reporting.words import capital
from forerun.reviewing.marks import Marks

__all__ = ["MarkedClass"]


@dataclass(frozen=True, slots=True)
class MarkedClass:
    """The marks of a class.

    Args:
        title: of the sheet.
        weights: of the parts.
        marks: of each student who could be marked.
        unmarked: why not, by code.
        warnings: sentences that the user should read.
        asked: the question, with the key, whole enough to be asked again.
    """

    title: str
    weights: Mapping[str, float]
    marks: tuple[Marks, ...]
    unmarked: Mapping[str, str]
    warnings: tuple[str, ...] = ()
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def finding(self) -> str:
        """How the class did, in one sentence."""
        if not self.marks:
            return "Nobody could be marked."
        low, middle, high = np.quantile([one.total for one in self.marks], (0.0, 0.5, 1.0))
        told = f"{len(self.marks)} marked: half have {middle:.0f} of 100 or more"
        missing = f"; {len(self.unmarked)} not marked" if self.unmarked else ""
        return f"{told}, from {low:.0f} to {high:.0f}{missing}."

    def csv(self) -> str:
        """Return the marks as a table."""
        rows = [[one.code, one.total, *one.parts.values(), one.instead] for one in self.marks]
        return csv_text(("student", "total", *self.weights, "instead"), rows)

    def feedback(self, marks: Marks) -> str:
        """Return what a student is told.

        Args:
            marks: of that student.
        """
        whole = sum(self.weights.values())
        lines = [f"{marks.code}: {marks.total:.0f} of 100", ""]
        for part, worth in marks.parts.items():
            most = 100.0 * self.weights.get(part, 0.0) / whole
            lines += [f"{capital(part)}: {most * worth:.1f} of {most:.0f}. {marks.reasons[part]}"]
        return "\n".join([*lines, "", marks.instead]) + "\n"

    def to_json(self) -> dict[str, Any]:
        """Return the marks with their reasons, SI units."""
        return signed(
            {
                "title": self.title,
                "finding": self.finding,
                "weights": dict(self.weights),
                "marks": [
                    {
                        "code": one.code,
                        "total": one.total,
                        "parts": dict(one.parts),
                        "reasons": dict(one.reasons),
                        "cut": cut_object(one.cut),
                        "best": cut_object(one.best),
                        "instead": one.instead,
                        "why": one.why,
                    }
                    for one in self.marks
                ],
                "unmarked": dict(self.unmarked),
                "warnings": list(self.warnings),
            },
            self.asked,
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return the marks in lines for the instructor."""
        head = ["student", "of 100", *self.weights]
        rows = [
            [one.code, f"{one.total:.0f}", *(f"{100.0 * p:.0f} %" for p in one.parts.values())]
            for one in self.marks
        ]
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        lines += ["", *columns(head, rows, paper)]
        for one in self.marks:
            said = [*one.reasons.values(), one.instead]
            said += [f"In their words: {' '.join(one.why.split())}"] if one.why else []
            lines += paragraph(one.code, said, paper, "bold")
        missing = [f"{code}: {why}" for code, why in self.unmarked.items()]
        lines += paragraph("Not marked", missing, paper, "amber", "bold")
        return lines + paragraph("Look out", self.warnings, paper, "amber", "bold")
