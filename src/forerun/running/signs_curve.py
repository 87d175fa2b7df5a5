"""Signs in the shape of the curve: plateaus too low, azeotropes, water, no step, a jump.

Thresholds come from ``data/signs.toml``.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from forerun.reviewing.plateaus import Plateau, find_plateaus
from forerun.running.case import Case
from forerun.running.signs import Limits, Rule, Sign, strength, weighed
from forerun.running.signs_expected import head_over, pot_over

__all__ = ["RULES"]

Floats = npt.NDArray[np.float64]

_THROWN = ("foam", "carried over", "bumped over", "coloured drop", "colour in the rec", "splash")
_CLOUDY = ("cloudy", "milky", "turbid")
_LAYERS = ("two layers", "second layer", "layers", "phase split", "two phases")
_LEAST_PLATEAU = 300.0  # s
_MOST_VOLUME = 0.9  # of the forecast's last volume: beyond, the curve is its end


def _hot_plateaus(case: Case) -> list[Plateau]:
    """Return plateaus of a head that vapour has reached, with drops falling where that is read."""
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


def _low(case: Case) -> tuple[Floats, float, float] | None:
    """Return how far the head stands below the forecast, when that begins, and its scatter."""
    if case.has("volume") and case.foreseen_volume.size > 2:
        on = _early(case) & np.isfinite(head_over(case))
        if on.sum() < 8 or np.ptp(case.volume[on]) < 0.12 * case.charge:
            return None
        low = -head_over(case)[on]
        return low, float(case.time[on][0]), 1.4826 * float(np.median(np.abs(low - np.median(low))))
    plateaus = _hot_plateaus(case)
    if not plateaus:
        return None
    marks = np.array([*case.boiling, *(a.temperature_K for a in case.azeotropes)])
    low = np.array(
        [marks[np.abs(marks - p.temperature_K).argmin()] - p.temperature_K for p in plateaus]
    )
    return low, plateaus[0].start_s, float(np.ptp(low))


def _early(case: Case) -> npt.NDArray[np.bool_]:
    """Return where composition can hardly have gone another way than the forecast's yet."""
    return (case.volume > 0.08 * case.final_volume) & (case.volume < 0.4 * case.final_volume)


def _pot_low(case: Case) -> float | None:
    """Return how far the pot stands below the forecast early on [K], None where it was not read."""
    over = pot_over(case)
    on = np.isfinite(over) & _early(case) & (case.volume < 0.3 * case.final_volume)
    return None if on.sum() < 8 else -float(np.median(over[on]))


def _plateaus_low(case: Case, limits: Limits) -> Sign | None:
    """Signs 4 and 5: the whole curve is a few kelvins low."""
    found = _low(case)
    if found is None:
        return None
    low, since, scatter = found
    middle = float(np.median(low))
    if not limits["plateau_low_K"] <= middle <= limits["plateau_lowest_K"]:
        return None
    if scatter > limits["plateau_spread_K"] or float(np.mean(low > 0.0)) < 0.95:
        return None
    slope = float(np.mean(case.boiling_slope))
    implied = float(np.median(case.planned)) - middle / slope
    possible = not case.stated_pressure and implied > limits["lowest_barometer_Pa"]
    pot = _pot_low(case)
    together = pot is not None and pot > 0.5 * middle
    if pot is not None and case.stated_pressure and middle - pot < limits["plateau_low_K"]:
        return None  # the pot is as low: the mixture is another, not the thermometer
    weights = weighed(
        {"thermometer_offset": 1.0, "barometer": 0.9, "azeotrope": 0.05},
        (case.stated_pressure, {"barometer": 0.02}),
        (not case.stated_pressure and not possible, {"barometer": 0.1}),
        (possible and middle < 3.5, {"barometer": 2.0}),
        (pot is not None and together, {"barometer": 8.0, "thermometer_offset": 0.3}),
        (pot is not None and not together, {"barometer": 0.1}),
        (_against_slope(case, low), {"barometer": 0.3}),
    )
    seen = f"The head stands {middle:.1f} K below the forecast throughout"
    seen += (
        "; the pressure was read."
        if case.stated_pressure
        else f"; a barometer at {implied / 100.0:.0f} mbar would do that."
    )
    return Sign(weights, strength(middle, limits["plateau_low_K"]), since, seen)


def _against_slope(case: Case, low: Floats) -> bool:
    """Return whether several plateaus are low by an amount not in proportion to dT/dP."""
    if low.size != case.boiling_slope.size or low.size < 2 or case.has("volume"):
        return False
    ratio = low / case.boiling_slope
    return float(np.std(ratio) / np.mean(ratio)) > float(np.std(low) / np.mean(low))


def _constant_below_all(case: Case, limits: Limits) -> Sign | None:
    """Sign 6: a flat plateau below every boiling point of the charge."""
    for p in _hot_plateaus(case):
        below = float(case.boiling[0]) - p.temperature_K
        early = (
            case.has("volume")
            and case.at(case.volume, p.end_s) < limits["early_share"] * case.charge
        )
        match = min(
            (abs(a.temperature_K - p.temperature_K) for a in case.azeotropes), default=np.inf
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


def _foreseen_there(case: Case, plateau: Plateau) -> bool:
    """Return whether the forecast, too, has the head below all that is in the charge then."""
    if not case.azeotropes or not case.has("volume") or case.foreseen_volume.size < 3:
        return False
    middle = case.at(case.volume, 0.5 * (plateau.start_s + plateau.end_s))
    expected = float(np.interp(middle, case.foreseen_volume, case.foreseen_head))
    return expected < float(case.boiling[0]) and abs(expected - plateau.temperature_K) < 3.0


def _flattened(case: Case, limits: Limits) -> Sign | None:
    """Sign 7: too hot early, too cold late: the column parts less than it should."""
    if case.boiling.size < 2 or case.foreseen_volume.size < 3:
        return None
    over = head_over(case)
    part = case.volume / case.final_volume
    known = np.isfinite(over)
    early, late = (
        known & (part > low) & (part < high) for low, high in ((0.08, 0.4), (0.5, _MOST_VOLUME))
    )
    if early.sum() < 8 or late.sum() < 8 or np.ptp(part[early]) < 0.1:
        return None
    hot, cold = float(np.median(over[early])), float(np.quantile(over[late], 0.2))
    pot = float(np.median(np.nan_to_num(pot_over(case)[early])))
    if float(np.median(np.nan_to_num((case.head - case.pot)[early]))) > 1.0:
        return None  # hotter than the liquid it comes from: superheated, not badly parted
    inside = np.interp(case.volume[early | late], case.foreseen_volume, case.foreseen_head)
    least = max(limits["flat_early_K"], limits["flat_early_share"] * float(np.ptp(inside)))
    contrast = hot - cold
    if hot - max(pot, 0.0) < least or contrast < limits["flat_contrast_K"]:
        return None
    seen = f"The head stands {hot:.1f} K above the forecast early and {-cold:.1f} K below it late."
    plain = strength(contrast, limits["flat_contrast_K"])
    weights = {"too_few_plates": 1.0, "heat_loss": 0.05}
    return Sign(weights, plain, float(case.time[early][0]), seen)


def _no_step(case: Case, limits: Limits) -> Sign | None:
    """Sign 7: the head rises all the way, without a step."""
    on = np.isfinite(case.volume) & np.isfinite(case.head) & (case.volume > 0.05 * case.charge)
    on &= case.volume < _MOST_VOLUME * case.final_volume
    if on.sum() < 12 or np.ptp(case.volume[on]) < 0.35 * case.charge or case.boiling.size < 2:
        return None
    seen_sharp, rise = _sharpness(case.volume[on], case.head[on])
    inside = (case.foreseen_volume >= case.volume[on].min()) & (
        case.foreseen_volume <= case.volume[on].max()
    )
    if inside.sum() < 12 or rise < limits["rise_K"] or seen_sharp > limits["step_share"]:
        return None
    planned, _ = _sharpness(case.foreseen_volume[inside], case.foreseen_head[inside])
    if planned < seen_sharp + 0.15:
        return None
    weights = {"too_few_plates": 1.0, "heat_loss": 0.05}
    share = f"{100.0 * seen_sharp:.0f} % of it in the steepest fifth of the volume"
    seen = f"The head rises {rise:.0f} K without a step: {share}, "
    seen += f"{100.0 * planned:.0f} % in the forecast."
    return Sign(weights, strength(limits["step_share"], seen_sharp), float(case.time[on][0]), seen)


def _sharpness(volume: Floats, head: Floats) -> tuple[float, float]:
    """Return the share of the rise in its steepest fifth of the volume, and the rise [K]."""
    grid = np.linspace(volume.min(), volume.max(), 51)
    order = np.argsort(volume, kind="stable")
    even = np.interp(grid, volume[order], head[order])
    even = np.convolve(np.pad(even, 2, mode="edge"), np.full(5, 0.2), mode="valid")
    rise = float(even[-1] - even[0])
    return float((even[10:] - even[:-10]).max()) / max(rise, 1e-6), rise


def _jump(case: Case, limits: Limits) -> Sign | None:
    """Sign 10: the head jumps up and comes back, or the receiver fills at once."""
    said = case.said(*_THROWN)
    t, head = case.raw_time, case.raw_head
    since, most = None, 0.0
    for k in range(1, t.size - 3):
        up = float(head[k] - head[k - 1])
        if (
            up < limits["jump_K"]
            or t[k] - t[k - 1] > limits["jump_s"]
            or head[k - 1] < case.boiling[0] - 25.0
        ):
            continue
        later = head[(t > t[k]) & (t < t[k] + 300.0)]
        stays = head[(t >= t[k]) & (t < t[k] + 30.0)]
        if (
            later.size > 1
            and stays.size > 1
            and later.min() < head[k] - 0.6 * up
            and stays[1] > head[k - 1] + 0.4 * up
        ):
            since, most = float(t[k]), up
            break
    if since is None and said is None:
        return None
    weights = weighed(
        {"carry_over": 1.0, "bumping": 0.3, "flooding": 0.2},
        (said is not None, {"carry_over": 5.0}),
    )
    plain = max(strength(most, limits["jump_K"]), 0.9 if said is not None else 0.0)
    seen = (
        f"The head jumped {most:.0f} K and came back."
        if since is not None
        else "Foam, colour or splashing was noted."
    )
    return Sign(weights, plain, since if since is not None else said or 0.0, seen)


def _early_low(case: Case, limits: Limits) -> Sign | None:
    """Sign 17: the first drops come over too cold, or cloudy, then the curve is right."""
    cloudy = case.said(*_CLOUDY)
    first = cloudy is not None and (
        not case.has("volume") or case.at(case.volume, cloudy) < limits["early_share"] * case.charge
    )
    low, since = 0.0, cloudy or 0.0
    if case.has("volume") and case.foreseen_volume.size > 2:
        expected = np.interp(case.volume, case.foreseen_volume, case.foreseen_head)
        drops = np.isfinite(case.head) & np.isfinite(case.volume)
        early = drops & (case.volume > 0.012 * case.charge) & (case.volume < 0.045 * case.charge)
        later = (
            drops
            & (case.volume > 2.0 * limits["early_share"] * case.charge)
            & (case.volume < _MOST_VOLUME * case.final_volume)
        )
        if early.sum() * case.step > 2.0 * case.sampling and early.sum() > 3 and later.sum() > 3:
            offset = float(np.median((expected - case.head)[later]))
            low = float(np.median((expected - case.head)[early])) - max(offset, 0.0)
            since = float(case.time[early][0])
    if case.has_water or (low < limits["early_low_K"] and not first):
        return None
    weights = weighed(
        {"water": 1.0, "light_exhausted": 0.0, "azeotrope": 0.3, "thermometer_offset": 0.1},
        (first, {"water": 6.0}),
    )
    plain = max(strength(max(low, 0.0), limits["early_low_K"]), 0.85 if first else 0.0)
    seen = (
        f"The first drops came over {low:.0f} K below the forecast"
        if low >= limits["early_low_K"]
        else "The first drops were cloudy"
    )
    return Sign(
        weights,
        plain,
        since,
        seen + (", cloudy." if first and low >= limits["early_low_K"] else "."),
    )


def _two_layers(case: Case, limits: Limits) -> Sign | None:
    """Sign 18: layers, or cloudiness that is not of the first drops."""
    since = case.said(*_LAYERS)
    if since is None:
        cloudy = case.said(*_CLOUDY)
        late = (
            cloudy is not None
            and case.at(case.volume, cloudy) > limits["early_share"] * case.charge
        )
        since = cloudy if late else None
    if since is None:
        return None
    hetero = any(a.liquids == 2 for a in case.azeotropes)
    weights = weighed(
        {"two_liquids": 1.0, "water": 0.3},
        (hetero, {"two_liquids": 5.0}),
        (case.has_water, {"water": 0.1}),
    )
    known = "; the charge has an azeotrope of two liquids" if hetero else ""
    return Sign(weights, 0.9, since, f"Two layers were noted{known}.")


RULES = (
    Rule("plateaus too low", ("head",), _plateaus_low),
    Rule("constant below every boiling point", ("head",), _constant_below_all),
    Rule("no step", ("head", "volume"), _no_step),
    Rule("parts less than it should", ("head", "volume"), _flattened),
    Rule("a jump of the head", ("head",), _jump, remark=True),
    Rule("first drops too cold", ("head", "volume"), _early_low, remark=True),
    Rule("two layers", (), _two_layers, remark=True),
)
"""Rows 4 to 7, 10, 17 and 18 of the table."""
