"""What the script of a class page draws from: plain lists in bench units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from forerun.core.quantities import format_pressure
from forerun.equilibrium.bubble import boiling_curve
from forerun.planning.comparison import FRACTIONS
from forerun.planning.plate_by_plate import plates_above

if TYPE_CHECKING:
    from forerun.planning.comparison import Way, Ways

__all__ = ["DROPS_ORGANIC", "DROPS_WATER", "class_data", "drops_per_mL"]

Floats = npt.NDArray[np.float64]

DROPS_WATER, DROPS_ORGANIC = 20.0, 45.0
"""Drops per millilitre of water and of organic liquids (35 to 60): from memory."""

_MOMENTS = 180  # of every way that the page can show
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
    plates = [_column(way, ways, int(k)) for k in at]
    wanted = ways.goal.wanted
    return {
        "label": way.label,
        "short": way.label.replace(", reflux", ", R"),
        "plates": way.plates,
        "t": _list(trace.time_s[at] / _MINUTE, 3),
        "v": _list(volume[at], 3),
        "head": _list(trace.head_temperature_K[at] - _ZERO_C, 2),
        "potC": _list(trace.pot_temperature_K[at] - _ZERO_C, 2),
        "pot": [_list(x, 4) for x in trace.pot_mole_fraction[at]],
        "drip": [
            _list(x, 4) if np.isfinite(x).all() else None
            for x in trace.distillate_mole_fraction[at]
        ],
        "drops": _list(np.maximum(rate[at], 0.0) * _MINUTE * drops, 1),
        "over": [_list(x, 6) for x in way.so_far[at]],
        "stages": [None if p is None else [_list(x, 4) for x in p[0]] for p in plates],
        "rise": [None if p is None else _list(p[1][:, wanted], 4) for p in plates],
        "vapour": [None if p is None else _round(p[1][-1, wanted], 4) for p in plates],
        "stageC": [None if p is None else _list(p[2] - _ZERO_C, 2) for p in plates],
    }


def _moments(time: Floats, volume: Floats) -> npt.NDArray[np.intp]:
    """Return points that are spread evenly over time and over what has come over."""
    if time.size <= _MOMENTS:
        return np.arange(time.size)
    place = 0.5 * time / time[-1]
    if volume[-1] > 0.0:
        place = place + 0.5 * volume / volume[-1]
    chosen = np.searchsorted(place, np.linspace(place[0], place[-1], _MOMENTS))
    return np.unique(np.append(chosen.clip(0, time.size - 1), time.size - 1))


def _column(way: Way, ways: Ways, k: int) -> tuple[Floats, Floats, Floats] | None:
    """Return what stands on the plates at a point; None before it boils and of two layers."""
    trace = way.run.trace
    boilup = float(trace.boilup_rate_mol_s[k])
    if boilup <= 0.0 or ways.layered:
        return None
    taken = float(trace.distillate_rate_mol_s[k]) / boilup
    return plates_above(
        trace.pot_mole_fraction[k],
        trace.distillate_mole_fraction[k],
        taken,
        way.plates,
        float(trace.pressure_Pa[k]),
        ways.mixture.arrays,
    )


def _diagram(ways: Ways) -> dict[str, Any] | None:
    """Return boiling point and vapour over the wanted substance, of two that mix."""
    if len(ways.mixture.substances) != 2 or ways.layered:
        return None
    curve = boiling_curve(ways.mixture, ways.pressure_Pa, 101)
    x, y = (curve.x, curve.y) if ways.goal.wanted == 0 else (1.0 - curve.x, 1.0 - curve.y)
    return {"x": _list(x, 4), "y": _list(y, 4), "c": _list(curve.temperature - _ZERO_C, 3)}


def _list(values: npt.ArrayLike, digits: int) -> list[float | None]:
    return [_round(float(v), digits) for v in np.asarray(values, dtype=np.float64)]


def _round(value: float, digits: int) -> float | None:
    return round(float(value), digits) if np.isfinite(value) else None
