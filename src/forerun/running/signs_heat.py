"""Signs of heat: nothing comes over, the head falls, swings, an exotherm, superheated vapour.

Thresholds come from ``data/signs.toml``.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.running.case import Case
from forerun.running.signs import Limits, Rule, Sign, first_time, strength, weighed

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
    """Sign 1: the bath is far above the pot, the head is cold, nothing drips."""
    liquid = case.pot if case.has("pot") else np.full(case.time.size, case.boiling[0])
    excess = case.bath - liquid
    where = (excess > limits["bath_over_pot_K"]) & (case.head < case.room + limits["cold_head_K"])
    if case.has("rate"):
        where &= ~(case.rate > 1e-10)
    where &= case.time > case.first_drop
    since = first_time(case, where, limits["waiting_s"])
    if since is None:
        return None
    high = case.at(case.pressure, since) > 1.1 * case.at(case.planned, since)
    weights = weighed(
        {"heat_loss": 1.0, "leak": 0.15},
        (high, {"leak": 30.0}),
        (case.stated_pressure and not high, {"leak": 0.1}),
    )
    most = float(np.nanmax(np.where(where, excess, np.nan)))
    seen = f"The bath stands {most:.0f} K above the pot and the head is still cold."
    return Sign(weights, strength(most, limits["bath_over_pot_K"]), since, seen)


def _head_falls(case: Case, limits: Limits) -> Sign | None:
    """Signs 2, 3 and 12: the head falls; pressure, bath and volume say why."""
    span = max(limits["fall_s"], 1.5 * case.sampling)
    lag = max(int(span / case.step), 1)
    fall = np.full(case.time.size, np.nan)
    fall[lag:] = case.head[:-lag] - case.head[lag:]
    before = np.full(case.time.size, np.nan)
    before[lag:] = case.head[:-lag]
    where = (fall > limits["fall_K"]) & (before > case.room + 2.0 * limits["cold_head_K"])
    if case.has("volume"):
        where &= (case.volume > 0.01 * case.charge) & (case.volume < 0.93 * case.final_volume)
    found = np.flatnonzero(where)
    if found.size == 0:
        return None
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
        (limits["fast_high_s"], limits["slow_high_s"]),
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
        size = 0.5 * float(np.quantile(part, 0.95) - np.quantile(part, 0.05))
        turns = _turns(part, 0.5 * size)
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
    """Sign 20: early on the head stands above every boiling point of the charge."""
    above = case.head - case.boiling[-1]
    where = (above > limits["above_K"]) & (case.volume < 0.3 * case.charge)
    since = first_time(case, where, 120.0)
    if since is None:
        return None
    most = float(np.nanmax(np.where(where, above, np.nan)))
    far = case.at(case.bath, since) - case.at(case.head, since)
    weights = weighed(
        {"superheated_vapour": 1.0, "thermometer_offset": 0.4},
        (far > 50.0, {"superheated_vapour": 2.0}),
    )
    seen = f"The head stands {most:.0f} K above every boiling point of the charge."
    return Sign(weights, strength(most, limits["above_K"]), since, seen)


def _exotherm(case: Case, limits: Limits) -> Sign | None:
    """Sign 21: the pot outruns the bath while the bath is not being cooled."""
    lag = max(int(180.0 / case.step), 1)
    climb, cooling = np.full(case.time.size, np.nan), np.full(case.time.size, np.nan)
    climb[lag:] = case.pot[lag:] - case.pot[:-lag]
    cooling[lag:] = case.bath[:-lag] - case.bath[lag:]
    excess = case.pot - case.bath
    where = (excess > limits["pot_over_bath_K"]) & (climb > 1.0) & (cooling < 2.0)
    since = first_time(case, where, 30.0)
    if since is None:
        return None
    most = float(np.nanmax(np.where(where, excess, np.nan)))
    weights = {"exotherm": 1.0, "decomposition": 0.15}
    seen = f"The pot is {most:.0f} K above its bath and rises."
    return Sign(weights, strength(most, 0.5 * limits["pot_over_bath_K"]), since, seen)


RULES = (
    Rule("nothing comes over", ("head", "bath"), _nothing_over),
    Rule("the head falls", ("head",), _head_falls),
    Rule("the head swings", ("head",), _swings),
    Rule("superheated vapour", ("head", "volume"), _superheated),
    Rule("the pot outruns the bath", ("pot", "bath"), _exotherm),
)
"""Rows 1, 2, 3, 8, 9, 20 and 21 of the table."""
