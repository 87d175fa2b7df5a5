"""Take one row at a time out of the gates and of the tree of methods, and see whether a test fails.

    python tools/proofs/rows.py [--row NAME]

A gate that is taken out answers and never finds anything; a branch of the tree never applies; a
better way or a special precaution is never named. The figures go to docs/explain/rows.json.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
FIGURES = ROOT / "docs" / "explain" / "rows.json"
_PLANNING = "forerun.planning"
_SCENARIOS = "tests/journeys/test_advise_scenarios.py"
_GATE_TESTS = ("tests/unit/planning/test_gates.py", "tests/unit/planning/test_gates_limits.py")
_TREE_TESTS = (
    _SCENARIOS,
    "tests/unit/planning/test_plans.py",
    "tests/unit/planning/test_topics.py",
)
_SPECIAL_TESTS = ("tests/unit/planning/test_specials.py", _SCENARIOS)

_QUIET_GATE = """
import importlib
from dataclasses import replace
gates = importlib.import_module("forerun.planning.gates")
found = next(gate for gate in gates.GATES if gate.__name__ == {name!r})
def silent(case):
    return replace(found(case), state="pass", says="", settle="")
silent.__name__ = found.__name__
gates.GATES = tuple(silent if gate is found else gate for gate in gates.GATES)
"""
_NOTHING = """
import importlib
importlib.import_module({module!r}).{name} = lambda *given, **more: {instead}
"""

GATES = (
    "vent_path", "solid_plug", "peroxides", "dryness", "energetic", "azide", "bath",
    "vacuum_glass", "order", "hot_liquid", "warm_room", "toxic_vapour", "scale",
)  # fmt: skip
SPECIALS = (
    "_low_boilers", "_foam", "_acids", "_sponge", "_moisture", "_monomers", "_involatile",
)  # fmt: skip
ROUTES = ("_water_routes", "_wash", "_crystallise", "_pressure", "_blend")
BRANCHES = (
    # what is taken out, the module it is called from, what stands there instead
    ("water is carried out", "method", "carried_out", "None"),
    ("steam", "method", "steam_run", "None"),
    ("two liquids in the flask", "analysis", "split_liquid", "None"),
    (
        "no column does",
        "method",
        "_no_column_does",
        "__import__('forerun.planning.method', fromlist=['x'])"
        ".simple_or_column(given[0], given[0].pressure_Pa, given[2])",
    ),
    ("too hot at the atmosphere", "method", "_too_hot", "False"),
    ("no window", "method", "_no_window", "None"),
    ("steam where no pressure fits", "method", "_steam_possible", "''"),
    ("ten hold-ups", "method_columns", "_holdup_words", "''"),
    ("a column", "method_columns", "_columns", "[]"),
    ("fewest plates", "method_columns", "plates_at", "None"),
)


def rows() -> dict[str, tuple[str, tuple[str, ...]]]:
    """Return every row by name: what takes it out, and the tests that are to notice."""
    found = {f"gate: {name}": (_QUIET_GATE.format(name=name), _GATE_TESTS) for name in GATES}
    for words, module, name, instead in BRANCHES:
        takes = _NOTHING.format(module=f"{_PLANNING}.{module}", name=name, instead=instead)
        found[f"method: {words}"] = (takes, _TREE_TESTS)
    for kind, module, names, tests in (
        ("special", "specials", SPECIALS, _SPECIAL_TESTS),
        ("better way", "routes", ROUTES, _TREE_TESTS),
    ):
        for name in names:
            takes = _NOTHING.format(module=f"{_PLANNING}.{module}", name=name, instead="[]")
            found[f"{kind}: {name.strip('_')}"] = (takes, tests)
    return found


def noticed(takes: str, tests: tuple[str, ...]) -> bool:
    """Return whether a test fails once a row is taken out.

    Args:
        takes: Python that takes it out.
        tests: files.
    """
    asked = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:randomly", *tests]
    code = f"{takes}\nimport sys, pytest\nsys.exit(pytest.main({asked!r}))"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if done.returncode not in (0, 1):
        raise RuntimeError(f"the tests could not be run: {done.stdout[-400:]}{done.stderr[-400:]}")
    return done.returncode == 1


def main() -> int:
    """Try the rows; returns 0 where each is noticed."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--row", help="only rows whose name holds this")
    given = parser.parse_args()
    every = rows()
    chosen = {name: row for name, row in every.items() if (given.row or "") in name}
    missed = []
    for name, (takes, tests) in chosen.items():
        seen = noticed(takes, tests)
        print(f"{'noticed' if seen else 'MISSED '}  {name}", flush=True)
        missed += [] if seen else [name]
    if len(chosen) == len(every):
        figures = {
            "date": datetime.now(UTC).date().isoformat(),
            "command": "python tools/proofs/rows.py",
            "rows": len(every),
            "noticed": len(every) - len(missed),
            "missed": missed,
        }
        FIGURES.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
