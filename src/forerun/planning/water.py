"""Water as a helper or a nuisance: carried out with the wanted liquid, or carrying it as steam."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.core.quantities import format_fraction, format_temperature, format_volume
from forerun.equilibrium.arrays import MixtureArrays
from forerun.equilibrium.liquid_liquid import LiquidSplit, split_liquid
from forerun.equilibrium.mixture import mixture_of
from forerun.forecast.drawing import draw_member, prior_of
from forerun.planning.aims import chance_of, weights_for
from forerun.planning.analysis import Analysis
from forerun.planning.candidates import even_points
from forerun.planning.shortcut import batch_path, best_product, top_of_column
from forerun.still.from_sheet import prepare
from forerun.substances.correlations import vapour_pressure

__all__ = ["WaterRun", "carried_out", "split_chance", "steam_run", "steam_temperature"]

Floats = npt.NDArray[np.float64]

_MEMBERS = 6
_STEPS = 60
_ROOM = 298.15  # K
_STEAM_PRESSURE = 667.0  # Pa at 100 °C, five millimetres of mercury; common practice
_DOUBT = 0.10  # relative, of the steam needed: vapour pressures and losses, from memory


@dataclass(frozen=True, slots=True)
class WaterRun:
    """What comes of letting water go first, or of steam.

    Args:
        says: in words.
        probability: that the aim is met [-].
        purity: of the product in the basis of the aim [-].
        recovery: share of what was charged [-].
        water_left: mass fraction of water in the layer that is distilled [-].
    """

    says: str
    probability: float
    purity: float
    recovery: float
    water_left: float


def carried_out(found: Analysis) -> WaterRun | None:
    """Return what a simple still does when the wanted liquid carries its own water out.

    Args:
        found: a mixture with water in it.

    Returns:
        None where the two do not boil together as two liquids, or where the aim is not met.
    """
    water, wanted = found.water, found.goal.wanted
    if water is None:
        return None
    azeotrope = found.azeotrope_with(water)
    if azeotrope is None or azeotrope.liquid_phases != 2:
        return None
    layer = _layer(found.charge, found.split, wanted)
    prior = prior_of(prepare(found.sheet))
    points = even_points(len(prior.unknowns), _MEMBERS, 1)
    results = [_dried(found, found.mixture.arrays, layer)]
    results += [_dried(found, draw_member(prior, z).mixture, layer) for z in points]
    if results[0] is None:
        return None
    met = sum(r is not None and r[1] >= found.goal.recovery for r in results)
    purity, recovery = results[0]
    if recovery < found.goal.recovery:
        return None
    mass = layer * np.array([s.molar_mass for s in found.mixture.substances])
    left = float(mass[water] / mass.sum())
    names = found.mixture.names
    words = (
        f"{names[wanted]} and water boil together at {format_temperature(azeotrope.temperature_K)} "
        "and part on standing: the water goes first, cloudy, into a decanting trap or a forerun; "
        f"{format_fraction(recovery, '%', 0.05)} of the {names[wanted]} stays dry behind it "
        f"({format_fraction(purity, found.goal.basis)})."
    )
    return WaterRun(words, chance_of(met, len(results)), purity, recovery, left)


def _layer(charge: Floats, split: LiquidSplit | None, wanted: int) -> Floats:
    """Return the moles of the layer that is richer in a component [mol]."""
    if split is None:
        return charge
    total = float(charge.sum())
    first = (1.0 - split.second_share) * total * split.first
    second = split.second_share * total * split.second
    return first if split.first[wanted] > split.second[wanted] else second


def _dried(found: Analysis, arrays: MixtureArrays, layer: Floats) -> tuple[float, float] | None:
    weights = weights_for(found.sheet, found.goal.basis)
    path = batch_path(layer, top_of_column(arrays, found.pressure_Pa, 0), _STEPS)
    best = best_product(path, found.goal.wanted, found.goal.purity, weights)
    if best is None:
        return None
    share = float(layer[found.goal.wanted] / found.charge[found.goal.wanted])
    return best[1].purity, best[1].recovery * share


def split_chance(found: Analysis) -> float:
    """Return the probability that a charge stands as two liquids at room temperature.

    Args:
        found: a mixture whose models split it.
    """
    prior = prior_of(prepare(found.sheet))
    share = found.charge / found.charge.sum()
    points = even_points(len(prior.unknowns), _MEMBERS, 1)
    parted = sum(
        split_liquid(share, _ROOM, draw_member(prior, z).mixture) is not None for z in points
    )
    return chance_of(parted + 1, len(points) + 1)


def steam_temperature(found: Analysis) -> float:
    """Return where water and the wanted liquid boil together, each as if alone.

    Args:
        found: a mixture with water in it.

    Returns:
        Temperature [K].

    Source:
        Dalton's law for two liquids that do not mix; any textbook (common practice, no source).
    """
    water, wanted = found.mixture.substances[found.water or 0], found.wanted
    low, high = (
        250.0,
        0.98 * min(water.critical_temperature.value, wanted.critical_temperature.value),
    )
    for _ in range(60):
        middle = 0.5 * (low + high)
        total = sum(vapour_pressure(middle, s.vapour_pressure) for s in (water, wanted))
        low, high = (low, middle) if total > found.pressure_Pa else (middle, high)
    return 0.5 * (low + high)


def steam_run(found: Analysis) -> WaterRun | None:
    """Return what steam distillation with the water of the charge comes to.

    Args:
        found: a mixture of water and a high-boiling liquid that does not mix with it.

    Returns:
        None where the liquid has less than five millimetres of mercury at 100 °C.
    """
    wanted, water = found.wanted, found.water
    if water is None or vapour_pressure(373.15, wanted.vapour_pressure) < _STEAM_PRESSURE:
        return None
    at = steam_temperature(found)
    steam = found.mixture.substances[water]
    ratio = vapour_pressure(at, steam.vapour_pressure) / vapour_pressure(at, wanted.vapour_pressure)
    need = found.goal.recovery * float(found.charge[found.goal.wanted]) * ratio
    have = float(found.charge[water])
    pair = mixture_of([wanted, steam])
    split = split_liquid([0.5, 0.5], _ROOM, pair.arrays)
    layer = np.array([1.0, 0.0])
    if split is not None:
        layer = split.first if split.first[0] > split.second[0] else split.second
    weights = weights_for(found.sheet, found.goal.basis)[[found.goal.wanted, water]]
    purity = float(layer[0] * weights[0] / (layer @ weights))
    enough = 0.5 * math.erfc((need - have) / (_DOUBT * need * math.sqrt(2.0)))
    chance = enough if purity >= found.goal.purity else 0.05
    grams = ratio * steam.molar_mass / wanted.molar_mass
    volume = need * steam.molar_volume.v0
    words = (
        f"{wanted.name} does not mix with water and boils with it at {format_temperature(at)}: "
        f"{grams:.1f} g of water carry 1 g over. For "
        f"{format_fraction(found.goal.recovery, '%', 0.05)} of it {format_volume(volume)} of water "
        f"have to boil, {format_volume(have * steam.molar_volume.v0)} are there."
    )
    recovery = min(1.0, have / need * found.goal.recovery) if need > 0.0 else 1.0
    return WaterRun(words, min(max(chance, 0.05), 0.95), purity, recovery, 0.0)
