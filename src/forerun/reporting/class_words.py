"""The sentences of a class page: every figure in them is taken from the runs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from forerun.core.quantities import format_fraction, format_pressure, format_volume
from forerun.planning.plate_by_plate import plates_above
from forerun.reporting.advise import METHOD_WORDS

if TYPE_CHECKING:
    from forerun.equilibrium.azeotropes import Azeotrope
    from forerun.planning.advice import Advice
    from forerun.planning.comparison import Way, Ways

__all__ = [
    "azeotrope_words",
    "finding_of",
    "layer_words",
    "of_mixture",
    "rule_words",
    "verdict_words",
    "why_words",
]

_MUCH = 0.02  # of the charged amount; two ways that differ by less count as equal

_LEAST = 1e-9  # of a share; far below what is shown

_STANDS_K = 0.5  # a head that moves less stands; a judgement, no source


def finding_of(ways: Ways) -> str:
    """Return what the comparison shows, in one sentence."""
    goal, simple = ways.goal, ways.ways[0]
    asked = f"{format_fraction(goal.purity, goal.basis)} {goal.name}"
    best = max(ways.ways, key=lambda way: (round(way.best_share, 2), -way.plates))
    if best.best_share < _MUCH:
        return f"None of these ways gives a cut of {asked} from the head."
    if best.best_share <= simple.best_share + _MUCH:
        return (
            f"{asked} as one cut: a simple still gives {_share(simple)} of what was charged; "
            "plates add little."
        )
    one = "no cut" if simple.best_share <= 0.0 else f"{_share(simple)}"
    return (
        f"{asked} as one cut: a simple still gives {one} of it; {best.label} "
        f"{'gives' if best.plates == 1 else 'give'} {_share(best)} of what was charged."
    )


def _share(way: Way) -> str:
    return format_fraction(way.best_share, "%", 0.05) if way.best_share > 0.0 else "nothing"


def why_words(ways: Ways) -> tuple[str, ...]:
    """Return why the ways differ: one boiling against several, and what repeating costs."""
    name = ways.mixture.names[ways.followed]
    said = [_once_and_often(ways), *_climb(ways)]
    if ways.rounds:
        end = ways.rounds[-1]
        column = "A column does the same inside, and sends back what a new flask would have lost."
        layers = "Repeating does not help: two layers give the same vapour every time."
        said.append(
            f"Distilling the first half again {len(ways.rounds)} times gives "
            f"{_mole(end.purity)}, but only {format_volume(end.volume_m3)} of it: "
            f"{format_fraction(end.share, '%', 0.05)} of the {name}. "
            f"{layers if ways.layered else column}"
        )
    if ways.layered:
        said.append(layer_words(ways))
    return tuple(said)


def layer_words(ways: Ways) -> str:
    """Return how two layers in a receiver are parted: common practice, no source.

    Args:
        ways: of a pair that stands as two liquids.
    """
    heavy, light = sorted(ways.mixture.substances, key=lambda s: s.molar_volume.v0 / s.molar_mass)
    return (
        f"What comes over settles into two layers in the receiver, the {heavy.name} below: it is "
        f"drawn off in a separating funnel, and the {light.name} is poured out at the top. A "
        "percentage here is of both layers together, not of one that has been parted (common "
        "practice, no source)."
    )


def _once_and_often(ways: Ways) -> str:
    """Return what one boiling and what many make of the charge."""
    if ways.layered:
        return (
            "The two do not mix in every ratio: while both layers are there, each boils nearly "
            "as if the other were not. Plates and boiling diagram of one liquid would mislead and "
            "are not drawn."
        )
    name, followed = ways.mixture.names[ways.followed], ways.followed
    charged = ways.ways[0].run.ledger.charge_mol
    feed = np.asarray(charged / charged.sum(), dtype=np.float64)
    nowhere = np.full(feed.size, np.nan)
    most = max(way.plates for way in ways.ways)
    _, vapours, _ = plates_above(feed, nowhere, 0.0, most, ways.pressure_Pa, ways.mixture.arrays)
    first, last = float(vapours[0, followed]), float(vapours[-1, followed])
    return (
        f"The charge holds {_mole(float(feed[followed]))} {name}. Boiled once, it sends up "
        f"{_mole(first)}. On each plate that vapour condenses and boils again: after {most} "
        f"plates, if nothing is taken off, {_mole(last)}."
    )


def _climb(ways: Ways) -> list[str]:
    """Return how far the head climbs over the first half, in a simple still and in a column."""
    half = 0.5 * ways.sheet.charge_volume_m3
    simple, column = ways.ways[0], max(ways.ways, key=lambda way: way.plates)
    told = [(way, _head_climb(way, half)) for way in (simple, column)]
    if not all(np.isfinite(climb) for _, climb in told) or column is simple:
        return []
    (_, one), (_, many) = told
    if max(abs(one), abs(many)) < _STANDS_K:
        return [
            "Between a tenth and a half of the charge the head stands, within "
            f"{_STANDS_K} K, in a simple still and over {column.plates} plates."
        ]
    return [
        f"Between a tenth and a half of the charge the head climbs {_kelvin(one)} in a simple "
        f"still and {_kelvin(many)} over {column.plates} plates: what drips is "
        f"{'' if one > many else 'not '}steadier from a column."
    ]


def _kelvin(climb: float) -> str:
    """Return a climb to a tenth of a kelvin, never as a negative nothing."""
    return f"{round(climb, 1) + 0.0:.1f} K"


def _head_climb(way: Way, half: float) -> float:
    """Return the climb of the head between a tenth and a half of the charge [K], or NaN."""
    volume, head = way.run.trace.distillate_volume_m3, way.run.trace.head_temperature_K
    if volume[-1] < half:
        return float("nan")
    early, late = np.interp((0.2 * half, half), volume, head)
    return float(late - early)


def azeotrope_words(azeotropes: tuple[Azeotrope, ...], ways: Ways) -> tuple[str, ...]:
    """Return what no number of plates can pass."""
    said = []
    for found in azeotropes:
        parts = ", ".join(
            f"{_mole(float(found.mole_fraction[k]))} {ways.mixture.names[k]}"
            for k in found.components
        )
        said.append(
            f"At {format_pressure(ways.pressure_Pa)} liquid and vapour are alike at {parts}, "
            f"{found.temperature_K - 273.15:.1f} °C ({found.kind} of the boiling point): no number "
            "of plates goes past it."
        )
    return tuple(said)


def rule_words(advice: Advice) -> str:
    """Return the common rule and what it suggests."""
    return advice.rule.says


def verdict_words(advice: Advice) -> str:
    """Return the computed verdict with its first reason."""
    verdict = advice.verdict
    words, first = METHOD_WORDS[verdict.method], verdict.reasons[0] if verdict.reasons else ""
    still = "" if verdict.plan is None else f"{verdict.plan.label}: "
    if verdict.method == "simple" and still and first.startswith(still):
        return f"{words}: {first.removeprefix(still)}"  # the still has been named already
    return f"{words}. {first[:1].upper()}{first[1:]}".strip()


def of_mixture(fraction: float) -> float:
    """Return a share of what came of a mixture, which is never quite all and never quite nothing.

    Args:
        fraction: as calculated, where the last parts in 1e-12 are lost to rounding [-].
    """
    return min(max(fraction, _LEAST), 1.0 - _LEAST)


def _mole(fraction: float) -> str:
    return format_fraction(of_mixture(fraction), "mol%")
