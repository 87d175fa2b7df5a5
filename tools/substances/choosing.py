"""Which sources of the vapour pressure to believe: a vote on the normal boiling point."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
from constants import WATER, R, haggenmacher
from readers import Points, Tables
from vapour import ATMOSPHERE, HIGHEST, LOWEST, Curve, Fit, Steepness, curves, fit, ln_pressure

# K and weight of a majority: the first that enough sources meet is taken; the last one lets a
# single source or two coarse ones through, and the spread then says so
TIERS = ((0.3, 1.5), (0.6, 1.5), (1.2, 1.5), (2.5, 1.5), (4.0, 1.0))
COARSE = 2.0  # K, one standard deviation of a boiling point that one source alone gives
FAR_REACH = 2.0  # of ln P, where no majority settles the boiling point
REACH = 1.0  # of ln P: how far a curve is carried on towards 1 atm
SLOPE_TOLERANCE = 0.25  # of the printed heat of vaporisation
WORST = 0.12  # rms of ln P beyond which a source is no longer one of the others
POSSIBLE, IMPOSSIBLE = 25.0, 45.0  # K from the boiling point by groups, 80 % within 10 to 14 K
TROUTON = 10.6  # heat of vaporisation over R Tb, enough for steps of a few per cent


@dataclass(frozen=True)
class Vote:
    """One statement about the boiling point."""

    source: str
    value: float
    weight: float
    curve: int | None = None

    @property
    def carries(self) -> bool:
        """Tell whether the source also says how the pressure rises."""
        return self.curve is not None or self.source.startswith("doi:")


def choose(
    name: str,
    look: Tables,
    points: Points,
    melting: float | None,
    associates: bool,
    groups: float | None,
    log: list[str],
) -> tuple[Fit, dict[str, float], float] | None:
    """Return the fit, the accepted boiling points by source, and how far sources agree [K]."""
    points = [] if look.cas[0] == WATER else points
    found = _with_credible_slope(name, curves(look), look, associates, log)
    votes = _printed(look)
    for k, c in enumerate(found):
        tb, inside = c.boiling_point(REACH)
        if tb is not None:
            votes.append(Vote(c.source, tb, 1.0 if inside else 0.5, k))
    papers = _of_papers(points)
    votes += papers.values()
    all_votes = list(votes)
    votes = _without_impossible(name, votes, groups, log)
    settled = _settle(votes) or _settle_alone(votes, found)
    if settled is None:
        log.append(f"{name}: no majority for a boiling point")
        return None
    members, tolerance = settled
    tb = _value(members)
    for v in votes:
        if abs(v.value - tb) > max(tolerance, 0.3 if v.weight > 0.5 else 1.0):
            log.append(
                f"{name}: {v.source} gives {v.value:.2f} K, {v.value - tb:+.2f} K: thrown out"
            )
    if tolerance > TIERS[0][0]:
        log.append(f"{name}: sources agree on the boiling point only within {tolerance} K")
    agreeing = {v.curve for v in members}
    voting = {v.curve for v in votes}
    spoken = voting | {v.curve for v in all_votes}
    accepted = [c for k, c in enumerate(found) if k in agreeing or k not in spoken]
    bad = {doi for doi, v in papers.items() if v not in members}
    kept = [p for p in points if p[0] not in bad]
    steepness = _steepness(look, tb, associates)
    if not accepted and not kept:
        log.append(f"{name}: ESTIMATED from the boiling point and {steepness.source}")
    while True:
        result = fit(accepted, kept, tb, melting, steepness)
        misses = {c: _misfit(c, result) for c in accepted} | _misfits(kept, result)
        worst = max(misses, key=lambda k: misses[k], default=None)
        if worst is None or misses[worst] <= WORST:
            break
        label = worst.source if isinstance(worst, Curve) else f"doi:{worst}"
        log.append(f"{name}: {label} is {misses[worst]:.0%} off the others: thrown out")
        accepted = [c for c in accepted if c is not worst]
        kept = [p for p in kept if p[0] != worst]
    if not abs(result.boiling_point - tb) <= 0.3:
        log.append(f"{name}: the fit misses its own boiling point")
        return None
    near = [v.value for v in (*votes, *members) if abs(v.value - tb) <= TIERS[-1][0]]
    disagreement = _disagreement(near, tb) if len(members) > 1 else COARSE
    agreed = {"trc_thermoml" if v.source.startswith("doi:") else v.source: v.value for v in members}
    return result, agreed, disagreement


def _without_impossible(
    name: str, votes: list[Vote], groups: float | None, log: list[str]
) -> list[Vote]:
    """Leave out what the groups of the molecule forbid, where another source agrees with them."""
    if groups is None or all(abs(v.value - groups) > POSSIBLE for v in votes):
        return votes
    far = [v for v in votes if abs(v.value - groups) > IMPOSSIBLE]
    for v in far:
        log.append(
            f"{name}: {v.source} gives {v.value:.2f} K, the groups {groups:.0f} K: thrown out"
        )
    return [v for v in votes if v not in far]


def _steepness(look: Tables, tb: float, associates: bool) -> Steepness:
    """Return the slope that the printed heat of vaporisation, or Kistiakowsky's rule, gives."""
    shrink = 0.96  # of the ideal volume of a vapour at 1 atm, typical of Pr/Tr^3 = 0.08
    printed = look.values("HvapTb", "crc_vaporisation")
    if printed and not associates:
        value = printed["crc_vaporisation"] / (R * tb * shrink)
        return Steepness(value, 0.04 * value, "crc_vaporisation")
    value = (36.61 + R * np.log(tb)) / R / shrink
    return Steepness(value, 0.08 * value, "kistiakowsky1923")


def _misfit(curve: Curve, result: Fit) -> float:
    inside = [
        t
        for t in np.linspace(curve.low, curve.high, 30)
        if result.low <= t <= result.high
        and np.log(LOWEST) <= curve.ln_pressure(float(t)) <= np.log(HIGHEST)
    ]
    misses = [curve.ln_pressure(float(t)) - ln_pressure(result.coefficients, t) for t in inside]
    return float(np.sqrt(np.mean(np.square(misses)))) if misses else 0.0


def _misfits(points: Points, result: Fit) -> dict[str, float]:
    papers = defaultdict(list)
    for doi, t, p in points:
        if result.low <= t <= result.high and LOWEST <= p <= HIGHEST:
            papers[doi].append(np.log(p) - ln_pressure(result.coefficients, t))
    return {doi: float(np.sqrt(np.mean(np.square(m)))) for doi, m in papers.items()}


def _printed(look: Tables) -> list[Vote]:
    keys = ("crc_constants", "crc_inorganic", "crc_vaporisation", "webbook")
    out = []
    for key, value in look.values("Tb", *keys).items():
        whole_degree = abs((value - 273.15) % 1.0) < 1e-6
        out.append(Vote(key, value, 0.5 if whole_degree or key == "webbook" else 1.0))
    return out


def _of_papers(points: Points) -> dict[str, Vote]:
    """Return the boiling point that the points of each paper give near 1 atm, by DOI."""
    papers = defaultdict(list)
    for doi, t, p in points:
        if 1.5e4 < p < 2.7e5:
            papers[doi].append((1.0 / t, np.log(p / ATMOSPHERE)))
    out = {}
    for doi, rows in papers.items():
        x, y = np.array(sorted(rows)).T
        outside = max(y.min(), -y.max(), 0.0)
        if len(x) >= 3 and np.ptp(y) > 0.2 and outside < REACH / 2.0:
            tb = float(1.0 / np.polyval(np.polyfit(y, x, 1 + (len(x) > 4)), 0.0))
            out[doi] = Vote("doi:" + doi, tb, 0.7 if outside < 0.05 else 0.5)
        else:
            near = int(np.argmin(abs(y)))
            if abs(y[near]) < 0.05:
                tb = float(1.0 / (x[near] + y[near] * x[near] / TROUTON))
                out[doi] = Vote("doi:" + doi, tb, 0.7)
    return out


def _settle(votes: list[Vote]) -> tuple[list[Vote], float] | None:
    """Return the majority and the tolerance at which it is one, with a curve in it if possible."""
    for carried in (True, False):
        for tolerance, enough in TIERS:
            groups = [[v for v in votes if abs(v.value - c.value) <= tolerance] for c in votes]
            if carried:
                groups = [g for g in groups if any(v.carries for v in g)]
            members = max(groups, key=_merit, default=[])
            if sum(v.weight for v in members) >= enough:
                return members, tolerance
    return None


def _settle_alone(votes: list[Vote], found: list[Curve]) -> tuple[list[Vote], float] | None:
    """Let curves that end far below 1 atm speak, or a single printed value without a rival."""
    far = []
    for k, curve in enumerate(found):
        tb, _ = curve.boiling_point(FAR_REACH)
        if tb is not None:
            far.append(Vote(curve.source, tb, 0.75, k))
    groups = [[v for v in far if abs(v.value - c.value) <= TIERS[-1][0]] for c in far]
    members = max(groups, key=_merit, default=[])
    if members:
        return members, TIERS[-1][0]
    lone = len(votes) == 1 and votes[0].source.startswith("crc_")
    return (votes, TIERS[-1][0]) if lone else None


def _merit(group: list[Vote]) -> tuple[float, float]:
    return sum(v.weight for v in group), -float(np.std([v.value for v in group]))


def _value(members: list[Vote]) -> float:
    precise = [v for v in members if v.weight > 0.5] or members
    return float(np.average([v.value for v in precise], weights=[v.weight for v in precise]))


def _disagreement(values: list[float], tb: float) -> float:
    """Return the distance [K] within which 68 % of the votes lie, one standard deviation."""
    return float(np.quantile(np.abs(np.array(values) - tb), 0.683))


def _with_credible_slope(
    name: str, found: list[Curve], look: Tables, associates: bool, log: list[str]
) -> list[Curve]:
    printed = look.values("HvapTb", "crc_vaporisation")
    tc = look.values("Tc", "iupac_critical", "crc_critical", "webbook")
    pc = look.values("Pc", "iupac_critical", "crc_critical", "webbook")
    out = []
    for curve in found:
        tb, _ = curve.boiling_point(REACH)
        if tb is None or not printed:
            out.append(curve)
            continue
        t_critical = np.median(list(tc.values())) if tc else 1.5 * tb
        p_critical = np.median(list(pc.values())) if pc else 4.0e6
        slope = (curve.ln_pressure(tb + 1.0) - curve.ln_pressure(tb - 1.0)) / 2.0
        heat = haggenmacher(tb, slope, float(t_critical), float(p_critical))
        ratio = heat / printed["crc_vaporisation"]
        # an associating vapour takes nearly half the heat that its slope suggests
        if abs(ratio - 1.0) <= SLOPE_TOLERANCE or (associates and 1.2 < ratio < 2.1):
            out.append(curve)
        else:
            log.append(
                f"{name}: {curve.source} rises {ratio:.2f} times as steeply as the printed "
                "heat of vaporisation allows: thrown out"
            )
    return out
