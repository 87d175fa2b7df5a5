"""Signs in the curve and the receiver: a jump, first drops too cold, two layers.

Thresholds come from ``data/signs.toml``.
"""

from __future__ import annotations

import numpy as np

from forerun.running.case import Case
from forerun.running.signs import Limits, Rule, Sign, first_time, strength, weighed
from forerun.running.signs_expected import risen_over

__all__ = ["RULES"]

_THROWN = ("foam", "carried over", "bumped over", "coloured drop", "colour in the rec", "splash")
_CLOUDY = ("cloudy", "milky", "turbid")
_LAYERS = ("two layers", "second layer", "layers", "phase split", "two phases")
_LEAP_S = 20.0  # in which liquid wets a bulb
_STANDS_S = 90.0  # in which a head that still warms has risen
_MOST_VOLUME = 0.9  # of the forecast's last volume: beyond, the curve is its end


def _jump(case: Case, limits: Limits) -> Sign | None:
    """Sign 10: the head jumps up and comes back, and the receiver fills at once."""
    said = case.said(*_THROWN)
    found = next((f for k in _leaps(case, limits) if (f := _thrown(case, k, limits))), None)
    if found is None and said is None:
        return None
    since, up, more = found or (said or 0.0, 0.0, 0.0)
    filled = more > limits["thrown_m3"]
    weights = weighed(
        {"carry_over": 1.0, "bumping": 0.3, "flooding": 0.2},
        (said is not None, {"carry_over": 5.0}),
        (filled, {"carry_over": 4.0}),
    )
    plain = max(
        strength(up, limits["jump_K"]),
        0.9 if said is not None else 0.0,
        strength(more, 0.5 * limits["thrown_m3"]) if filled else 0.0,
    )
    seen = "Foam, colour or splashing was noted."
    if found is not None:
        seen = f"The head jumped {up:.0f} K and came back"
        seen += f", and {1e6 * more:.1f} mL came over at once." if filled else "."
    return Sign(weights, plain, since, seen)


def _leaps(case: Case, limits: Limits) -> list[int]:
    """Return where a hot head has leapt up, the first reading of each leap."""
    t, head = case.raw_time, case.raw_head
    if t.size < 6:
        return []
    over = max(_LEAP_S, 1.05 * float(np.median(np.diff(t))))
    if over > limits["jump_s"]:
        return []
    before = np.interp(t - over, t, head)
    up = (head - before > 0.5 * limits["jump_K"]) & (before > case.boiling[0] - 25.0)
    up &= t > t[0] + over
    return [int(k) for k in np.flatnonzero(up & ~np.roll(up, 1))]


def _thrown(case: Case, at: int, limits: Limits) -> tuple[float, float, float] | None:
    """Return when a head leapt from rest and came back to it, by how much, and what came over."""
    t, head = case.raw_time, case.raw_head
    over = max(_LEAP_S, 1.05 * float(np.median(np.diff(t))))
    rest = head[(t > t[at] - over - 120.0) & (t <= t[at] - over)]
    top = head[(t >= t[at]) & (t < t[at] + 45.0)]
    if rest.size < 2 or top.size < 2:
        return None
    base = float(np.median(rest))
    up = float(np.max(top)) - base
    high = base + 0.5 * up
    more = _at_once(case, float(t[at]))
    if up < limits["jump_K"] and not more > limits["thrown_m3"]:
        return None
    back = (t > t[at]) & (t < t[at] + 300.0) & (head < base + 0.4 * up)
    if not back.any() or (top > high).sum() < 2 or np.ptp(rest) > 0.5 * up:
        return None
    again = float(t[back][0])
    after = head[(t > again + 30.0) & (t < again + 210.0)]
    if after.size and float(np.quantile(after, 0.9)) > high:
        return None
    return float(t[at]), up, max(more, 0.0)


def _at_once(case: Case, time: float) -> float:
    """Return how much more came over around a moment than at the rate before it [m3]."""
    if not case.has("volume"):
        return 0.0
    early, begin, end = (case.at(case.volume, time + s) for s in (-330.0, -30.0, 45.0))
    return (end - begin) - (begin - early) * 75.0 / 300.0


def _early_low(case: Case, limits: Limits) -> Sign | None:
    """Sign 17: the first drops come over too cold, or cloudy, then the curve is right."""
    cloudy = case.said(*_CLOUDY)
    first = cloudy is not None and (
        not case.has("volume") or case.at(case.volume, cloudy) < limits["early_share"] * case.charge
    )
    cold = None if case.has_water else _first_cold(case, limits)
    if case.has_water or (cold is None and not first):
        return None
    since, low = cold or (cloudy or 0.0, 0.0)
    weights = weighed(
        {"water": 1.0, "light_exhausted": 0.0, "azeotrope": 0.3, "thermometer_offset": 0.1},
        (first, {"water": 6.0}),
    )
    plain = max(strength(low, limits["early_low_K"]), 0.85 if first else 0.0)
    seen = "The first drops were cloudy."
    if cold is not None:
        seen = f"The first drops came over {low:.0f} K below the forecast"
        seen += ", cloudy." if first else "."
    return Sign(weights, plain, since, seen)


def _first_cold(case: Case, limits: Limits) -> tuple[float, float] | None:
    """Return when first drops came over at a constant temperature too low, and by how much [K].

    A head that still warms rises all the time; two liquids that boil together stand still.
    """
    if not case.has("volume") or case.foreseen_volume.size < 3:
        return None
    expected = np.interp(case.volume, case.foreseen_volume, case.foreseen_head)
    low = expected - case.head
    early = (case.volume > 0.004 * case.charge) & (case.volume < 0.06 * case.charge)
    later = (case.volume > 2.0 * limits["early_share"] * case.charge) & (
        case.volume < _MOST_VOLUME * case.final_volume
    )
    if (later & np.isfinite(low)).sum() < 4:
        return None
    offset = max(float(np.nanmedian(low[later])), 0.0)
    over = max(_STANDS_S, 2.0 * case.sampling)
    stands = np.abs(risen_over(case, case.head, over)) < limits["stands_K"]
    since = first_time(case, early & stands & (low - offset > limits["early_low_K"]))
    if since is None:
        return None
    begin = max(since - over, float(case.time[0]))
    return begin, case.at(low, since) - offset


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
    Rule("a jump of the head", ("head",), _jump, remark=True),
    Rule("first drops too cold", ("head", "volume"), _early_low, remark=True),
    Rule("two layers", (), _two_layers, remark=True),
)
"""Rows 10, 17 and 18 of the table."""
