"""Take mutual solubilities and excess enthalpies into the package, beside the boiling points.

    python tools/equilibrium/collect_evidence.py POINTS.csv.gz KEYS.csv

POINTS holds measured mutual solubilities (columns doi, c1, c2, inchi1, inchi2, T_K,
mole_fraction_c1), an extraction of the NIST TRC ThermoML archive (doi:10.18434/mds2-2422); KEYS
gives the InChIKey of every InChI (rdkit makes them).  Two points of one paper at one temperature
are taken for the two layers.  Enthalpies stand in ``seen_enthalpies.json`` with how they were seen.
"""

from __future__ import annotations

import csv
import gzip
import json
import sys
from collections import defaultdict
from pathlib import Path
from typing import Any

from collect_points import ARCHIVE, write

from forerun.substances.catalogue import all_substances

HERE = Path(__file__).parent
TARGET = HERE.parents[1] / "src/forerun/equilibrium/data/pairs_evidence.json.gz"

SMALLEST = 2e-5  # mole fraction of the lesser component of a layer that is told to 5e-4 (the fit)
RANGE_K = (273.15, 400.0)
NARROWEST = 0.05  # mole fraction between the layers; closer to the critical point a fit slips
TWICE = 1e-5  # layers whose fractions add up to 1 this closely are one layer, recorded twice

# Papers of which a pair is left out: what they say is off by a factor of two to nine in a layer
# from two papers or more that agree; of the first, all its binaries (one phase in weight?).
CONTRADICTED = {
    "10.1016/j.fluid.2014.07.004": "dimethyl carbonate, phenol and, alike, anisole with water",
    "10.1016/j.fluid.2012.11.026": "diethyl carbonate with water",
    "10.1021/je300094j": "diethyl carbonate with water",
    "10.1016/j.jct.2008.01.001": "2-ethyl-1-hexanol with water",
}

Points = dict[tuple[str, str, str], list[tuple[float, float]]]


def main(points: str, keys: str) -> None:
    """Write the file and its checksum."""
    solubility = layers(read(Path(points), Path(keys)))
    enthalpy = [enthalpies(row) for row in json.loads((HERE / "seen_enthalpies.json").read_text())]
    tree = {"archive": ARCHIVE, "enthalpy": enthalpy, "solubility": solubility}
    write(TARGET, json.dumps(tree, separators=(",", ":"), sort_keys=True))
    pairs = {tuple(r["cas"]) for r in solubility}
    print(f"{sum(len(r['poor']) for r in solubility)} pairs of layers of {len(pairs)} pairs")


def read(points: Path, keys: Path) -> Points:
    """Return (T, x of the first) by paper and CAS numbers, the pair in a fixed order."""
    with keys.open() as lines:
        inchikey = {row["inchi"]: row["inchikey"] for row in csv.DictReader(lines)}
    cas = {s.inchikey: s.cas for s in all_substances()}
    found: Points = defaultdict(list)
    with gzip.open(points, "rt") as lines:
        for row in csv.DictReader(lines):
            pair = [cas.get(inchikey[row[k]]) for k in ("inchi1", "inchi2")]
            if pair[0] is None or pair[1] is None or pair[0] == pair[1]:
                continue
            if row["doi"] in CONTRADICTED:
                continue
            x, t = float(row["mole_fraction_c1"]), float(row["T_K"])
            first, second = sorted((pair[0], pair[1]))
            found[row["doi"], first, second].append((t, x if pair[0] == first else 1.0 - x))
    return found


def layers(found: Points) -> list[dict[str, Any]]:
    """Return the layers of every paper and pair that has both at one temperature."""
    rows = []
    for (doi, first, second), points in sorted(found.items()):
        at: dict[float, list[float]] = defaultdict(list)
        for t, x in points:
            at[round(t, 1)].append(x)
        both = [
            (t, min(xs), max(xs)) for t, xs in sorted(at.items()) if len(xs) == 2 and usable(t, xs)
        ]
        if both:
            t_column, poor, rich = (list(c) for c in zip(*both, strict=True))
            rows.append(
                {
                    "cas": [first, second],
                    "doi": doi,
                    "temperature_K": t_column,
                    "poor": poor,
                    "rich": rich,
                }
            )
    return rows


def usable(temperature: float, fractions: list[float]) -> bool:
    """Return whether two layers tell something that three terms can follow."""
    low, high = min(fractions), max(fractions)
    return (
        RANGE_K[0] <= temperature <= RANGE_K[1]
        and low >= SMALLEST
        and high <= 1.0 - SMALLEST
        and high - low >= NARROWEST
        and abs(low + high - 1.0) > TWICE
    )


def enthalpies(row: dict[str, Any]) -> dict[str, Any]:
    """Return points of a paper's smoothing equation."""
    terms = list(zip(row["exponents"], row["b"], row["c"], row["d"], strict=True))
    places = [(t, x) for t in row["temperature_K"] for x in row["x1"]]
    values = [
        x * (1.0 - x) * sum((1e5 * b + 1e3 * c * t + d * t * t) * x**n for n, b, c, d in terms)
        for t, x in places
    ]
    return {
        **{k: row[k] for k in ("cas", "doi", "citation", "seen")},
        "temperature_K": [t for t, _ in places],
        "x1": [x for _, x in places],
        "excess_enthalpy_J_mol": [round(v, 2) for v in values],
    }


if __name__ == "__main__":
    main(*sys.argv[1:])
