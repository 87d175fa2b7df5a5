"""Constants of a liquid from its structure: which method speaks, and how far to trust it.

The half-widths of the bands were measured: each method against the liquids of the catalogue
(``tools/substances/calibrate_estimates.py``), none of whose values entered the methods here.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from forerun.core.errors import NotCovered
from forerun.substances.claiming import FOLDER, atom_in_words
from forerun.substances.estimating_fire import (
    burns_as_its_elements,
    flash_point_catoire2004,
    lower_flammable_fraction_jones1938,
)
from forerun.substances.estimating_heat import heat_capacity_chueh1973, heat_capacity_dadgostar2012
from forerun.substances.estimating_joback import (
    boiling_point_joback1987,
    critical_pressure_joback1987,
    critical_temperature_joback1987,
    joback_groups,
)
from forerun.substances.estimating_nannoolal import (
    NannoolalSums,
    boiling_point_nannoolal2004,
    critical_pressure_nannoolal2007,
    critical_temperature_nannoolal2007,
    ln_pressure_nannoolal2008,
    nannoolal_sums,
)
from forerun.substances.estimating_refraction import (
    molar_refraction_eisenlohr1911,
    refractive_index_lorentz_lorenz,
)
from forerun.substances.estimating_volume import (
    boiling_volume_schroeder1949,
    density_girolami1994,
    volume_ratio_rackett1970,
)
from forerun.substances.molecules import Molecule
from forerun.substances.structure_signs import acid_groups

__all__ = [
    "Estimate",
    "Estimates",
    "VapourPressureEstimate",
    "boiling_class",
    "estimates_of",
    "flash_point_of",
    "half_widths",
    "ln_pressure_lee1975",
    "lower_flammable_fraction_of",
]

Floats = npt.NDArray[np.float64]

R = 8.31446261815324  # J/mol/K
ATMOSPHERE = 101325.0  # Pa
NORMAL_QUANTILE_90 = 1.2815515655446004
_RACKETT = 0.27  # typical of organic liquids, common practice, no source
_LOWEST, _HIGHEST = 50.0, 3.0e5  # Pa between which the vapour pressure is carried
_HOTTEST = 750.0  # K: an estimated boiling point beyond it belongs to nothing that distils
_WATSON = 0.38  # exponent of the heat of vaporisation
_FLASH_SLOPE = 0.7  # K of flash point for a kelvin of boiling point, from the equation itself
_FEW_ATOMS = 4  # other than hydrogen: group methods are coarse below
_DIMER = (-136.0 / R - math.log(1.0e5), 58500.0 / R)  # ln(K Pa) = A + B/T of acetic to valeric acid


@dataclass(frozen=True, slots=True)
class Estimate:
    """One estimated constant.

    Args:
        value: [SI].
        spread: one standard deviation [as the value].
        sources: keys of the references.
    """

    value: float
    spread: float
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class VapourPressureEstimate:
    """An estimated vapour pressure as coefficients.

    Args:
        coefficients: A [-], B [K], C [-], D [1/K] of ln(P/Pa) = A + B/T + C ln T + D T.
        low: lowest temperature [K].
        high: highest temperature [K].
        spread: relative, one standard deviation, where it boils at a tenth of an atmosphere [-].
        temperature_spread: one standard deviation of a boiling point [K].
        slope: d ln P/dT at the normal boiling point [1/K].
        sources: keys of the references.
    """

    coefficients: tuple[float, float, float, float]
    low: float
    high: float
    spread: float
    temperature_spread: float
    slope: float
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Estimates:
    """Everything that is estimated for one structure.

    Args:
        boiling_point: [K].
        critical_temperature: [K].
        critical_pressure: [Pa].
        vapour_pressure: as coefficients.
        latent_heat: at the boiling point [J/mol].
        heat_capacity: of the liquid at 298.15 K [J/mol/K].
        heat_capacity_slope: [J/mol/K2].
        molar_volume: three coefficients about 293.15 K [m3/mol, m3/mol/K, m3/mol/K2].
        volume: at 293.15 K [m3/mol].
        refractive_index: at 293.15 K [-]; None where a contribution is missing.
        flash_point: closed cup [K]; None with other elements than C, H, O, N, S.
        lower_flammable_fraction: in air [-]; None for the same.
        dimer: A [-], B [K] of ln(K Pa) = A + B/T of the vapour; None for other than
            simple carboxylic acids.
        missing: what could not be estimated and why, in words.
    """

    boiling_point: Estimate
    critical_temperature: Estimate
    critical_pressure: Estimate
    vapour_pressure: VapourPressureEstimate
    latent_heat: Estimate
    heat_capacity: Estimate
    heat_capacity_slope: float
    molar_volume: tuple[float, float, float]
    volume: Estimate
    refractive_index: Estimate | None
    flash_point: Estimate | None
    lower_flammable_fraction: Estimate | None
    dimer: tuple[float, float] | None
    missing: tuple[str, ...]


@cache
def half_widths() -> dict[str, float]:
    """Return the half-width of the 80 % band of each method.

    Returns:
        half-widths by method [K], relative [-] or, for the refractive index, absolute [-].

    Not a published model: quantiles over the liquids of the catalogue, valid for such liquids.
    """
    body = json.loads((FOLDER / "estimation_bands.json").read_text("utf-8"))
    return {key: float(row["half_width_80"]) for key, row in body["methods"].items()}


def _sigma(key: str) -> float:
    return half_widths()[key] / NORMAL_QUANTILE_90


def estimates_of(molecule: Molecule) -> Estimates:
    """Return all constants that can be estimated for a molecule.

    Args:
        molecule: neutral, one piece, with carbon.

    Returns:
        The estimates; each names its method.

    Raises:
        NotCovered: no method can describe a part of it, which is named; or it boils too high.
    """
    sums, left = nannoolal_sums(molecule)
    core = _from_joback(molecule, left) if sums is None else _from_nannoolal(molecule, sums)
    tb, tc, pc, vapour = core
    if tb.value > _HOTTEST:
        raise NotCovered(
            "The structure",
            f"its boiling point would be about {tb.value - 273.15:.0f} °C",
            "It does not distil; look for another way to purify it.",
        )
    missing: list[str] = []
    dimer = _DIMER if acid_groups(molecule) == 1 else None
    capacity, slope = _heat_capacity(molecule, missing)
    volume, coefficients = _volume(molecule, tb, tc)
    heat = _latent_heat(tb, tc, pc, vapour, dimer)
    return Estimates(
        boiling_point=tb,
        critical_temperature=tc,
        critical_pressure=pc,
        vapour_pressure=vapour,
        latent_heat=heat,
        heat_capacity=capacity,
        heat_capacity_slope=slope,
        molar_volume=coefficients,
        volume=volume,
        refractive_index=_refraction(molecule, volume, missing),
        flash_point=flash_point_of(molecule, tb.value, heat.value, tc.value, tb.spread),
        lower_flammable_fraction=lower_flammable_fraction_of(molecule),
        dimer=dimer,
        missing=tuple(missing),
    )


_Core = tuple[Estimate, Estimate, Estimate, VapourPressureEstimate]


def boiling_class(molecule: Molecule, interacting: int) -> str:
    """Return which band of the boiling point applies.

    Args:
        molecule: the molecule.
        interacting: how many of its groups interact.
    """
    coarse = len(molecule.atoms) <= _FEW_ATOMS or interacting > 1
    return "boiling_nannoolal_coarse" if coarse else "boiling_nannoolal"


def _from_nannoolal(molecule: Molecule, sums: NannoolalSums) -> _Core:
    value = boiling_point_nannoolal2004(sums)
    tb = Estimate(value, _sigma(boiling_class(molecule, sums.interacting)), ("nannoolal2004",))
    critical = critical_temperature_nannoolal2007(sums, value)
    tc = Estimate(critical, _sigma("critical_temperature") * critical, ("nannoolal2007",))
    pressure = critical_pressure_nannoolal2007(sums)
    pc = Estimate(pressure, _sigma("critical_pressure") * pressure, ("nannoolal2007",))
    grid = _grid(value, critical)
    ln_p = [math.log(ATMOSPHERE) + ln_pressure_nannoolal2008(t, value, sums) for t in grid.tolist()]
    return tb, tc, pc, _fitted(grid, ln_p, tb, ("nannoolal2008",))


def _from_joback(molecule: Molecule, unclaimed: Sequence[int]) -> _Core:
    groups, left = joback_groups(molecule)
    value = None if left else boiling_point_joback1987(groups)
    critical = None if value is None else critical_temperature_joback1987(groups, value)
    pressure = critical_pressure_joback1987(groups, sum(molecule.counts.values()))
    if value is None or critical is None or pressure is None:
        atoms = dict.fromkeys(atom_in_words(molecule, k) for k in (left or unclaimed))
        raise NotCovered(
            "The structure",
            f"no contribution to the boiling point for {'; '.join(atoms)}",
            "Measure its boiling point, or take a substance of the file that is close to it.",
        )
    tb = Estimate(value, _sigma("boiling_joback"), ("joback1987",))
    tc = Estimate(critical, _sigma("critical_temperature") * critical, ("joback1987",))
    pc = Estimate(pressure, _sigma("critical_pressure") * pressure, ("joback1987",))
    grid = _grid(value, critical)
    ln_p = [ln_pressure_lee1975(t, value, critical, pressure) for t in grid.tolist()]
    return tb, tc, pc, _fitted(grid, ln_p, tb, ("lee1975",))


def ln_pressure_lee1975(
    temperature: float, boiling_point: float, critical_temperature: float, critical_pressure: float
) -> float:
    """Return ln of the vapour pressure by corresponding states.

    Args:
        temperature: [K], below the critical one.
        boiling_point: at 101325 Pa [K].
        critical_temperature: [K].
        critical_pressure: [Pa].

    Returns:
        ln(P/Pa) [-]; valid between 0.5 and 0.95 of the critical temperature, coarse for alcohols.

    Source:
        Lee & Kesler, AIChE J. 21 (1975) 510, doi:10.1002/aic.690210313, equations 16 and 17, the
        acentric factor from the boiling point.
    """
    simple, other = _lee_kesler(boiling_point / critical_temperature)
    acentric = (math.log(ATMOSPHERE / critical_pressure) - simple) / other
    simple, other = _lee_kesler(temperature / critical_temperature)
    return math.log(critical_pressure) + simple + acentric * other


def _lee_kesler(t: float) -> tuple[float, float]:
    simple = 5.92714 - 6.09648 / t - 1.28862 * math.log(t) + 0.169347 * t**6
    other = 15.2518 - 15.6875 / t - 13.4721 * math.log(t) + 0.43577 * t**6
    return simple, other


def _grid(boiling_point: float, critical_temperature: float) -> Floats:
    high = min(1.15 * boiling_point, 0.95 * critical_temperature)
    return np.linspace(0.58 * boiling_point, high, 60)


def _fitted(
    grid: Floats,
    ln_pressure: Sequence[float],
    boiling_point: Estimate,
    sources: tuple[str, ...],
) -> VapourPressureEstimate:
    """Carry the method's curve over to the catalogue's equation, between 0.5 mbar and 3 bar."""
    values = np.asarray(ln_pressure)
    keep = (values > math.log(_LOWEST)) & (values < math.log(_HIGHEST))
    t, values = grid[keep], values[keep]
    columns = np.stack([np.ones_like(t), 1.0 / t, np.log(t), t], axis=1)
    scale = np.abs(columns).max(axis=0)
    a, b, c, d = (np.linalg.lstsq(columns / scale, values, rcond=None)[0] / scale).tolist()
    tb = boiling_point.value
    a += math.log(ATMOSPHERE) - (a + b / tb + c * math.log(tb) + d * tb)  # exact where it matters

    def slope(at: float) -> float:
        return float(-b / at**2 + c / at + d)

    tenth = float(np.interp(math.log(0.1 * ATMOSPHERE), values, t))
    return VapourPressureEstimate(
        coefficients=(a, b, c, d),
        low=float(t[0]),
        high=float(t[-1]),
        spread=boiling_point.spread * slope(tenth),
        temperature_spread=boiling_point.spread,
        slope=slope(tb),
        sources=(*boiling_point.sources, *(s for s in sources if s not in boiling_point.sources)),
    )


def _latent_heat(
    tb: Estimate,
    tc: Estimate,
    pc: Estimate,
    vapour: VapourPressureEstimate,
    dimer: tuple[float, float] | None,
) -> Estimate:
    """Return the heat of vaporisation from the slope, the vapour's volume after Haggenmacher."""
    shrink = math.sqrt(max(1.0 - (ATMOSPHERE / pc.value) / (tb.value / tc.value) ** 3, 0.5))
    kept = 1.0
    if dimer is not None:
        k = math.exp(dimer[0] + dimer[1] / tb.value)
        monomer = (math.sqrt(1.0 + 4.0 * k * ATMOSPHERE) - 1.0) / (2.0 * k)
        kept = ATMOSPHERE / (2.0 * ATMOSPHERE - monomer)
    value = R * tb.value**2 * vapour.slope * shrink * kept
    sources = (*vapour.sources, "clapeyron", *(("flow1999",) if dimer else ()), "watson1943")
    return Estimate(value, _sigma("latent_heat") * value, sources)


def _heat_capacity(molecule: Molecule, missing: list[str]) -> tuple[Estimate, float]:
    whole = heat_capacity_dadgostar2012(298.15, molecule)
    steep = (heat_capacity_dadgostar2012(348.15, molecule) / whole - 1.0) / 50.0
    value, left = heat_capacity_chueh1973(molecule)
    if value is None:
        atoms = dict.fromkeys(atom_in_words(molecule, k) for k in left)
        missing.append(
            f"no group for the heat capacity of {'; '.join(atoms)}: taken from its elements"
        )
        spread = _sigma("heat_capacity_dadgostar") * whole
        return Estimate(whole, spread, ("dadgostar2012",)), steep * whole
    middle = value * (1.0 + 5.0 * steep)
    spread = _sigma("heat_capacity_chueh") * middle
    return Estimate(middle, spread, ("chueh1973", "dadgostar2012")), steep * middle


def _volume(
    molecule: Molecule, tb: Estimate, tc: Estimate
) -> tuple[Estimate, tuple[float, float, float]]:
    """Return the volume at 293.15 K and the parabola, Rackett's function between."""
    try:
        at_boiling = boiling_volume_schroeder1949(molecule)
        key, sources = "volume_schroeder", ("schroeder1949", "yamada1973")
        reference, at = at_boiling, tb.value
    except NotCovered:
        reference, at = molecule.molar_mass / density_girolami1994(molecule), 293.15
        key, sources = "volume_girolami", ("girolami1994", "yamada1973")
    t = np.linspace(273.15, max(min(0.85 * tc.value, 493.15), 313.15), 30)
    v = [reference * volume_ratio_rackett1970(k, at, tc.value, _RACKETT) for k in t.tolist()]
    v2, v1, v0 = np.polyfit(t - 293.15, v, 2).tolist()
    return Estimate(v0, _sigma(key) * v0, sources), (v0, v1, v2)


def _refraction(molecule: Molecule, volume: Estimate, missing: list[str]) -> Estimate | None:
    refraction, left = molar_refraction_eisenlohr1911(molecule)
    if refraction is None:
        atoms = dict.fromkeys(atom_in_words(molecule, k) for k in left)
        missing.append(f"no refractive index: no contribution for {'; '.join(atoms)}")
        return None
    value = refractive_index_lorentz_lorenz(refraction, volume.value)
    sources = ("eisenlohr1911", *volume.sources)
    return Estimate(value, _sigma("refractive_index"), sources)


def flash_point_of(
    molecule: Molecule,
    boiling_point: float,
    latent_heat: float,
    critical_temperature: float,
    doubt: float = 0.0,
) -> Estimate | None:
    """Return an estimated flash point with its band.

    Args:
        molecule: the molecule.
        boiling_point: at 101325 Pa [K].
        latent_heat: at the boiling point [J/mol].
        critical_temperature: [K].
        doubt: standard deviation of the boiling point [K].

    Returns:
        flash point [K]; None for molecules that the equation was not made for.

    Derivation:
        `flash_point_catoire2004` with the heat at 298 K by Watson's rule; it follows the boiling
        point by about 0.7 K for a kelvin. Valid where that equation is.
    """
    if not burns_as_its_elements(molecule):
        return None
    left = max(critical_temperature - 298.15, 1.0) / (critical_temperature - boiling_point)
    heat = latent_heat * left**_WATSON
    value = flash_point_catoire2004(boiling_point, heat, molecule.counts["C"])
    return Estimate(
        value, math.hypot(_sigma("flash_point"), _FLASH_SLOPE * doubt), ("catoire2004",)
    )


def lower_flammable_fraction_of(molecule: Molecule) -> Estimate | None:
    """Return an estimated lower flammable limit with its band.

    Args:
        molecule: the molecule.

    Returns:
        volume fraction [-]; None for molecules that the rule was not made for.

    Derivation:
        `lower_flammable_fraction_jones1938`; valid where that rule is.
    """
    if not burns_as_its_elements(molecule):
        return None
    value = lower_flammable_fraction_jones1938(molecule)
    return Estimate(value, _sigma("lower_flammable") * value, ("jones1938",))
