"""Fire and peroxide data: standards first, Wikidata where they are silent."""

from __future__ import annotations

import csv
from pathlib import Path

from constants import Entry, digits, entry
from readers import Tables

HERE = Path(__file__).parent
IARC_GROUPS = {"1": "1", "11": "2A", "12": "2B"}
NTP_TEXT = {"1": "known", "2": "reasonably anticipated"}


def fire(look: Tables, column: str, count: int) -> Entry | None:
    """Return a flash or ignition temperature [K] or a lower flammable limit [-].

    The value is that of IEC 60079-20-1, else of NFPA 497, else of Wikidata; the lowest of the
    sources stands beside it, since a safety limit takes that one.
    """
    low, high = PLAUSIBLE[column]
    found = look.values(column, "iec60079", "nfpa497", "wikidata")
    found = {k: v for k, v in found.items() if low < v < high}
    if len(found) > 1:
        found.pop("wikidata", None)
    out = entry(found, count)
    if out is None:
        return None
    return out | {
        "value": digits(next(iter(found.values())), count),
        "lowest": digits(min(found.values()), count),
    }


PLAUSIBLE = {"T_flash": (150.0, 500.0), "T_autoignition": (330.0, 1000.0), "LFL": (0.002, 0.3)}


def stated(text: str, source: str, method: str = "measured") -> dict[str, object]:
    """Return a statement with its source."""
    return {"value": text, "sources": [source], "method": method}


def listed_peroxide_formers() -> dict[str, tuple[str, str]]:
    """Return class and source by name, from peroxides.tsv."""
    with (HERE / "peroxides.tsv").open(encoding="utf-8") as file:
        rows = csv.DictReader(file, delimiter="\t")
        return {row["name"]: (row["class"], row["source"]) for row in rows}


def peroxide_class(name: str, listed: dict[str, tuple[str, str]]) -> dict[str, object] | None:
    """Return the class that a list gives."""
    return stated(*listed[name]) if name in listed else None


def hazards(look: Tables) -> list[dict[str, object]]:
    """Return what two public lists state about cancer."""
    out = []
    for row in look.rows("iarc")[:1]:
        if row["group"] in IARC_GROUPS:
            out.append(stated(f"carcinogen, IARC group {IARC_GROUPS[row['group']]}", "iarc"))
    for row in look.rows("ntp")[:1]:
        if row["Listing"] in NTP_TEXT:
            text = f"{NTP_TEXT[row['Listing']]} to be a human carcinogen (US NTP)"
            out.append(stated(text, "ntp"))
    return out
