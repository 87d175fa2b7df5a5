"""A substance and its constants: plain frozen data, every value with where it came from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = [
    "Dimerisation",
    "HeatCapacity",
    "LatentHeat",
    "Method",
    "MolarVolume",
    "Sourced",
    "Stated",
    "Substance",
    "VapourPressureFit",
]

Method = Literal["measured", "correlated", "estimated"]


@dataclass(frozen=True, slots=True)
class Sourced:
    """One constant.

    Args:
        value: the median over its sources, SI; for fire data that of the first standard
            [unit of the quantity].
        spread: one standard deviation between sources, or of the method [as the value]; None
            where one source stands alone.
        sources: keys of the references.
        method: measured; correlated (computed from measured values by a published relation);
            estimated (from structure alone, the spread is that of the method).
        lowest: for fire data, the lowest value among the sources, in the unit of the value
            [see there]: what a safety limit takes; None elsewhere.
    """

    value: float
    spread: float | None
    sources: tuple[str, ...]
    method: Method
    lowest: float | None = None


@dataclass(frozen=True, slots=True)
class Stated:
    """A statement in words with where it was found.

    Args:
        value: the words.
        sources: keys of the references.
        method: measured where a list states it.
        spread: always None, so that a statement can stand where a constant does.
    """

    value: str
    sources: tuple[str, ...]
    method: Method
    spread: None = None


@dataclass(frozen=True, slots=True)
class VapourPressureFit:
    """ln(P/Pa) = A + B/T + C ln T + D T between two temperatures.

    Args:
        coefficients: A [-], B [K], C [-], D [1/K].
        temperature_low: lowest temperature [K] at which the equation is used; below it ln P
            goes on straight in 1/T.
        temperature_high: highest such temperature [K].
        data_low: lowest temperature [K] that a source reaches; between it and
            ``temperature_low`` the equation is an extrapolation with the slope of a liquid.
        data_high: highest temperature [K] that a source reaches.
        spread: relative spread between sources, one standard deviation [-].
        sources: keys of the references; ``doi:...`` names the paper of measured points.
        temperature_spread: one standard deviation that a boiling point has at least [K]; that of
            the method where the whole curve is estimated from structure, else 0.
        method: correlated, or estimated from structure.
    """

    coefficients: tuple[float, float, float, float]
    temperature_low: float
    temperature_high: float
    data_low: float
    data_high: float
    spread: float
    sources: tuple[str, ...]
    temperature_spread: float = 0.0
    method: Method = "correlated"


@dataclass(frozen=True, slots=True)
class LatentHeat:
    """Heat of vaporisation at one temperature and Watson's exponent.

    Args:
        value: heat of vaporisation [J/mol] at the reference temperature.
        reference_temperature: [K], the normal boiling point.
        exponent: of (Tc - T)/(Tc - T_reference) [-].
        spread: one standard deviation [J/mol].
        sources: keys of the references.
        method: measured, correlated or estimated.
    """

    value: float
    reference_temperature: float
    exponent: float
    spread: float
    sources: tuple[str, ...]
    method: Method


@dataclass(frozen=True, slots=True)
class HeatCapacity:
    """Liquid heat capacity c0 + c1 (T - 298.15 K).

    Args:
        c0: [J/mol/K] at 298.15 K.
        c1: [J/mol/K2].
        spread: one standard deviation [J/mol/K].
        sources: keys of the references.
        method: measured, correlated or estimated.
    """

    c0: float
    c1: float
    spread: float
    sources: tuple[str, ...]
    method: Method


@dataclass(frozen=True, slots=True)
class MolarVolume:
    """Liquid molar volume v0 + v1 t + v2 t^2 with t = T - 293.15 K.

    Args:
        v0: [m3/mol] at 293.15 K.
        v1: [m3/mol/K].
        v2: [m3/mol/K2].
        spread: one standard deviation at 293.15 K [m3/mol].
        sources: keys of the references.
        method: measured, correlated or estimated.
    """

    v0: float
    v1: float
    v2: float
    spread: float
    sources: tuple[str, ...]
    method: Method


@dataclass(frozen=True, slots=True)
class Dimerisation:
    """Vapour-phase dimer of a carboxylic acid: ln(K Pa) = A + B/T.

    Args:
        coefficients: A [-] and B [K].
        sources: keys of the references.
        method: measured, or estimated from a homologue.
    """

    coefficients: tuple[float, float]
    sources: tuple[str, ...]
    method: Method


@dataclass(frozen=True, slots=True)
class Substance:
    """One laboratory liquid.

    Args:
        name: the name that results carry.
        synonyms: other names by which it is found.
        cas: CAS number.
        inchikey: standard InChIKey.
        smiles: canonical SMILES.
        formula: in Hill order.
        molar_mass: [kg/mol].
        melting_point: [K].
        boiling_point: at 101325 Pa [K].
        critical_temperature: [K].
        critical_pressure: [Pa].
        vapour_pressure: the fit.
        latent_heat: heat of vaporisation.
        heat_capacity: of the liquid.
        molar_volume: of the liquid.
        refractive_index: sodium D line, 20 degC [-].
        flash_point: [K].
        autoignition: [K].
        lower_flammable_fraction: volume fraction in air [-].
        peroxide_class: class of published guidance: ``A`` (hazard on storage), ``B`` (when
            concentrated), ``C`` (starts a polymerisation); None where no list names it.
        peroxide_signs: parts of the structure that autoxidise, listed or not.
        energetic_groups: found in the structure.
        hazards: statements of public lists; an empty tuple says only that they are silent.
        dimerisation: of the vapour, for carboxylic acids.
        origin: ``file``, or ``structure`` where everything is estimated.
        notes: sentences that belong beside every result with it.
    """

    name: str
    synonyms: tuple[str, ...]
    cas: str
    inchikey: str
    smiles: str
    formula: str
    molar_mass: float
    melting_point: Sourced | None
    boiling_point: Sourced
    critical_temperature: Sourced
    critical_pressure: Sourced
    vapour_pressure: VapourPressureFit
    latent_heat: LatentHeat
    heat_capacity: HeatCapacity
    molar_volume: MolarVolume
    refractive_index: Sourced | None
    flash_point: Sourced | None
    autoignition: Sourced | None
    lower_flammable_fraction: Sourced | None
    peroxide_class: Stated | None
    peroxide_signs: tuple[str, ...]
    energetic_groups: tuple[str, ...]
    hazards: tuple[Stated, ...]
    dimerisation: Dimerisation | None
    origin: Literal["file", "structure"] = "file"
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        return self.name
