"""What to do instead, or besides: dry, wash, crystallise, change the pressure, dose the blend."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.quantities import format_fraction, format_temperature
from forerun.equilibrium.azeotropes import Azeotrope
from forerun.planning.analysis import Analysis, limit_at, mixes_with_water
from forerun.sheets.model import RunSheet
from forerun.substances.correlations import boiling_temperature

__all__ = ["Dose", "Route", "dose_for", "other_pressure", "routes_of"]

Floats = npt.NDArray[np.float64]

_CRYSTAL = 278.15  # K; what melts above can be frozen out in an ice bath
_OTHER_PRESSURES = (4.0e4, 2.0e4, 1.0e4, 5.0e3)  # Pa, the gentlest first
_WHOLE = 1.0  # K
_WET = 0.02  # mass fraction of water up to which a drying agent is used
_BLEND = 0.2  # volume fraction that is dosed to where the sheet names none


@dataclass(frozen=True, slots=True)
class Route:
    """One better way.

    Args:
        name: ``dry``, ``wash``, ``crystallise``, ``change_pressure``, ``dose``,
            ``separate_layers``, ``entrain``, ``strip``, ``chaser``, ``chromatography``,
            ``extract``, ``short_path`` or ``larger_batch``.
        says: what to do and the figure behind it.
    """

    name: str
    says: str


@dataclass(frozen=True, slots=True)
class Dose:
    """How to bring a recovered blend to a wanted ratio.

    Args:
        names: the two liquids, the first is the one whose share is wanted.
        blend_fraction: volume fraction of the first in the blend [-].
        wanted_fraction: volume fraction wanted [-].
        add: which liquid to add.
        volume_per_volume: how much of it per volume of blend [m3/m3].
    """

    names: tuple[str, str]
    blend_fraction: float
    wanted_fraction: float
    add: str
    volume_per_volume: float


def dose_for(names: tuple[str, str], blend: float, wanted: float) -> Dose:
    """Return what to add to a blend of two liquids.

    Args:
        names: the two liquids.
        blend: volume fraction of the first in the blend [-].
        wanted: volume fraction wanted [-], above 0 and below 1.

    Derivation: only the liquid that is short is added; volumes taken as additive, so per volume
    of blend (w - b)/(1 - w) of the first, or (b - w)/w of the second.
    """
    if wanted >= blend:
        return Dose(names, blend, wanted, names[0], (wanted - blend) / (1.0 - wanted))
    return Dose(names, blend, wanted, names[1], (blend - wanted) / wanted)


def routes_of(found: Analysis) -> tuple[Route, ...]:
    """Return the better ways that the figures support, the most useful first.

    Args:
        found: the mixture, looked at for the aim.
    """
    return tuple(
        [
            *_water_routes(found),
            *_wash(found),
            *_crystallise(found),
            *_pressure(found),
            *_blend(found),
        ]
    )


def _water_routes(found: Analysis) -> list[Route]:
    if found.water is None or found.water == found.goal.wanted:
        return []
    share = float(found.mass_fraction[found.water])
    name = found.wanted.name
    if found.split is not None:
        return [
            Route("separate_layers", "Two liquids stand in the flask: part them in a funnel first.")
        ]
    azeotrope = found.azeotrope_with(found.water)
    if azeotrope is not None and azeotrope.liquid_phases == 2:
        return []
    wet = format_fraction(share, "wt%")
    words = f"Dry it: {wet} of water in {name}"
    if share <= _WET:
        words += (
            " is for a drying agent or 3 A sieves; filter before heating, a hydrate gives its "
            "water back when hot."
        )
    else:
        far = "to the azeotrope" if azeotrope is not None else "the solvent off"
        words += (
            f" is much for a drying agent: distil {far} first, then 3 A sieves; or "
            "carry the water out with toluene or heptane into a decanting trap."
        )
    return [Route("dry", words)]


def _wash(found: Analysis) -> list[Route]:
    """Water takes out what mixes with it from a liquid that does not."""
    if mixes_with_water(found.wanted):
        return []
    washed = [
        s.name
        for k, s in enumerate(found.mixture.substances)
        if k not in (found.goal.wanted, found.water) and mixes_with_water(s)
    ]
    if not washed:
        return []
    words = (
        f"Wash {', '.join(washed)} out with water or brine: it mixes with water, "
        f"{found.wanted.name} does not; then dry and distil."
    )
    return [Route("wash", words)]


def _crystallise(found: Analysis) -> list[Route]:
    melting = found.wanted.melting_point
    if melting is None or melting.value < _CRYSTAL:
        return []
    others = [
        s.melting_point.value
        for k, s in enumerate(found.mixture.substances)
        if k != found.goal.wanted and s.melting_point is not None
    ]
    if others and max(others) > melting.value - 10.0:
        return []
    at = format_temperature(melting.value)
    return [Route("crystallise", f"Freeze it out: {found.wanted.name} melts at {at}.")]


def other_pressure(found: Analysis) -> float | None:
    """Return the highest of some lower pressures that puts the aim within reach of a column.

    Args:
        found: the mixture at its own pressure, where it is not.

    Returns:
        [Pa]; None where none of them does.
    """
    for pressure in _OTHER_PRESSURES:
        if pressure > 0.8 * found.pressure_Pa:
            continue
        limit = limit_at(found.sheet, found.goal, found.mixture, pressure, members=0)
        if limit.recovery >= found.goal.recovery:
            return pressure
    return None


def _pressure(found: Analysis) -> list[Route]:
    if not found.azeotropes or found.limit.recovery >= found.goal.recovery:
        return []
    pressure = other_pressure(found)
    if pressure is None:
        return []
    boiling = boiling_temperature(found.wanted, pressure)
    words = (
        f"Change the pressure: at {pressure / 100.0:.0f} mbar the azeotrope has moved far enough "
        f"that a column can reach the aim; {found.wanted.name} then boils at "
        f"{format_temperature(boiling.temperature, _WHOLE)}, and the coolant has to be colder."
    )
    return [Route("change_pressure", words)]


def _blend(found: Analysis) -> list[Route]:
    barrier = _barrier(found)
    if barrier is None or (found.sheet.aim.blend is None and found.water in barrier.components):
        return []
    dose = _blend_dose(found.sheet, barrier, found.goal.wanted)
    if dose is None:
        return []
    words = (
        f"Accept the blend: distil it over as it is ({100 * dose.blend_fraction:.0f} vol% "
        f"{dose.names[0]}), assay it, and dose it: for {100 * dose.wanted_fraction:.0f} vol% "
        f"{dose.names[0]} add {100 * dose.volume_per_volume:.0f} mL of {dose.add} to 100 mL."
    )
    return [Route("dose", words)]


def _barrier(found: Analysis) -> Azeotrope | None:
    """Return the binary azeotrope, of one liquid, that the wanted component is part of."""
    own = [a for a in found.azeotropes if found.goal.wanted in a.components]
    pairs = [a for a in own if len(a.components) == 2 and a.liquid_phases == 1]
    return min(pairs, key=lambda a: a.temperature_K, default=None)


def _blend_dose(sheet: RunSheet, azeotrope: Azeotrope, wanted: int) -> Dose | None:
    """Return the dosing of an azeotrope to the blend that the sheet wants, or to a fifth."""
    other = next(k for k in azeotrope.components if k != wanted)
    substances = [p.substance for p in sheet.charge]
    volumes = azeotrope.mole_fraction * np.array([s.molar_volume.v0 for s in substances])
    share = float(volumes[wanted] / volumes.sum())
    asked = sheet.aim.blend if sheet.aim.blend is not None else _BLEND
    if not 0.0 < asked < 1.0:
        return None
    return dose_for((substances[wanted].name, substances[other].name), share, asked)
