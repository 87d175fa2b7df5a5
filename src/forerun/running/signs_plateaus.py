"""Sign of a plateau below everything that the charge has.

Thresholds come from ``data/signs.toml``.
"""

from __future__ import annotations

import numpy as np

from forerun.reviewing.plateaus import Plateau, find_plateaus
from forerun.running.case import Case
from forerun.running.signs import Limits, Rule, Sign, strength, weighed
from forerun.running.signs_expected import pot_over

__all__ = ["RULES", "hot_plateaus"]

_LEAST_PLATEAU = 300.0  # s


def hot_plateaus(case: Case) -> list[Plateau]:
    """Return plateaus of a head that vapour has reached, with drops falling where that is read.

    Args:
        case: the log.
    """
    found = find_plateaus(case.raw_time, case.raw_head)
    warm = case.boiling[0] - 40.0
    kept = []
    for p in found:
        drips = not case.has("volume") or (
            case.at(case.volume, p.end_s) - case.at(case.volume, p.start_s) > 0.02 * case.charge
        )
        if p.end_s - p.start_s >= _LEAST_PLATEAU and p.temperature_K > warm and drips:
            kept.append(p)
    return kept


def _pot_low(case: Case) -> float | None:
    """Return how far the pot stands below the forecast early on [K], None where it was not read."""
    over = pot_over(case)
    early = (case.volume > 0.08 * case.final_volume) & (case.volume < 0.3 * case.final_volume)
    on = np.isfinite(over) & early
    return None if on.sum() < 8 else -float(np.median(over[on]))


def _constant_below_all(case: Case, limits: Limits) -> Sign | None:
    """Sign 6: a flat plateau below every boiling point of the charge."""
    for p in hot_plateaus(case):
        below = float(case.boiling[0]) + _pressed(case, p) - p.temperature_K
        early = (
            case.has("volume")
            and case.at(case.volume, p.end_s) < limits["early_share"] * case.charge
        )
        match = min(
            (abs(a.temperature_K + _pressed(case, p) - p.temperature_K) for a in case.azeotropes),
            default=np.inf,
        )
        known = match < limits["azeotrope_K"] or _foreseen_there(case, p)
        least = limits["below_all_K" if known else "plateau_low_K"]
        if below < least or early:
            continue
        pot = _pot_low(case)
        together = pot is not None and pot > 0.5 * below
        apart = pot is not None and pot < 0.3 * below
        if together and case.stated_pressure and not known:
            continue  # another mixture than the sheet's, and nothing that a test would tell
        weights = weighed(
            {"azeotrope": 0.4, "thermometer_offset": 0.5, "barometer": 0.3, "water": 0.2},
            (together, {"barometer": 10.0, "thermometer_offset": 0.3}),
            (apart, {"thermometer_offset": 6.0, "barometer": 0.1}),
            (known, {"azeotrope": 30.0}),
            (
                not known and below > limits["plateau_lowest_K"],
                {"azeotrope": 3.0, "water": 4.0, "thermometer_offset": 0.2},
            ),
            (case.stated_pressure, {"barometer": 0.05}),
            (case.has_water, {"water": 0.1}),
        )
        seen = f"The head is constant {below:.1f} K below every boiling point of the charge"
        seen += (
            ", where an azeotrope of it boils." if known else "; no azeotrope of it boils there."
        )
        return Sign(weights, strength(below, least), p.start_s, seen)
    return None


def _pressed(case: Case, plateau: Plateau) -> float:
    """Return how much hotter everything boils on a plateau than at the usual pressure [K]."""
    on = (case.time >= plateau.start_s) & (case.time <= plateau.end_s) & np.isfinite(case.pressure)
    if not on.any():
        return 0.0
    usual = float(np.nanmedian(case.pressure))
    return float(case.boiling_slope[0]) * (float(np.median(case.pressure[on])) - usual)


def _foreseen_there(case: Case, plateau: Plateau) -> bool:
    """Return whether the forecast, too, has the head below all that is in the charge then."""
    if not case.azeotropes or not case.has("volume") or case.foreseen_volume.size < 3:
        return False
    middle = case.at(case.volume, 0.5 * (plateau.start_s + plateau.end_s))
    expected = float(np.interp(middle, case.foreseen_volume, case.foreseen_head))
    return expected < float(case.boiling[0]) and abs(expected - plateau.temperature_K) < 3.0


RULES = (Rule("constant below every boiling point", ("head",), _constant_below_all),)
"""Row 6 of the table."""
