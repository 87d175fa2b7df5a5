"""How hot and how fast: the bath programme for a charge in a rig."""

from __future__ import annotations

import math

from forerun.glassware.columns import highest_boilup
from forerun.glassware.drawer import find_item
from forerun.glassware.flasks import wetted_area
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving_programme import bath_ceiling
from forerun.substances.correlations import boiling_temperature, latent_heat_watson1943

__all__ = ["bath_course", "load_difference"]

_ABOVE_POT = 25.0  # K of the bath over the pot: the middle of the customary 20 to 30 K
_LEAST_ABOVE = 8.0  # K; below it hardly anything comes over
_LOAD = 0.7  # of the load at which the column floods
_WARM_UP = 1200.0  # s
_SLACK = 1.3  # over the time that the heat alone asks for
_SHORTEST, _LONGEST = 1800.0, 6.0 * 3600.0  # s, of the ramp
_TINY = 1.0  # K below the hottest that the bath may be
_LOW_POT = 0.15  # share of the charge in the pot for which the end of the ramp is made


def load_difference(sheet: RunSheet, boiling: float) -> float:
    """Return how far the bath may stand above the pot without flooding the column.

    Args:
        sheet: the run sheet.
        boiling: temperature of the pot [K].

    Returns:
        Difference [K], 8 to 25.

    Derivation: heat through the wall of the pot over the heat of vaporisation is the boil-up;
    at most 0.7 of the flooding load of the drawer.
    """
    if sheet.rig.column == "none":
        return _ABOVE_POT
    column = find_item(sheet.rig.column, "column", "rig.column")
    lightest = min((p.substance for p in sheet.charge), key=lambda s: s.boiling_point.value)
    critical = lightest.critical_temperature.value
    latent = latent_heat_watson1943(min(boiling, 0.95 * critical), lightest.latent_heat, critical)
    moles = _LOAD * highest_boilup(column).typical / lightest.molar_volume.v0
    highest = moles * latent / sheet.rig.heat_transfer_W_K.value
    return min(_ABOVE_POT, max(_LEAST_ABOVE, highest))


def bath_course(sheet: RunSheet, pressure: float, reflux: float) -> list[list[str]]:
    """Return a bath programme that carries the whole charge over without haste.

    Args:
        sheet: the run sheet.
        pressure: in the head [Pa].
        reflux: ratio [-].

    Returns:
        Points as a sheet writes them: from the room to above the first boiling point, then
        slowly to above the last, at most the limit of the bath.

    Derivation: the slow part lasts as long as the heat for the charge (reflux included) takes to
    pass the wall of the pot at the difference of `load_difference`, and a third longer.
    """
    pot_pressure = pressure + sheet.rig.pressure_drop_Pa.value
    boiling = sorted(
        boiling_temperature(p.substance, pot_pressure, "programme.pressure").temperature
        for p in sheet.charge
    )
    above = load_difference(sheet, boiling[0])
    room, rig = sheet.rig.room_temperature_K.value, sheet.rig

    def over(pot: float, wetted: float) -> float:
        carried = rig.heat_loss_W_K.value * (pot - room) / rig.heat_transfer_W_K.value
        return float(min(pot + above + carried / wetted, highest))

    highest = bath_ceiling(sheet.charge, rig) - _TINY
    flask, charge = rig.flask_volume_m3.value, sheet.charge_volume_m3
    low = wetted_area(flask, _LOW_POT * charge) / wetted_area(flask, min(charge, flask))

    heat = sum(
        p.amount_mol.value * p.substance.latent_heat.value * (1.0 + min(reflux, 20.0))
        for p in sheet.charge
    )
    ramp = _SLACK * heat / (rig.heat_transfer_W_K.value * above)
    ramp = min(max(ramp, _SHORTEST), _LONGEST)
    first, last = over(boiling[0], 1.0), over(boiling[-1], low)
    points = [(0.0, room), (_WARM_UP, first), (_WARM_UP + ramp, max(first, last))]
    return [[f"{math.floor(t)} s", f"{value:.6g} K"] for t, value in points]
