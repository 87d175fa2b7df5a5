"""Everything that is to be decided before the flask is filled, in one answer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from forerun.core.errors import CalculationFailed
from forerun.core.references import Reference
from forerun.glassware.inventory import Inventory, all_kits
from forerun.planning.aims import Goal, goal_of
from forerun.planning.analysis import Analysis, analysed
from forerun.planning.candidates import Candidate
from forerun.planning.cuts import CutsPlan, cuts_of
from forerun.planning.drawer import Progress
from forerun.planning.gates import gates_of, stopping
from forerun.planning.gates_model import GUIDANCE, Gate, GateCase
from forerun.planning.method import decide
from forerun.planning.method_columns import Means
from forerun.planning.method_model import RuleOfThumb, Verdict
from forerun.planning.method_words import rule_of_thumb
from forerun.planning.pressure_window import PressureWindow, pressure_window
from forerun.planning.setpoints import SetPoints, setpoints_of
from forerun.planning.specials import specials_of
from forerun.sheets.model import RunSheet
from forerun.sheets.variants import rig_is_given
from forerun.still.from_sheet import prepare
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = ["USUAL_MEMBERS", "Advice", "advise"]

USUAL_MEMBERS = 16


@dataclass(frozen=True, slots=True)
class Advice:
    """The answer.

    Args:
        sheet: the run sheet.
        goal: the aim, with what was assumed.
        verdict: the method.
        cuts: where to change the receiver; None where no plan is advised.
        setpoints: what to set; likewise.
        rule: what boiling points alone suggest.
        gates: every safety gate.
        window: pressures that the rig allows.
        analysis: the mixture.
        specials: what the liquids ask for besides.
        members: runs behind each probability.
        seed: of these.
        warnings: sentences to read first.
        references: what it rests on.
    """

    sheet: RunSheet
    goal: Goal
    verdict: Verdict
    cuts: CutsPlan | None
    setpoints: SetPoints | None
    rule: RuleOfThumb
    gates: tuple[Gate, ...]
    window: PressureWindow
    analysis: Analysis
    specials: tuple[str, ...]
    members: int
    seed: int
    warnings: tuple[str, ...]
    references: tuple[Reference, ...]

    @property
    def stopped(self) -> bool:
        """Whether a gate says stop."""
        return bool(stopping(self.gates))

    @property
    def assumed(self) -> tuple[str, ...]:
        """What nobody said and the plan rests on, or the sheet where there is no plan."""
        plan = self.verdict.plan
        rests_on = self.sheet if plan is None else plan.sheet
        return (*self.goal.assumed, *rests_on.defaults)

    @property
    def unmodelled(self) -> tuple[str, ...]:
        """What the runs behind the plans leave out; nothing where none was run."""
        runs = (plan.run for plan in self.verdict.plans if plan.run is not None)
        return next((run.unmodelled for run in runs), ())


def advise(
    sheet: RunSheet,
    *,
    members: int = USUAL_MEMBERS,
    seed: int = 1,
    today: date | None = None,
    drawer: Inventory | None = None,
    progress: Progress | None = None,
) -> Advice:
    """Return what to do with a charge: method, gates, pressures, with reasons.

    Args:
        sheet: from `forerun.sheets.resolving.load`.
        members: runs behind each probability.
        seed: repeats them.
        today: the day that ages are counted to; that of the clock when left out.
        drawer: glass to choose from; when left out, the sheet's own, or all starter drawers where
            the sheet names none.
        progress: called with how much of a search is done and how much there is.

    Raises:
        BadInput: whatever in the sheet cannot be used.
    """
    goal = goal_of(sheet)
    if drawer is None and not rig_is_given(sheet):
        drawer = all_kits()
    pressure = min(value for _, value in sheet.programme.pressure_Pa.points)
    analysis = analysed(sheet, goal, pressure)
    window = pressure_window(sheet, goal.wanted, goal.recovery, analysis.mixture)
    own, failure = _own_run(sheet)
    gates = gates_of(GateCase(sheet, own, today or date.today()))
    verdict = decide(
        analysis,
        gates,
        window,
        Means(members, seed, drawer, progress),
    )
    warnings = [*sheet.warnings, *analysis.mixture.warnings, *analysis.undecided, *window.remarks]
    if failure:
        warnings.append(failure)
    plan = verdict.plan
    return Advice(
        sheet,
        goal,
        verdict,
        None if plan is None else cuts_of(analysis, plan),
        None if plan is None else _setpoints(plan),
        rule_of_thumb(analysis, verdict),
        gates,
        window,
        analysis,
        specials_of(analysis),
        members,
        seed,
        tuple(dict.fromkeys([*warnings, GUIDANCE])),
        _references(analysis, gates),
    )


def _setpoints(plan: Candidate) -> SetPoints | None:
    if plan.run is None or plan.outcome is None:
        return None
    return setpoints_of(plan.sheet, plan.run, plan.reflux_ratio, plan.outcome.time_s)


def _own_run(sheet: RunSheet) -> tuple[Run | None, str]:
    """Return the run of the sheet as it stands, for the gates that look at it."""
    try:
        return run_still(prepare(sheet).still), ""
    except CalculationFailed as problem:
        return None, f"The run of the sheet as it stands did not finish: {problem}"


def _references(analysis: Analysis, gates: tuple[Gate, ...]) -> tuple[Reference, ...]:
    found = {r.key: r for r in analysis.mixture.references}
    found |= {r.key: r for gate in gates for r in gate.references}
    return tuple(found.values())
