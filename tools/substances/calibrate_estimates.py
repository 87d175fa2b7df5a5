"""Measure the methods of estimation against the liquids of the catalogue.

    python tools/substances/calibrate_estimates.py

writes ``src/forerun/substances/data/estimation_bands.json`` (half-width that holds 80 % of the
liquids, for each method) and the table in ``docs/explain/structures.md``. Nothing is fitted: the
coefficients of the methods are those of their papers. Only liquids whose constant was measured
count; the papers fitted their coefficients to many of them, so that a stranger may fare worse.
"""

from __future__ import annotations

import json
import math
from collections import defaultdict
from pathlib import Path

import numpy as np

from forerun.substances import estimates
from forerun.substances.catalogue import all_substances
from forerun.substances.correlations import boiling_temperature
from forerun.substances.estimating_heat import heat_capacity_chueh1973, heat_capacity_dadgostar2012
from forerun.substances.estimating_nannoolal import nannoolal_sums
from forerun.substances.estimating_volume import density_girolami1994
from forerun.substances.model import Substance
from forerun.substances.molecules import Molecule
from forerun.substances.smiles import molecule_from_smiles

ROOT = Path(__file__).resolve().parents[2]
BANDS = ROOT / "src/forerun/substances/data/estimation_bands.json"
PAGE = ROOT / "docs/explain/structures.md"
START, END = "<!-- measured -->", "<!-- end of measured -->"
WORDS = {
    "boiling_nannoolal": ("boiling point", "Nannoolal 2004", "K"),
    "boiling_nannoolal_coarse": (
        "the same, few atoms or several polar groups",
        "Nannoolal 2004",
        "K",
    ),
    "boiling_joback": ("boiling point, where those groups end", "Joback 1987", "K"),
    "boiling_20mbar": ("boiling point at 20 mbar", "the above with Nannoolal 2008", "K"),
    "critical_temperature": ("critical temperature", "Nannoolal 2007, Joback 1987", "%"),
    "critical_pressure": ("critical pressure", "Nannoolal 2007, Joback 1987", "%"),
    "latent_heat": ("latent heat", "slope of the vapour pressure", "%"),
    "volume_schroeder": ("density, 20 °C", "Schroeder 1949, Rackett 1970", "%"),
    "volume_girolami": ("the same, Si, P, B", "Girolami 1994", "%"),
    "refractive_index": ("refractive index, 20 °C", "Eisenlohr 1911", "-"),
    "flash_point": ("flash point, from measured boiling points", "Catoire & Naudet 2004", "K"),
    "lower_flammable": ("lower flammable limit", "Jones 1938", "%"),
    "heat_capacity_chueh": ("heat capacity", "Chueh & Swanson 1973", "%"),
    "heat_capacity_dadgostar": ("heat capacity from elements", "Dadgostar & Shaw 2012", "%"),
}
SCALE = {"K": 1.0, "%": 100.0, "-": 1.0}


def misses() -> dict[str, list[tuple[float, str]]]:
    """Return estimated minus measured (K, relative, or absolute) by method, with the name."""
    found: dict[str, list[tuple[float, str]]] = defaultdict(list)
    for substance in all_substances():
        molecule = molecule_from_smiles(substance.smiles)
        for key, miss in _of(substance, molecule):
            found[key].append((miss, substance.name))
    return found


def _of(s: Substance, molecule: Molecule) -> list[tuple[str, float]]:
    out: list[tuple[str, float]] = []
    if "C" not in molecule.counts:
        return out
    if s.molar_volume.method != "estimated":
        guess = molecule.molar_mass / density_girolami1994(molecule)
        out.append(("volume_girolami", guess / s.molar_volume.v0 - 1.0))
    if s.heat_capacity.method != "estimated":
        c0, c1 = s.heat_capacity.c0, s.heat_capacity.c1
        whole = heat_capacity_dadgostar2012(298.15, molecule)
        out.append(("heat_capacity_dadgostar", whole / c0 - 1.0))
        groups, _ = heat_capacity_chueh1973(molecule)
        if groups is not None:
            out.append(("heat_capacity_chueh", groups / (c0 - 5.0 * c1) - 1.0))
    out += _fire(s, molecule)
    try:
        guessed = estimates.estimates_of(molecule)
    except estimates.NotCovered:
        return out
    sums, _ = nannoolal_sums(molecule)
    key = "boiling_joback"
    if sums is not None:
        key = estimates.boiling_class(molecule, sums.interacting)
    out.append((key, guessed.boiling_point.value - s.boiling_point.value))
    if s.critical_temperature.method == "measured":
        ratio = guessed.critical_temperature.value / s.critical_temperature.value
        out.append(("critical_temperature", ratio - 1.0))
    if s.critical_pressure.method == "measured":
        ratio = guessed.critical_pressure.value / s.critical_pressure.value
        out.append(("critical_pressure", ratio - 1.0))
    if s.latent_heat.method != "estimated":
        out.append(("latent_heat", guessed.latent_heat.value / s.latent_heat.value - 1.0))
    if s.molar_volume.method != "estimated" and "schroeder1949" in guessed.volume.sources:
        out.append(("volume_schroeder", guessed.volume.value / s.molar_volume.v0 - 1.0))
        if s.refractive_index is not None and guessed.refractive_index is not None:
            miss = guessed.refractive_index.value - s.refractive_index.value
            out.append(("refractive_index", miss))
    at = boiling_temperature(s, 2000.0)
    if at.state == "ok":
        out.append(("boiling_20mbar", _boils(guessed, 2000.0) - at.temperature))
    return out


def _fire(s: Substance, molecule: Molecule) -> list[tuple[str, float]]:
    out = []
    flash = estimates.flash_point_of(
        molecule, s.boiling_point.value, s.latent_heat.value, s.critical_temperature.value
    )
    if flash and s.flash_point and s.flash_point.method == "measured":
        out.append(("flash_point", flash.value - s.flash_point.value))
    limit = estimates.lower_flammable_fraction_of(molecule)
    known = s.lower_flammable_fraction
    if limit and known and known.method == "measured":
        out.append(("lower_flammable", limit.value / known.value - 1.0))
    return out


def _boils(guessed: estimates.Estimates, pressure: float) -> float:
    a, b, c, d = guessed.vapour_pressure.coefficients
    t = np.linspace(200.0, 800.0, 60001)
    ln_p = a + b / t + c * np.log(t) + d * t
    return float(np.interp(math.log(pressure), ln_p, t))


def main() -> None:
    """Write the bands and the page."""
    found = misses()
    methods = {}
    rows = [
        "| property | method | liquids | median miss | 80 % within | 90 % within | worst |",
        "|---|---|---|---|---|---|---|",
    ]
    for key, (what, method, unit) in WORDS.items():
        sizes = np.abs([m for m, _ in found[key]])
        middle, most, nine = (float(np.quantile(sizes, q)) for q in (0.5, 0.8, 0.9))
        methods[key] = {
            "half_width_80": float(f"{most:.3g}"),
            "median": float(f"{middle:.3g}"),
            "half_width_90": float(f"{nine:.3g}"),
            "liquids": int(sizes.size),
        }
        worst = ", ".join(n for _, n in sorted(found[key], key=lambda r: -abs(r[0]))[:3])
        numbers = (f"{SCALE[unit] * v:.2g} {unit}".rstrip("- ") for v in (middle, most, nine))
        rows.append(f"| {what} | {method} | {sizes.size} | {' | '.join(numbers)} | {worst} |")
    body = {
        "measured": "against the liquids of the catalogue whose constant was measured",
        "methods": methods,
    }
    BANDS.write_text(json.dumps(body, indent=1) + "\n", encoding="utf-8")
    if PAGE.is_file():
        text = PAGE.read_text("utf-8")
        head, rest = text.split(START)
        _, tail = rest.split(END)
        PAGE.write_text(f"{head}{START}\n{chr(10).join(rows)}\n{END}{tail}", encoding="utf-8")
    print("\n".join(rows))


if __name__ == "__main__":
    main()
