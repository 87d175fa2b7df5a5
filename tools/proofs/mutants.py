"""Put small mistakes into the code, one at a time, and see whether a test fails.

    python tools/proofs/mutants.py [GROUP ...] [--sample N] [--seed S] [--workers W] [--show]
                                   [--again]

A comparison turned, a number changed by a tenth (a whole one by one), a sign, a condition, an
"and", a minimum, a statement left out: each is tried by the tests that pass its line, those of the
same file after them, until one fails. Of a group with more mistakes than --sample a random share is
tried, the same for the same seed; with --again only what the last run of that sample left and no
reason is listed for, when tests have been added since and the code is the same. Compiled kernels
run as machine code, which a changed source does not reach: those that are meant, and those that
call them, are run as Python.
What survives and yet changes nothing that anybody could see stands with its reason in
tools/mutating/equivalents.toml and is counted apart. The figures go to docs/explain/mutants.json.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import random
import sys
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tools"), str(ROOT / "src"), str(ROOT / "tests")]
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from mutating.equivalents import Equivalent, equivalents, reason_of  # noqa: E402
from mutating.trying import KILLED, SURVIVED, TIMEOUT, UNREACHED, Target, Trial, tried  # noqa: E402

FIGURES = ROOT / "docs" / "explain" / "mutants.json"
_SAMPLE = 300
_SAID = 40  # survivors that are listed
_NOTHING = "changes nothing"


@dataclass(frozen=True, slots=True)
class Group:
    """What is tried together.

    Args:
        files: patterns below src/forerun.
        without: names of files that are left out.
        tests: what they are tried with.
        kernels: whether compiled kernels are meant, which then run as Python.
    """

    files: tuple[str, ...]
    tests: tuple[str, ...]
    without: tuple[str, ...] = ()
    kernels: bool = False


GROUPS = {
    "gates": Group(
        ("planning/gates*.py",),
        (
            "tests/unit/planning/test_gates.py",
            "tests/unit/planning/test_gates_limits.py",
            "tests/unit/planning/test_gates_heat_limits.py",
        ),
    ),
    "equilibrium": Group(
        ("equilibrium/*.py",),
        ("tests/unit/equilibrium", "tests/laws/test_limits.py"),
    ),
    "kernels": Group(
        (
            "equilibrium/kernels.py",
            "equilibrium/bubble_kernels.py",
            "still/boiling.py",
            "still/boiling_groups.py",
            "still/boiling_pairs.py",
            "still/activity_plane.py",
            "still/streams.py",
            "still/balances.py",
            "still/pot_heat.py",
        ),
        (
            "tests/unit/still/test_activity_plane.py",
            "tests/unit/still/test_boiling.py",
            "tests/unit/still/test_boiling_two_liquids.py",
            "tests/unit/still/test_kernels_by_differences.py",
            "tests/unit/still/test_pot_heat.py",
            "tests/unit/equilibrium/test_bubble.py",
            "tests/unit/equilibrium/test_exact.py",
        ),
        kernels=True,
    ),
    "engine": Group(
        ("still/engine.py",),
        (
            "tests/unit/still",
            "tests/laws/test_balances.py",
            "tests/laws/test_limits.py",
            "tests/laws/test_closed_forms.py",
            "tests/laws/test_invariance.py",
            "tests/laws/test_vent.py",
            "--deselect=tests/unit/still/test_between_steps.py"
            "::test_a_member_errs_by_less_than_a_tenth_of_how_members_differ",
            "--deselect=tests/laws/test_invariance.py"
            "::test_members_on_threads_are_what_they_are_alone",
        ),
        kernels=True,
    ),
    "integrator": Group(
        ("numerics/rosenbrock.py", "numerics/blocks.py", "numerics/cubics.py"),
        (
            "tests/unit/numerics/test_blocks.py",
            "tests/unit/numerics/test_cubics.py",
            "tests/unit/numerics/test_rosenbrock.py",
            "tests/laws/test_limits.py",
        ),
        kernels=True,
    ),
    "layers": Group(
        ("equilibrium/liquid_liquid_kernels.py", "equilibrium/liquid_liquid_splitting.py"),
        (
            "tests/unit/equilibrium/test_liquid_liquid.py",
            "tests/unit/equilibrium/test_liquid_liquid_kernels.py",
            "tests/unit/equilibrium/test_azeotropes_search.py",
            "--deselect=tests/unit/equilibrium/test_azeotropes_search.py"
            "::test_order_of_components_is_irrelevant",
        ),
        kernels=True,
    ),
    "azeotropes": Group(
        ("equilibrium/azeotropes_kernels.py", "equilibrium/azeotropes_newton.py"),
        (
            "tests/unit/equilibrium/test_azeotropes_kernels.py",
            "tests/unit/equilibrium/test_azeotropes_search.py",
            "tests/unit/equilibrium/test_azeotropes_solutions.py",
            "tests/unit/equilibrium/test_azeotropes_grid.py",
        ),
        kernels=True,
    ),
    "residues": Group(
        ("equilibrium/residue_kernels.py",),
        ("tests/unit/equilibrium/test_residue.py",),
        kernels=True,
    ),
    "heat": Group(
        ("sheets/heating.py", "planning/drawer_heat.py"),
        ("tests/unit/sheets/test_heating.py", "tests/unit/planning/test_drawer_heat.py"),
    ),
    "still": Group(
        ("still/*.py",),
        (
            "tests/unit/still",
            "tests/unit/sheets/test_to_still.py",
            "tests/laws/test_balances.py",
            "tests/laws/test_limits.py",
            "tests/laws/test_closed_forms.py",
            "tests/laws/test_jacobian.py",
            "tests/laws/test_invariance.py",
        ),
    ),
}


def main(arguments: list[str]) -> int:
    """Try mistakes and write the figures; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("groups", nargs="*", choices=[*GROUPS, []], default=[])
    parser.add_argument("--sample", type=int, default=_SAMPLE)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--show", action="store_true", help="list what survives, write nothing")
    parser.add_argument("--again", action="store_true", help="try what the last run left, alone")
    asked = parser.parse_args(arguments)
    os.chdir(ROOT)
    # a group in a process of its own, for each collects its tests from the beginning
    for name in asked.groups or GROUPS:
        process = os.fork()
        if not process:
            _one(name, asked)
            os._exit(0)
        _, status = os.waitpid(process, 0)
        if status:
            return 1
    return 0


def _one(name: str, asked: argparse.Namespace) -> None:
    group, begun = GROUPS[name], time.monotonic()
    counted = 0
    kept = json.loads(FIGURES.read_text("utf-8")) if FIGURES.exists() else {}
    command = f"python tools/proofs/mutants.py {name} --sample {asked.sample} --seed {asked.seed}"
    left_before = _left_before(kept.get(name, {}), command) if asked.again else None
    before: list[tuple[Trial, str]] = []  # outcomes that are taken over
    known = equivalents()

    def chosen(trials: list[Trial]) -> list[Trial]:
        nonlocal counted
        counted = len(trials)
        if len(trials) > asked.sample:
            trials = random.Random(asked.seed).sample(trials, asked.sample)
        if left_before is None:
            return trials
        again = [one for one in trials if _line(one, SURVIVED) in left_before]
        if len(again) != len(left_before):
            raise SystemExit("the code is another than then: without --again")
        before.extend((one, KILLED) for one in trials if one not in again)
        before.extend((one, SURVIVED) for one in again if _judged(one, SURVIVED, known) == _NOTHING)
        return [one for one in again if _judged(one, SURVIVED, known) != _NOTHING]

    def told(done: int, count: int, one: Trial, what: str) -> None:
        seen = "" if what in (KILLED, TIMEOUT) else f" {_line(one, what)}\n"
        print(f"\r{name}: {done} of {count}{seen}", end="", file=sys.stderr, flush=True)

    found = tried(_targets(group), group.tests, chosen, asked.workers, told)
    print(file=sys.stderr)
    outcomes = [(one, _judged(one, what, known)) for one, what in (*found.outcomes, *before)]
    rows = sorted(outcomes, key=lambda row: (row[0].target.module, row[0].mutation.line))
    left = [_line(one, what) for one, what in rows if what not in (KILLED, TIMEOUT, _NOTHING)]
    if asked.show:
        print("\n".join(left))
    figures = {
        "date": time.strftime("%Y-%m-%d"),
        "command": command + (", what it left once more with --again" if asked.again else ""),
        "files": len(_targets(group)),
        "mistakes": counted,
        **_shares([(one.mutation.kind, what) for one, what in rows]),
        "tests": found.tests,
        "took_s": round(time.monotonic() - begun),
        "left": left[:_SAID],
    }
    if not asked.show:
        kept = json.loads(FIGURES.read_text("utf-8")) if FIGURES.exists() else {}
        kept[name] = figures  # read once more: another group may have been written meanwhile
        FIGURES.write_text(json.dumps(kept, indent=1, ensure_ascii=False) + "\n", "utf-8")
    print(json.dumps({k: v for k, v in figures.items() if k != "left"}, indent=1))


def _left_before(before: dict[str, Any], command: str) -> set[str]:
    """Return what a run left, where that tells of all others that they were noticed.

    Raises:
        SystemExit: there is no such run, or it was not all told.
    """
    outcomes = before.get("outcomes", {})
    whole = outcomes.get(SURVIVED, 0) == len(before.get("left", ())) and _NOTHING not in outcomes
    if not before.get("command", "").startswith(command) or not whole:
        raise SystemExit(f"no run of {command!r} whose survivors are all listed: without --again")
    return set(before["left"])


def _targets(group: Group) -> list[Target]:
    base = ROOT / "src"
    paths = sorted({p for pattern in group.files for p in (base / "forerun").glob(pattern)})
    paths = [p for p in paths if p.name not in {*group.without, "__init__.py"}]
    names = [".".join(p.relative_to(base).with_suffix("").parts) for p in paths]
    return [Target(p, name, group.kernels) for p, name in zip(paths, names, strict=True)]


def _judged(one: Trial, what: str, known: tuple[Equivalent, ...]) -> str:
    file = "/".join(one.target.path.parts[-2:])
    survived = what in (SURVIVED, UNREACHED)
    return _NOTHING if survived and reason_of(file, one.mutation, known) else what


def _line(one: Trial, what: str) -> str:
    mistake = one.mutation
    return f"{one.target.path.name}:{mistake.line} {mistake.kind}: {mistake.said} ({what})"


def _shares(rows: list[tuple[str, str]]) -> dict[str, Any]:
    """Return how many were noticed, of all and of each kind, with what chance allows."""
    put = [row for row in rows if row[1] in (KILLED, TIMEOUT, SURVIVED, UNREACHED)]
    noticed = [row for row in put if row[1] in (KILLED, TIMEOUT)]
    kinds, of_kind = Counter(k for k, _ in put), Counter(k for k, _ in noticed)
    return {
        "tried": len(put),
        "noticed": len(noticed),
        "share": round(len(noticed) / len(put), 3) if put else None,
        "interval_95": wilson(len(noticed), len(put)) if put else None,
        "outcomes": dict(Counter(what for _, what in rows)),
        "kinds": {kind: [of_kind[kind], count] for kind, count in sorted(kinds.items())},
    }


def wilson(hits: int, count: int) -> list[float]:
    """Return the interval that holds a share with 95 % confidence.

    Args:
        hits: [-].
        count: [-].

    Source:
        Wilson, J. Am. Stat. Assoc. 22 (1927) 209; from memory.
    """
    z, share = 1.959964, hits / count
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    wide = share * (1 - share) / count + z * z / (4 * count * count)
    half = z * math.sqrt(wide) / (1 + z * z / count)
    return [round(middle - half, 3), round(middle + half, 3)]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
