"""Reading the whitelisted tables, and no other."""

from __future__ import annotations

import csv
import gzip
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import chemicals
from rdkit import Chem
from sources import EXCLUDED, IDENTITY_TABLES, TABLES

ROOT = Path(chemicals.__file__).parent
Row = dict[str, str]
Points = list[tuple[str, float, float]]


def table(key: str) -> dict[str, list[Row]]:
    """Return the rows of a whitelisted table by CAS number."""
    source = TABLES[key]
    if not source.table or any(word in source.table for word in EXCLUDED):
        raise ValueError(f"{key} may not be read")
    out: dict[str, list[Row]] = defaultdict(list)
    with (ROOT / source.table).open(encoding="utf-8") as file:
        for row in csv.DictReader(file, delimiter="\t"):
            cas = row.get("CAS") or row.get("CASRN") or ""
            out[cas if "-" in cas else f"{cas[:-3]}-{cas[-3:-1]}-{cas[-1:]}"].append(row)
    return dict(out)


def number(row: Row, column: str) -> float | None:
    """Return a cell as a float, or None where it is empty."""
    try:
        return float(row.get(column) or "")
    except ValueError:
        return None


@dataclass(frozen=True)
class Tables:
    """All whitelisted tables, looked up for one liquid."""

    tables: dict[str, dict[str, list[Row]]]
    cas: tuple[str, ...]

    def rows(self, key: str) -> list[Row]:
        """Return the rows of the liquid, first under its own number, then as racemate."""
        for cas in self.cas:
            if cas in self.tables[key]:
                return self.tables[key][cas]
        return []

    def values(self, column: str, *keys: str) -> dict[str, float]:
        """Return the positive values of a column in several tables, by source."""
        out = {}
        for key in keys:
            for row in self.rows(key)[:1]:
                value = number(row, column)
                if value is not None and value > 0:
                    out[key] = value
        return out


def identities(wanted: set[str]) -> dict[str, str]:
    """Return the SMILES of PubChem by CAS number."""
    found: dict[str, str] = {}
    for name in IDENTITY_TABLES:
        with (ROOT / name).open(encoding="utf-8") as file:
            for line in file:
                cells = line.split("\t", 5)
                if cells[1] in wanted:
                    found.setdefault(cells[1], cells[4])
    return found


def measured_points(path: Path) -> dict[str, Points]:
    """Return (DOI, T [K], P [Pa]) of measured vapour pressures by InChIKey."""
    out: dict[str, Points] = defaultdict(list)
    keys: dict[str, str] = {}
    with gzip.open(path, "rt", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            inchi = row["inchi1"]
            if inchi not in keys:
                keys[inchi] = Chem.InchiToInchiKey(inchi) or ""
            out[keys[inchi]].append((row["doi"], float(row["T_K"]), 1e3 * float(row["VP_kPa"])))
    return dict(out)
