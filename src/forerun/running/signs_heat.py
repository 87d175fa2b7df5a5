"""Signs of heat: nothing comes over, the head falls, swings, an exotherm, superheated vapour.

Thresholds come from ``data/signs.toml``.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.running.case import Case
from forerun.running.signs import Limits, Rule, Sign, first_time, strength, weighed
from forerun.running.signs_expected import pot_over, rate_before, risen_over

__all__ = ["RULES", "pressure_rose"]

Floats = npt.NDArray[np.float64]


def pressure_rose(case: Case, begin: float, end: float, limits: Limits) -> float | None:
    """Return the rise of pressure beyond the programme's in a window, over its threshold.

    Args:
        case: the log.
        begin: of the window [s].
        end: of the window [s].
        limits: thresholds.

    Returns:
        1 at the threshold; None where the pressure was not read there.
    """
    inside = (case.time >= begin) & (case.time <= end) & np.isfinite(case.pressure)
    if inside.sum() < 2:
        return None
    above = (case.pressure - case.planned)[inside]
    least = min(
        limits["pressure_rise_Pa"],
        max(20.0, limits["pressure_rise_share"] * float(case.pressure[inside].min())),
    )
    return float((above[-3:].mean() - above[:3].mean()) / least)


def _nothing_over(case: Case, limits: Limits) -> Sign | None:
    """Sign 1: the pot boils, the bath is far above it, and nothing comes over."""
    liquid = case.pot if case.has("pot") else np.full(case.time.size, case.boiling[0])
    excess = case.bath - liquid
    dry = case.head < case.boiling[0] - limits["dry_head_K"]
    if case.has("volume"):
        dry = ~(case.volume > 0.005 * case.charge)
    where = (excess > limits["bath_over_pot_K"]) & dry & (case.time > case.first_drop)
    cold = case.head < case.room + limits["cold_head_K"]
    if case.has("pot") and case.foreseen_pot.size:
        where &= cold | (case.pot > case.foreseen_pot[0] - 6.0)
    since = first_time(case, where, limits["waiting_s"])
    if since is None:
        return None
    high = case.at(case.pressure, since) > 1.2 * case.at(case.planned, since)
    weights = weighed(
        {"heat_loss": 1.0, "leak": 0.15},
        (high, {"leak": 30.0}),
        (case.stated_pressure and not high, {"leak": 0.1}),
    )
    most = float(np.nanmax(np.where(where, excess, np.nan)))
    seen = f"The bath stands {most:.0f} K above the pot and nothing comes over."
    return Sign(weights, strength(most, limits["bath_over_pot_K"]), since, seen)


def _bath_fails(case: Case, limits: Limits) -> Sign | None:
    """Sign 3 before the head shows it: the bath cools and goes on cooling, against its plan."""
    even = max(int(300.0 / case.step), 1) | 1
    known = np.isfinite(case.bath)
    if known.sum() < 3 * even:
        return None
    bath = _smooth(case.bath[known], even)
    away = _smooth((case.bath - case.planned_bath)[known], even)
    lag = max(int(limits["bath_span_s"] / case.step), 1)
    if bath.size <= lag:
        return None
    fallen = np.minimum(bath[:-lag] - bath[lag:], away[:-lag] - away[lag:])
    where = np.zeros(case.time.size, dtype=bool)
    where[np.flatnonzero(known)[lag:]] = fallen > limits["bath_fails_K"]
    since = first_time(case, where, 120.0)
    if since is None:
        return None
    most = float(fallen.max())
    seen = f"The bath cooled by {most:.0f} K in {lag * case.step / 60.0:.0f} min, unplanned."
    begin = max(since - lag * case.step, float(case.time[0]))
    return Sign({"heater_fault": 1.0}, strength(most, limits["bath_fails_K"]), begin, seen)


def _smooth(values: Floats, width: int) -> Floats:
    padded = np.pad(values, width // 2, mode="edge")
    return np.convolve(padded, np.full(width, 1.0 / width), mode="valid")


def _head_falls(case: Case, limits: Limits) -> Sign | None:
    """Signs 2, 3 and 12: the head falls; pressure, bath and volume say why."""
    for long in (1.0, 4.0):
        span = max(long * limits["fall_s"], 1.5 * case.sampling)
        found = _fallen(case, span, limits, stalled=long > 1.0)
        if found.size:
            break
    if found.size == 0:
        return None
    lag = max(int(span / case.step), 1)
    fall = -risen_over(case, case.head, span)
    since = float(case.time[max(int(found[0]) - lag, 0)])
    end = since + 2.0 * span
    most = float(np.nanmax(fall[found[0] : found[0] + lag + 1]))
    rose = pressure_rose(case, since - 2.0 * span, end, limits)
    cooled = case.at(case.bath, since - 300.0) - case.at(case.bath, end)
    volume = case.at(case.volume, since)
    near = any(abs(volume - v) < limits["near_end_share"] * case.charge for v in case.ends)
    low = case.at(case.planned, since) < 9e4
    leaks = rose is not None and rose >= 1.0
    weights = weighed(
        {"light_exhausted": 1.0, "heater_fault": 0.3, "heat_loss": 0.15, "leak": 0.05},
        (leaks, {"leak": 2000.0, "light_exhausted": 0.2, "heater_fault": 0.3}),
        (rose is not None and not leaks, {"leak": 0.02}),
        (rose is None and low, {"leak": 6.0}),
        (cooled >= limits["bath_fall_K"], {"heater_fault": 40.0, "light_exhausted": 0.2}),
        (cooled < limits["bath_fall_K"], {"heater_fault": 0.15}),
        (near, {"light_exhausted": 5.0}),
        (np.isfinite(volume) and not near, {"light_exhausted": 0.15}),
    )
    said = "unread" if rose is None else ("rising" if leaks else "steady")
    seen = f"The head falls {most:.0f} K in {span / 60.0:.0f} min, the pressure {said}."
    return Sign(weights, strength(most, limits["fall_K"]), since, seen)


def _fallen(case: Case, span: float, limits: Limits, stalled: bool) -> npt.NDArray[np.intp]:
    """Return where the head has fallen over a time; a slow fall counts where dripping stalled."""
    fall = -risen_over(case, case.head, span)
    before = case.head + fall
    corrected = fall - float(np.mean(case.boiling_slope)) * np.nan_to_num(
        -risen_over(case, case.pressure, span)
    )
    where = (corrected > limits["fall_K"]) & (before > case.room + 2.0 * limits["cold_head_K"])
    jumped = _highest(risen_over(case, case.head, 60.0), int((span + 240.0) / case.step) + 1)
    where &= ~(jumped > 0.6 * fall)  # it only comes back from a jump
    if case.has("volume"):
        where &= (case.volume > 0.01 * case.charge) & (
            (case.volume < 0.93 * case.final_volume) | _heated_on(case, limits)
        )
    if stalled:
        usual = np.array([rate_before(case, t, 1800.0, span) for t in case.time[where]])
        where[where] = case.rate[where] < limits["stalled_share"] * usual
    return np.flatnonzero(where)


def _highest(values: Floats, width: int) -> Floats:
    """Return the highest of the newest so many values, at each point."""
    padded = np.concatenate([np.full(width - 1, -np.inf), np.nan_to_num(values, nan=-np.inf)])
    highest: Floats = np.lib.stride_tricks.sliding_window_view(padded, width).max(axis=1)
    return highest


def _heated_on(case: Case, limits: Limits) -> npt.NDArray[np.bool_]:
    """Return where neither bath nor pressure says that somebody ends the run."""
    cooled = -risen_over(case, case.bath, 600.0)
    pressed = np.nan_to_num(risen_over(case, case.pressure - case.planned, 600.0), nan=0.0)
    return (cooled < 0.5 * limits["bath_fall_K"]) & (pressed < _least_rise(case, limits))


def _swings(case: Case, limits: Limits) -> Sign | None:
    """Signs 8 and 9: the head swings fast (bumping), or with the bath (the controller)."""
    t, head = case.raw_time, case.raw_head
    if t.size < 30:
        return None
    gap = float(np.median(np.diff(t)))
    if gap <= 0.0:
        return None
    even = np.arange(t[0], t[-1], gap)
    values = np.interp(even, t, head)
    known = np.isfinite(case.raw_bath)
    bath = np.interp(even, t[known], case.raw_bath[known]) if known.sum() > 2 else None
    best: Sign | None = None
    for low, high in (
        (limits["fast_low_s"], limits["fast_high_s"]),
        (limits["fast_high_s"], 0.3 * limits["slow_high_s"]),
        (0.3 * limits["fast_high_s"] + 100.0, limits["slow_high_s"]),
    ):
        sign = _swinging(even, values, bath, gap, (low, high), limits)
        if sign is not None and (best is None or sign.strength > best.strength):
            best = sign
    return best


def _swinging(
    time: Floats, head: Floats, bath: Floats | None, gap: float,
    periods: tuple[float, float], limits: Limits,
) -> Sign | None:  # fmt: skip
    window = int(4.0 * periods[1] / gap)
    if gap > periods[1] / 4.0 or time.size < 2 * window:
        return None
    fast = periods[1] <= limits["fast_high_s"]
    wave = _detrended(head, int(1.2 * periods[1] / gap))
    other = None if bath is None else _detrended(bath, int(1.2 * periods[1] / gap))
    for a in range(window // 4, time.size - window, max(window // 4, 1)):
        part = wave[a : a + window]
        size = _swing(part, limits["swing_K"])
        turns = _turns(part, 0.5 * size) if size > 0.0 else 0
        period = 2.0 * window * gap / max(turns, 1)
        if size < limits["swing_K"] or not periods[0] <= period < periods[1]:
            continue
        alike = 0.0
        if (
            other is not None
            and float(np.ptp(other[a : a + window])) > 2.0 * limits["bath_swing_K"]
        ):
            alike = _correlation(part, other[a : a + window], int(period / gap))
        with_bath = alike >= limits["correlation"]
        if not fast and not with_bath:
            continue
        weights = (
            {"bumping": 0.1, "heater_cycling": 1.0}
            if with_bath
            else {"bumping": 1.0, "heater_cycling": 0.1}
        )
        seen = f"The head swings by ±{size:.1f} K every {period:.0f} s" + (
            ", and the bath with it." if with_bath else "."
        )
        return Sign(weights, strength(size, limits["swing_K"]), float(time[a]), seen)
    return None


def _bath_cycles(case: Case, limits: Limits) -> Sign | None:
    """Sign 9 by the bath alone: it swings about its own course again and again."""
    t = case.raw_time[np.isfinite(case.raw_bath)]
    if t.size < 40:
        return None
    gap = max(float(np.median(np.diff(t))), 1.0)
    even = np.arange(t[0], t[-1], gap)
    bath = np.interp(even, t, case.raw_bath[np.isfinite(case.raw_bath)])
    wave = _smooth(_detrended(bath, int(0.6 * limits["slow_high_s"] / gap)), int(15.0 / gap) | 1)
    window = int(1500.0 / gap)
    for a in range(0, even.size - window, max(window // 4, 1)):
        part = wave[a : a + window]
        size = _swing(part, limits["bath_cycle_K"])
        turns = _turns(part, 0.5 * size) if size > 0.0 else 0
        if size > limits["bath_cycle_K"] and turns >= 5:
            period = 2.0 * window * gap / turns
            seen = f"The bath swings by ±{size:.1f} K every {period:.0f} s."
            weights = {"heater_cycling": 1.0, "heater_fault": 0.1}
            return Sign(weights, strength(size, limits["bath_cycle_K"]), float(even[a]), seen)
    return None


def _swing(part: Floats, least: float) -> float:
    """Return half the height of a wave [K], without its highest and lowest twentieth.

    0 where even with them it is less than what counts, which is quickly seen.
    """
    if 0.5 * float(np.ptp(part)) < least:
        return 0.0
    low, high = np.quantile(part, [0.05, 0.95])
    return 0.5 * float(high - low)


def _turns(wave: Floats, least: float) -> int:
    """Return how often a wave goes from well above to well below, or back: a step turns once."""
    sides = np.sign(wave) * (np.abs(wave) > least)
    return int((np.diff(sides[sides != 0.0]) != 0.0).sum())


def _detrended(values: Floats, width: int) -> Floats:
    width = max(width | 1, 3)
    padded = np.pad(values, width // 2, mode="edge")
    mean = np.convolve(padded, np.full(width, 1.0 / width), mode="valid")
    return values - np.convolve(
        np.pad(mean, width // 2, mode="edge"), np.full(width, 1.0 / width), mode="valid"
    )


def _correlation(one: Floats, other: Floats, most: int) -> float:
    """Return the largest correlation with the second series shifted by up to a period."""
    best = 0.0
    for lag in range(0, min(most, one.size // 2) + 1):
        a, b = one[lag:], other[: other.size - lag]
        spread = float(np.std(a) * np.std(b))
        if spread > 0.0:
            best = max(best, float(np.mean((a - a.mean()) * (b - b.mean()))) / spread)
    return best


def _superheated(case: Case, limits: Limits) -> Sign | None:
    """Sign 20: early on the head stands above every boiling point, or above the liquid itself."""
    early = (case.volume < 0.3 * case.charge) & (case.volume > 0.01 * case.charge)
    above = case.head - case.boiling[-1]
    over_pot = case.head - case.pot
    where = early & (above > limits["above_K"])
    hotter = early & (over_pot > limits["above_pot_K"])
    since = first_time(case, where | hotter, 240.0)
    if since is None:
        return None
    most = float(np.nanmax(np.where(where | hotter, np.fmax(above, over_pot), np.nan)))
    far = case.at(case.bath, since) - case.at(case.head, since)
    weights = weighed(
        {"superheated_vapour": 1.0, "thermometer_offset": 0.4},
        (far > 50.0, {"superheated_vapour": 2.0}),
    )
    what = "every boiling point of the charge" if bool(where.any()) else "the liquid in the pot"
    seen = f"The head stands {most:.0f} K above {what}."
    return Sign(weights, strength(most, limits["above_pot_K"]), since, seen)


def _exotherm(case: Case, limits: Limits) -> Sign | None:
    """Sign 21: the pot outruns the bath, or boils away from its curve, while nothing drives it."""
    climb = risen_over(case, case.pot, 180.0)
    cooling = -risen_over(case, case.bath, 180.0)
    excess = case.pot - case.bath
    where = (excess > limits["pot_over_bath_K"]) & (climb > 1.0) & (cooling < 2.0)
    since = first_time(case, where, 30.0)
    early = _own_heat(case, limits)
    if since is None and early is None:
        return None
    weights = {"exotherm": 1.0, "decomposition": 0.15}
    if since is not None and (early is None or since <= early[0]):
        most = float(np.nanmax(np.where(where, excess, np.nan)))
        seen = f"The pot is {most:.0f} K above its bath and rises."
        return Sign(weights, strength(most, 0.5 * limits["pot_over_bath_K"]), since, seen)
    begin, most = early or (0.0, 0.0)
    seen = f"The pot rose {most:.0f} K above its boiling curve while drops went on falling."
    return Sign(weights, strength(most, limits["own_heat_K"]), begin, seen)


def _own_heat(case: Case, limits: Limits) -> tuple[float, float] | None:
    """Return when the pot left its boiling curve with pressure steady and drops falling on."""
    if not case.has("volume"):
        return None
    risen = risen_over(case, pot_over(case), limits["own_heat_s"])
    pushed = risen_over(case, case.pressure - case.planned, limits["own_heat_s"])
    where = (risen > limits["own_heat_K"]) & ~(pushed > 0.5 * _least_rise(case, limits))
    since = first_time(case, where, 45.0)
    if since is None:
        return None
    begin = since - limits["own_heat_s"]
    here = (case.time >= since) & (case.time <= since + 300.0)
    rates = case.rate[here & np.isfinite(case.rate)]
    if rates.size == 0 or float(np.median(rates)) < 0.7 * rate_before(case, begin):
        return None
    return max(begin, float(case.time[0])), float(np.nanmax(risen))


def _least_rise(case: Case, limits: Limits) -> float:
    """Return the rise of pressure that counts as one [Pa]."""
    lowest = float(np.nanmin(case.pressure)) if np.isfinite(case.pressure).any() else np.inf
    share = limits["pressure_rise_share"] * lowest
    return min(limits["pressure_rise_Pa"], max(20.0, share))


RULES = (
    Rule("nothing comes over", ("head", "bath"), _nothing_over),
    Rule("the bath fails", ("bath",), _bath_fails),
    Rule("the head falls", ("head",), _head_falls),
    Rule("the head swings", ("head",), _swings),
    Rule("the bath swings", ("bath",), _bath_cycles),
    Rule("superheated vapour", ("head", "volume"), _superheated),
    Rule("the pot outruns the bath", ("pot", "bath"), _exotherm),
)
"""Rows 1, 2, 3, 8, 9, 20 and 21 of the table."""
