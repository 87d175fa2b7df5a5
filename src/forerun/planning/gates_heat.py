"""Gates that look at heat: bath, ignition, dryness, the order of heat and vacuum, hot liquid."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from forerun.core.quantities import format_fraction, format_temperature, format_volume
from forerun.planning.gates_model import Gate, GateCase, Verdict, lowest_value
from forerun.sheets.resolving_programme import is_vacuum

__all__ = ["bath", "dryness", "hot_liquid", "order", "temperature_class"]

_OIL_FLASH_MARGIN = 20.0  # K below the flash point of the bath oil
_IGNITION_MARGIN = 20.0  # K below autoignition
_DECOMPOSITION_MARGIN = 50.0  # K below the start of decomposition
_FLOOR, _PEROXIDE_FLOOR = 0.10, 0.20  # share of the charge that stays in the pot
_AS_STOPPED = 1e-4  # of the residue, a judgement: a forecast ends within some 2e-5 of what is asked
_WATER_BOILS = 373.15  # K
_WARM_BATH = 10.0  # K above the room from which a bath counts as heated
_COOL_ENOUGH = 40.0  # K above the room below which air may be let in
_WHOLE = 5.0  # K, for temperatures without decimals
_OILS = ("mineral oil", "polyethylene glycol", "silicone oil")
_CLASS_LIMITS_C = {"T1": 450.0, "T2": 300.0, "T3": 200.0, "T4": 135.0, "T5": 100.0, "T6": 85.0}


def temperature_class(autoignition: float) -> str:
    """Return the temperature class of a vapour: hottest surface that it may meet.

    Args:
        autoignition: [K].

    Returns:
        T1 to T6; empty below T6.

    Source:
        IEC 60079-0: the class is the highest limit that lies below the autoignition temperature.
    """
    return next((n for n, limit in _CLASS_LIMITS_C.items() if limit + 273.15 < autoignition), "")


def bath(case: GateCase) -> Gate:
    """Return whether the bath stays below what oil, vapour and pot can bear.

    Args:
        case: what the gates look at.
    """
    hottest = case.highest_bath
    limits = _bath_limits(case)
    lowest = min(limits, key=lambda name: limits[name])
    unknown = [s.name for s in case.substances if s.autoignition is None and s.formula != "H2O"]
    lights = {s.name: lowest_value(s.autoignition) for s in case.substances if s.autoignition}
    first = min(lights, key=lambda name: lights[name]) if lights else ""
    words = f"The bath goes to {format_temperature(hottest, _WHOLE)}"
    limit = limits[lowest]
    if hottest > limit:
        found = Verdict(
            "stop",
            f"{words}, above {format_temperature(limit, _WHOLE)} ({lowest}): lower it.",
            "programme.bath",
        )
    elif unknown:
        found = Verdict(
            "warn",
            f"{words}, below {format_temperature(limit, _WHOLE)} ({lowest}); no autoignition "
            f"temperature is on file for {', '.join(unknown)}.",
        )
    elif math.isinf(limit):
        found = Verdict(
            "warn", f"{words}; a {case.sheet.rig.bath} has no limit of its own.", "safety.oil_flash"
        )
    else:
        found = Verdict("pass", f"{words}, below {format_temperature(limit, _WHOLE)} ({lowest}).")
    return Gate(
        "bath",
        found.state,
        found.says,
        {
            "bath_K": hottest,
            "limit_K": limit if math.isfinite(limit) else None,
            "limited_by": lowest,
            "autoignition_K": lights.get(first),
            "temperature_class": temperature_class(lights[first]) if lights else "",
        },
        "bath at most: limit of the oil, flash point of the oil - 20 K, autoignition - 20 K, "
        "decomposition - 50 K",
        ("prudent2011", "nfpa45", "nfpa30", "iec60079"),
        found.settle,
    )


def _bath_limits(case: GateCase) -> dict[str, float]:
    rig, safety = case.sheet.rig, case.sheet.safety
    limits = {f"usual limit of {rig.bath}": rig.bath_limit_K}
    if safety.oil_flash_K is not None:
        limits["flash point of the oil less 20 K"] = safety.oil_flash_K - _OIL_FLASH_MARGIN
    if safety.decomposition_K is not None:
        limits["decomposition less 50 K"] = safety.decomposition_K - _DECOMPOSITION_MARGIN
    for s in case.substances:
        if s.autoignition is not None:
            lights = lowest_value(s.autoignition)
            limits[f"autoignition of {s.name} less 20 K"] = lights - _IGNITION_MARGIN
    return limits


def dryness(case: GateCase) -> Gate:
    """Return whether enough stays in the pot.

    Args:
        case: what the gates look at.
    """
    charged = case.sheet.charge_volume_m3
    formers = [s.name for s in case.substances if s.peroxide_class or s.peroxide_signs]
    floor = _PEROXIDE_FLOOR if formers else _FLOOR
    stated = case.sheet.programme.stop.residue_m3
    left = case.run.residue.volume_m3 if case.run else stated
    ends = [v for v in (case.residue_low_m3, left, stated) if v is not None]
    low = min(ends) * (1.0 + 1e-6) if ends else None  # what the sheet allows counts, too
    asked = format_fraction(floor, "%", 0.05)
    if left is None or low is None:
        words = "The run stops at no residue, and there is no forecast of it: leave at least "
        found = Verdict("warn", f"{words}{asked} in the pot.", "programme.stop.residue")
    elif low * (1.0 + _AS_STOPPED) < 0.5 * floor * charged:
        found = Verdict(
            "stop",
            f"The pot ends with {format_volume(low)} of {format_volume(charged)}, less than half "
            f"the floor of {asked}: stop earlier, never distil to dryness.",
            "programme.stop.residue",
        )
    elif low * (1.0 + _AS_STOPPED) < floor * charged:
        found = Verdict(
            "warn",
            f"The pot ends with {format_volume(low)} of {format_volume(charged)}, below the usual "
            f"floor of {asked}: stop earlier, never distil to dryness.",
            "programme.stop.residue",
        )
    else:
        found = Verdict(
            "pass", f"The pot ends with {format_volume(low)} of {format_volume(charged)}."
        )
    return Gate(
        "dryness",
        found.state,
        found.says,
        {"residue_m3": left, "residue_low_m3": low, "floor_m3": floor * charged},
        "10 % of the charge stays in the pot, 20 % of a peroxide former; less than half of that "
        "stops",
        ("practice",),
        found.settle,
    )


def order(case: GateCase) -> Gate:
    """Return whether vacuum comes before heat, and cold before air.

    Args:
        case: what the gates look at.
    """
    programme, room = case.sheet.programme, case.sheet.rig.room_temperature_K.value
    points = programme.pressure_Pa.points
    times, baths = np.array(programme.bath_K.points).T
    hot_start = hot_end = None
    for (t0, p0), (t1, p1) in pairwise(points):
        at = float(np.interp(t1, times, baths))
        if p0 > 5.0e4 >= p1 and np.interp(t0, times, baths) > room + _WARM_BATH:
            hot_start = at
        if p0 <= 5.0e4 < p1 and at > room + _COOL_ENOUGH:
            hot_end = at
    gas = case.sheet.safety.gas.casefold()
    settle = ""
    if not is_vacuum(programme.pressure_Pa):
        found = Verdict("pass", "No vacuum in this programme, so no order of heat and vacuum.")
    elif hot_start is not None:
        words = (
            f"Vacuum is drawn on a bath of {format_temperature(hot_start, _WHOLE)}: it boils "
            "over. Vacuum first, then heat."
        )
        found = Verdict("stop", words, "programme.pressure")
    elif hot_end is not None and gas not in ("nitrogen", "argon"):
        words = (
            f"Air is let in at a bath of {format_temperature(hot_end, _WHOLE)}: cool first, let "
            "in nitrogen, then stop the pump."
        )
        found = Verdict("stop", words, "programme.pressure")
    elif gas not in ("nitrogen", "argon"):
        words = (
            "Vacuum stands before the heat. At the end: cool, let in inert gas rather than air, "
            "then stop the pump."
        )
        found = Verdict("warn", words, "safety.gas")
    else:
        found = Verdict("pass", f"Vacuum stands before the heat; {gas} is let in at the end.")
    return Gate(
        "order",
        found.state,
        found.says,
        {"bath_at_evacuation_K": hot_start, "bath_at_venting_K": hot_end, "gas": gas},
        "vacuum before heat; cool, vent, pump off; inert gas rather than air on a hot residue",
        ("prudent2011", "practice"),
        found.settle or settle,
    )


def hot_liquid(case: GateCase) -> Gate:
    """Return whether a boiling aid is in before the heat and water is far from hot oil.

    Args:
        case: what the gates look at.
    """
    aid, rig = case.sheet.safety.boiling_aid, case.sheet.rig
    water_near = "jacket" in rig.condenser or "coil" in rig.condenser or "bulb" in rig.condenser
    hot_oil = rig.bath in _OILS and case.highest_bath > _WATER_BOILS and water_near
    causes, settle = [], ""
    if not aid:
        settle = "safety.boiling_aid"
        causes.append("put the boiling aid in while the liquid is cold, never into hot liquid")
    elif aid == "none":
        causes.append("without a boiling aid the liquid bumps; put one in while it is cold")
    if hot_oil:
        causes.append(
            f"water from the condenser in oil of {format_temperature(case.highest_bath, _WHOLE)} "
            "boils and throws it: wire the hoses on"
        )
    words = "; ".join(causes)
    return Gate(
        "hot_liquid",
        "warn" if causes else "pass",
        f"{words[:1].upper()}{words[1:]}."
        if causes
        else f"A boiling aid ({aid}) is in, and no water stands over oil above 100 °C.",
        {"boiling_aid": aid, "bath_K": case.highest_bath, "bath": rig.bath},
        "no boiling aid into hot liquid, no water near hot oil",
        ("prudent2011", "practice"),
        settle,
    )
