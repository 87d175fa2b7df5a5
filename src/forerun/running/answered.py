"""Findings after their tests were answered: the ranking moves by what a good test is worth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from forerun.reviewing.findings import Cause, Finding
from forerun.running.knowledge import knowledge

__all__ = ["answered"]

_WORTH = 12.0  # odds by which a clear answer moves a cause: a judgement, no source


def answered(findings: Sequence[Finding], answers: Mapping[str, str]) -> tuple[Finding, ...]:
    """Return findings with their causes ranked anew, cautions first.

    Args:
        findings: as the log alone gives them.
        answers: ``yes`` or ``no`` by name of the cause that a test was to confirm.
    """
    found = [_moved(finding, answers) for finding in findings]
    return tuple(sorted(found, key=lambda f: (not f.caution, -f.probability)))


def _moved(finding: Finding, answers: Mapping[str, str]) -> Finding:
    if not any(cause.name in answers for cause in finding.causes):
        return finding
    odds = {"yes": _WORTH, "no": 1.0 / _WORTH}
    known = knowledge()
    weights = {
        c.name: c.probability * odds.get(answers.get(c.name, ""), 1.0) for c in finding.causes
    }
    total = sum(weights.values())
    ranked = sorted(finding.causes, key=lambda cause: -weights[cause.name])
    causes = tuple(Cause(c.name, c.label, weights[c.name] / total) for c in ranked)
    sign = finding.probability / finding.causes[0].probability  # that there is anything at all
    first = causes[0].name
    second = causes[1].name if len(causes) > 1 else None
    urgent = [known.causes[c.name].caution for c in causes[:2] if c.probability > 0.15]
    return replace(
        finding,
        name=first,
        probability=min(sign, 1.0) * causes[0].probability,
        causes=causes,
        caution=next((caution for caution in urgent if caution), ""),
        test=known.parting(first, second),
        remedy=known.causes[first].remedy,
    )
