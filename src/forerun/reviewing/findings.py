"""What a log shows that it should not, and why: the shape in which findings travel."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Cause", "Diagnosis", "Finding"]


@dataclass(frozen=True, slots=True)
class Cause:
    """One explanation of a finding.

    Args:
        name: of the contract's list, e.g. ``leak``.
        label: the same in words.
        probability: among the causes of its finding [-].
    """

    name: str
    label: str
    probability: float


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing in the log, with its causes.

    Args:
        name: of the first cause.
        probability: of the first cause, doubt about the sign itself included [-].
        causes: the most likely first.
        seen: what in the readings it rests on, one sentence.
        caution: what to do before anything else; empty where nothing is urgent.
        test: what best tells the first two causes apart.
        remedy: for the first cause.
        since_s: when it began [s].
    """

    name: str
    probability: float
    causes: tuple[Cause, ...]
    seen: str
    caution: str
    test: str
    remedy: str
    since_s: float


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Every finding of a log.

    Args:
        findings: cautions first, then the most likely; empty where no sign was found.
        examined: names of the signs that these readings can show.
        not_examined: (sign, what would have to be read) for the others.
    """

    findings: tuple[Finding, ...]
    examined: tuple[str, ...]
    not_examined: tuple[tuple[str, str], ...]
