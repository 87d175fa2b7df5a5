"""The contract's object for advice."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from forerun.reporting.gates import gate_object
from forerun.reporting.plain import by_name, number
from forerun.reporting.sources import source_object

if TYPE_CHECKING:
    from forerun.planning.advice import Advice
    from forerun.planning.candidates import Candidate, Policy
    from forerun.planning.drawer import DrawerSearch
    from forerun.planning.method_model import RunnerUp
    from forerun.planning.pressure_window import PressureLimit

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
        "cuts": [],
        "drawer": _drawer(verdict.drawer),
        "routes": [{"name": route.name, "says": route.says} for route in verdict.routes],
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
        "defaults": list(advice.sheet.defaults),
        "warnings": list(advice.warnings),
        "references": source_object(advice.references),
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
