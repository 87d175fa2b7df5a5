"""What a decision consists of."""

from __future__ import annotations

from dataclasses import dataclass

from forerun.planning.candidates import Candidate
from forerun.planning.drawer import DrawerSearch
from forerun.planning.routes import Route

__all__ = ["METHODS", "RuleOfThumb", "RunnerUp", "Verdict"]

METHODS = (
    "simple",
    "fractional",
    "reduced_pressure",
    "steam",
    "water_carrying",
    "not_by_distillation",
    "do_not_start",
)


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """The next best method.

    Args:
        method: its name.
        probability: that it meets the aim [-]; None where it was not computed.
        says: what it would come to.
    """

    method: str
    probability: float | None
    says: str


@dataclass(frozen=True, slots=True)
class RuleOfThumb:
    """What boiling points alone suggest.

    Args:
        method: ``simple`` or ``fractional``.
        difference_K: between the wanted component and its neighbour [K]; None for one alone.
        limit_K: from which the rule says ``simple`` [K].
        agrees: whether the verdict is the same.
        says: why they part, or that they do not.
    """

    method: str
    difference_K: float | None
    limit_K: float
    agrees: bool
    says: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """The method with its reasons.

    Args:
        method: one of `METHODS`.
        probability: that the verdict holds [-]: that the method meets the aim, or, for
            ``not_by_distillation``, that none of those looked at does.
        reasons: in plain words with the figures that decided.
        runner_up: the next best.
        would_change: what would change the verdict.
        after: the method once what stops it is settled; empty where nothing stops it.
        plan: the plan behind it; None where none was run.
        plans: all that were run, best first.
        routes: better ways.
        least_plates: fewest plates at total reflux [-]; None where no number does or it was not
            asked.
        drawer: what was found in a drawer; None where none was searched.
        needs_s: time that the method takes where nothing keeps to the aim's [s]; else None.
    """

    method: str
    probability: float
    reasons: tuple[str, ...]
    runner_up: RunnerUp | None
    would_change: tuple[str, ...]
    after: str = ""
    plan: Candidate | None = None
    plans: tuple[Candidate, ...] = ()
    routes: tuple[Route, ...] = ()
    least_plates: int | None = None
    drawer: DrawerSearch | None = None
    needs_s: float | None = None
