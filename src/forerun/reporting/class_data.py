"""What the script of a class page draws from: plain lists in bench units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.core.quantities import format_pressure
from forerun.equilibrium.bubble import boiling_curve, bubble_temperature
from forerun.planning.comparison import FRACTIONS
from forerun.still.inside import Inside, inside_of

if TYPE_CHECKING:
    from forerun.planning.comparison import Way, Ways

__all__ = ["DROPS_ORGANIC", "DROPS_WATER", "class_data", "drops_per_mL"]

Floats = npt.NDArray[np.float64]

DROPS_WATER, DROPS_ORGANIC = 20.0, 45.0
"""Drops per millilitre of water and of organic liquids (35 to 60): from memory."""

_MOMENTS = 200  # of every way that the page can show
_MINUTE, _MILLILITRE, _ZERO_C = 60.0, 1e-6, 273.15
_WATERY = 0.5  # mole fraction of water in the charge from which its drops are counted


def drops_per_mL(ways: Ways) -> float:
    """Return how many drops a millilitre of the distillate is taken to be."""
    charged = ways.ways[0].run.ledger.charge_mol
    for share, substance in zip(charged / charged.sum(), ways.mixture.substances, strict=True):
        if substance.formula == "H2O" and share > _WATERY:
            return DROPS_WATER
    return DROPS_ORGANIC


def class_data(ways: Ways, finding: str) -> dict[str, Any]:
    """Return everything that the page draws.

    Args:
        ways: of distilling the charge.
        finding: what they show.
    """
    drops = drops_per_mL(ways)
    return {
        "finding": finding,
        "names": list(ways.mixture.names),
        "wanted": ways.goal.wanted,
        "pressure": format_pressure(ways.pressure_Pa),
        "charge": _round(ways.sheet.charge_volume_m3 / _MILLILITRE, 3),
        "flask": _round(ways.sheet.rig.flask_volume_m3.value / _MILLILITRE, 1),
        "each": _round(ways.sheet.charge_volume_m3 / _MILLILITRE / FRACTIONS, 4),
        "fractions": FRACTIONS,
        "stairs": [
            {
                "name": step.name,
                "c": _round(step.temperature_K - _ZERO_C, 2),
                "start": _round(step.start_m3 / _MILLILITRE, 3),
                "end": _round(step.end_m3 / _MILLILITRE, 3),
            }
            for step in ways.stairs
        ],
        "ways": [_way_data(way, ways, drops) for way in ways.ways],
        "diagram": _diagram(ways),
    }


def _way_data(way: Way, ways: Ways, drops: float) -> dict[str, Any]:
    trace = way.run.trace
    at = _moments(trace.time_s, trace.distillate_volume_m3)
    volume = trace.distillate_volume_m3 / _MILLILITRE
    rate = np.gradient(volume, np.maximum.accumulate(trace.time_s + 1e-6 * np.arange(volume.size)))
    inside = _inside(way, ways, trace.time_s[at])
    boils = trace.boilup_rate_mol_s[at] > 0.0
    return {
        "label": way.label,
        "plates": way.plates,
        "t": _list(trace.time_s[at] / _MINUTE, 3),
        "v": _list(volume[at], 3),
        "head": _list(trace.head_temperature_K[at] - _ZERO_C, 2),
        "potC": _list(trace.pot_temperature_K[at] - _ZERO_C, 2),
        "left": _list(_in_the_pot(way, ways, at, inside) / _MILLILITRE, 2),
        "pot": [_list(x, 4) for x in trace.pot_mole_fraction[at]],
        "drip": [
            _list(x, 4) if np.isfinite(x).all() else None
            for x in trace.distillate_mole_fraction[at]
        ],
        "drops": _list(np.maximum(rate[at], 0.0) * _MINUTE * drops, 1),
        "over": [_list(x, 6) for x in way.so_far[at]],
        **_plates(way, ways, inside, np.where(boils, trace.pressure_Pa[at], np.nan)),
    }


def _inside(way: Way, ways: Ways, times: Floats) -> Inside | None:
    """Return what stands on the stages, None where it is not to be had: the page says so then."""
    if ways.layered and way.plates:
        return None
    try:
        return inside_of(way.given, times)
    except (BadInput, CalculationFailed):
        return None


def _in_the_pot(way: Way, ways: Ways, at: npt.NDArray[np.intp], inside: Inside | None) -> Floats:
    """Return what the pot holds [m3].

    Where the stages are not known: the charge less what came over and what the column took up,
    which it does between the first vapour and the first drop.
    """
    if inside is not None:
        return np.asarray(inside.stage_m3[:, 0])
    run, trace = way.run, way.run.trace
    charged, over = ways.sheet.charge_volume_m3, trace.distillate_volume_m3
    taken_up = charged - over[-1] - run.residue.volume_m3
    boils = float(trace.time_s[int(np.argmax(trace.boilup_rate_mol_s > 0.0))])
    drips = float(trace.time_s[-1]) if run.first_drop_s is None else run.first_drop_s
    share = np.clip((trace.time_s - boils) / max(drips - boils, 1.0), 0.0, 1.0)
    return np.asarray(np.clip(charged - over - share * taken_up, 0.0, None)[at])


def _plates(way: Way, ways: Ways, inside: Inside | None, pressures: Floats) -> dict[str, Any]:
    """Return what stands on pot and plates; nothing before it boils (a pressure of NaN)."""
    if inside is None:
        return {"held": None, "stages": [None] * pressures.size}
    liquids = inside.mole_fraction[:, : way.plates + 1]
    return {
        "held": [_list(m3 / _MILLILITRE, 3) for m3 in inside.stage_m3[:, 1 : way.plates + 1]],
        "stages": [
            [_list(x, 4) for x in stage] if np.isfinite(pressure) else None
            for stage, pressure in zip(liquids, pressures, strict=True)
        ],
        **_vapours(liquids, pressures, ways),
    }


def _vapours(liquids: Floats, pressures: Floats, ways: Ways) -> dict[str, Any]:
    """Return the vapour over every liquid and its boiling point, where a diagram shows them."""
    if not _has_diagram(ways):
        return {}
    rise: list[list[float | None] | None] = []
    boiling: list[list[float | None] | None] = []
    for stage, pressure in zip(liquids, pressures, strict=True):
        if not np.isfinite(pressure):
            rise.append(None)
            boiling.append(None)
            continue
        points = [bubble_temperature(x, float(pressure), ways.mixture) for x in stage]
        rise.append(_list([vapour[ways.goal.wanted] for _, vapour in points], 4))
        boiling.append(_list([temperature - _ZERO_C for temperature, _ in points], 2))
    return {"rise": rise, "stageC": boiling}


def _moments(time: Floats, volume: Floats) -> npt.NDArray[np.intp]:
    """Return points that are spread evenly over time and over what has come over."""
    if time.size <= _MOMENTS:
        return np.arange(time.size)
    place = 0.5 * time / time[-1]
    if volume[-1] > 0.0:
        place = place + 0.5 * volume / volume[-1]
    chosen = np.searchsorted(place, np.linspace(place[0], place[-1], _MOMENTS))
    return np.unique(np.append(chosen.clip(0, time.size - 1), time.size - 1))


def _has_diagram(ways: Ways) -> bool:
    """Return whether two liquids boil as one: of others no boiling diagram is drawn."""
    return len(ways.mixture.substances) == 2 and not ways.layered


def _diagram(ways: Ways) -> dict[str, Any] | None:
    """Return boiling point and vapour over the wanted substance, of two that mix."""
    if not _has_diagram(ways):
        return None
    curve = boiling_curve(ways.mixture, ways.pressure_Pa, 101)
    x, y = (curve.x, curve.y) if ways.goal.wanted == 0 else (1.0 - curve.x, 1.0 - curve.y)
    return {"x": _list(x, 4), "y": _list(y, 4), "c": _list(curve.temperature - _ZERO_C, 3)}


def _list(values: npt.ArrayLike, digits: int) -> list[float | None]:
    return [_round(float(v), digits) for v in np.asarray(values, dtype=np.float64)]


def _round(value: float, digits: int) -> float | None:
    return round(float(value), digits) if np.isfinite(value) else None
