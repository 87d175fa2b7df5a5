"""Build the group tables and the groups of every substance of the catalogue.

Run once by hand in an environment of its own (``requirements.txt``); the package reads only the
result, ``src/forerun/equilibrium/data/groups.json.gz``::

    python tools/equilibrium/build_tables.py

The group parameters are the published ones, taken over from ``thermo.unifac`` (MIT licence).
Which groups a molecule consists of is decided here, from the SMARTS patterns of
``fragments.tsv``, and proved by an atom balance; no table of assignments is read.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import sys
from collections import Counter
from pathlib import Path

import fragmenting
import thermo.unifac as tables

ROOT = Path(__file__).resolve().parents[2]
OUTPUT = ROOT / "src/forerun/equilibrium/data/groups.json.gz"

# Main groups above these came later than the papers cited or describe ions.
HIGHEST_MAIN_GROUP = {"unifac": 55, "dortmund": 56, "nist": 96}

# In the NIST-modified table as the library carries it, the subgroups CCl4 and ACCl point to main
# groups 52 and 53, which are those of thiophene and of the epoxides; their interactions stand
# under 24 and 25, the numbers of the original method.  Measured with boiling tables of binaries:
# 2.6 K mean miss for chlorobenzene becomes 0.8 K; CCl4 finds no interactions otherwise.
NIST_MAIN_GROUPS = {52: 24, 53: 25}

SOURCES = {
    "unifac": [
        "fredenslund1975",
        "skjold1979",
        "gmehling1982",
        "macedo1983",
        "tiegs1987",
        "hansen1991",
        "wittig2003",
    ],
    "dortmund": [
        "weidlich1987",
        "gmehling1993",
        "gmehling1998",
        "gmehling2002",
        "jakob2006",
    ],
    "nist": ["kang2015"],
}


def _model(subgroups: dict, interactions: dict, name: str) -> dict:
    highest = HIGHEST_MAIN_GROUP[name]
    moved = NIST_MAIN_GROUPS if name == "nist" else {}
    groups = {}
    for number, group in subgroups.items():
        main = moved.get(number, group.main_group_id)
        if main <= highest:
            groups[str(number)] = [group.group, main, group.R, group.Q]
    used = {row[1] for row in groups.values()}
    rows = []
    for m in sorted(interactions):
        for n, value in sorted(interactions[m].items()):
            if m in used and n in used and m != n:
                a, b, c = value if isinstance(value, tuple) else (value, 0.0, 0.0)
                rows.append([m, n, a, b, c])
    return {
        "exponent": 1.0 if name == "unifac" else 0.75,
        "subgroups": groups,
        "interactions": rows,
        "sources": SOURCES[name],
    }


def group_tables() -> dict[str, dict]:
    """Return subgroups, main groups, R, Q and interactions of the three models."""
    tables.load_unifac_ip() if hasattr(tables, "load_unifac_ip") else None
    return {
        "unifac": _model(tables.UFSG, tables.UFIP, "unifac"),
        "dortmund": _model(tables.DOUFSG, tables.DOUFIP2006, "dortmund"),
        "nist": _model(tables.NISTUFSG, tables.NISTUFIP, "nist"),
    }


def molecules_to_describe() -> list[tuple[str, str]]:
    """Return (InChIKey, SMILES) of the catalogue and of the common liquids listed beside it."""
    found: dict[str, str] = {}
    for line in (Path(__file__).parent / "common_liquids.txt").read_text().splitlines():
        if line and not line.startswith("#"):
            smiles = line.split()[0]
            found[fragmenting.inchikey(smiles)] = smiles
    for path in sorted((ROOT / "src/forerun/substances/data").glob("*.json*")):
        raw = path.read_bytes()
        text = gzip.decompress(raw) if path.suffix == ".gz" else raw
        found.update(_pairs_in(json.loads(text)))
    return sorted(found.items())


def _pairs_in(node: object) -> dict[str, str]:
    """Return every (inchikey, smiles) in a JSON tree, whatever its shape."""
    found: dict[str, str] = {}
    if isinstance(node, dict):
        key, smiles = node.get("inchikey"), node.get("smiles")
        if isinstance(key, str) and isinstance(smiles, str):
            found[key] = smiles
        for value in node.values():
            found.update(_pairs_in(value))
    elif isinstance(node, list):
        for value in node:
            found.update(_pairs_in(value))
    return found


def _known_only(groups: dict[str, dict[str, int]], models: dict[str, dict]) -> dict[str, dict]:
    return {
        model: counts
        for model, counts in groups.items()
        if all(number in models[model]["subgroups"] for number in counts)
    }


def build() -> dict:
    """Return the whole data file as a tree."""
    models = group_tables()
    fragments = fragmenting.read_fragments(OUTPUT.with_name("fragments.tsv"))
    molecules = {}
    for key, smiles in molecules_to_describe():
        groups = _known_only(fragmenting.groups(smiles, fragments), models)
        molecules[key] = {"smiles": smiles, **groups}
    return {"models": models, "molecules": molecules}


def write(tree: dict, output: Path = OUTPUT) -> None:
    """Write the file, the same bytes for the same content, and its checksum beside it."""
    text = json.dumps(tree, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    data = gzip.compress(text.encode(), compresslevel=9, mtime=0)
    output.parent.mkdir(parents=True, exist_ok=True)
    output.write_bytes(data)
    digest = hashlib.sha256(data).hexdigest()
    output.with_name(output.name + ".sha256").write_text(f"{digest}  {output.name}\n")


def _report(tree: dict) -> None:
    for key, entry in tree["molecules"].items():
        absent = [m for m in tree["models"] if m not in entry]
        if absent:
            print(f"{entry['smiles']:40s} {key} not in {', '.join(absent)}")
    counts = Counter(m for e in tree["molecules"].values() for m in e if m != "smiles")
    print(len(tree["molecules"]), "molecules;", dict(counts), file=sys.stderr)


if __name__ == "__main__":
    whole = build()
    write(whole)
    _report(whole)
