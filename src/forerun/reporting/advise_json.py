"""The contract's object for advice."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from forerun.planning.candidates import written_sheet
from forerun.reporting.gates import gate_object
from forerun.reporting.plain import by_name, number
from forerun.reporting.sources import source_object
from forerun.sheets.writing import table_of

if TYPE_CHECKING:
    from forerun.planning.advice import Advice
    from forerun.planning.candidates import Candidate
    from forerun.planning.cuts import CutsPlan
    from forerun.planning.drawer import DrawerSearch
    from forerun.planning.method_model import RunnerUp
    from forerun.planning.policies import Policy
    from forerun.planning.pressure_window import PressureLimit
    from forerun.planning.setpoints import SetPoints

__all__ = ["advise_object"]


def advise_object(advice: Advice, finding: str) -> dict[str, Any]:
    """Return the whole object.

    Args:
        advice: the answer.
        finding: its first sentence.
    """
    verdict, rule, goal = advice.verdict, advice.rule, advice.goal
    return {
        "title": advice.sheet.title,
        "finding": finding,
        "verdict": {
            "method": verdict.method,
            "probability": number(verdict.probability),
            "reasons": list(verdict.reasons),
            "runner_up": _runner_up(verdict.runner_up),
            "would_change": list(verdict.would_change),
            "after": verdict.after,
            "least_plates": verdict.least_plates,
        },
        "rule_of_thumb": {
            "method": rule.method,
            "difference_K": number(rule.difference_K),
            "limit_K": number(rule.limit_K),
            "agrees": rule.agrees,
            "says": rule.says,
        },
        "gates": [gate_object(gate) for gate in advice.gates],
        "pressure_window": _window(advice),
        "rigs": [_rig(plan) for plan in verdict.plans],
        "cuts": _cuts(advice),
        "switching": _switching(advice.cuts),
        "setpoints": _setpoints(advice.setpoints),
        "sheet": _sheet(verdict.plan),
        "drawer": _drawer(verdict.drawer),
        "routes": [{"name": route.name, "says": route.says} for route in verdict.routes],
        "specials": list(advice.specials),
        "aim": {
            "substance": goal.name,
            "purity": number(goal.purity),
            "basis": goal.basis,
            "recovery": number(goal.recovery),
            "time_s": number(goal.time_s),
            "assumed": list(goal.assumed),
        },
        "mixture": _mixture(advice),
        "members": advice.members,
        "seed": advice.seed,
        "defaults": list(advice.assumed),
        "unmodelled": list(advice.unmodelled),
        "warnings": list(advice.warnings),
        "references": source_object(advice.references),
    }


def _cuts(advice: Advice) -> list[dict[str, Any]]:
    if advice.cuts is None:
        return []
    names = advice.analysis.mixture.names
    return [
        {
            "name": cut.name,
            "start_head_K": number(cut.start_head_K),
            "end_head_K": number(cut.end_head_K),
            "start_volume_m3": number(cut.start_m3),
            "end_volume_m3": number(cut.end_m3),
            "volume_m3": number(cut.volume_m3),
            "mass_kg": number(cut.mass_kg),
            "drops": cut.drops,
            "mole_fraction": by_name(names, cut.mole_fraction),
            "purity": number(cut.purity),
            "recovery": number(cut.recovery),
            "probability": number(cut.probability),
            "action": cut.action,
            "says": cut.says,
        }
        for cut in advice.cuts.cuts
    ]


def _switching(plan: CutsPlan | None) -> dict[str, Any] | None:
    if plan is None:
        return None
    again, over = plan.redistil, plan.repeated
    return {
        "watch": plan.watch,
        "head_slope_K_Pa": number(plan.head_slope_K_Pa),
        "redistil": None
        if again is None
        else {
            "worth_it": again.worth_it,
            "gain_kg": number(again.gain_kg),
            "time_s": number(again.time_s),
            "says": again.says,
        },
        "repeated_simple": None
        if over is None
        else {
            "passes": over.passes,
            "mass_kg": number(over.mass_kg),
            "time_s": number(over.time_s),
            "says": over.says,
        },
    }


def _setpoints(found: SetPoints | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        key: value if isinstance(value, str) else number(value)
        for key, value in asdict(found).items()
    }


def _drawer(search: DrawerSearch | None) -> dict[str, Any] | None:
    if search is None:
        return None
    return {
        "title": search.title,
        "combinations": search.combinations,
        "feasible": search.feasible,
        "refused": dict(search.refused),
        "front": [_rig(plan) for plan in search.front],
        "one_more": [
            {
                "piece": more.piece,
                "recovery": number(more.recovery),
                "gain": number(more.gain),
                "time_s": number(more.time_s),
            }
            for more in search.one_more
        ],
    }


def _sheet(plan: Candidate | None) -> dict[str, Any] | None:
    """Return the plan as a sheet in the units of the bench."""
    return None if plan is None else table_of(written_sheet(plan), as_written=True)


def _runner_up(runner: RunnerUp | None) -> dict[str, Any] | None:
    if runner is None:
        return None
    return {
        "method": runner.method,
        "probability": number(runner.probability),
        "says": runner.says,
    }


def _window(advice: Advice) -> dict[str, Any]:
    window = advice.window
    return {
        "low_Pa": number(window.low_Pa),
        "high_Pa": number(window.high_Pa),
        "empty": window.empty,
        "wanted_Pa": number(window.wanted_Pa),
        "recommended_Pa": number(window.recommended_Pa),
        "limits": [_limit(limit) for limit in window.limits],
        "changes": list(window.changes),
        "remarks": list(window.remarks),
        "boiling": [
            {
                "pressure_Pa": number(point.pressure_Pa),
                "temperature_K": number(point.temperature_K),
                "band_K": [number(end) for end in point.band_K],
                "state": point.state,
            }
            for point in window.boiling
        ],
    }


def _limit(limit: PressureLimit) -> dict[str, Any]:
    return {
        "name": limit.name,
        "side": limit.side,
        "pressure_Pa": number(limit.pressure_Pa) if math.isfinite(limit.pressure_Pa) else None,
        "temperature_K": number(limit.temperature_K),
        "item": limit.item,
        "says": limit.says,
    }


def _rig(plan: Candidate) -> dict[str, Any]:
    rig, outcome = plan.sheet.rig, plan.outcome
    return {
        "method": plan.method,
        "label": plan.label,
        "items": {
            "flask_m3": number(rig.flask_volume_m3.value),
            "column": rig.column,
            "condenser": rig.condenser,
            "bath": rig.bath,
            "pump": rig.pump,
        },
        "plates": number(rig.plates.value),
        "holdup_m3": number(rig.holdup_m3.value),
        "reflux_ratio": number(plan.reflux_ratio),
        "pressure_Pa": number(plan.pressure_Pa),
        "purity": number(outcome.purity) if outcome else None,
        "purity_band": [number(p) for p in outcome.purity_band] if outcome else None,
        "recovery": number(outcome.recovery) if outcome else None,
        "recovery_band": [number(r) for r in outcome.recovery_band] if outcome else None,
        "time_s": number(outcome.time_s) if outcome else None,
        "volume_m3": number(outcome.volume_m3) if outcome else None,
        "probability": number(outcome.probability) if outcome else None,
        "best_purity": number(plan.best_purity),
        "policy": _policy(outcome.policy) if outcome else None,
    }


def _policy(policy: Policy) -> dict[str, Any]:
    unit = "K" if policy.kind == "head" else "m3"
    return {
        "product": policy.product,
        "watch": policy.kind,
        f"start_{unit}": number(policy.start),
        f"stop_{unit}": number(policy.stop),
    }


def _mixture(advice: Advice) -> dict[str, Any]:
    found = advice.analysis
    names = found.mixture.names
    return {
        "pressure_Pa": number(found.pressure_Pa),
        "boiling_K": by_name(names, found.boiling_K),
        "relative_volatility": number(found.volatility),
        "azeotropes": [
            {
                "temperature_K": number(a.temperature_K),
                "mole_fraction": by_name(names, a.mole_fraction),
                "liquid_phases": a.liquid_phases,
            }
            for a in found.azeotropes
        ],
        "two_liquids": found.split is not None,
        "limit": {
            "product": found.limit.product,
            "recovery": number(found.limit.recovery),
            "purity": number(found.limit.purity),
            "probability": number(found.limit.probability),
        },
    }
