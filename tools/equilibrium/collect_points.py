"""Take measured binary tables into the package, with a reason beside every one not fitted.

    python tools/equilibrium/collect_points.py COLLECTION.json.gz

COLLECTION is a list of tables: id, components, cas, kind (isobaric or isothermal), P_kPa, T_C, x1,
y1, doi, verdict, note; extracted from the NIST TRC ThermoML archive (doi:10.18434/mds2-2422), whose
numbers are facts of the papers named by DOI.  Tables seen elsewhere are written down in
``seen_tables.json`` with how they were seen.  Run once; the result is kept, so that `fit_pairs.py`
needs nothing else.  Rules that look at the table alone stand here; those that compare it with the
base model or with other papers stand in `fit_pairs.py`.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

TARGET = Path(__file__).parents[2] / "src/forerun/equilibrium/data/pairs_measured.json.gz"

SEEN = Path(__file__).with_name("seen_tables.json")
MMHG_KPA = 0.133322387

HIGHEST_PRESSURE_KPA = 400.0  # above, the vapour is too far from an ideal gas
FEWEST_POINTS = 4  # inside 0.002 < x < 0.998
SAME_POINTS = 0.8  # share of points in common at which two tables are one measurement

ARCHIVE = {
    "citation": "NIST TRC ThermoML archive, version 2020-09-30; Riccardi et al., J. Comput. Chem. "
    "(2022)",
    "doi": "10.1002/jcc.26842",
    "data_doi": "10.18434/mds2-2422",
    "provenance": "numbers as recorded in the archive for each paper, papers not seen",
}

# Seen by eye and stated by name; every other reason is computed.
BY_NAME = {
    "acetone_methanol_T40.19_1": "one pressure at all compositions of an isothermal table",
    "1-propanol_water_T40.02_1": "recorded with its components swapped; mirrored by guess",
    "1-butanol_methylacetate_P300_1": "the same 31 points as methylacetate_1-butanol_P300_1",
}
# Vapour compositions of these two tables came second hand, not from the archive.
SECOND_HAND_VAPOUR = {"ethanol_water_P101.3_9", "ethanol_water_P101.3_17"}


def main() -> None:
    """Read the collection, judge each table, write the packaged file and its checksum."""
    tables = json.loads(gzip.decompress(Path(sys.argv[1]).read_bytes())) + seen_tables()
    twins = twins_of(tables)
    rows = [row(table, twins) for table in sorted(tables, key=lambda t: str(t["id"]))]
    text = json.dumps({"archive": ARCHIVE, "tables": rows}, separators=(",", ":"), sort_keys=True)
    write(TARGET, text)
    out = [r for r in rows if r["left_out"]]
    print(f"{len(rows)} tables, {len(out)} left out of fits: {TARGET.name}")


def seen_tables() -> list[dict[str, Any]]:
    """Return the tables written down by hand; partial pressures become fractions."""
    tables = json.loads(SEEN.read_text(encoding="utf-8"))
    for table in tables:
        if "mass_percent" in table:
            moles = [(w / 46.069, (100.0 - w) / 18.015) for w in table.pop("mass_percent")]
            total, partial = table.pop("P_mmHg"), table.pop("P1_mmHg")
            table["x1"] = [round(a / (a + b), 5) for a, b in moles]
            table["y1"] = [round(p / q, 4) for p, q in zip(partial, total, strict=True)]
            table["P_kPa"] = [round(p * MMHG_KPA, 4) for p in total]
    return list(tables)


def write(target: Path, text: str) -> str:
    """Write gzipped text that is the same on every run, with its checksum; return that."""
    data = gzip.compress(text.encode(), compresslevel=9, mtime=0)
    target.write_bytes(data)
    digest = hashlib.sha256(data).hexdigest()
    target.with_name(target.name + ".sha256").write_text(f"{digest}  {target.name}\n")
    return digest


def row(table: dict[str, Any], twins: dict[str, str]) -> dict[str, Any]:
    """Return one table as it is shipped."""
    name = table["id"]
    vapour = None if name in SECOND_HAND_VAPOUR else table.get("y1")
    seen = {k: table[k] for k in ("citation", "seen") if k in table}
    return {
        **seen,
        "name": name,
        "components": table["components"],
        "cas": table["cas"],
        "kind": table["kind"],
        "pressure_kPa": table["P_kPa"],
        "temperature_C": table["T_C"],
        "x1": table["x1"],
        "y1": vapour,
        "doi": table["doi"],
        "left_out": reason(table, twins),
    }


def reason(table: dict[str, Any], twins: dict[str, str]) -> str | None:
    """Return why the table is not fitted, or None."""
    name, note = table["id"], str(table.get("note", ""))
    if name in BY_NAME:
        return BY_NAME[name]
    if name in twins:
        return f"the same points as {twins[name]}, published again"
    pressures = listed(table["P_kPa"])
    if max(pressures) > HIGHEST_PRESSURE_KPA:
        return f"above {HIGHEST_PRESSURE_KPA:.0f} kPa the vapour is not an ideal gas"
    inside = [x for x in table["x1"] if 0.002 < x < 0.998]
    if len(inside) < FEWEST_POINTS:
        return f"fewer than {FEWEST_POINTS} points inside"
    for test, sentence in (
        ("end off", "a pure end is off the boiling point"),
        ("area test", "fails the area test"),
        ("point test", "fails the point-to-point test"),
    ):
        if test in note and table["verdict"] != "PASS":
            return sentence
    return None


def listed(value: float | Iterable[float]) -> list[float]:
    """Return a list from a number or a list."""
    return [float(value)] if isinstance(value, int | float) else [float(v) for v in value]


def twins_of(tables: list[dict[str, Any]]) -> dict[str, str]:
    """Return the later of every two tables of a pair that share most points: name -> earlier."""
    found: dict[str, str] = {}
    for i, late in enumerate(tables):
        for early in tables[:i]:
            if sorted(early["cas"]) != sorted(late["cas"]) or early["id"] in found:
                continue
            one, two = points(early), points(late)
            if len(one & two) >= SAME_POINTS * min(len(one), len(two)):
                found[late["id"]] = early["id"]
    return found


def points(table: dict[str, Any]) -> set[tuple[float, float]]:
    """Return the inner points, rounded, in the order of the CAS numbers."""
    mirrored = table["cas"] != sorted(table["cas"])
    column = table["T_C"] if table["kind"] == "isobaric" else table["P_kPa"]
    return {
        (round(1.0 - x if mirrored else x, 4), round(value, 2))
        for x, value in zip(table["x1"], column, strict=True)
        if 0.0 < x < 1.0
    }


if __name__ == "__main__":
    main()
