"""Write activity coefficients computed by another open implementation, for the tests.

Run once by hand in the environment of ``requirements.txt``; the result lies in
``tests/unit/equilibrium/independent_activity.json``.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import thermo
import thermo.unifac as other

OUTPUT = Path(__file__).resolve().parents[2] / "tests/unit/equilibrium/independent_activity.json"

TABLES = {
    "unifac": (other.UFSG, other.UFIP, False),
    "dortmund": (other.DOUFSG, other.DOUFIP2006, True),
    "nist": (other.NISTUFSG, other.NISTUFIP, True),
}

# Subgroups by number: ethanol, water, acetone, hexane, toluene, ethyl acetate, acetonitrile, THF
MOLECULES = {
    "unifac": [
        {1: 1, 2: 1, 14: 1}, {16: 1}, {1: 1, 18: 1}, {1: 2, 2: 4}, {9: 5, 11: 1},
        {1: 1, 2: 1, 21: 1}, {40: 1}, {2: 3, 27: 1},
    ],
    "dortmund": [
        {1: 1, 2: 1, 14: 1}, {16: 1}, {1: 1, 18: 1}, {1: 2, 2: 4}, {9: 5, 11: 1},
        {1: 1, 2: 1, 21: 1}, {40: 1}, {78: 2, 27: 1},
    ],
}  # fmt: skip
MOLECULES["nist"] = MOLECULES["dortmund"]

CASES = [
    (0, 1), (2, 3), (4, 6), (1, 7), (0, 3, 5), (2, 4, 6), (0, 1, 5), (0, 1, 2, 3, 4, 5, 6, 7),
]  # fmt: skip


def rows() -> list[dict]:
    """Return one row for every model, set of molecules and temperature."""
    found = []
    for model, (subgroups, interactions, modified) in TABLES.items():
        for case in CASES:
            weights = [1.0 + k for k in range(len(case))]
            x = [w / sum(weights) for w in weights]
            molecules = [MOLECULES[model][k] for k in case]
            for temperature in (283.15, 351.0, 420.0):
                gamma = other.UNIFAC_gammas(
                    temperature, x, molecules, subgroup_data=subgroups,
                    interaction_data=interactions, modified=modified,
                )  # fmt: skip
                found.append(
                    {
                        "model": model,
                        "temperature_K": temperature,
                        "groups": [{str(k): n for k, n in m.items()} for m in molecules],
                        "x": x,
                        "ln_gamma": [math.log(g) for g in gamma],
                    }
                )
    return found


if __name__ == "__main__":
    tree = {
        "source": f"computed with the open library thermo {thermo.__version__} (MIT licence)",
        "rows": rows(),
    }
    OUTPUT.write_text(json.dumps(tree, indent=1) + "\n")
