"""Predict measured low vapour pressures by curves that never saw their paper.

    python tools/substances/hold_back.py --points vapour_pressure_points.csv.gz

Papers are dealt into five parts.  For each part the curve of every substance is chosen and fitted
again without its papers, as `build.py` does it, and predicts up to five of their points between
0.1 and 13 kPa.  Written to tests/validation/data/reduced_pressure_points.json: the points with
their DOI, and the boiling point that the curve without the paper gives.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import math
from collections import defaultdict
from pathlib import Path

import numpy as np
from build import HERE
from choosing import choose
from constants import entry
from readers import Points, Tables, identities, measured_points, table
from scipy.optimize import brentq
from sources import TABLES
from structure import identifiers, is_acid
from vapour import Fit

OUT = HERE.parents[1] / "tests/validation/data/reduced_pressure_points.json"
LOW, HIGH = 100.0, 13e3  # Pa
PARTS = 5
MOST = 5  # points of one paper and substance


def main() -> None:
    """Write the file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--points", type=Path, required=True)
    points = measured_points(parser.parse_args().points)
    tables = {key: table(key) for key, source in TABLES.items() if source.table}
    with (HERE / "liquids.tsv").open(encoding="utf-8") as file:
        wanted = list(csv.DictReader(file, delimiter="\t"))
    known = identities({row["cas"] for row in wanted})
    rows = []
    for row in wanted:
        look = Tables(tables, (row["cas"], *filter(None, row["same_liquid"].split(";"))))
        rows += of_substance(row["name"], look, known[row["cas"]], points)
    OUT.write_text(json.dumps(rows, indent=0, ensure_ascii=False) + "\n", encoding="utf-8")
    print(f"{len(rows)} points of {len({r['substance'] for r in rows})} substances")


def of_substance(name: str, look: Tables, smiles: str, points: dict[str, Points]) -> list[dict]:
    """Return the rows of one substance."""
    measured = points.get(str(identifiers(smiles)["inchikey"]), [])
    tm_keys = ("crc_constants", "crc_inorganic", "webbook", "open_notebook_melting")
    melting = entry(look.values("Tm", *tm_keys), 6, 3.0)
    floor = melting["value"] if melting else 0.0
    low = defaultdict(list)
    for doi, t, p in measured:
        if LOW <= p <= HIGH and t > floor:
            low[doi].append((p, t))
    rows = []
    for part in sorted({part_of(doi) for doi in low}):
        rest = [m for m in measured if part_of(m[0]) != part]
        chosen = choose(name, look, rest, melting and melting["value"], is_acid(smiles), [])
        for doi in sorted(d for d in low if part_of(d) == part) if chosen else ():
            for p, t in thinned(sorted(low[doi])):
                rows.append(
                    {
                        "substance": name,
                        "doi": doi,
                        "pressure_Pa": round(p, 2),
                        "temperature_K": t,
                        "without_paper_K": round(boils(chosen[0], p, t), 3),
                        "without_paper_data_from_K": chosen[0].data_low,
                    }
                )
    return rows


def part_of(doi: str) -> int:
    """Return the part that a paper belongs to, the same on every machine."""
    return int(hashlib.sha256(doi.encode()).hexdigest(), 16) % PARTS


def thinned(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the most points that are wanted, spread over the range."""
    if len(points) <= MOST:
        return points
    return [points[round(k)] for k in np.linspace(0, len(points) - 1, MOST)]


def boils(curve: Fit, pressure: float, near: float) -> float:
    """Return where the curve reaches a pressure, straight in 1/T beyond its range [K]."""
    a, b, c, d = curve.coefficients

    def gap(t: float) -> float:
        inside = min(max(t, curve.low), curve.high)
        value = a + b / inside + c * math.log(inside) + d * inside
        slope = b - c * inside - d * inside * inside
        return value + slope * (1.0 / t - 1.0 / inside) - math.log(pressure)

    return float(brentq(gap, 0.6 * near, 1.7 * near))


if __name__ == "__main__":
    main()
