"""Reading the whitelisted tables, and no other."""

from __future__ import annotations

import csv
import gzip
from collections import defaultdict
from pathlib import Path

import chemicals
from rdkit import Chem
from sources import EXCLUDED, TABLES

ROOT = Path(chemicals.__file__).parent
Row = dict[str, str]


def table(key: str) -> dict[str, list[Row]]:
    """Return the rows of a whitelisted table by CAS number."""
    source = TABLES[key]
    if not source.table or any(word in source.table for word in EXCLUDED):
        raise ValueError(f"{key} may not be read")
    out: dict[str, list[Row]] = defaultdict(list)
    with (ROOT / source.table).open(encoding="utf-8") as file:
        for row in csv.DictReader(file, delimiter="\t"):
            number = row.get("CAS") or row.get("CASRN") or ""
            out[number if "-" in number else hyphenated(number)].append(row)
    return dict(out)


def hyphenated(number: str) -> str:
    """Return a CAS number that is written as an integer in the usual form."""
    return f"{number[:-3]}-{number[-3:-1]}-{number[-1:]}"


def number(row: Row | None, column: str) -> float | None:
    """Return a cell as a float, or None where it is empty."""
    text = (row or {}).get(column) or ""
    try:
        return float(text)
    except ValueError:
        return None


def identities(wanted: set[str]) -> dict[str, dict[str, str]]:
    """Return formula, SMILES and InChI of PubChem by CAS number."""
    found: dict[str, dict[str, str]] = {}
    parts = (
        "chemical identifiers pubchem small",
        "chemical identifiers pubchem large",
        "Inorganic db",
        "chemical identifiers example user db",
    )
    for part in parts:
        name = f"Identifiers/{part}.tsv"
        with (ROOT / name).open(encoding="utf-8") as file:
            for line in file:
                cells = line.rstrip("\n").split("\t")
                if cells[1] in wanted and cells[1] not in found:
                    found[cells[1]] = {"formula": cells[2], "smiles": cells[4]}
    return found


def measured_points(path: Path) -> dict[str, list[tuple[str, float, float]]]:
    """Return (DOI, T [K], P [Pa]) of measured vapour pressures by InChIKey."""
    out: dict[str, list[tuple[str, float, float]]] = defaultdict(list)
    keys: dict[str, str] = {}
    with gzip.open(path, "rt", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            inchi = row["inchi1"]
            if inchi not in keys:
                keys[inchi] = Chem.InchiToInchiKey(inchi) or ""
            out[keys[inchi]].append((row["doi"], float(row["T_K"]), 1e3 * float(row["VP_kPa"])))
    return dict(out)
