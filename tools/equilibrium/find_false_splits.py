"""Find the sets of models whose mean splits a pair into two liquids although it is known to mix.

Run by hand after the groups, the tables or the list of miscible pairs changed::

    python tools/equilibrium/find_false_splits.py

Reads ``miscibility.json`` of the package and writes ``false_splits.json`` beside it.
"""

from __future__ import annotations

import json
from itertools import combinations
from pathlib import Path

import numpy as np

from forerun.equilibrium.bubble import bubble_temperature
from forerun.equilibrium.exact import activity_exact
from forerun.equilibrium.groups import MODEL_NAMES, group_model, groups_of
from forerun.equilibrium.mixture import mixture_of
from forerun.equilibrium.tables import missing_pairs
from forerun.substances.catalogue import find
from forerun.substances.model import Substance

DATA = Path(__file__).resolve().parents[2] / "src/forerun/equilibrium/data"
PRESSURES = (10e3, 101325.0)  # Pa, where bench distillations run
LIQUIDS = np.linspace(0.001, 0.999, 250)


def splits(substances: list[Substance], models: tuple[str, ...]) -> bool:
    """Return whether the mean of some models makes a binary unstable at its boiling point."""
    groups = [groups_of(s) for s in substances]
    mixture = mixture_of(substances, models=models, corrections=False)
    for pressure in PRESSURES:
        temperature, _ = bubble_temperature([0.5, 0.5], pressure, mixture)
        activity = [
            np.log(x)
            + np.mean(
                [
                    activity_exact(
                        temperature, np.array([x, 1 - x]), [g[m] for g in groups], group_model(m)
                    )[0]
                    for m in models
                ]
            )
            for x in LIQUIDS
        ]
        if (np.diff(activity) <= 0.0).any():
            return True
    return False


def splitting_sets(first: str, second: str) -> list[list[str]]:
    """Return every set of models whose mean splits a pair, by InChIKeys."""
    substances = [find(first), find(second)]
    groups = [groups_of(s) for s in substances]
    able = [m for m in MODEL_NAMES if not missing_pairs(group_model(m), [g.get(m) for g in groups])]
    sets = (c for size in (1, 2, 3) for c in combinations(able, size))
    return [list(models) for models in sets if splits(substances, models)]


def rows() -> list[dict]:
    """Return the pairs that at least one model splits."""
    found = []
    for row in json.loads((DATA / "miscibility.json").read_text())["pairs"]:
        if row["kind"] != "miscible":
            continue
        sets = splitting_sets(*row["components"])
        if sets:
            found.append(
                {
                    "names": row["names"],
                    "components": row["components"],
                    "splitting": sets,
                    "source": f"miscible: {row['source']}; the split: computed",
                }
            )
    return found


if __name__ == "__main__":
    text = ",\n".join("  " + json.dumps(row, ensure_ascii=False) for row in rows())
    (DATA / "false_splits.json").write_text(f"[\n{text}\n]\n")
