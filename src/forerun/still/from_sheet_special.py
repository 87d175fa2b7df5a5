"""What only some sheets have, in the words of the still: hand rules, steam, trap, pump, layers."""

from __future__ import annotations

from typing import Any

import numpy as np

from forerun.core.errors import BadInput
from forerun.equilibrium.liquid_liquid import miscibility_gap, split_liquid
from forerun.equilibrium.liquid_liquid_known import known_miscibility
from forerun.equilibrium.mixture import Mixture
from forerun.glassware.drawer import span
from forerun.glassware.heads import stem_coefficient
from forerun.glassware.pumps import find_pump, leak_flow, pressure_reached, pump_speed
from forerun.sheets.model import RunSheet
from forerun.still.inputs import BathRule, Floats, Trap

__all__ = ["WATER", "pressure_with_pump", "special_inputs", "splits"]

WATER = "XLYOFNOQVPJJNP-UHFFFAOYSA-N"  # InChIKey
_STEADY = 0.1 / 60.0  # K/s: a head that moves less stands still, common practice
_BATH_FASTEST = 5.0 / 60.0  # K/s, an oil bath or a mantle at full power, from memory
_RESIDUE_DENSITY = 1200.0  # kg/m3, of what does not distil, from memory
_RESIDUE_HEAT = 1500.0  # J/kg/K, the same
_STEAM_TEMPERATURE = 373.15  # K, led in as it leaves boiling water
_IN_TRAP = 303.15  # K: the condensate in a trap is warmer than the room, from memory


def splits(mixture: Mixture, temperature: float) -> bool:
    """Return whether a pair is to be followed as two liquids.

    Args:
        mixture: of the sheet.
        temperature: where it is asked [K].

    Returns:
        True for two components that were measured as two liquids, or of which nothing is known
        and which the models split; with more components one liquid is taken.

    Not a published model: a choice, see `forerun.equilibrium.liquid_liquid_known`.
    """
    if len(mixture.substances) != 2:
        return False
    known = known_miscibility(*(s.inchikey for s in mixture.substances))
    if known is not None and known.kind == "miscible":
        return False
    return miscibility_gap(temperature, mixture.arrays) is not None


def special_inputs(sheet: RunSheet, mixture: Mixture) -> dict[str, Any]:
    """Return the fields of `StillInput` that a sheet's special keys set.

    Args:
        sheet: the run sheet.
        mixture: its substances with their equilibrium.

    Returns:
        Field to value.

    Raises:
        BadInput: a trap for liquids that do not part.

    Not a published model: names of one room carried to those of another.
    """
    special, room = sheet.special, sheet.rig.room_temperature_K.value
    water = [i for i, s in enumerate(mixture.substances) if s.inchikey == WATER]
    found: dict[str, Any] = {
        "two_liquids": splits(mixture, room),
        "steady_K_s": _STEADY,
        "steady_for_s": special.settle_s,
        "stem": _reads_low(sheet),
    }
    if special.involatile_kg > 0.0:
        found["diluent_mol"] = special.involatile_kg / special.involatile_molar_mass
        found["diluent_m3"] = special.involatile_kg / _RESIDUE_DENSITY
        found["diluent_J_K"] = special.involatile_kg * _RESIDUE_HEAT
    if special.keeps:
        found["bath_rule"] = BathRule(
            special.keep_rate_m3_s,
            special.keep_above_head_K,
            special.keep_above_pot_K,
            fastest_K_s=_BATH_FASTEST,
            highest_K=sheet.rig.bath_limit_K,
        )
    if special.steam_kg_s > 0.0:
        rate = special.steam_kg_s / mixture.substances[water[0]].molar_mass
        found["steam"] = np.array([[0.0, rate]])
        found["steam_component"] = water[0]
        found["steam_temperature_K"] = _STEAM_TEMPERATURE
    if special.trap_m3 > 0.0:
        found["trap"] = Trap(special.trap_m3, _returned(mixture, water[0]))
    if sheet.rig.pump:
        found["pump_speed_m3_s"] = pump_speed(find_pump(sheet.rig.pump, "rig.pump"))
    return found


def _reads_low(sheet: RunSheet) -> float:
    """Return the share of head minus room by which the thermometer reads low."""
    special = sheet.special
    high = span("bulb", "reads_low_share").typical if special.bulb_high else 0.0
    return high + special.emergent_stem_K * stem_coefficient()


def _returned(mixture: Mixture, water: int) -> Floats:
    """Return the share of each component in the layer with less water, of equal volumes."""
    volumes = np.array([s.molar_volume.v0 for s in mixture.substances])
    others = [i for i in range(volumes.size) if i != water]
    feed = np.zeros(volumes.size)
    feed[water] = 0.5 / volumes[water]
    for i in others:
        feed[i] = 0.5 / volumes[i] / len(others)
    feed /= feed.sum()
    parted = split_liquid(feed, _IN_TRAP, mixture.arrays)
    if parted is None:
        raise BadInput("rig.trap", "a trap", "liquids that part from water; these mix with it")
    layers = (parted.first * (1.0 - parted.second_share), parted.second * parted.second_share)
    back = min(layers, key=lambda moles: moles[water] / moles.sum())
    return np.asarray(back / (layers[0] + layers[1]), dtype=np.float64)


def pressure_with_pump(sheet: RunSheet, pressure: Floats) -> tuple[Floats, str | None]:
    """Return the pressure that results where a pump works against a leak.

    Args:
        sheet: the run sheet.
        pressure: (n, 2) what the sheet asks for [s, Pa].

    Returns:
        The same or higher [s, Pa], and a warning where the pump does not reach it. Valid well above
        the lowest pressure of the pump.

    Source: `forerun.glassware.pumps.pressure_reached`.
    """
    leak = sheet.special.leak_Pa_s
    if not sheet.rig.pump or leak <= 0.0:
        return pressure, None
    pump = find_pump(sheet.rig.pump, "rig.pump")
    least = pressure_reached(pump, leak_flow(leak, sheet.rig.flask_volume_m3.value))
    if least <= pressure[:, 1].min():
        return pressure, None
    held = pressure.copy()
    held[:, 1] = np.maximum(held[:, 1], least)
    return held, (
        f"Against this leak the {sheet.rig.pump} holds {least / 100.0:.1f} mbar at best: the run "
        "is calculated at that pressure. Find the leak first."
    )
