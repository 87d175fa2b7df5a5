"""All signs looked for in a log, their causes ranked, the one test that parts the first two.

Whether the shape of the curve is odd, and whether the column parts, is decided by simulated runs
(`forerun.running.courses`); weights are rules: a probability orders the causes and says how plain
the sign is.  How often they are right: docs/explain/diagnosis.md.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from forerun.records.readings import Readings
from forerun.reviewing.findings import Cause, Diagnosis, Finding
from forerun.running import (
    signs_amount,
    signs_curve,
    signs_heat,
    signs_plateaus,
    signs_pressure,
    signs_shape,
)
from forerun.running.answered import answered
from forerun.running.case import Case, Weighed, case_of
from forerun.running.courses import courses_of
from forerun.running.knowledge import Knowledge, knowledge
from forerun.running.signs import Rule, Sign
from forerun.still.from_sheet import Prepared
from forerun.still.results import Trace

__all__ = ["RULES", "Diagnoser", "diagnose_case", "ranked"]

RULES: tuple[Rule, ...] = (
    *signs_heat.RULES,
    *signs_pressure.RULES,
    *signs_shape.RULES,
    *signs_plateaus.RULES,
    *signs_curve.RULES,
    *signs_amount.RULES,
)
"""Every sign that is looked for."""

_LEAST = 0.01  # causes less likely than this are not named
_MOST_CAUSES = 4
_WORDS = {
    "head": "the head",
    "pot": "the pot's temperature",
    "bath": "the bath",
    "pressure": "the pressure",
    "volume": "the distillate",
    "weighed": "every receiver and the pot weighed",
}


class Diagnoser:
    """Diagnoses logs of one sheet; what the sheet may lead to is simulated once.

    Args:
        prepared: the sheet made ready for the still.
        foreseen: the forecast of it.
        threads: how many runs at a time; None for one on each processor.
    """

    def __init__(self, prepared: Prepared, foreseen: Trace, threads: int | None = None) -> None:
        self._prepared, self._foreseen = prepared, foreseen
        self._courses = courses_of(prepared, threads=threads)

    def diagnose(
        self,
        readings: Readings,
        weighed: Weighed | None = None,
        answers: Mapping[str, str] = MappingProxyType({}),
    ) -> Diagnosis:
        """Return what a log shows that it should not.

        Args:
            readings: those that may steer (`forerun.running.checks`), three at least.
            weighed: the account in mass, where all was weighed.
            answers: ``yes`` or ``no`` by name of the cause that a test was to confirm.
        """
        case = case_of(self._prepared, self._foreseen, readings, self._courses, weighed)
        found = diagnose_case(case)
        return replace(found, findings=answered(found.findings, answers))


def diagnose_case(case: Case, rules: Sequence[Rule] = RULES) -> Diagnosis:
    """Return what a log shows that it should not.

    Args:
        case: the log beside its expectation.
        rules: the signs that are looked for.

    Returns:
        findings, cautions first; of several signs with one first cause the plainest is kept.
    """
    known = knowledge()
    examined, not_examined = [], []
    best: dict[str, Finding] = {}
    for rule in rules:
        missing = [n for n in rule.needs if not _has(case, n)]
        by_remark = rule.remark and case.remarks
        sign = None if missing and not by_remark else rule.look(case, known.thresholds)
        if missing and sign is None:  # a remark that is not there proves nothing
            not_examined.append((rule.name, " and ".join(_WORDS[n] for n in missing)))
            continue
        examined.append(rule.name)
        if sign is None:
            continue
        finding = _finding(sign, known)
        kept = best.get(finding.name)
        if kept is None or kept.probability < finding.probability:
            best[finding.name] = finding
    ordered = sorted(best.values(), key=lambda f: (not f.caution, -f.probability))
    return Diagnosis(tuple(ordered), tuple(examined), tuple(not_examined))


def ranked(diagnosis: Diagnosis) -> tuple[Cause, ...]:
    """Return all causes of all findings in one order, each with its highest probability.

    Args:
        diagnosis: of one log.
    """
    best: dict[str, Cause] = {}
    for finding in diagnosis.findings:
        plain = finding.probability / finding.causes[0].probability
        for cause in finding.causes:
            here = Cause(cause.name, cause.label, plain * cause.probability)
            if cause.name not in best or best[cause.name].probability < here.probability:
                best[cause.name] = here
    return tuple(sorted(best.values(), key=lambda cause: -cause.probability))


def _has(case: Case, name: str) -> bool:
    return case.weighed is not None if name == "weighed" else case.has(name)


def _finding(sign: Sign, known: Knowledge) -> Finding:
    total = sum(sign.weights.values())
    ranked = sorted(sign.weights.items(), key=lambda item: -item[1])
    causes = tuple(
        Cause(name, known.causes[name].label, weight / total)
        for name, weight in ranked[:_MOST_CAUSES]
        if weight / total >= _LEAST
    )
    first = causes[0]
    said = known.causes[first.name]
    urgent = [known.causes[c.name].caution for c in causes[:2] if c.probability > 0.15]
    return Finding(
        name=first.name,
        probability=first.probability * sign.strength,
        causes=causes,
        seen=sign.seen,
        caution=next((caution for caution in urgent if caution), ""),
        test=known.parting(first.name, causes[1].name if len(causes) > 1 else None),
        remedy=said.remedy,
        since_s=sign.since_s,
    )
