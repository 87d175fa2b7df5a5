"""What is known of one substance, for people and as the contract's object."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from forerun.core.provenance import signed
from forerun.core.quantities import format_pressure, format_temperature
from forerun.core.references import Reference
from forerun.reporting.bands import Span, value_with_band
from forerun.reporting.cautions import cautions_of_substance
from forerun.reporting.notebook import Notebook
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number
from forerun.reporting.sources import source_object, sources_printed
from forerun.reporting.table import columns, paragraph, wrapped
from forerun.reporting.words import WHOLE_DEGREE, capital
from forerun.substances.correlations import (
    SMALLEST_BAND_K,
    BoilingPoint,
    boiling_temperature,
    refractive_index_slope_lorentz_lorenz,
)
from forerun.substances.model import Substance

__all__ = ["Look"]

_ZERO_C = 273.15  # K
_LATENT_HEAT_LEAST = 0.005  # of the value: how well careful calorimeters agree, from memory
_ONE_OF_TEN = 1.2816  # half-width of the middle 80 % of a normal distribution, in sigmas
_NORMAL = 101325.0  # Pa
_PRESSURES = tuple(_NORMAL * 760.0 ** (k / 60 - 1) for k in range(61))  # Pa, from 1 mmHg


class _Constant(Protocol):
    """What every constant of a substance carries."""

    @property
    def spread(self) -> float | None: ...
    @property
    def sources(self) -> tuple[str, ...]: ...
    @property
    def method(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Look(Notebook):
    """One substance and its boiling point at one pressure.

    Args:
        substance: its constants.
        pressure_Pa: the pressure asked for [Pa].
        at: where it boils there, with the middle 80 % as band.
        references: what the constants rest on.
        asked: the question, whole enough to be asked again; empty where it is not.
    """

    substance: Substance
    pressure_Pa: float
    at: BoilingPoint
    references: tuple[Reference, ...]
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences about the boiling point that the user should read."""
        return (*self._at_this_pressure(), *self.substance.notes)

    def _at_this_pressure(self) -> tuple[str, ...]:
        at, substance = self.at, self.substance
        if at.state == "solid" and substance.melting_point is not None:
            melts = format_temperature(substance.melting_point.value)
            return (f"At this pressure it is solid where it would boil: it melts at {melts}.",)
        if at.state == "extrapolated":
            fit = substance.vapour_pressure
            low, high = (
                format_temperature(t, WHOLE_DEGREE)
                for t in (fit.temperature_low, fit.temperature_high)
            )
            return (f"The vapour pressure is known from {low} to {high} only; this lies outside.",)
        return ()

    @property
    def finding(self) -> str:
        """Where it boils, in one sentence."""
        known = self.substance.origin == "file"
        name = capital(self.substance.name) if known else self.substance.name
        temperature = _celsius(self.at.temperature, Span(self.at.low, self.at.high))
        pressure = format_pressure(self.pressure_Pa, None)
        if self.at.state == "solid":
            return f"{name}: solid where it would boil, {temperature} at {pressure}"
        doubt = ", outside the range of the sources" if self.at.state == "extrapolated" else ""
        if self.substance.origin == "structure":
            doubt += ", by estimate from its structure"
        return f"{name} boils at {temperature} at {pressure}{doubt}"

    def series(self) -> dict[str, Any]:
        """Return where it boils from 1 mmHg to 1 atm, where its vapour pressure is known."""
        found = [boiling_temperature(self.substance, p) for p in _PRESSURES]
        known = [(p, b) for p, b in zip(_PRESSURES, found, strict=True) if b.state == "ok"]
        return {
            "pressure_Pa": [number(p) for p, _ in known],
            "boiling_point_K": [number(b.temperature) for _, b in known],
        }

    def to_json(self) -> dict[str, Any]:
        """Return the object that the contract promises for ``look``."""
        s, at = self.substance, self.at
        return signed(
            {
                "name": s.name,
                "synonyms": list(s.synonyms),
                "cas": s.cas,
                "inchikey": s.inchikey if s.origin == "file" else None,
                "smiles": s.smiles,
                "formula": s.formula,
                "molar_mass_kg_mol": number(s.molar_mass),
                "melting_point_K": _value(s.melting_point),
                "boiling_point_K": number(s.boiling_point.value),
                "critical_temperature_K": number(s.critical_temperature.value),
                "critical_pressure_Pa": number(s.critical_pressure.value),
                "latent_heat_J_mol": number(s.latent_heat.value),
                "heat_capacity_J_mol_K": number(s.heat_capacity.c0),
                "density_20C_kg_m3": number(s.molar_mass / s.molar_volume.v0),
                "refractive_index_20C": _value(s.refractive_index),
                "refractive_index_slope_1_K": number(refractive_index_slope_lorentz_lorenz(s)),
                "flash_point_K": _value(s.flash_point),
                "autoignition_K": _value(s.autoignition),
                "lower_flammable_fraction": _value(s.lower_flammable_fraction),
                "peroxide_class": None if s.peroxide_class is None else s.peroxide_class.value,
                "peroxide_signs": list(s.peroxide_signs),
                "energetic_groups": list(s.energetic_groups),
                "polymerisable_groups": _polymerisable(s),
                "origin": s.origin,
                "hazards": [stated.value for stated in s.hazards],
                "sources": self._sources(),
                "references": source_object(self.references),
                "at": {
                    "pressure_Pa": number(self.pressure_Pa),
                    "boiling_point_K": number(at.temperature),
                    "band_K": [number(at.low), number(at.high)],
                    "state": at.state,
                },
                "warnings": list(self.warnings),
            },
            self.asked,
        )

    def _sources(self) -> dict[str, Any]:
        """Method, spread (one standard deviation, SI) and reference keys of every constant."""
        s = self.substance
        constants: dict[str, _Constant | None] = {
            "melting_point_K": s.melting_point,
            "boiling_point_K": s.boiling_point,
            "critical_temperature_K": s.critical_temperature,
            "critical_pressure_Pa": s.critical_pressure,
            "latent_heat_J_mol": s.latent_heat,
            "heat_capacity_J_mol_K": s.heat_capacity,
            "refractive_index_20C": s.refractive_index,
            "flash_point_K": s.flash_point,
            "autoignition_K": s.autoignition,
            "lower_flammable_fraction": s.lower_flammable_fraction,
        }
        found: dict[str, Any] = {
            key: {"method": c.method, "spread": number(c.spread), "references": list(c.sources)}
            for key, c in constants.items()
            if c is not None
        }
        v = s.molar_volume
        density_spread = s.molar_mass / v.v0**2 * v.spread
        found["density_20C_kg_m3"] = {
            "method": v.method,
            "spread": number(density_spread),
            "references": list(v.sources),
        }
        fit = s.vapour_pressure
        found["at"] = {
            "method": fit.method,
            "spread_relative": number(fit.spread),
            "valid_K": [number(fit.temperature_low), number(fit.temperature_high)],
            "references": list(fit.sources),
        }
        return found

    def printed(self, paper: Paper) -> list[str]:
        """Return the answer in lines for a person: boiling point, constants, cautions."""
        s = self.substance
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        cas = f"CAS {s.cas}" if s.cas else "CAS and InChIKey not computed"
        names = " · ".join(x for x in (s.formula, cas, ", ".join(s.synonyms[:4])) if x)
        lines += [paper.ink(line, "grey") for line in wrapped(names, paper)]
        lines += ["", *columns(("", "value", "from"), self._rows(), paper, left=3)]
        cautions = (*self.warnings, *cautions_of_substance(s))
        lines += paragraph("Look out", cautions, paper, "amber", "bold")
        return lines + sources_printed(self.references, paper)

    def _rows(self) -> list[tuple[str, str, str]]:
        s = self.substance
        grams = s.molar_mass * 1e3
        density = s.molar_mass / s.molar_volume.v0 / 1e3
        density_half = _ONE_OF_TEN * density * s.molar_volume.spread / s.molar_volume.v0
        rows = [
            ("molar mass", f"{grams:.2f} g/mol", ""),
            ("melts", *_told(s.melting_point, _celsius)),
            (
                f"boils at {format_pressure(_NORMAL)}",
                *_told(s.boiling_point, _celsius, SMALLEST_BAND_K),
            ),
            (
                "latent heat at that",
                *_told(s.latent_heat, _per_mole, _LATENT_HEAT_LEAST * s.latent_heat.value),
            ),
            ("density, 20 °C", _around(density, density_half, "g/mL", 3), _how(s.molar_volume)),
            ("refractive index, 20 °C", *_told(s.refractive_index, _bare)),
            ("flash point", *_told(s.flash_point, _whole_celsius)),
            ("lights by itself", *_told(s.autoignition, _whole_celsius)),
            ("burns in air from", *_told(s.lower_flammable_fraction, _percent)),
        ]
        if s.peroxide_class is not None:
            rows.append(("peroxide class", s.peroxide_class.value, _how(s.peroxide_class)))
        return rows


def _polymerisable(substance: Substance) -> list[str]:
    from forerun.substances.smiles import molecule_from_smiles  # noqa: PLC0415 -- only JSON pays
    from forerun.substances.structure_signs import polymerisable_groups  # noqa: PLC0415

    return list(polymerisable_groups(molecule_from_smiles(substance.smiles)))


def _value(constant: Any) -> float | None:
    return None if constant is None else number(constant.value)


def _told(constant: Any, write: Any, least: float = 0.0) -> tuple[str, str]:
    """Return a constant in words, with a band of at least this half-width, and how it is known."""
    if constant is None:
        return "not on file", ""
    half = least if constant.spread is None else max(_ONE_OF_TEN * constant.spread, least)
    span = Span(constant.value - half, constant.value + half) if half > 0.0 else None
    return write(constant.value, span), _how(constant)


def _how(constant: _Constant) -> str:
    count = len(constant.sources)
    return f"{constant.method}, {count} source{'s' if count > 1 else ''}"


def _around(value: float, half: float, unit: str, otherwise: int) -> str:
    return value_with_band(value, Span(value - half, value + half), unit, otherwise)


def _celsius(kelvin: float, span: Span | None, otherwise: int = 1) -> str:
    shifted = None if span is None else Span(span.low - _ZERO_C, span.high - _ZERO_C)
    return value_with_band(kelvin - _ZERO_C, shifted, "°C", otherwise)


def _whole_celsius(kelvin: float, span: Span | None) -> str:
    return _celsius(kelvin, span, 0)


def _per_mole(joules: float, span: Span | None) -> str:
    scaled = None if span is None else Span(span.low / 1e3, span.high / 1e3)
    return value_with_band(joules / 1e3, scaled, "kJ/mol")


def _bare(value: float, span: Span | None) -> str:
    return value_with_band(value, span, "", 4)


def _percent(fraction: float, span: Span | None) -> str:
    scaled = None if span is None else Span(100.0 * span.low, 100.0 * span.high)
    return value_with_band(100.0 * fraction, scaled, "vol%")
