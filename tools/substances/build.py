"""Build src/forerun/substances/data/liquids.json.gz from whitelisted sources.

Run in an environment of its own (requirements.txt):

    python tools/substances/build.py --points vapour_pressure_points.csv.gz

The points are measured vapour pressures with columns doi, inchi1, T_K, VP_kPa. The output is the
same to the last byte for the same input; every decision about a source stands in build_log.txt.
"""

from __future__ import annotations

import argparse
import csv
from pathlib import Path

import numpy as np
from acids import apparent_compressibility, dimerisation
from choosing import choose
from constants import (
    WATER,
    Entry,
    critical,
    digits,
    entry,
    estimated,
    heat_capacity,
    latent_heat,
    molar_volume,
)
from estimated import boiling_point_by_groups, flash_by_groups, limit_by_groups
from packing import pack
from readers import Points, Tables, identities, measured_points, number, table
from safety import fire, hazards, listed_peroxide_formers, peroxide_class
from sources import METHODS, TABLES, THROUGH
from structure import (
    energetic_groups,
    identifiers,
    is_acid,
    peroxide_signs,
    spellings,
)
from vapour import ATMOSPHERE, Fit, ln_pressure

HERE = Path(__file__).parent
Record = dict[str, object]


def main() -> None:
    """Build the file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--points", type=Path, required=True)
    points = measured_points(parser.parse_args().points)
    tables = {key: table(key) for key, source in TABLES.items() if source.table}
    with (HERE / "liquids.tsv").open(encoding="utf-8") as file:
        wanted = list(csv.DictReader(file, delimiter="\t"))
    known = identities({row["cas"] for row in wanted})
    listed = listed_peroxide_formers()
    log: list[str] = []
    built = []
    for row in wanted:
        look = Tables(tables, (row["cas"], *filter(None, row["same_liquid"].split(";"))))
        record = one(row, look, known[row["cas"]], points, listed, log)
        if record is None:
            log.append(f"{row['name']}: LEFT OUT, no vapour pressure to be believed")
        else:
            built.append(record)
    fill_spreads(built, log)
    write(built)
    (HERE / "build_log.txt").write_text("\n".join(log) + "\n", encoding="utf-8")
    print(f"{len(built)} of {len(wanted)} substances; {len(log)} remarks in build_log.txt")


def one(
    row: dict[str, str],
    look: Tables,
    smiles: str,
    points: dict[str, Points],
    listed: dict[str, tuple[str, str]],
    log: list[str],
) -> Record | None:
    """Build one record, or None where no vapour pressure is to be believed."""
    name = row["name"]
    ids = identifiers(smiles)
    mass = float(ids["molar_mass"])
    tm_keys = ("crc_constants", "crc_inorganic", "webbook", "open_notebook_melting")
    melting = entry(look.values("Tm", *tm_keys), 6, 3.0)
    measured = points.get(str(ids["inchikey"]), [])
    groups = boiling_point_by_groups(smiles)
    acid = is_acid(smiles)
    chosen = choose(name, look, measured, melting and melting["value"], acid, groups, log)
    if chosen is None:
        return None
    curve, boiling, disagreement = chosen
    tb = curve.boiling_point
    tc, pc = critical(name, look, smiles, tb, log)
    dimer = dimerisation(row["cas"], smiles)
    z = apparent_compressibility(dimer, tb, ATMOSPHERE)
    heat = latent_heat(name, look, tb, curve.slope(tb), tc["value"], pc["value"], z, log)
    omega = acentric(curve, tc["value"], pc["value"])
    return {
        "name": name,
        "synonyms": [s for s in row["synonyms"].split(";") if s],
        "cas": row["cas"],
        **ids,
        "spellings": spellings(smiles),
        "melting_point": melting,
        "boiling_point": (entry(boiling, 6) or {})
        | {"value": round(tb, 2), "spread": digits(disagreement, 2)},
        "critical_temperature": tc,
        "critical_pressure": pc,
        "vapour_pressure": {
            "coefficients": list(curve.coefficients),
            "low": curve.low,
            "high": curve.high,
            "data_low": curve.data_low,
            "data_high": curve.data_high,
            "spread": (curve.spread, disagreement * curve.slope(tb)),
            "sources": list(curve.sources),
        },
        "latent_heat": heat,
        "heat_capacity": heat_capacity(name, look, smiles, tb, log),
        "molar_volume": molar_volume(name, look, mass, tc["value"], pc["value"], omega, log),
        "refractive_index": refractive_index(look),
        "flash_point": fire(look, "T_flash", 5) or flash_by_groups(smiles, tb, heat, tc),
        "autoignition": fire(look, "T_autoignition", 5),
        "lower_flammable_fraction": fire(look, "LFL", 3) or limit_by_groups(smiles),
        "peroxide_class": peroxide_class(name, listed),
        "peroxide_signs": peroxide_signs(smiles),
        "energetic_groups": energetic_groups(smiles),
        "hazards": hazards(look),
        "dimerisation": dimer,
    }


def refractive_index(look: Tables) -> Entry | None:
    """Return the refractive index at 20 degC, carried over from at most 6 K away."""
    if look.cas[0] == WATER:
        return entry({"harvey1998": 1.33299}, 6)
    for row in look.rows("crc_index"):
        index, at = number(row, "RI"), number(row, "RIT")
        away = (at or 999.0) - 293.15
        if index and abs(away) < 1.0:
            return entry({"crc_index": index}, 5)
        if index and abs(away) < 6.0:
            value, spread = index + 4.5e-4 * away, 1.0e-4 * abs(away)
            return estimated(value, spread, "crc_index", "index_slope", method="correlated")
    return None


def acentric(curve: Fit, tc: float, pc: float) -> float:
    """Return the acentric factor, ln P going on straight in 1/T beyond the fit."""
    t = 0.7 * tc
    inside = min(max(t, curve.low), curve.high)
    slope = -curve.slope(inside) * inside**2
    value = ln_pressure(curve.coefficients, inside) + slope * (1.0 / t - 1.0 / inside)
    return float(-1.0 - (value - np.log(pc)) / np.log(10.0))


# Relative. Wagner & Pruss (2002) state less for the vapour pressure of water (from memory); 0.2 %,
# about 0.06 K, is kept as the least that a bench can tell.
REFERENCE_SPREAD = 0.002


def fill_spreads(records: list[Record], log: list[str]) -> None:
    """Settle the relative spread of each fit: along the curve or at 1 atm, whichever is larger.

    Compilations often rest on one paper and then agree too well: half the median spread of all
    substances is the least.
    """
    fits = [r["vapour_pressure"] for r in records]
    pooled = float(np.median([f["spread"][0] for f in fits if f["spread"][0]]))
    alone = sum(f["spread"][0] is None for f in fits)
    log.append(f"median relative spread between sources {pooled:.4f}; {alone} fits rest on one")
    for f in fits:
        along, at_boiling = f["spread"]
        if f["sources"] == ["iapws95"]:
            f["spread"] = REFERENCE_SPREAD
            continue
        if along is None:
            along = 2.0 * pooled
            f["sources"] = [*f["sources"], "pooled"]
        f["spread"] = digits(max(along, at_boiling, 0.5 * pooled), 2)


def used_sources(node: object) -> set[str]:
    """Return every source key below a node."""
    if isinstance(node, dict):
        found = set(node.get("sources", []))
        return found.union(*map(used_sources, node.values()))
    if isinstance(node, list):
        return set().union(*map(used_sources, node))
    return set()


def write(records: list[Record]) -> None:
    """Write the data file and its checksum, the same bytes for the same input."""
    allowed = TABLES | METHODS
    keys = {k for k in used_sources(records) if not k.startswith("doi:")}
    keys |= {"pubchem", "atomic_weights", "rdkit_smarts", "trc_thermoml"}
    sources = {
        k: {
            "citation": allowed[k].citation,
            "doi": allowed[k].doi,
            "provenance": THROUGH if allowed[k].table else "as the citation says",
        }
        for k in sorted(keys)
    }
    pack(sources, records)


if __name__ == "__main__":
    main()
