"""Single constants: medians of whitelisted sources, or a named estimate that says so."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np
from chemicals.heat_capacity import (
    Dadgostar_Shaw,
    Zabransky_cubic,
    Zabransky_quasi_polynomial,
)
from chemicals.iapws import iapws95_rhol_sat
from groups_cp import heat_capacity_groups
from rdkit import Chem
from rdkit.Chem import Descriptors
from readers import Row, Tables
from structure import molecule
from thermo.group_contribution.joback import Joback

R = 8.31446261815324
WATER = "7732-18-5"
CP_CREDIBLE = 0.3  # relative distance from the groups beyond which a lone print is an error
Entry = dict[str, object]


def digits(value: float, count: int) -> float:
    """Round to a number of significant digits."""
    return float(f"{value:.{count}g}")


def entry(values: dict[str, float], count: int, tolerance: float | None = None) -> Entry | None:
    """Return median, spread between sources, sources and method; None without a source.

    Where three or more speak, those farther than the tolerance from the median are left out.
    """
    if len(values) >= 3 and tolerance is not None:
        middle = float(np.median(list(values.values())))
        values = {k: v for k, v in values.items() if abs(v - middle) <= tolerance}
    if not values:
        return None
    numbers = list(values.values())
    spread = digits(float(np.std(numbers, ddof=1)), 2) if len(numbers) > 1 else None
    value = digits(float(np.median(numbers)), count)
    return {"value": value, "spread": spread, "sources": sorted(values), "method": "measured"}


def estimated(value: float, spread: float, *sources: str, method: str = "estimated") -> Entry:
    """Return a value that a named method gave, with its band (one standard deviation)."""
    return {
        "value": digits(value, 6),
        "spread": digits(spread, 2),
        "sources": list(sources),
        "method": method,
    }


def critical(
    name: str, look: Tables, smiles: str, tb: float, log: list[str]
) -> tuple[Entry, Entry]:
    """Return critical temperature and pressure; Joback's estimate where nothing is printed."""
    keys = ("iupac_critical", "crc_critical", "mathews1972", "webbook")
    tc = {k: v for k, v in look.values("Tc", *keys).items() if 1.2 * tb < v < 2.0 * tb}
    pc = {k: v for k, v in look.values("Pc", *keys).items() if 8e5 < v < 3e7}
    t_out, p_out = entry(tc, 6, 5.0), entry(pc, 5, 3e5)
    if t_out and p_out:
        return t_out, p_out
    groups = Joback(molecule(smiles))
    if t_out is None and groups.success:
        value = Joback.Tc(groups.counts, tb)
        t_out = estimated(value, 0.02 * value, "joback1987")
    if p_out is None and groups.success:
        value = Joback.Pc(groups.counts, groups.atom_count)
        p_out = estimated(value, 0.08 * value, "joback1987")
    if t_out is None:
        log.append(f"{name}: critical temperature from Guldberg's rule")
        t_out = estimated(1.5 * tb, 0.08 * tb, "guldberg1890")
    if p_out is None:
        log.append(f"{name}: critical pressure unknown, a typical one taken")
        p_out = estimated(4.0e6, 1.0e6, "typical_pc")
    return t_out, p_out


def haggenmacher(t: float, slope: float, tc: float, pc: float, pressure: float = 101325.0) -> float:
    """Return the heat of vaporisation [J/mol] from d ln P/dT, vapour volume after Haggenmacher."""
    shrink = np.sqrt(max(1.0 - (pressure / pc) / (t / tc) ** 3, 0.5))
    return float(R * t * t * slope * shrink)


def latent_heat(
    name: str, look: Tables, tb: float, slope: float, tc: float, pc: float, z: float, log: list[str]
) -> Entry:
    """Return the heat at the boiling point and Watson's exponent.

    z is the part of an ideal volume that an associating vapour keeps (1 for others).
    """
    from_slope = haggenmacher(tb, slope, tc, pc) * z
    printed = look.values("HvapTb", "crc_vaporisation")
    at_298 = look.values("Hvap298", "crc_vaporisation", "gharagheizi_hvap")
    at_298 |= look.values("Hvap", "webbook")
    low = float(np.median(list(at_298.values()))) if at_298 else None
    watson = low * ((tc - tb) / (tc - 298.15)) ** 0.38 if low else None
    sources, method, best = ["clapeyron"], "correlated", from_slope
    spread = 0.04 * from_slope
    if printed:
        given = printed["crc_vaporisation"]
        if abs(given / from_slope - 1.0) <= 0.12:
            best, sources, method = given, ["crc_vaporisation"], "measured"
            spread = abs(given - from_slope) / np.sqrt(2.0)
        else:
            log.append(
                f"{name}: printed heat of vaporisation {given:.0f} J/mol, slope of the vapour "
                f"pressure {from_slope:.0f}: the slope taken"
            )
            spread = abs(given - from_slope) / 2.0
    elif watson and abs(watson / from_slope - 1.0) > 0.2:
        log.append(
            f"{name}: heat of vaporisation {from_slope:.0f} J/mol by slope, {watson:.0f} from 298 K"
        )
        spread = abs(watson - from_slope) / 2.0
    exponent = 0.38
    if low and tb > 330.0 and z == 1.0:
        exponent = np.log(low / best) / np.log((tc - 298.15) / (tc - tb))
        exponent = float(np.clip(exponent, 0.25, 0.65))
        sources = [*sources, *(k for k in at_298 if k not in sources)]
    return {
        "value": digits(best, 5),
        "reference_temperature": round(tb, 2),
        "exponent": round(exponent, 4),
        "spread": digits(spread, 2),
        "sources": [*sources, "watson1943"],
        "method": method,
    }


def heat_capacity(name: str, look: Tables, smiles: str, boiling: float, log: list[str]) -> Entry:
    """Return c0, c1 of J/mol/K = c0 + c1 (T - 298.15), from 285 K to the boiling point."""
    groups = heat_capacity_groups(smiles)
    points = look.values("Cpl", "crc_thermodynamic", "poling_cp")
    if groups and look.cas[0] != WATER:
        for key, value in list(points.items()):
            if abs(value / groups - 1.0) > CP_CREDIBLE:
                log.append(
                    f"{name}: {key} prints a heat capacity of {value} J/mol/K, its groups give "
                    f"{groups:.0f}: thrown out"
                )
                del points[key]
    samples, weights = _critical_review(look.rows("zabransky1996"), boiling, groups)
    steep = _relative_slope(smiles)
    if len(samples):
        return _reviewed(samples, weights, points, steep)
    if points:
        good = list(points.values())
        spread = float(np.std(good, ddof=1)) if len(good) > 1 else 0.02 * good[0]
        middle, method = float(np.median(good)), "correlated"
        sources = [*sorted(points), "dadgostar2012"]
    elif groups:
        # the groups hold at 293 K; 68 % of 309 measured values lie within 5.5 % of them
        middle, method = groups * (1.0 + 5.0 * steep), "estimated"
        spread, sources = 0.055 * middle, ["chueh1973", "dadgostar2012"]
    else:
        per_gram, mass = _atoms(smiles)
        middle, method = float(Dadgostar_Shaw(298.15, per_gram)) * mass, "estimated"
        spread, sources = 0.25 * middle, ["dadgostar2012"]
    return {
        "value": [digits(middle, 6), digits(steep * middle, 4)],
        "spread": digits(spread, 2),
        "sources": sources,
        "method": method,
    }


def _reviewed(
    samples: np.ndarray, weights: np.ndarray, points: dict[str, float], steep: float
) -> Entry:
    t, c = samples.T
    if np.ptp(t) > 25.0:
        c1, c0 = np.polyfit(t - 298.15, c, 1, w=np.sqrt(weights))
    else:
        c0 = float(np.average(c / (1.0 + steep * (t - 298.15)), weights=weights))
        c1 = steep * c0
    scatter = float(np.std(c - c0 - c1 * (t - 298.15)))
    between = float(np.std([c0, *points.values()], ddof=1)) if points else 0.0
    return {
        "value": [digits(float(c0), 6), digits(float(c1), 4)],
        "spread": digits(max(scatter, between), 2),
        "sources": ["zabransky1996"],
        "method": "measured",
    }


def _atoms(smiles: str) -> tuple[float, float]:
    mol = Chem.AddHs(molecule(smiles))
    mass = Descriptors.MolWt(mol)
    return mol.GetNumAtoms() / mass, 1e-3 * mass


def _relative_slope(smiles: str) -> float:
    """Return d ln c / dT [1/K] at room temperature by the similarity correlation."""
    per_gram, _ = _atoms(smiles)
    low, high = (float(Dadgostar_Shaw(t, per_gram)) for t in (298.15, 348.15))
    return (high / low - 1.0) / 50.0


def _critical_review(
    rows: list[Row], boiling: float, groups: float | None
) -> tuple[np.ndarray, np.ndarray]:
    low, high = 285.0, max(min(boiling, 520.0), 310.0)
    grade = {"I": 8.0, "II": 4.0, "III": 2.0, "IV": 1.0}
    samples, weights = [], []
    for row in rows:
        a, b = max(float(row["Tmin"]), low), min(float(row["Tmax"]), high)
        for t in np.linspace(a, b, 15) if b > a else []:
            samples.append((float(t), _zabransky(row, float(t))))
            weights.append(grade.get(row["Uncertainty"], 0.5))
    found, graded = np.array(samples), np.array(weights)
    if len(found) and groups and np.std(found[:, 1]) > 0.15 * np.mean(found[:, 1]):
        # sets that contradict each other: those far from the groups go, if any is left
        near = abs(found[:, 1] / groups - 1.0) < CP_CREDIBLE
        if near.any():
            return found[near], graded[near]
    return found, graded


def _zabransky(row: Row, t: float) -> float:
    spline = [float(row[f"A{k}-spline"]) for k in range(1, 5)]
    if any(spline):
        return float(Zabransky_cubic(t, *spline))
    terms = [float(row[f"A{k}-quasi"]) for k in range(1, 7)]
    return float(Zabransky_quasi_polynomial(t, float(row["Tc"]), *terms))


def printed_density(look: Tables) -> tuple[float, float, str] | None:
    """Return density [kg/m3], its temperature [K] and the source.

    The handbook prints the temperature as an exponent, which the table fused to the digits:
    0.7893 with exponent 20 stands as 789.32. Without it 25 degC is meant (inorganic table).
    """
    for key in ("crc_constants", "crc_inorganic"):
        for value in look.values("rho", key).values():
            if not 500.0 < value < 4000.0:
                continue
            split = _split_exponent(value)
            if split:
                return *split, key
            return value, 298.15, key
    return None


def _split_exponent(value: float) -> tuple[float, float] | None:
    """Split 789.32 into 789.3 kg/m3 and 293.15 K: four or three decimals, then two of degrees."""
    whole, fraction = f"{value / 1000.0:.6f}".split(".")
    for known in (("20", "25"), DEGREES):
        for places in (4, 3):
            degrees, rest = fraction[places : places + 2], fraction[places + 2 :].strip("0")
            if not rest and degrees in known:
                return float(f"{whole}.{fraction[:places]}") * 1e3, 273.15 + int(degrees)
    return None


@cache
def _by_hand() -> dict[str, tuple[float, float, str]]:
    """Return densities that the handbook table lacks, or prints with a wrong temperature."""
    with (Path(__file__).parent / "densities.tsv").open(encoding="utf-8") as file:
        return {
            row["name"]: (
                float(row["density_kg_m3"]),
                273.15 + float(row["temperature_C"]),
                row["source"],
            )
            for row in csv.DictReader(file, delimiter="\t")
        }


DEGREES = {f"{k:02d}" for k in range(10, 31)} | {"35", "38", "39", "40", "45", "50", "60"}


def molar_volume(
    name: str, look: Tables, mass: float, tc: float, pc: float, omega: float, log: list[str]
) -> Entry:
    """Return v0, v1, v2 around 293.15 K by Rackett's temperature function."""
    if look.cas[0] == WATER:
        return _water_volume(mass)
    density = _by_hand().get(name) or printed_density(look)
    if density:
        rho, at, key = density
        reference, sources, method, spread = mass / rho, [key, "rackett1970"], "correlated", 0.002
    else:
        log.append(f"{name}: no printed density, estimated from the critical point")
        z, at = 0.29056 - 0.08775 * omega, 293.15
        reference = R * tc / pc * z ** (1.0 + (1.0 - at / tc) ** (2.0 / 7.0))
        sources, method, spread = ["yamada1973"], "estimated", 0.05
    value = _rackett(reference, at, tc, pc)
    return {
        "value": value,
        "spread": digits(spread * value[0], 2),
        "sources": sources,
        "method": method,
    }


def _rackett(reference: float, at: float, tc: float, pc: float) -> list[float]:
    power = 2.0 / 7.0
    z = (reference * pc / (R * tc)) ** (1.0 / (1.0 + (1.0 - at / tc) ** power))
    t = np.linspace(273.15, max(min(0.85 * tc, 493.15), 313.15), 30)
    v = reference * z ** ((1.0 - t / tc) ** power - (1.0 - at / tc) ** power)
    v2, v1, v0 = np.polyfit(t - 293.15, v, 2)
    return [digits(float(k), 6) for k in (v0, v1, v2)]


def _water_volume(mass: float) -> Entry:
    t = np.linspace(273.16, 393.15, 40)
    v = np.array([mass / iapws95_rhol_sat(float(k)) for k in t])
    fitted = np.polyfit(t - 293.15, v, 2)
    return {
        "value": [digits(float(k), 6) for k in fitted[::-1]],
        "spread": digits(float(np.std(v - np.polyval(fitted, t - 293.15))), 2),
        "sources": ["iapws95"],
        "method": "measured",
    }
