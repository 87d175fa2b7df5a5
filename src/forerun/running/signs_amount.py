"""Signs of amount: the pot runs low, mass is missing, there is more than was put in.

Thresholds come from ``data/signs.toml``.
"""

from __future__ import annotations

import numpy as np

from forerun.running.case import Case
from forerun.running.signs import Limits, Rule, Sign, first_time, strength

__all__ = ["RULES"]


def _runs_low(case: Case, limits: Limits) -> Sign | None:
    """Sign 19: late on bath and head part and less drips, or what is left is below the floor."""
    floor = limits["peroxide_floor_share" if case.peroxide_former else "floor_share"]
    left = (case.charge - case.volume - case.holdup) / case.charge
    under = first_time(case, left < limits["read_floor"] * floor)
    late = case.volume > limits["late_share"] * case.charge
    parting = None
    if case.has("bath", "head") and late.any():
        gap = case.bath - case.head
        at_late = float(gap[late][0])
        usual = (
            float(np.nanmedian(case.rate[case.rate > 1e-10])) if (case.rate > 1e-10).any() else 0.0
        )
        where = (
            late
            & (left < limits["near_floor"] * floor)
            & (gap > at_late + limits["widening_K"])
            & (case.rate < 0.5 * usual)
        )
        parting = first_time(case, where, 30.0)
    begins = [t for t in (under, parting) if t is not None]
    if not begins:
        return None
    least = float(np.nanmin(left))
    share, asked = f"{max(100.0 * least, 0.0):.0f} %", f"{100.0 * floor:.0f} %"
    seen = f"About {share} of the charge is left in the pot; the floor is {asked}."
    if under is None:
        seen = f"Late in the run bath and head part; {share} of the charge is left."
    plain = strength(max(floor - least, 0.0) + floor, floor)
    weights = {"near_dry": 1.0, "light_exhausted": 0.15 if under is not None else 0.5}
    return Sign(weights, plain, min(begins), seen)


def _mass_lost(case: Case, limits: Limits) -> Sign | None:
    """Sign 22: less weighed out than put in, and not in the trap."""
    w = case.weighed
    if w is None:
        return None
    least = max(1.0 - limits["lost_share"], _doubt(case, limits) + limits["on_glass"])
    missing = 1.0 - w.out_kg / w.charge_kg
    if missing <= least:
        return None
    trap = f"the trap holds {1e3 * w.trap_kg:.1f} g"
    seen = f"{100.0 * missing:.1f} % of the charge was not found again; {trap}."
    return Sign(
        {"lost_mass": 1.0, "condenser_breakthrough": 0.15, "leak": 0.1},
        strength(missing, least),
        float(case.time[-1]),
        seen,
    )


def _mass_gained(case: Case, limits: Limits) -> Sign | None:
    """Sign 23: more out than in, by mass where weighed, else by the distillate alone."""
    least = max(limits["gained_share"] - 1.0, _doubt(case, limits))
    share = case.weighed.out_kg / case.weighed.charge_kg if case.weighed is not None else 0.0
    since = float(case.time[-1])
    if case.has("volume"):
        share = max(share, float(np.nanmax(case.volume)) / case.charge)
        since = first_time(case, case.volume > (1.0 + least) * case.charge) or since
    if share - 1.0 <= least:
        return None
    seen = f"{100.0 * share:.1f} % of what was charged came out."
    weights = {"gained_mass": 1.0, "water": 0.1}
    return Sign(weights, strength(share - 1.0, least), since, seen)


def _doubt(case: Case, limits: Limits) -> float:
    """Return by what share of the charge an account may be off because the charge is [-]."""
    return limits["charge_doubts"] * case.courses.charge_sigma


RULES = (
    Rule("the pot runs low", ("volume",), _runs_low),
    Rule("mass lost", ("weighed",), _mass_lost),
    Rule("more out than in", (), _mass_gained),
)
"""Rows 19, 22 and 23 of the table."""
