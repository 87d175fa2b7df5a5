"""How often advice keeps its word: random sheets, judged by stills that it did not assume.

    python tools/proofs/advice.py [--sheets 150] [--seed 26 27] [--out FILE]

Each sheet is a random mixture of two or three laboratory liquids in a random rig with a random
aim. `advise` names a plan and a probability. Then nature decides: another activity model (one of
the models alone, moved by what models that agree still miss by; for fitted pairs the fit moved by
its own scatter), other losses, plates,
hold-up, heat transfer, amounts, pressure and thermometer, each drawn. The plan is carried out in
the dynamic still with its own switches; it keeps its word when the cut is as pure, as much and as
quick as asked.  The rule of thumb is judged on the same sheets in the same nature.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from forerun.app.ready import kernels_ready
from forerun.core.errors import ForerunError
from forerun.equilibrium.arrays import MixtureArrays
from forerun.planning.advice import advise
from forerun.planning.aims import Goal, goal_of, weights_for
from forerun.planning.analysis import Analysis
from forerun.planning.candidates import Candidate, planned, run_once
from forerun.planning.policies import Policy, product_of, ran_of
from forerun.planning.shortcut import batch_path, best_product, top_of_column
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.inputs import StillInput, whole_plates
from forerun.still.run import run_still
from forerun.substances.catalogue import find

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "benchmarks" / "reliability.json"
TODAY = date(2026, 11, 25)

# Common laboratory liquids that no gate stops with tap water in the condenser.
LIQUIDS = (
    "pentane", "hexane", "heptane", "octane", "2-methylpentane", "cyclohexane",
    "methylcyclohexane", "toluene", "ethylbenzene", "chlorobenzene", "acetone", "2-butanone",
    "2-pentanone", "methanol", "ethanol", "1-propanol", "1-butanol", "ethyl acetate",
    "propyl acetate", "butyl acetate", "methyl acetate", "acetonitrile", "1-chlorobutane",
    "dichloromethane", "trichloroethylene", "isobutyl acetate", "isooctane", "nonane", "anisole",
    "dimethyl carbonate", "tert-butyl methyl ether", "pyridine",
)  # fmt: skip
COLUMNS = ("none", "Vigreux 20 cm", "Vigreux 40 cm", "glass beads 30 cm", "wire helices 30 cm")
PERCENT = 100.0
_AGREED_MISS_K = 0.8  # K, what models that agree still miss by, see forerun.equilibrium.bands
_PER_KELVIN = 0.14  # of A_0 for one kelvin of boiling temperature at the middle of a pair


@dataclass(frozen=True)
class Case:
    """A random sheet with what was found."""

    number: int
    text: str
    sheet: RunSheet
    goal: Goal


def main() -> int:
    """Run the study; returns the exit code."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sheets", type=int, default=150, help="of each seed")
    parser.add_argument("--seed", type=int, nargs="+", default=[26, 27])
    parser.add_argument("--out", type=Path, default=OUT)
    given = parser.parse_args()
    kernels_ready()
    rows: list[dict[str, Any]] = []
    asked = [(seed, number) for seed in given.seed for number in range(given.sheets)]
    for done, (seed, number) in enumerate(asked, start=1):
        row = judged(number, np.random.default_rng([seed, number]))
        if row is not None:
            rows.append({"seed": seed, **row})
        if done % 5 == 0 or done == len(asked):
            found = summary(rows)
            answer = {"seed": given.seed, "liquids": len(LIQUIDS), "summary": found, "rows": rows}
            given.out.write_text(json.dumps(answer, indent=1) + "\n", encoding="utf-8")
            print(f"{done}/{len(asked)}: {found['claimed']} / {found['kept']}", flush=True)
    return 0


def random_case(number: int, rng: np.random.Generator) -> Case:
    """Return a random sheet."""
    count = 2 if rng.random() < 0.7 else 3
    while True:
        names = [str(n) for n in rng.choice(LIQUIDS, size=count, replace=False)]
        boiling = sorted(find(n).boiling_point.value for n in names)
        if boiling[-1] - boiling[0] > 15.0:
            break
    lines = []
    for name in names:
        lines += [
            "[[charge]]",
            f'substance = "{name}"',
            f'amount = "{rng.uniform(15, 100):.0f} mL"',
        ]
    column = str(rng.choice(COLUMNS))
    lines += ["[rig]", f'column = "{column}"', 'lagging = "lagged"', 'coolant = "10 °C"']
    lines += ["[programme]", f"reflux_ratio = {rng.choice([0, 2, 3, 5])}"]
    wanted = names[int(rng.integers(count))]
    purity = PERCENT * (1.0 - 10.0 ** rng.uniform(-2.2, -0.8))
    lines += ["[aim]", f'substance = "{wanted}"', f'purity = "{purity:.1f} mol%"']
    lines += [f'recovery = "{rng.uniform(25, 85):.0f} %"']
    text = "\n".join(lines) + "\n"
    sheet = load(text)
    return Case(number, text, sheet, goal_of(sheet))


def judged(number: int, rng: np.random.Generator) -> dict[str, Any] | None:
    """Return one row of the study; None where the verdict cannot be judged in one liquid."""
    case = random_case(number, rng)
    try:
        advice = advise(case.sheet, members=16, seed=number + 1, today=TODAY)
    except ForerunError as problem:
        return {"number": number, "failed": str(problem), "sheet": case.text}
    verdict = advice.verdict
    method = verdict.after or verdict.method
    chance = verdict.runner_up.probability if verdict.after else verdict.probability  # type: ignore[union-attr]
    if method in ("water_carrying", "steam") or chance is None:
        return None
    nature = Nature(case, advice.analysis, rng)
    if method == "not_by_distillation":
        plan = verdict.runner_up
        best = verdict.plans[0] if verdict.plans else None
        kept = not (nature.reaches(best) if best is not None else nature.limit())
        label = plan.method if plan is not None else ""
    else:
        assert verdict.plan is not None
        kept = nature.reaches(verdict.plan)
        label = verdict.plan.label
    rule_plan = _rule_plan(case, advice.analysis, advice.rule.method)
    return {
        "number": number,
        "method": method,
        "label": label,
        "claimed": round(float(chance), 4),
        "kept": bool(kept),
        "rule": advice.rule.method,
        "rule_reaches": bool(nature.reaches(rule_plan)),
        "sheet": case.text,
    }


def _rule_plan(case: Case, found: Analysis, method: str) -> Candidate:
    """Return what somebody would do who decides by boiling points alone, with the same cuts."""
    rig: dict[str, Any] = {"column": "none", "plates": None, "holdup": None}
    reflux = 0.0
    if method == "fractional":
        own = case.sheet.rig.column
        rig = {"column": own if own != "none" else "Vigreux 30 cm"}
        reflux = 3.0
    plan = planned(case.sheet, method, pressure=found.pressure_Pa, reflux=reflux, rig=rig)
    return run_once(plan, case.goal)


class Nature:
    """What the still of this sheet is really like."""

    def __init__(self, case: Case, found: Analysis, rng: np.random.Generator) -> None:
        self.case, self.found = case, found
        mixture = found.mixture
        self.arrays = self._mixture(mixture.arrays, rng)
        self.factors = {
            "transfer": math.exp(0.20 * rng.standard_normal()),
            "loss": math.exp(0.30 * rng.standard_normal()),
            "plates": math.exp(0.12 * rng.standard_normal()),
            "holdup": math.exp(0.25 * rng.standard_normal()),
            "pressure": math.exp(0.004 * rng.standard_normal()),
        }
        self.amounts = np.exp(0.012 * rng.standard_normal(len(mixture.substances)))
        self.offset = 0.5 * rng.standard_normal()

    def _mixture(self, arrays: MixtureArrays, rng: np.random.Generator) -> MixtureArrays:
        mixture = self.found.mixture
        fitted = any(pair.basis == "fitted" for pair in mixture.pairs)
        if mixture.models and not fitted:
            arrays = mixture.alone(int(rng.integers(len(mixture.models))))
        correction = arrays.pair_correction.copy()
        for pair in mixture.pairs:
            i, j = pair.components
            miss = _AGREED_MISS_K if pair.scatter is None else pair.scatter
            correction[i, j, 0, 0] += _PER_KELVIN * miss * rng.standard_normal()
        return arrays._replace(pair_correction=correction)

    def input_for(self, plan: Candidate) -> StillInput:
        """Return the run of a plan as nature carries it out."""
        still = prepare(plan.sheet).still
        plates, _ = whole_plates(plan.sheet.rig.plates.value * self.factors["plates"])
        plates = max(plates, 1) if still.plates else 0
        pressure = still.pressure.copy()
        pressure[:, 1] *= self.factors["pressure"]
        drop = plan.sheet.rig.pressure_drop_Pa.value
        return replace(
            still,
            mixture=self.arrays,
            charge_mol=still.charge_mol * self.amounts,
            plates=plates,
            holdup_m3=still.holdup_m3 * self.factors["holdup"],
            pressure=pressure,
            pressure_drop_Pa=drop / plates if plates else 0.0,
            bath_conductance_W_K=still.bath_conductance_W_K * self.factors["transfer"],
            pot_loss_W_K=still.pot_loss_W_K * self.factors["loss"],
            column_loss_W_K=still.column_loss_W_K * self.factors["loss"],
            head_loss_W_K=still.head_loss_W_K * self.factors["loss"],
            thermometer_offset_K=still.thermometer_offset_K + self.offset,
        )

    def reaches(self, plan: Candidate) -> bool:
        """Return whether a plan, carried out with its own switches, meets the aim."""
        if plan.outcome is None:
            return False
        goal = self.case.goal
        run = run_still(self.input_for(plan))
        if run.first_drop_s is None:
            return False
        weights = weights_for(plan.sheet, goal.basis)
        policy: Policy = plan.outcome.policy
        purity, recovery, time, _ = product_of(ran_of(run), policy, goal.wanted, weights)
        quick = goal.time_s is None or time <= goal.time_s
        return purity >= goal.purity and recovery >= goal.recovery and quick

    def limit(self) -> bool:
        """Return whether any column could reach the aim in this nature."""
        goal = self.case.goal
        top = top_of_column(self.arrays, self.found.pressure_Pa, 30)
        path = batch_path(self.found.charge * self.amounts, top, 50)
        best = best_product(
            path, goal.wanted, goal.purity, weights_for(self.case.sheet, goal.basis)
        )
        return best is not None and best[1].recovery >= goal.recovery


def summary(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Return what the rows say together."""
    known = [row for row in rows if "failed" not in row]
    claimed = np.array([row["claimed"] for row in known])
    kept = np.array([row["kept"] for row in known], dtype=float)
    possible = [row for row in known if row["method"] != "not_by_distillation"]
    bins = []
    for low, high in ((0.0, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 1.0)):
        inside = (claimed >= low) & (claimed < high)
        if inside.any():
            share = [round(float(x[inside].mean()), 3) for x in (claimed, kept)]
            bins.append({"claimed": share[0], "kept": share[1], "sheets": int(inside.sum())})
    by_method = {}
    for method in sorted({row["method"] for row in known}):
        own = [row for row in known if row["method"] == method]
        by_method[method] = {
            "sheets": len(own),
            "claimed": round(float(np.mean([row["claimed"] for row in own])), 3),
            "kept": round(float(np.mean([row["kept"] for row in own])), 3),
            "rule_reaches": round(float(np.mean([row["rule_reaches"] for row in own])), 3),
        }
    return {
        "sheets": len(known),
        "failed": len(rows) - len(known),
        "claimed": round(float(claimed.mean()), 3) if known else None,
        "kept": round(float(kept.mean()), 3) if known else None,
        "rule_right": round(float(np.mean([row["rule_reaches"] for row in known])), 3),
        "where_a_method_is_named": {
            "sheets": len(possible),
            "claimed": round(float(np.mean([row["claimed"] for row in possible])), 3),
            "kept": round(float(np.mean([row["kept"] for row in possible])), 3),
            "rule_reaches": round(float(np.mean([row["rule_reaches"] for row in possible])), 3),
        }
        if possible
        else None,
        "bins": bins,
        "by_method": by_method,
    }


if __name__ == "__main__":
    sys.exit(main())
