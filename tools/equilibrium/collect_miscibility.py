"""Write src/forerun/equilibrium/data/miscibility.json: which pairs mix, which stand as two liquids.

    python tools/equilibrium/collect_miscibility.py POINTS.csv.gz KEYS.csv

POINTS holds measured mutual solubilities (columns doi, c1, c2, inchi1, inchi2, T_K,
mole_fraction_c1), an extraction of the NIST TRC ThermoML archive, doi:10.18434/mds2-2422.  KEYS
gives the InChIKey of every InChI (rdkit makes them).  The pairs that mix in all proportions are
the list below.  A pair enters when the catalogue knows both substances.
"""

from __future__ import annotations

import csv
import gzip
import json
import sys
from collections import defaultdict
from pathlib import Path
from typing import Any

from forerun.substances.catalogue import all_substances, find

TARGET = Path(__file__).parents[2] / "src/forerun/equilibrium/data/miscibility.json"

_EVERYDAY = "common practice, no source"
_WITH_WATER = (
    "methanol, ethanol, 1-propanol, 2-propanol, tert-butanol, allyl alcohol, propargyl alcohol, "
    "furfuryl alcohol, tetrahydrofurfuryl alcohol, ethylene glycol, propylene glycol, "
    "1,3-propanediol, diethylene glycol, triethylene glycol, glycerol, 2-methoxyethanol, "
    "2-ethoxyethanol, 1-methoxy-2-propanol, acetone, diacetone alcohol, acetaldehyde, "
    "acetonitrile, 1,4-dioxane, 1,3-dioxolane, 1,2-dimethoxyethane, diglyme, "
    "N,N-dimethylformamide, N,N-dimethylacetamide, dimethyl sulfoxide, N-methyl-2-pyrrolidone, "
    "2-pyrrolidone, formamide, sulfolane, gamma-butyrolactone, formic acid, acetic acid, "
    "propionic acid, butyric acid, pyridine, morpholine, piperidine, pyrrolidine, diethylamine, "
    "propylamine, isopropylamine, butylamine, tert-butylamine, ethylenediamine, ethanolamine, "
    "hydrazine"
)
_LIMITED = {  # pairs that mix only within limits [K]
    ("tetrahydrofuran", "water"): (
        None,
        344.0,
        "closed loop from about 72 to 137 °C: Matous, Novak, Sobr, Pick, Collect. Czech. Chem. "
        "Commun. 37 (1972) 2653, from memory",
    ),
    ("acetonitrile", "water"): (272.0, None, "splits below about -1 °C, from memory"),
}
_UPPER_CRITICAL = {  # pairs that part in the cold and mix above [K]
    ("phenol", "water"): (
        340.0,
        "66.8 °C: Hill, Malisoff, J. Am. Chem. Soc. 48 (1926) 918, value from memory",
    ),
    ("cyclohexane", "methanol"): (
        318.8,
        "parts below: Trejo, Yáñez, Eustaquio-Rincón, J. Chem. Eng. Data 51 (2006) 1070, "
        "doi:10.1021/je0505321; value from memory",
    ),
    ("hexane", "methanol"): (
        307.5,
        "parts below: Trejo, Yáñez, Eustaquio-Rincón, J. Chem. Eng. Data 51 (2006) 1070, "
        "doi:10.1021/je0505321; value from memory",
    ),
    ("heptane", "methanol"): (324.4, "from memory, no source"),
}


def _critical() -> list[dict[str, Any]]:
    """Return the pairs with an upper critical solution temperature."""
    rows = []
    for (first, second), (temperature, source) in _UPPER_CRITICAL.items():
        row = _row(first, second, "", None, None, source)
        rows.append(
            {
                "names": row["names"],
                "components": row["components"],
                "temperature_K": temperature,
                "source": source,
            }
        )
    return sorted(rows, key=lambda r: r["names"])


def _row(first: str, second: str, kind: str, low: Any, high: Any, source: Any) -> dict[str, Any]:
    pair = sorted((find(first), find(second)), key=lambda s: s.name)
    return {
        "names": [s.name for s in pair],
        "components": [s.inchikey for s in pair],
        "kind": kind,
        "temperature_low_K": low,
        "temperature_high_K": high,
        "source": source,
    }


def miscible() -> list[dict[str, Any]]:
    """Return the pairs that mix in all proportions, within limits where they are known."""
    pairs = {(name.strip(), "water"): (None, None, _EVERYDAY) for name in _WITH_WATER.split(", ")}
    pairs.update(_LIMITED)
    return [_row(a, b, "miscible", *rest) for (a, b), rest in pairs.items()]


def two_liquids(points: Path, keys: Path) -> list[dict[str, Any]]:
    """Return the pairs that were measured as two liquids, with the range of temperature."""
    with keys.open() as lines:
        inchikey = {row["inchi"]: row["inchikey"] for row in csv.DictReader(lines)}
    known = {s.inchikey for s in all_substances()}
    found: dict[tuple[str, str], list[dict[str, str]]] = defaultdict(list)
    with gzip.open(points, "rt") as lines:
        for row in csv.DictReader(lines):
            pair = tuple(sorted(inchikey[row[k]] for k in ("inchi1", "inchi2")))
            if pair[0] in known and pair[1] in known and pair[0] != pair[1]:
                found[pair[0], pair[1]].append(row)
    rows = []
    for (first, second), measured in found.items():
        temperatures = [float(r["T_K"]) for r in measured]
        papers = sorted({r["doi"] for r in measured})
        rows.append(
            _row(first, second, "two liquids", min(temperatures), max(temperatures), papers)
        )
    return rows


def main(points: str, keys: str) -> None:
    """Write the file."""
    rows = sorted(
        miscible() + two_liquids(Path(points), Path(keys)), key=lambda r: (r["kind"], r["names"])
    )
    both = [tuple(r["components"]) for r in rows]
    twice = {tuple(r["names"]) for r in rows if both.count(tuple(r["components"])) > 1}
    if twice:
        sys.exit(f"both miscible and measured as two liquids: {sorted(twice)}")
    archive = (
        "DOIs are papers recorded in the NIST TRC ThermoML archive, doi:10.18434/mds2-2422; the "
        "range is that of the measured points, two liquids may go further"
    )
    lines = ",\n".join(json.dumps(row, ensure_ascii=False) for row in rows)
    critical = ",\n".join(json.dumps(row, ensure_ascii=False) for row in _critical())
    text = f'{{"note": {json.dumps(archive)},\n"pairs": [\n{lines}\n],\n'
    text += f'"upper_critical": [\n{critical}\n]}}\n'
    TARGET.write_text(text, encoding="utf-8")
    print(f"{len(rows)} pairs, {sum(r['kind'] == 'miscible' for r in rows)} of them miscible")


if __name__ == "__main__":
    main(*sys.argv[1:])
