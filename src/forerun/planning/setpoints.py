"""How hot and how fast: the bath programme for a charge in a rig, and what to set."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forerun.planning.aims import goal_of
from forerun.planning.pot_end import boils_at, left_in_pot
from forerun.sheets.heating import (
    MOST_ABOVE,
    bath_above,
    bath_ceiling,
    load_difference,
    ramp_time,
    wetted_share,
)
from forerun.sheets.model import RunSheet
from forerun.sheets.variants import form_of
from forerun.still.from_sheet import prepare
from forerun.still.results import Run
from forerun.substances.correlations import boiling_temperature

__all__ = ["LOSSY", "SetPoints", "bath_course", "needs_lagging", "setpoints_of"]

_WARM_UP = 1200.0  # s
_DROPS_WATER, _DROPS_ORGANIC = 20.0, 45.0  # drops per mL; organics 35 to 60, from memory
LOSSY = 5.0  # W from column and head, from which lagging is advised; a judgement, no source
_TINY = 1.0  # K below the hottest that the bath may be
_LOW_POT = 0.15  # share of the charge in the pot for which the end of the ramp is made, at least
_CARRIED = 0.97  # of the wanted component, the rest follows; a judgement, no source


@dataclass(frozen=True, slots=True)
class SetPoints:
    """What to set, and what to expect, in the order of work.

    Args:
        pressure_Pa: in the head [Pa].
        coolant_K: [K].
        lagging: whether column and head ask for lagging, in words.
        boiling_aid: in words.
        bath_first_K: after the warm-up [K].
        bath_last_K: at the end of the ramp [K].
        warm_up_s: until the first [s].
        ramp_s: from the first to the last [s].
        boilup_m3_s: liquid boiled up in the middle of the run [m3/s].
        takeoff_m3_s: what drips into the receiver then [m3/s].
        drops_per_min: the same in drops, of 45 to the millilitre (water 20) [1/min].
        reflux_ratio: [-].
        first_drop_s: expected [s]; None where nothing comes over.
        end_s: expected [s].
        stop_residue_m3: what stays in the pot [m3].
        stop_head_K: head reading at the end [K].
    """

    pressure_Pa: float
    coolant_K: float
    lagging: str
    boiling_aid: str
    bath_first_K: float
    bath_last_K: float
    warm_up_s: float
    ramp_s: float
    boilup_m3_s: float
    takeoff_m3_s: float
    drops_per_min: float
    reflux_ratio: float
    first_drop_s: float | None
    end_s: float
    stop_residue_m3: float
    stop_head_K: float


def setpoints_of(sheet: RunSheet, run: Run, reflux_ratio: float, end_s: float) -> SetPoints:
    """Return what to set and what to expect.

    Args:
        sheet: the plan's sheet.
        run: its run.
        reflux_ratio: [-].
        end_s: when the product is complete [s].
    """
    trace = run.trace
    points = sheet.programme.bath_K.points
    middle = (trace.distillate_volume_m3 > 0.2 * trace.distillate_volume_m3[-1]) & (
        trace.distillate_volume_m3 < 0.8 * trace.distillate_volume_m3[-1]
    )
    molar = np.array([p.substance.molar_volume.v0 for p in sheet.charge])
    share = np.nan_to_num(trace.distillate_mole_fraction[middle])
    volume = float(np.mean(share @ molar)) if middle.any() else 0.0
    take = float(np.mean(trace.distillate_rate_mol_s[middle])) * volume if middle.any() else 0.0
    boil = float(np.mean(trace.boilup_rate_mol_s[middle])) * volume if middle.any() else 0.0
    wet = [k for k, p in enumerate(sheet.charge) if p.substance.formula == "H2O"]
    water = bool(wet) and bool(middle.any()) and float(np.mean(share[:, wet[0]])) > 0.5
    drops = (_DROPS_WATER if water else _DROPS_ORGANIC) * 1e6
    last = int(np.searchsorted(trace.time_s, end_s, side="right")) - 1
    return SetPoints(
        sheet.programme.pressure_Pa.points[-1][1],
        sheet.rig.coolant_temperature_K.value,
        _lagging_words(sheet, float(np.nanmax(trace.head_temperature_K))),
        sheet.safety.boiling_aid or "stirrer, or fresh chips in the cold liquid",
        points[min(1, len(points) - 1)][1],
        points[-1][1],
        points[min(1, len(points) - 1)][0],
        points[-1][0] - points[min(1, len(points) - 1)][0],
        boil,
        take,
        60.0 * take * drops,
        reflux_ratio,
        run.first_drop_s,
        end_s,
        run.residue.volume_m3,
        float(trace.head_temperature_K[max(last, 0)]),
    )


def needs_lagging(sheet: RunSheet, pressure: float) -> bool:
    """Return whether a plan is to be made with lagged glass.

    Args:
        sheet: the plan's sheet.
        pressure: in the head [Pa].

    Returns:
        True where the sheet says nothing of lagging or losses and bare glass would lose more than
        5 W; a judgement, no source.
    """
    rig = form_of(sheet).rig
    if rig.lagging is not None or rig.heat_loss is not None:
        return False
    hottest = max(
        boiling_temperature(p.substance, pressure, "programme.pressure").temperature
        for p in sheet.charge
    )
    return _lost(sheet, hottest) > LOSSY


def _lost(sheet: RunSheet, head: float) -> float:
    """Return what column and head lose with the head at a temperature [W]."""
    return sheet.rig.heat_loss_W_K.value * (head - sheet.rig.room_temperature_K.value)


def _lagging_words(sheet: RunSheet, head: float) -> str:
    lagging = form_of(sheet).rig.lagging
    if lagging is not None and lagging != "bare":
        how = lagging if lagging == "lagged" else f"with {lagging}"
        return f"column and head {how}: the forecast counts on it"
    if _lost(sheet, head) > LOSSY:
        return "lag column and head"
    return "no lagging needed by the heat balance"


def bath_course(
    sheet: RunSheet, pressure: float, reflux: float, heating: float = 1.0
) -> list[tuple[float, float]]:
    """Return a bath programme that carries over what is wanted, and what boils before, in time.

    Args:
        sheet: the run sheet.
        pressure: in the head [Pa].
        reflux: ratio [-].
        heating: share of `load_difference` that is used [-].

    Returns:
        Times [s] and temperatures [K]: from the room to above the first boiling point, then
        slowly to above what the pot reaches, at most the limit of the bath.

    Derivation: what column, neck and flask lose comes on top of the customary difference; the
        slow part lasts as long as the heat for what comes over (reflux included) takes to
    pass the wall of the pot at the difference of `load_difference`, and a third longer. It ends
    where hardly any of the wanted component is left; what boils higher stays.
    """
    pot_pressure = pressure + sheet.rig.pressure_drop_Pa.value
    goal, mixture = goal_of(sheet), prepare(sheet).mixture
    boiling = [
        boiling_temperature(p.substance, pot_pressure, "programme.pressure").temperature
        for p in sheet.charge
    ]
    coldest = min(boiling)
    above = heating * load_difference(sheet.charge, sheet.rig, coldest)
    rig, charge = sheet.rig, sheet.charge_volume_m3
    highest = bath_ceiling(sheet.charge, rig) - _TINY
    charged = np.array([p.amount_mol.value for p in sheet.charge])
    left = left_in_pot(charged, mixture, pot_pressure, goal.wanted, _CARRIED)
    stays = sum(
        p.volume_m3
        for p, hot in zip(sheet.charge, boiling, strict=True)
        if hot > boiling[goal.wanted]
    )
    wetted = wetted_share(rig, max(stays, _LOW_POT * charge), charge)
    comes_over = [float(hot <= boiling[goal.wanted]) for hot in boiling]
    ramp = ramp_time(sheet.charge, comes_over, rig, above, reflux)
    first = min(bath_above(rig, coldest, above, 1.0), highest)
    hottest = boils_at(left, mixture, pot_pressure)
    last = min(bath_above(rig, hottest, above, wetted), hottest + MOST_ABOVE, highest)
    last = max(first, last)
    room = rig.room_temperature_K.value
    return [(0.0, room), (_WARM_UP, first), (_WARM_UP + ramp, last)]
