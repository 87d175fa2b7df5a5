"""How far the bands hold, by what they rest on; constants found on pairs that took no part.

    python tools/equilibrium/calibrate_bands.py

Prints for every origin the constants that seven eighths of the pairs give, how much of the
held-back eighth they cover, and what the constants of `forerun.equilibrium.band_rules` cover.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import NormalDist

import numpy as np
import numpy.typing as npt
from band_evidence import Misses, evidence, tops
from scipy.optimize import minimize

from forerun.equilibrium.azeotropes_bands import existence
from forerun.equilibrium.band_rules import (
    AZEOTROPE_SHIFT,
    EIGHTY,
    LONE_SPREAD,
    Rule,
    boiling_half_width,
    ln_volatility_half_width,
    rule_of,
    top_half_width,
    vapour_half_width,
)
from forerun.equilibrium.coverage import PairBasis
from forerun.equilibrium.datafiles import load_data
from forerun.equilibrium.mixture import mixture_of
from forerun.substances.catalogue import find

Floats = npt.NDArray[np.float64]
Width = Callable[[Floats, Misses], Floats]

FOLDS = 8
WATER = "7732-18-5"  # CAS number
LEAST = {"boiling point": 0.02, "vapour": 5e-4, "azeotrope": 0.02}  # misses below count as this
PAIRS = {
    "models": PairBasis((0, 1), "predicted", ("unifac", "dortmund", "nist")),
    "one model": PairBasis((0, 1), "predicted", ("nist",)),
    "one paper": PairBasis((0, 1), "fitted", ("unifac", "dortmund", "nist"), 0.5, papers=1),
    "several papers": PairBasis((0, 1), "fitted", ("unifac", "dortmund", "nist"), 1.0, papers=2),
}
EDGES = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)


@dataclass(frozen=True)
class Coverage:
    """Share of misses inside a band: in all, and in each third of the pairs' weight by width."""

    name: str
    pairs: int
    rows: int
    whole: float
    thirds: tuple[float, ...]
    widths: tuple[float, ...]


def coverage(name: str, m: Misses, width: Floats) -> Coverage:
    """Return how much of the misses the widths cover."""
    order = np.argsort(width, kind="stable")
    reached = np.cumsum(m.weight[order]) / m.weight.sum()
    inside = m.miss <= width
    shares, widths = [], []
    for low, high in ((0.0, 1 / 3), (1 / 3, 2 / 3), (2 / 3, 1.1)):
        part = order[(reached > low) & (reached <= high)]
        shares.append(float(np.average(inside[part], weights=m.weight[part])))
        widths.append(float(np.average(width[part], weights=m.weight[part])))
    whole = float(np.average(inside, weights=m.weight))
    pairs = int(np.unique(m.pair).size)
    return Coverage(name, pairs, m.miss.size, whole, tuple(shares), tuple(widths))


def known_spread(m: Misses, lone: float, faded: Floats | float = 1.0) -> Floats:
    """Return the spread, or what stands for it where one model speaks."""
    return np.where(np.isfinite(m.spread), m.spread, lone * faded)


def boiling_form(c: Floats, m: Misses) -> Floats:
    """Return the form of the half-width of a boiling point with any constants."""
    faded = np.sqrt(m.size)
    spread = known_spread(m, LONE_SPREAD, faded)
    return np.sqrt(c[0] ** 2 * faded + c[1] ** 2 * spread + m.added**2)


def several_form(c: Floats, m: Misses) -> Floats:
    """Return the same for pairs of several papers: the floor holds the vapour pressures."""
    return np.sqrt(c[0] ** 2 + c[1] ** 2 * known_spread(m, LONE_SPREAD, np.sqrt(m.size)))


def vapour_form(c: Floats, m: Misses) -> Floats:
    """Return the form of the half-width of a vapour mole fraction."""
    spread = known_spread(m, LONE_SPREAD / 5.0)
    return np.asarray(m.size**0.75 * np.sqrt(c[0] ** 2 + c[1] ** 2 * spread))


def vapour_scatter_form(c: Floats, m: Misses) -> Floats:
    """Return the same for pairs of several papers."""
    return np.asarray(m.size**0.75 * np.abs(c[0]) * m.scale)


def forms() -> dict[str, tuple[Width, tuple[float, ...]]]:
    """Return the form and the shipped constants of every kind of evidence."""
    found: dict[str, tuple[Width, tuple[float, ...]]] = {}
    for origin, pair in PAIRS.items():
        rule = rule_of(pair)
        if origin == "several papers":
            found[f"{origin}, boiling point"] = several_form, (rule.floor_K, rule.root_K)
            found[f"{origin}, vapour"] = vapour_scatter_form, (rule.vapour_floor,)
        else:
            found[f"{origin}, boiling point"] = boiling_form, (rule.floor_K, rule.root_K)
            found[f"{origin}, vapour"] = vapour_form, (rule.vapour_floor, rule.vapour_root)
    return found


def shipped(name: str, m: Misses) -> Floats:
    """Return the half-widths by the functions that the package uses."""
    origin, quantity = name.split(", ")
    pair = PAIRS[origin]
    rules = {s: scaled(pair, s) for s in np.unique(m.scale).tolist()}
    rows = zip(m.scale.tolist(), m.spread.tolist(), m.size.tolist(), m.added.tolist(), strict=True)
    width = []
    for scale, spread, size, added in rows:
        told = spread if np.isfinite(spread) else None
        if quantity == "boiling point":
            own = boiling_half_width(pair, rules[scale], told, size)
            width.append(own if origin == "several papers" else float(np.hypot(own, added)))
        else:
            y = 0.5 * (1.0 - np.sqrt(max(1.0 - 4.0 * size, 0.0)))
            width.append(vapour_half_width(rules[scale], told, float(y)))
    return np.array(width)


def scaled(pair: PairBasis, scatter: float) -> Rule:
    """Return the rule of a pair of this scatter."""
    known = replace(pair, scatter=scatter)
    return rule_of(known)


def held_back(name: str, m: Misses, form: Width, start: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Return half-widths by constants that never saw the pair, and the mean of these constants."""
    pairs = np.random.default_rng(1).permutation(np.unique(m.pair))
    width, found = np.zeros(m.miss.size), []
    for k in range(FOLDS):
        out = np.isin(m.pair, pairs[k::FOLDS])
        found.append(np.abs(constants(name, m.where(~out), form, start)))
        width[out] = form(found[-1], m)[out]
    return width, np.mean(found, axis=0)


def constants(name: str, m: Misses, form: Width, start: tuple[float, ...]) -> Floats:
    """Return constants of least quantile loss of ln |miss| at 80 %."""
    least = np.log(np.maximum(m.miss, LEAST[name.split(", ")[1]]))

    def loss(c: Floats) -> float:
        gap = least - np.log(np.maximum(form(c, m), 1e-12))
        return float(np.average(np.where(gap > 0.0, 0.8 * gap, -0.2 * gap), weights=m.weight))

    done = minimize(loss, np.array(start), method="Nelder-Mead", options={"maxiter": 400})
    return np.asarray(done.x)


def azeotropes() -> list[Coverage]:
    """Return what the shipped bands of predicted azeotropes and of dilute ends cover."""
    found, rule = tops(), rule_of(PAIRS["models"])
    t, x, e = found.temperature, found.composition, found.ends
    temperature = np.array(
        [top_half_width([rule], s, f) for s, f in zip(t.spread, t.size, strict=True)]
    )
    ends = np.array([ln_volatility_half_width(rule, s) for s in e.spread])
    moved = np.array([ln_volatility_half_width(rule, s) for s in x.spread])
    composition = AZEOTROPE_SHIFT * np.minimum(x.size * moved, 0.5)
    return [
        coverage("models, azeotrope's temperature [K]", t, temperature),
        coverage("models, azeotrope's composition", x, composition),
        coverage("models, ln volatility at infinite dilution", e, ends),
    ]


def existence_table() -> list[tuple[float, float, int, float, float]]:
    """Return lower and upper probability, pairs, mean probability and observed share."""
    a, rule = tops().existence, rule_of(PAIRS["models"])
    said = np.array(
        [
            sum(existence((v0, v1), (width(rule, s0), width(rule, s1))))
            for v0, v1, s0, s1 in a[:, :4]
        ]
    )
    rows = []
    for low, high in pairwise(EDGES):
        part = (said >= low) & ((said < high) | (high == 1.0))
        if part.any():
            mean, seen = (np.average(v[part], weights=a[part, 5]) for v in (said, a[:, 4]))
            pairs = int(np.unique(a[part, 6]).size)
            rows.append((low, high, pairs, float(mean), float(seen)))
    return rows


def width(rule: Rule, spread: float) -> float:
    """Return the half-width of ln volatility at an end."""
    return ln_volatility_half_width(rule, spread)


def reliability(m: Misses, width: Floats, levels: Floats) -> Floats:
    """Return the share of misses inside bands of other levels, widths as of a normal error."""
    normal = NormalDist()
    factor = np.array([normal.inv_cdf(0.5 + 0.5 * level) / EIGHTY for level in levels])
    return np.array([np.average(m.miss <= f * width, weights=m.weight) for f in factor])


def unknown_ends(*, water: bool) -> tuple[int, float, float]:
    """Return how many measured pairs there are with or without water, and how far from ideal.

    That is the median of ln gamma at infinite dilution, 350 K, and within how much of it 80 % lie:
    what to expect of a pair of which nothing is known.  Pairs of which only the layers were
    measured count as well.
    """
    rows = load_data("pairs_measured.json.gz")["tables"]
    rows = (*rows, *load_data("pairs_evidence.json.gz")["solubility"])
    pairs = sorted({tuple(sorted(row["cas"])) for row in rows})
    found = []
    for cas in pairs:
        mixture = mixture_of([find(c) for c in cas])
        if (WATER in cas) == water and mixture.models:
            dilute = (1e-6, 1.0 - 1e-6)
            found.append(
                [mixture.ln_activity(350.0, [x, 1.0 - x])[k] for k, x in enumerate(dilute)]
            )
    middle = float(np.median(found))
    return len(found), middle, float(np.quantile(np.abs(np.array(found) - middle), 0.8))


def main() -> None:
    """Print everything."""
    for water in (False, True):
        print("ideal", "with water" if water else "without water", unknown_ends(water=water))
    shipping = forms()
    for name, m in evidence().items():
        form, start = shipping[name]
        kept, mean = held_back(name, m, form, start)
        print(name, "shipped", start, "held back", np.round(mean, 3))
        for label, widths in (("held back", kept), ("shipped", shipped(name, m))):
            show(coverage(label, m, widths))
    for row in azeotropes():
        show(row)
    for line in existence_table():
        print("{:.2f} to {:.2f}: {} pairs, said {:.3f}, found {:.3f}".format(*line))


def show(c: Coverage) -> None:
    """Print one line."""
    thirds = " ".join(f"{s:.3f} ({w:.3g})" for s, w in zip(c.thirds, c.widths, strict=True))
    print(f"  {c.name}: {c.pairs} pairs, {c.rows} rows, {c.whole:.3f}; thirds {thirds}")


if __name__ == "__main__":
    main()
