"""Signs in the shape of the curve: plateaus too low, and a column that parts nothing.

The log is held against all runs that the sheet allows (`forerun.running.courses`), so that what a
charge or a pair a little other than stated would do is no sign.  Thresholds come from
``data/signs.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.running.case import Case
from forerun.running.signs import Limits, Rule, Sign, strength, weighed
from forerun.running.signs_expected import Apart, apart_from
from forerun.running.signs_plateaus import hot_plateaus

__all__ = ["RULES"]

Floats = npt.NDArray[np.float64]

_FROM = 0.08  # of the forecast's last volume: before, the head is still warming
_EARLY = 0.4  # until here composition can hardly have gone another way than the forecast's
_LATE = 0.9  # beyond, the curve is its end
_LEAST = 0.12  # of the charge, over which a curve has a shape


@dataclass(frozen=True, slots=True)
class _Low:
    by: float  # K, that the head stands too low
    pot_by: float  # K, the same of the pot; not-a-number where it was not read
    spread: float  # K
    since: float  # s


def _low(case: Case) -> _Low | None:
    """Return how far the head stands below the run that explains it best."""
    apart = apart_from(case, case.courses.healthy, _FROM, _EARLY, _LEAST)
    if apart is None:
        return None if case.has("volume") else _low_plateaus(case)
    kept = apart.head.std(axis=1) <= max(1.5 * float(apart.head.std(axis=1).min()), 0.3)
    low = -np.median(apart.head, axis=1)
    k = int(np.where(kept, np.abs(low), np.inf).argmin())
    middle = float(np.median(apart.head[k]))
    spread = 1.4826 * float(np.median(np.abs(apart.head[k] - middle)))
    return _Low(-middle, -float(np.median(apart.pot[k])), spread, apart.begin_s)


def _low_plateaus(case: Case) -> _Low | None:
    """Return how far the plateaus stand below boiling points where no volume was read."""
    plateaus = hot_plateaus(case)
    if not plateaus:
        return None
    marks = np.array([*case.boiling, *(a.temperature_K for a in case.azeotropes)])
    low = np.array(
        [marks[np.abs(marks - p.temperature_K).argmin()] - p.temperature_K for p in plateaus]
    )
    return _Low(float(np.median(low)), np.nan, float(np.ptp(low)), plateaus[0].start_s)


def _plateaus_low(case: Case, limits: Limits) -> Sign | None:
    """Signs 4 and 5: the whole curve is a few kelvins low."""
    low = _low(case)
    if low is None:
        return None
    if not limits["plateau_low_K"] <= low.by <= limits["plateau_lowest_K"]:
        return None
    if low.spread > limits["plateau_spread_K"]:
        return None
    pot_read = bool(np.isfinite(low.pot_by))
    together = pot_read and low.pot_by > 0.5 * low.by
    if pot_read and case.stated_pressure and low.by - low.pot_by < limits["plateau_low_K"]:
        return None  # the pot is as low: the mixture is another, not the thermometer
    slope = float(np.mean(case.boiling_slope))
    implied = float(np.median(case.planned)) - low.by / slope
    possible = not case.stated_pressure and implied > limits["lowest_barometer_Pa"]
    weights = weighed(
        {"thermometer_offset": 1.0, "barometer": 0.9, "azeotrope": 0.05},
        (case.stated_pressure, {"barometer": 0.02}),
        (not case.stated_pressure and not possible, {"barometer": 0.1}),
        (possible and low.by < 3.5, {"barometer": 2.0}),
        (together, {"barometer": 8.0, "thermometer_offset": 0.3}),
        (pot_read and not together, {"barometer": 0.1}),
    )
    seen = f"The head stands {low.by:.1f} K below the forecast throughout"
    seen += (
        "; the pressure was read."
        if case.stated_pressure
        else f"; a barometer at {implied / 100.0:.0f} mbar would do that."
    )
    return Sign(weights, strength(low.by, limits["plateau_low_K"]), low.since, seen)


def _both_low(case: Case, limits: Limits) -> Sign | None:
    """Sign 5 by two thermometers: head and pot are low alike, and nobody read the pressure."""
    if case.stated_pressure:
        return None
    apart = apart_from(case, case.courses.healthy, _FROM, _EARLY, _LEAST)
    if apart is None or not np.isfinite(apart.pot).any():
        return None
    head, pot = -np.median(apart.head, axis=1), -np.median(apart.pot, axis=1)
    k = int(np.abs(0.5 * (head + pot)).argmin())
    low = float(0.5 * (head[k] + pot[k]))
    implied = float(np.median(case.planned)) - low / float(np.mean(case.boiling_slope))
    if low < limits["both_low_K"] or min(head[k], pot[k]) < 0.3 * low:
        return None
    if implied < limits["lowest_barometer_Pa"]:
        return None
    seen = f"Head and pot both stand {low:.1f} K below the forecast; "
    seen += f"a barometer at {implied / 100.0:.0f} mbar would do that."
    weights = {"barometer": 1.0, "thermometer_offset": 0.3}
    return Sign(weights, strength(low, limits["both_low_K"]), apart.begin_s, seen)


def _parts_nothing(case: Case, limits: Limits) -> Sign | None:
    """Sign 7: a column that parts nothing explains the curve, and one that does cannot."""
    usual = apart_from(case, case.courses.healthy, _FROM, _LATE, _LEAST)
    bare = apart_from(case, case.courses.unparted, _FROM, _LATE, _LEAST)
    if usual is None or bare is None:
        return None
    best, without = _nearest(usual), _nearest(bare)
    if best < limits["unlike_K"] or without > limits["alike_K"]:
        return None
    if without > limits["alike_share"] * best:
        return None
    seen = f"The head runs as if the column parted nothing, within {without:.1f} K; "
    seen += f"as the sheet has it, {best:.1f} K off."
    weights = {"too_few_plates": 1.0, "heat_loss": 0.05}
    return Sign(weights, strength(best, limits["unlike_K"]), usual.begin_s, seen)


def _nearest(apart: Apart) -> float:
    """Return how far the head stands from the nearest of the runs [K], root of the mean square."""
    return float(np.sqrt((apart.head**2).mean(axis=1)).min())


RULES = (
    Rule("plateaus too low", ("head",), _plateaus_low),
    Rule("head and pot too low", ("head", "pot", "volume"), _both_low),
    Rule("parts nothing", ("head", "volume"), _parts_nothing),
)
"""Rows 4, 5 and 7 of the table."""
