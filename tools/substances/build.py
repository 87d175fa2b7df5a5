"""Build src/forerun/substances/data/liquids.json.gz from whitelisted sources.

Run in an environment of its own (requirements.txt):

    python tools/substances/build.py --points vapour_pressure_points.csv.gz

The points file is optional: measured vapour pressures with columns doi, inchi1, T_K, VP_kPa.
The output is the same to the last byte for the same input; every decision about a source is
written to tools/substances/build_log.txt.
"""

from __future__ import annotations

import argparse
import csv
import gzip
import hashlib
import json
from pathlib import Path

import numpy as np
from chemicals.iapws import iapws95_rhol_sat
from constants import (
    R,
    collect,
    entry,
    estimated,
    first,
    heat_capacity,
    rackett_volume,
    without_outliers,
)
from readers import identities, measured_points, table
from sources import METHODS, TABLES, THROUGH
from structure import (
    atoms_per_kilogram,
    energetic_groups,
    identifiers,
    molecule,
    spellings,
)
from thermo.group_contribution.joback import Joback
from vapour import Fit, boiling_point_of, consensus, curves, fit, ln_pressure

HERE = Path(__file__).parent
OUT = HERE.parents[1] / "src" / "forerun" / "substances" / "data"
VALID_UP_TO_P = 101325.0


def main() -> None:
    """Build the file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--points", type=Path)
    options = parser.parse_args()
    tables = {
        key: table(key) for key, source in TABLES.items() if source.table and key != "pubchem"
    }
    points = measured_points(options.points) if options.points else {}
    with (HERE / "liquids.tsv").open(encoding="utf-8") as file:
        wanted = list(csv.DictReader(file, delimiter="\t"))
    known = identities({row["cas"] for row in wanted})
    log: list[str] = []
    rows = []
    for row in wanted:
        built = one(row, known, tables, points, log)
        if built:
            rows.append(built)
    fill_spreads(rows, log)
    write(rows)
    (HERE / "build_log.txt").write_text("\n".join(log) + "\n", encoding="utf-8")
    print(f"{len(rows)} of {len(wanted)} substances; {len(log)} remarks in build_log.txt")


def one(row, known, tables, points, log):
    """Build one record."""
    cas, name = row["cas"], row["name"]
    if cas not in known:
        log.append(f"{name}: no structure under {cas}, left out")
        return None
    smiles = known[cas]["smiles"]
    ids = identifiers(smiles)
    mass = ids["molar_mass"]
    tm = without_outliers(
        collect(
            tables,
            cas,
            [
                ("crc_constants", "Tm"),
                ("crc_inorganic", "Tm"),
                ("webbook", "Tm"),
                ("open_notebook_melting", "Tm"),
            ],
        ),
        3.0,
    )
    melting = entry(tm, 6)
    tb_printed = collect(
        tables,
        cas,
        [
            ("crc_constants", "Tb"),
            ("crc_inorganic", "Tb"),
            ("crc_vaporisation", "Tb"),
            ("webbook", "Tb"),
        ],
    )
    curve, reference = vapour_pressure(
        name, cas, ids["inchikey"], tables, points, tb_printed, melting, log
    )
    if curve is None:
        log.append(f"{name}: no vapour pressure from a whitelisted source, left out")
        return None
    tc, pc = critical(name, cas, smiles, tables, curve.boiling_point, log)
    return {
        "name": name,
        "synonyms": [s for s in row["synonyms"].split(";") if s],
        "cas": cas,
        **ids,
        "spellings": spellings(smiles),
        "melting_point": melting,
        "boiling_point": reference,
        "critical_temperature": tc,
        "critical_pressure": pc,
        "vapour_pressure": {
            "coefficients": list(curve.coefficients),
            "low": curve.low,
            "high": curve.high,
            "spread": curve.spread,
            "sources": list(curve.sources),
        },
        "latent_heat": latent_heat(name, cas, tables, curve, tc, pc, log),
        "heat_capacity": heat_capacity(
            tables, cas, curve.boiling_point, atoms_per_kilogram(smiles), 1e3 * mass
        ),
        "molar_volume": molar_volume(name, cas, tables, mass, tc, pc, curve, log),
        "refractive_index": entry(refractive_index(tables, cas), 5),
        "flash_point": entry(
            prefer(
                collect(
                    tables,
                    cas,
                    [("nfpa497", "T_flash"), ("iec60079", "T_flash"), ("wikidata", "T_flash")],
                )
            ),
            5,
        ),
        "autoignition": entry(
            prefer(
                collect(
                    tables,
                    cas,
                    [
                        ("nfpa497", "T_autoignition"),
                        ("iec60079", "T_autoignition"),
                        ("wikidata", "T_autoignition"),
                    ],
                )
            ),
            5,
        ),
        "lower_flammable_fraction": entry(
            prefer(
                collect(tables, cas, [("nfpa497", "LFL"), ("iec60079", "LFL"), ("wikidata", "LFL")])
            ),
            3,
        ),
        "peroxide_class": None,
        "energetic_groups": energetic_groups(smiles),
        "hazards": hazards(tables, cas),
        "dimerisation": None,
    }


def vapour_pressure(name, cas, inchikey, tables, points, printed, melting, log):
    """Accept the sources that agree on the boiling point, and fit them."""
    found = curves(cas, tables)
    measured = points.get(inchikey, [])
    votes = dict(printed)
    from_curves = {}
    for k, c in enumerate(found):
        tb = c.boiling_point()
        if tb is not None:
            from_curves[k] = tb
            votes[f"{c.source}#{k}"] = tb
    papers = boiling_point_of(measured)
    votes |= {"doi:" + k: v for k, v in papers.items()}
    if not votes or not (found or measured):
        return None, None
    for tolerance in (0.3, 0.6, 1.2, 2.5):
        tb, odd = consensus(votes, tolerance)
        accepted = [
            c
            for k, c in enumerate(found)
            if k not in from_curves or abs(from_curves[k] - tb) <= tolerance
        ]
        agreeing = [k for k, v in votes.items() if k not in odd]
        good_points = [p for p in measured if papers.get(p[0], tb) - tb <= tolerance]
        good_points = [p for p in good_points if abs(papers.get(p[0], tb) - tb) <= tolerance]
        if (accepted or len(good_points) > 5) and (len(agreeing) > 1 or len(votes) == 1):
            break
    for k in odd:
        log.append(f"{name}: {k} boils at {votes[k]:.2f} K, {votes[k] - tb:+.2f} K off: thrown out")
    if tolerance > 0.3:
        log.append(f"{name}: sources agree on the boiling point only within {tolerance} K")
    base = {k.split("#")[0]: v for k, v in votes.items() if k not in odd}
    reference = entry(base, 6)
    reference["value"] = round(tb, 2)
    result = fit(accepted, good_points, tb, melting["value"] if melting else None)
    if result and not abs(result.boiling_point - tb) <= 0.3:
        log.append(f"{name}: round trip {result.boiling_point:.2f} against {tb:.2f} K FAILS")
        return None, None
    return result, reference


def critical(name, cas, smiles, tables, tb, log):
    """Return critical temperature and pressure, estimated by Joback where nothing is printed."""
    tc = collect(
        tables,
        cas,
        [
            ("iupac_critical", "Tc"),
            ("crc_critical", "Tc"),
            ("mathews1972", "Tc"),
            ("webbook", "Tc"),
        ],
    )
    pc = collect(
        tables,
        cas,
        [
            ("iupac_critical", "Pc"),
            ("crc_critical", "Pc"),
            ("mathews1972", "Pc"),
            ("webbook", "Pc"),
        ],
    )
    tc = {k: v for k, v in tc.items() if v > 1.2 * tb}
    pc = {k: v for k, v in pc.items() if 5e5 < v < 3e7}
    t_out = entry(without_outliers(tc, 5.0), 6)
    p_out = entry(without_outliers(pc, 3e5), 5)
    if t_out is None or p_out is None:
        groups = Joback(molecule(smiles))
        if t_out is None:
            if groups.success:
                value = Joback.Tc(groups.counts, tb)
                t_out = estimated(value, 0.02 * value, ["joback1987"])
            else:
                t_out = estimated(1.5 * tb, 0.06 * tb, ["guldberg1890"])
                log.append(f"{name}: Tc from Guldberg's rule")
        if p_out is None:
            if groups.success:
                value = Joback.Pc(groups.counts, groups.atom_count)
                p_out = estimated(value, 0.08 * value, ["joback1987"])
            else:
                p_out = estimated(4.0e6, 8.0e5, ["typical_pc"])
                log.append(f"{name}: no Pc from any method")
    return t_out, p_out


def latent_heat(name, cas, tables, curve: Fit, tc, pc, log):
    """Return value at the boiling point, reference temperature, exponent."""
    tb = curve.boiling_point
    slope = -curve.coefficients[1] / tb**2 + curve.coefficients[2] / tb + curve.coefficients[3]
    tr = tb / tc["value"]
    pr = 101325.0 / pc["value"] if pc else 0.025
    # Haggenmacher: Z_vapour - Z_liquid = sqrt(1 - Pr/Tr^3)
    clausius = R * tb**2 * slope * np.sqrt(max(1.0 - pr / tr**3, 0.5))
    at_tb = {}
    value = first(tables, "crc_vaporisation", cas, "HvapTb")
    if value and value > 0:
        at_tb["crc_vaporisation"] = value
    at_298 = collect(
        tables,
        cas,
        [("crc_vaporisation", "Hvap298"), ("gharagheizi_hvap", "Hvap298"), ("webbook", "Hvap")],
    )
    tcv = tc["value"]
    exponent = 0.38
    if at_298 and at_tb and tb > 330.0:
        ratio = np.log(np.median(list(at_298.values())) / at_tb["crc_vaporisation"])
        exponent = float(np.clip(ratio / np.log((tcv - 298.15) / (tcv - tb)), 0.2, 0.6))
    exponent_sources = ["watson1943"]
    if at_tb:
        best = at_tb["crc_vaporisation"]
        if abs(best / clausius - 1.0) > 0.08 and cas not in ASSOCIATING:
            log.append(f"{name}: printed latent heat {best:.0f}, Clausius-Clapeyron {clausius:.0f}")
        spread = abs(best - clausius) / np.sqrt(2.0)
        sources, method = ["crc_vaporisation"], "measured"
    elif at_298:
        value = float(np.median(list(at_298.values())))
        from_298 = value * ((tcv - tb) / (tcv - 298.15)) ** exponent
        best = float(np.mean([from_298, clausius]))
        spread = abs(from_298 - clausius) / np.sqrt(2.0)
        sources, method = [*sorted(at_298), "clapeyron"], "correlated"
        if abs(from_298 / clausius - 1.0) > 0.12:
            log.append(f"{name}: latent heat from 298 K {from_298:.0f}, slope {clausius:.0f}")
    else:
        best, spread = float(clausius), 0.04 * float(clausius)
        sources, method = ["clapeyron"], "correlated"
    return {
        "value": float(f"{best:.5g}"),
        "reference_temperature": round(tb, 2),
        "exponent": round(exponent, 4),
        "spread": float(f"{spread:.2g}"),
        "sources": [*sources, *exponent_sources],
        "method": method,
    }


ASSOCIATING = {"64-18-6", "64-19-7", "79-09-4", "107-92-6", "79-31-2", "76-05-1", "109-52-4"}


def molar_volume(name, cas, tables, mass, tc, pc, curve, log):
    """Return v0, v1, v2 around 293.15 K."""
    rho = collect(tables, cas, [("crc_constants", "rho"), ("crc_inorganic", "rho")])
    rho = {k: v for k, v in rho.items() if 500 < v < 4000}
    if cas == "7732-18-5":
        return water_volume(mass)
    if not rho:
        log.append(f"{name}: no printed density, estimated")
        omega = acentric(curve, tc["value"], pc["value"])
        z = 0.29056 - 0.08775 * omega
        v = R * tc["value"] / pc["value"] * z ** (1.0 + (1.0 - 293.15 / tc["value"]) ** (2.0 / 7.0))
        volume, _ = rackett_volume(v, 293.15, tc["value"], pc["value"])
        return {
            "value": volume,
            "spread": float(f"{0.04 * v:.2g}"),
            "sources": ["yamada1973"],
            "method": "estimated",
        }
    value = float(np.median(list(rho.values())))
    (v0, v1, v2), z = rackett_volume(mass / value, 293.15, tc["value"], pc["value"])
    return {
        "value": [v0, v1, v2],
        "spread": float(f"{0.003 * v0:.2g}"),
        "sources": [*sorted(rho), "rackett1970"],
        "method": "correlated",
    }


def acentric(curve: Fit, tc: float, pc: float) -> float:
    """Return the acentric factor from the fit, straight in 1/T beyond its range."""
    t = 0.7 * tc
    inside = min(max(t, curve.low), curve.high)
    c = curve.coefficients
    slope = c[1] - c[2] * inside - c[3] * inside**2
    return -1.0 - (ln_pressure(c, inside) + slope * (1 / t - 1 / inside) - np.log(pc)) / np.log(
        10.0
    )


def water_volume(mass):
    """Return the molar volume of water, fitted to IAPWS-95 on the saturation line."""
    t = np.linspace(273.16, 393.15, 40)
    v = np.array([mass / iapws95_rhol_sat(float(k)) for k in t])
    v2, v1, v0 = np.polyfit(t - 293.15, v, 2)
    return {
        "value": [float(f"{k:.6g}") for k in (v0, v1, v2)],
        "spread": float(f"{np.std(v - np.polyval([v2, v1, v0], t - 293.15)):.2g}"),
        "sources": ["iapws95"],
        "method": "measured",
    }


def refractive_index(tables, cas):
    """Return refractive indices measured within 1 K of 293.15 K, or stated without temperature."""
    out = {}
    for row in tables["crc_index"].get(cas, []):
        if row["RI"] and row["RIT"] and abs(float(row["RIT"]) - 293.15) < 1.0:
            out["crc_index"] = float(row["RI"])
    return out


def prefer(values: dict[str, float]) -> dict[str, float]:
    """Leave Wikidata out where a standard speaks."""
    standards = {k: v for k, v in values.items() if k != "wikidata"}
    return standards or values


def hazards(tables, cas):
    """Return the statements of two public lists."""
    out = []
    for row in tables["iarc"].get(cas, []):
        group = {"1": "1", "11": "2A", "12": "2B", "3": "3"}.get(row["group"], "")
        if group in {"1", "2A", "2B"}:
            out.append([f"IARC group {group}", "iarc"])
    for row in tables["ntp"].get(cas, []):
        text = {"1": "known", "2": "reasonably anticipated"}.get(row["Listing"])
        if text:
            out.append([f"{text} to be a human carcinogen (NTP)", "ntp"])
    return out


def fill_spreads(rows, log) -> None:
    """Give single-source fits the median spread of the others."""
    known = [r["vapour_pressure"]["spread"] for r in rows if r["vapour_pressure"]["spread"]]
    pooled = float(np.median(known))
    log.append(f"median relative spread between sources: {pooled:.4f} over {len(known)} substances")
    for r in rows:
        v = r["vapour_pressure"]
        if v["spread"] is None:
            v["spread"] = 2.0 * pooled
            v["sources"] = [*v["sources"], "pooled"]
        v["spread"] = float(f"{v['spread']:.2g}")


def write(rows) -> None:
    """Write the data file and its checksum, the same bytes for the same input."""
    used = set()

    def walk(node) -> None:
        if isinstance(node, dict):
            used.update(k for k in node.get("sources", []) if not k.startswith("doi:"))
            for v in node.values():
                walk(v)
        elif isinstance(node, list):
            for v in node:
                walk(v)

    walk(rows)
    used |= {h[1] for r in rows for h in r["hazards"]} | {"pubchem", "atomic_weights"}
    used |= {"prudent2011", "rdkit_smarts", "trc_thermoml"}
    allowed = TABLES | METHODS
    sources = {
        k: {
            "citation": allowed[k].citation,
            "doi": allowed[k].doi,
            "provenance": THROUGH if allowed[k].table else "computed at build time",
        }
        for k in sorted(used)
    }
    body = {"format": 1, "sources": sources, "substances": rows}
    text = json.dumps(body, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    packed = gzip.compress(text.encode(), 9, mtime=0)
    OUT.mkdir(parents=True, exist_ok=True)
    (OUT / "liquids.json.gz").write_bytes(packed)
    digest = hashlib.sha256(packed).hexdigest()
    (OUT / "liquids.sha256").write_text(digest + "\n", encoding="utf-8")
    print(f"{len(text) / 1e3:.0f} kB, {len(packed) / 1e3:.0f} kB packed")


if __name__ == "__main__":
    main()
