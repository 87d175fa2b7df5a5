"""Which method, or none: the tree of decisions, each branch computed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from forerun.core.quantities import format_fraction, format_temperature
from forerun.planning.analysis import Analysis, mixes_with_water
from forerun.planning.gates_model import Gate
from forerun.planning.method_columns import Means, column_plan, plates_at, simple_or_column
from forerun.planning.method_model import RunnerUp, Verdict
from forerun.planning.method_words import aim_words, count_words
from forerun.planning.pressure_window import PressureWindow
from forerun.planning.routes import Route, other_pressure, routes_of
from forerun.planning.water import WaterRun, carried_out, split_chance, steam_run
from forerun.substances.correlations import vapour_pressure

__all__ = ["decide"]

_HIGH_BOILING = 423.15  # K, from which reduced pressure is customary
_WARM_BOILING = 393.15  # K, from which reduced pressure is tried where nothing else does
_LIKELY = 0.5
_VACUUM = 5.0e4  # Pa
_LIMIT_DOUBT = 0.35  # relative, of a limit of pump, bath or condenser; from the drawer's spans
_STEAM_PRESSURE = 667.0  # Pa at 100 °C, five millimetres of mercury


def decide(
    found: Analysis,
    gates: Sequence[Gate],
    window: PressureWindow,
    means: Means,
) -> Verdict:
    """Return the verdict.

    Args:
        found: the mixture, looked at for the aim.
        gates: the safety gates.
        window: pressures that the rig allows.
        means: the drawer, and how many runs stand behind each probability.
    """
    stops = [gate for gate in gates if gate.state == "stop"]
    verdict = _by_tree(found, window, means)
    if not stops:
        return verdict
    settle = [f"{g.name}: {g.settle}" for g in stops if g.settle]
    return replace(
        verdict,
        method="do_not_start",
        probability=1.0,
        reasons=tuple(gate.says for gate in stops),
        would_change=tuple(settle) or ("nothing that this sheet can say",),
        after=verdict.method,
        runner_up=RunnerUp(
            verdict.method,
            verdict.probability,
            f"once that is settled: {verdict.reasons[0] if verdict.reasons else ''}",
        ),
    )


def _by_tree(found: Analysis, window: PressureWindow, means: Means) -> Verdict:
    """Walk the tree; the first branch that applies answers."""
    water = _water_branch(found)
    if water is not None:
        return water
    if found.split is not None:
        return _two_liquids(found)
    if found.limit.recovery < found.goal.recovery:
        return _no_column_does(found, window, means)
    if found.pressure_Pa < _VACUUM or _too_hot(found):
        return _reduced(found, window, means)
    verdict = simple_or_column(found, found.pressure_Pa, means)
    warm = float(found.boiling_K[found.goal.wanted]) > _WARM_BOILING
    short = verdict.method == "not_by_distillation" or verdict.needs_s is not None
    if short and warm and not window.empty:
        cooler = _reduced(found, window, means)  # what a bath cannot drive over, vacuum may
        if cooler.method == "reduced_pressure" and cooler.needs_s is None:
            return cooler
    return verdict


# --- water


def _water_branch(found: Analysis) -> Verdict | None:
    if found.water is None or found.water == found.goal.wanted:
        return None
    heavy = found.wanted.boiling_point.value > _HIGH_BOILING and found.pressure_Pa > _VACUUM
    if heavy and not mixes_with_water(found.wanted):
        steam = steam_run(found)
        if steam is not None:
            return _steam(found, steam)
    run = carried_out(found)
    return None if run is None else _carried(found, run)


def _carried(found: Analysis, run: WaterRun) -> Verdict:
    name = found.wanted.name
    reasons = [run.says]
    if found.split is not None:
        reasons.insert(
            0,
            f"Two liquids stand in the flask at 25 °C: part them first; the layer of {name} "
            f"still holds {format_fraction(run.water_left, 'wt%', 0.001)} water.",
        )
    return Verdict(
        "water_carrying",
        run.probability,
        tuple(reasons),
        RunnerUp("not_by_distillation", None, "a drying agent or sieves, filtered before heating"),
        ("less water than a drying agent takes, about 2 wt%",),
        routes=routes_of(found),
    )


def _steam(found: Analysis, run: WaterRun) -> Verdict:
    return Verdict(
        "steam",
        run.probability,
        (run.says,),
        RunnerUp("reduced_pressure", None, f"{found.wanted.name} alone, dried, under vacuum"),
        ("a substance that steam attacks", "no water in the charge"),
        routes=routes_of(found),
    )


def _two_liquids(found: Analysis) -> Verdict:
    """Two layers are parted before anything is heated; each is then a charge of its own."""
    split = found.split
    assert split is not None
    names, rich = found.mixture.names, found.goal.wanted
    layer = split.first if split.first[rich] > split.second[rich] else split.second
    parts = ", ".join(
        f"{100.0 * float(x):.1f} mol% {n}" for n, x in zip(names, layer, strict=True) if x > 5e-4
    )
    words = (
        "Two liquids stand in the flask at 25 °C: part them in a funnel first, dry the one that is "
        f"wanted ({parts}), and ask again for that layer."
    )
    says = "Part the layers in a funnel, then distil the one that holds what is wanted."
    return Verdict(
        "not_by_distillation",
        split_chance(found),
        (words,),
        RunnerUp("water_carrying", None, "where water is one of the two and boils with the other"),
        ("a charge that stands as one liquid",),
        routes=(Route("separate_layers", says), *routes_of(found)),
    )


# --- where no column does


def _no_column_does(found: Analysis, window: PressureWindow, means: Means) -> Verdict:
    goal, limit = found.goal, found.limit
    reasons = _limit_reasons(found)
    pressure = other_pressure(found) if found.azeotropes else None
    if pressure is not None and window.low_Pa <= pressure:
        plates = plates_at(found, pressure)
        if plates is not None and plates <= 13:
            plan = column_plan(found, pressure, plates, means, own=False)
            if plan is not None and plan.outcome and plan.outcome.probability > _LIKELY:
                reasons.append(
                    f"At {pressure / 100:.0f} mbar the azeotrope has moved out of the way; "
                    f"{count_words(plates)} at the least."
                )
                return Verdict(
                    "reduced_pressure",
                    plan.outcome.probability,
                    tuple(reasons),
                    RunnerUp("not_by_distillation", None, "dry, wash or dose instead"),
                    (),
                    plan=plan,
                    plans=(plan,),
                    routes=routes_of(found),
                    least_plates=plates,
                )
    routes = routes_of(found)
    return Verdict(
        "not_by_distillation",
        1.0 - limit.probability if limit.probability < 1.0 else 0.5,
        tuple(reasons),
        RunnerUp(
            "fractional",
            limit.probability,
            f"would end at {format_fraction(limit.purity, goal.basis)} {goal.name}",
        ),
        tuple(_limit_changes(found)),
        routes=routes,
    )


def _limit_reasons(found: Analysis) -> list[str]:
    goal, limit = found.goal, found.limit
    reasons = []
    for azeotrope in found.azeotropes:
        if goal.wanted not in azeotrope.components:
            continue
        parts = ", ".join(
            f"{100.0 * azeotrope.mass_fraction[k]:.1f} wt% {found.mixture.names[k]}"
            for k in azeotrope.components
        )
        reasons.append(
            f"An azeotrope stands between feed and aim: {parts} at "
            f"{format_temperature(azeotrope.temperature_K)}."
        )
    best = format_fraction(limit.purity, goal.basis)
    reasons.append(
        f"With any number of plates at this pressure {aim_words(found)} is out of reach: "
        f"{best} is the best that holds {format_fraction(goal.recovery, '%', 0.05)} of it."
    )
    return reasons


def _limit_changes(found: Analysis) -> list[str]:
    goal, limit = found.goal, found.limit
    return [
        f"a purity of at most {format_fraction(limit.purity, goal.basis)}",
        f"a charge that already lies beyond the azeotrope on the side of {goal.name}",
    ]


# --- reduced pressure


def _too_hot(found: Analysis) -> bool:
    """Return whether the wanted liquid, or what begins to decompose, asks for less pressure."""
    decomposition = found.sheet.safety.decomposition_K
    if decomposition is not None and float(found.boiling_K.max()) > decomposition - 50.0:
        return True
    return float(found.boiling_K[found.goal.wanted]) > _HIGH_BOILING


def _reduced(found: Analysis, window: PressureWindow, means: Means) -> Verdict:
    name = found.wanted.name
    boils = format_temperature(found.wanted.boiling_point.value, 5.0)
    if window.empty:
        return _no_window(found, window)
    asked = found.pressure_Pa < _VACUUM and window.holds(found.pressure_Pa)
    pressure = found.pressure_Pa if asked else float(window.recommended_Pa or window.high_Pa)
    if pressure > _VACUUM and found.pressure_Pa > _VACUUM:
        pressure = min(pressure, max(window.low_Pa, 0.2 * _VACUUM))
    inner = simple_or_column(found, pressure, means)
    low, high = window.low_Pa / 100.0, window.high_Pa / 100.0
    span = f"{low:.3g} to {high:.3g} mbar"
    reasons = [
        f"{name} boils at {boils} at the atmosphere; at {pressure / 100:.3g} mbar it is cooler. "
        f"Pump, condenser and bath agree from {span}."
    ]
    if found.pressure_Pa < _VACUUM and not asked:
        reasons.append(f"The {found.pressure_Pa / 100:.3g} mbar of the sheet lie outside that.")
    reasons += inner.reasons
    return replace(
        inner,
        method="reduced_pressure" if inner.method in ("simple", "fractional") else inner.method,
        reasons=tuple(reasons),
    )


def _no_window(found: Analysis, window: PressureWindow) -> Verdict:
    steam = _steam_possible(found)
    words = (
        f"No pressure fits: {window.low_Pa / 100:.3g} mbar at the least, "
        f"{window.high_Pa / 100:.3g} mbar at the most."
    )
    runner = RunnerUp("steam", None, steam) if steam else None
    gap = math.log(window.low_Pa / max(window.high_Pa, 1e-3))
    return Verdict(
        "not_by_distillation",
        0.5 * math.erfc(-gap / (_LIMIT_DOUBT * math.sqrt(2.0))),
        (words, "With this kit: thin film or short path, or one of the exchanges below."),
        runner,
        window.changes,
        routes=(
            Route("short_path", "Short path or thin film: the pressure of the pump at the pot."),
        ),
    )


def _steam_possible(found: Analysis) -> str:
    wanted = found.wanted
    at_100 = vapour_pressure(373.15, wanted.vapour_pressure)
    if mixes_with_water(wanted) or at_100 < _STEAM_PRESSURE:
        return ""
    return f"{wanted.name} does not mix with water and has {at_100 / 133.322:.0f} mmHg at 100 °C"
