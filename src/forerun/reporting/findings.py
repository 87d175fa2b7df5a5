"""Findings of a log, for people and as the contract's objects."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from forerun.core.provenance import signed
from forerun.core.quantities import format_fraction, format_time
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number
from forerun.reporting.table import paragraph, wrapped
from forerun.reporting.words import capital
from forerun.reviewing.findings import Diagnosis, Finding

__all__ = ["Diagnosed", "finding_objects", "findings_said", "findings_told"]

_ADVISORY = "Advisory: your institution's stricter rule wins."


def finding_objects(diagnosis: Diagnosis) -> list[dict[str, Any]]:
    """Return the contract's ``findings``; one named ``none`` where no sign was found."""
    if not diagnosis.findings:
        return [
            {
                "name": "none",
                "probability": None,
                "causes": [],
                "seen": _nothing(diagnosis),
                "caution": None,
                "test": None,
                "remedy": None,
                "since_s": None,
            }
        ]
    return [
        {
            "name": f.name,
            "probability": number(f.probability),
            "causes": [
                {"name": c.name, "label": c.label, "probability": number(c.probability)}
                for c in f.causes
            ],
            "seen": f.seen,
            "caution": f.caution or None,
            "test": f.test,
            "remedy": f.remedy,
            "since_s": number(f.since_s),
        }
        for f in diagnosis.findings
    ]


def findings_told(diagnosis: Diagnosis, paper: Paper) -> list[str]:
    """Return the lines of all findings for a person; cautions stand first."""
    lines: list[str] = []
    cautions = [f.caution for f in diagnosis.findings if f.caution]
    lines += paragraph("First", [*cautions, _ADVISORY] if cautions else [], paper, "red", "bold")
    for f in diagnosis.findings:
        lines += paragraph(_heading(f), _told(f), paper, "bold")
    return lines


def findings_said(diagnosis: Diagnosis) -> tuple[str, ...]:
    """Return each finding in one sentence or two, for paper; what was looked for if there is none.

    Args:
        diagnosis: of a log.
    """
    found = [f"{_heading(f)}. {f.seen} Then: {f.remedy}" for f in diagnosis.findings]
    return tuple(found) or (_nothing(diagnosis),)


def _heading(finding: Finding) -> str:
    likely = format_fraction(finding.probability, "%", 0.05)
    return f"{capital(finding.causes[0].label)}: {likely}, since {format_time(finding.since_s)}"


def _told(finding: Finding) -> list[str]:
    rest = [f"{c.label} {format_fraction(c.probability, '%', 0.05)}" for c in finding.causes[1:]]
    others = [f"Or: {'; '.join(rest)}."] if rest else []
    return [finding.seen, *others, f"Test: {finding.test}", f"Then: {finding.remedy}"]


def _nothing(diagnosis: Diagnosis) -> str:
    every = len(diagnosis.examined) + len(diagnosis.not_examined)
    return f"None of the {len(diagnosis.examined)} signs that these readings can show, of {every}."


@dataclass(frozen=True, slots=True)
class Diagnosed:
    """What a log shows that it should not.

    Args:
        title: of the sheet.
        diagnosis: its findings.
        warnings: sentences that the user should read.
        asked: the question, whole enough to be asked again; empty where it is not.
    """

    title: str
    diagnosis: Diagnosis
    warnings: tuple[str, ...] = ()
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def finding(self) -> str:
        """The first finding, in one sentence."""
        if not self.diagnosis.findings:
            return _nothing(self.diagnosis)
        first = self.diagnosis.findings[0]
        return f"{capital(first.causes[0].label)}, most likely. {first.seen}"

    def to_json(self) -> dict[str, Any]:
        """Return the object that the contract promises for ``diagnose``."""
        return signed(
            {
                "title": self.title,
                "finding": self.finding,
                "findings": finding_objects(self.diagnosis),
                "examined": list(self.diagnosis.examined),
                "not_examined": [
                    {"sign": sign, "needs": needs} for sign, needs in self.diagnosis.not_examined
                ],
                "basis": "rules",
                "warnings": list(self.warnings),
            },
            self.asked,
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return the answer in lines for a person: cautions, findings, what was not looked at."""
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        lines += findings_told(self.diagnosis, paper)
        lines += paragraph("Look out", self.warnings, paper, "amber", "bold")
        missing = [f"{sign}: needs {needs}" for sign, needs in self.diagnosis.not_examined]
        return lines + paragraph("Not examined", missing, paper, "bold")
