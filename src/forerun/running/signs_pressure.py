"""Signs of pressure and vapour: leak, gas, solvent, breakthrough, plug, flooding.

Thresholds come from ``data/signs.toml``.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.running.case import Case
from forerun.running.signs import Limits, Rule, Sign, first_time, strength, weighed
from forerun.running.signs_expected import pot_over, rate_before, usual_rate

__all__ = ["RULES"]

Floats = npt.NDArray[np.float64]

_GAS = ("gas evol", "gassing", "bubbling hard", "fumes", "darken", "brown", "black")
_ISOLATED = ("isolat", "valve closed", "pump off", "stopcock closed")
_RECONNECTED = ("valve open", "pump on", "reconnect")


def _isolated(case: Case) -> tuple[float, float] | None:
    begin = case.said(*_ISOLATED)
    if begin is None:
        return None
    later = (t for t, text in case.remarks if t > begin and any(w in text for w in _RECONNECTED))
    return begin, next(later, float(case.time[-1]))


def _pot_rise(case: Case, begin: float, end: float) -> float:
    return case.at(case.pot, end) - case.at(case.pot, begin)


def _pressure_rises(case: Case, limits: Limits) -> Sign | None:
    """Sign 12 (and 13): pressure above the programme, the corrected head flat."""
    excess = case.pressure - case.planned
    read = excess[np.isfinite(excess)]
    usual = float(np.median(read[: max(read.size // 5, 8)]))
    apart = _isolated(case)
    if apart is not None:
        excess = np.where((case.time >= apart[0]) & (case.time <= apart[1]), np.nan, excess)
    least = min(
        limits["pressure_rise_Pa"],
        max(20.0, limits["pressure_rise_share"] * float(np.nanmin(case.pressure))),
    )
    lag = max(int(600.0 / case.step), 1)
    rise = np.full(case.time.size, np.nan)
    rise[lag:] = excess[lag:] - excess[:-lag]
    where = (rise > least) & (excess - usual > least)
    since = first_time(case, where, 60.0)
    if since is None:
        return None
    begin, end = since - 600.0, min(since + 900.0, float(case.time[-1]))
    slope = float(np.mean(case.boiling_slope))
    risen = case.at(case.pressure, end) - case.at(case.pressure, begin)
    corrected = case.at(case.head, end) - case.at(case.head, begin) - slope * risen
    gas = case.said(*_GAS)
    over = pot_over(case)
    hotter = case.at(over, end) - case.at(over, begin) > limits["gas_pot_K"]
    plug = bool((case.melting > case.coolant - limits["plug_margin_K"]).any())
    stalled = case.at(case.rate, end) < limits["stalled_share"] * usual_rate(case)
    weights = weighed(
        {"leak": 1.0, "decomposition": 0.06, "solvent_vapour": 0.05, "solid_plug": 0.0},
        (gas is not None, {"decomposition": 40.0}),
        (hotter, {"decomposition": 60.0}),
        (abs(corrected) < 1.5, {"leak": 1.5}),
    )
    if plug and stalled:
        weights["solid_plug"] = 4.0
    seen = f"The pressure rose {np.nanmax(excess - usual) / 100.0:.1f} mbar above the programme."
    return Sign(weights, strength(float(np.nanmax(rise)), least), since, seen)


def _isolated_rise(case: Case, limits: Limits) -> Sign | None:
    """Signs 13 and 14: with the pump shut off the pressure levels off, or it goes on."""
    apart = _isolated(case)
    if apart is None:
        return None
    last = apart[1] - case.sampling  # the reading beside which it was written may be after it
    inside = (case.time >= apart[0]) & (case.time <= last) & np.isfinite(case.pressure)
    if inside.sum() < 6:
        return None
    t, p = case.time[inside], case.pressure[inside]
    risen = float(p[-1] - p[0])
    if risen < limits["isolated_rise_Pa"]:
        return None
    third = p.size // 3
    early = float(np.polyfit(t[: third + 1], p[: third + 1], 1)[0])
    late = float(np.polyfit(t[-third - 1 :], p[-third - 1 :], 1)[0])
    levels = late < limits["saturated_share"] * early
    gas = case.said(*_GAS) is not None
    hotter = _pot_rise(case, *apart) > 2.0
    weights = weighed(
        {"solvent_vapour": 0.3, "leak": 0.5, "decomposition": 0.15},
        (levels, {"solvent_vapour": 20.0, "leak": 0.2, "decomposition": 0.2}),
        (not levels, {"solvent_vapour": 0.1}),
        (gas, {"decomposition": 15.0}),
        (hotter, {"decomposition": 8.0}),
    )
    way = "levels off" if levels else "goes on"
    seen = f"Isolated, the pressure rose {risen / 100.0:.1f} mbar and {way}."
    return Sign(weights, strength(risen, limits["isolated_rise_Pa"]), apart[0], seen)


def _gas_seen(case: Case, limits: Limits) -> Sign | None:
    """Sign 13 by remark: gas or a pot that darkens, while the pot warms or the pressure rises."""
    since = case.said(*_GAS)
    if since is None:
        return None
    end = min(since + 900.0, float(case.time[-1]))
    rising = case.at(case.pressure, end) - case.at(case.pressure, since - 300.0)
    hotter = _pot_rise(case, since - 300.0, end)
    if not (rising > 0.5 * limits["pressure_rise_Pa"] or hotter > 3.0):
        return None
    seen = "Gas or darkening was noted while pressure or pot rose."
    return Sign({"decomposition": 1.0, "leak": 0.15, "exotherm": 0.2}, 0.9, since, seen)


def _level(case: Case) -> Floats:
    """Return the programme's pressure as this gauge shows it, by the first fifth of the log."""
    ratio = (case.pressure / case.planned)[np.isfinite(case.pressure)]
    if ratio.size == 0:
        return case.planned
    return case.planned * float(np.median(ratio[: max(ratio.size // 5, 8)]))


def _breakthrough(case: Case, limits: Limits) -> Sign | None:
    """Sign 15: the pressure falls below the programme and less drips; or the trap gained."""
    trap = case.said("in the trap", "trap gain", "trap full", "trap fill")
    low = case.pressure < (1.0 - limits["pressure_fall_share"]) * _level(case)
    slack = case.boiling[0] - case.coolant
    since = first_time(case, low, 60.0)
    if since is not None:
        fewer = (case.rate < 0.6 * rate_before(case, since)) & (case.time > since - 300.0)
        since = first_time(case, fewer & (case.time < since + 1800.0), 120.0)
    if since is None and trap is None:
        return None
    if trap is not None and slack > 3.0 * limits["coolant_margin_K"] and since is None:
        return None
    weights = weighed(
        {"condenser_breakthrough": 1.0, "light_exhausted": 0.3, "heat_loss": 0.1},
        (trap is not None, {"condenser_breakthrough": 8.0}),
        (slack < limits["coolant_margin_K"], {"condenser_breakthrough": 3.0}),
    )
    depth = float(np.nanmax(1.0 - case.pressure / _level(case))) if since is not None else 0.0
    plain = max(strength(depth, limits["pressure_fall_share"]), 0.9 if trap is not None else 0.0)
    seen = "Less drips" + (
        f" while the pressure is {100.0 * depth:.0f} % low." if depth > 0.0 else ": the trap gains."
    )
    return Sign(weights, plain, since if since is not None else trap or 0.0, seen)


def _plugged(case: Case, limits: Limits) -> Sign | None:
    """Sign 16: what melts above the coolant stops dripping while the pressure below rises."""
    margin = case.melting - (case.coolant - limits["plug_margin_K"])
    solid = case.said(
        "crystals in the cond", "solid in the cond", "condenser plug", "condenser block"
    )
    if not (np.nan_to_num(margin, nan=-1.0) > 0.0).any() and solid is None:
        return None
    where = case.rate < limits["stalled_share"] * usual_rate(case)
    lag = max(int(600.0 / case.step), 1)
    pushed = np.zeros(case.time.size, dtype=bool)
    for values, least in (
        (case.pressure - case.planned, limits["pressure_rise_Pa"]),
        (pot_over(case), limits["plug_pot_K"]),
    ):
        if np.isfinite(values).sum() > lag:
            pushed[lag:] |= (values[lag:] - values[:-lag]) > least
    dripped = np.maximum.accumulate(np.nan_to_num(case.rate)) > 0.8 * usual_rate(case)
    steady = np.ones(case.time.size, dtype=bool)
    if case.has("bath"):
        steady[lag:] = (case.bath[:-lag] - case.bath[lag:]) < limits["bath_fall_K"]
    early = case.volume < 0.93 * case.final_volume
    since = first_time(case, where & pushed & dripped & steady & early, 60.0)
    if since is None and solid is None:
        return None
    weights = {"solid_plug": 1.0, "light_exhausted": 0.15, "near_dry": 0.05}
    seen = "Less drips and the pressure below rises; the charge can freeze in this condenser."
    return Sign(
        weights, 0.85 if solid is None else 0.95, since if since is not None else solid or 0.0, seen
    )


def _flooding(case: Case, limits: Limits) -> Sign | None:
    """Sign 11: the rate surges, then stalls, with the heat on; or a remark says so."""
    said = case.said("flood", "slug")
    if said is None and case.plates == 0:
        return None  # no column to flood
    usual = usual_rate(case)
    since = None
    over = pot_over(case)
    for k in np.flatnonzero(case.rate > limits["surge"] * usual):
        time = float(case.time[k])
        before = rate_before(case, time, 1200.0, 150.0)
        if not case.rate[k] > limits["surge"] * before:
            continue
        after = (case.time > time) & (case.time <= time + 600.0)
        stalls = first_time(case, after & (case.rate < limits["stalled_share"] * before), 90.0)
        cooled = case.at(case.bath, time) - case.at(case.bath, time + 600.0)
        before_it = case.at(over, time - 600.0)
        hotter = max(case.at(over, time), case.at(over, time + 300.0)) - before_it
        held = not hotter < 0.5
        if stalls is not None and held and not cooled > limits["bath_fall_K"]:
            since = time
            break
    if since is None and said is None:
        return None
    if (
        since is not None
        and said is None
        and not case.volume[case.time >= since][0] < 0.9 * case.final_volume
    ):
        return None
    begin = since if since is not None else said or 0.0
    hotter = _pot_rise(case, begin - 300.0, begin + 300.0) > 2.0
    weights = weighed(
        {"flooding": 1.0, "carry_over": 0.35},
        (hotter, {"flooding": 3.0}),
        (said is not None, {"flooding": 10.0}),
    )
    most = float(np.nanmax(case.rate)) / usual if since is not None else 0.0
    plain = max(strength(most, limits["surge"]), 0.9 if said is not None else 0.0)
    seen = (
        f"The rate rose to {most:.1f} times the usual one, then stalled."
        if since is not None
        else "Flooding was noted."
    )
    return Sign(weights, plain, begin, seen)


RULES = (
    Rule("the pressure rises", ("pressure",), _pressure_rises),
    Rule("pressure of the isolated apparatus", ("pressure",), _isolated_rise),
    Rule("gas from the pot", (), _gas_seen, remark=True),
    Rule("vapour passes the condenser", ("pressure", "volume"), _breakthrough, remark=True),
    Rule("solid in the condenser", ("volume",), _plugged, remark=True),
    Rule("flooding", ("volume",), _flooding, remark=True),
)
"""Rows 11 to 16 of the table."""
