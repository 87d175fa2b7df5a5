"""What a class page says in numbers, each held against figures that are worked out here again.

A sentence has to match its pattern from end to end, so that no number in it goes unlooked at.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.bubble import bubble_temperature
from forerun.planning.aims import weights_for
from forerun.planning.comparison import Way
from forerun.reporting.lesson import Lesson

Floats = npt.NDArray[np.float64]
Judge = Callable[[Lesson, "re.Match[str]"], list[tuple[float, float, float]]]

_POINT = 0.051  # of the last digit where one stands after the point
_WHOLE = 0.51


def _number(text: str) -> float:
    return float(text.lstrip("<>"))  # what lies beyond two decimals is within the tolerance


def _best(found: Lesson, way: Way) -> float:
    """Return the largest share of the wanted in one cut as pure as asked [%], tried one by one."""
    ways, goal = found.ways, found.ways.goal
    weights = weights_for(ways.sheet, goal.basis)
    over = way.run.trace.received_mol
    best = 0.0
    for k in range(len(over)):
        held = over[k + 1 :] - over[k]
        mass = held * weights
        whole = mass.sum(axis=1)
        pure = np.divide(mass[:, goal.wanted], whole, out=np.zeros_like(whole), where=whole > 0.0)
        good = held[pure >= goal.purity - 1e-9, goal.wanted]
        best = max(best, float(good.max(initial=0.0)))
    return 100.0 * best / float(way.run.ledger.charge_mol[goal.wanted])


def _way(found: Lesson, label: str) -> Way:
    return next(way for way in found.ways.ways if way.label == label)


def _asked(found: Lesson, match: re.Match[str]) -> tuple[float, float, float]:
    return _number(match["asked"]), 100.0 * found.ways.goal.purity, _POINT


def _none(found: Lesson, match: re.Match[str]) -> list[tuple[float, float, float]]:
    top = max(_best(found, way) for way in found.ways.ways)
    return [_asked(found, match), (top, 0.0, 2.0)]


def _simple_does(found: Lesson, match: re.Match[str]) -> list[tuple[float, float, float]]:
    return [_asked(found, match), (_number(match["one"]), _best(found, found.ways.ways[0]), _WHOLE)]


def _column_does(found: Lesson, match: re.Match[str]) -> list[tuple[float, float, float]]:
    one = 0.0 if match["one"] is None else _number(match["one"])
    column = _best(found, _way(found, match["label"]))
    return [
        _asked(found, match),
        (one, _best(found, found.ways.ways[0]), _WHOLE),
        (_number(match["many"]), column, _WHOLE),
    ]


def _boilings(found: Lesson, match: re.Match[str]) -> list[tuple[float, float, float]]:
    ways = found.ways
    charged = ways.ways[0].run.ledger.charge_mol
    liquid = charged / charged.sum()
    seen = [100.0 * float(liquid[ways.followed])]
    plates = int(match["plates"])
    for _ in range(plates + 1):
        _, vapour = bubble_temperature(liquid, ways.pressure_Pa, ways.mixture)
        liquid = np.clip(vapour, 0.0, None) / vapour.sum()
        seen.append(100.0 * float(liquid[ways.followed]))
    assert plates == max(way.plates for way in ways.ways)
    told = [_number(match[name]) for name in ("charge", "once", "often")]
    return list(zip(told, (seen[0], seen[1], seen[-1]), (_POINT,) * 3, strict=True))


def _climb(found: Lesson, way: Way) -> float:
    volume, head = way.run.trace.distillate_volume_m3, way.run.trace.head_temperature_K
    whole = found.ways.sheet.charge_volume_m3
    flows = volume > 0.0
    early, late = np.interp((0.1 * whole, 0.5 * whole), volume[flows], head[flows])
    return float(late - early)


def _climbs(found: Lesson, match: re.Match[str]) -> list[tuple[float, float, float]]:
    column = max(found.ways.ways, key=lambda way: way.plates)
    one, many = _climb(found, found.ways.ways[0]), _climb(found, column)
    assert int(match["plates"]) == column.plates
    assert (match["not"] is None) == (_number(match["one"]) > _number(match["many"]))
    return [(_number(match["one"]), one, _POINT), (_number(match["many"]), many, _POINT)]


def _stands(found: Lesson, match: re.Match[str]) -> list[tuple[float, float, float]]:
    column = max(found.ways.ways, key=lambda way: way.plates)
    assert int(match["plates"]) == column.plates
    limit = _number(match["within"])
    return [(0.0, _climb(found, way), limit) for way in (found.ways.ways[0], column)]


def _again(found: Lesson, match: re.Match[str]) -> list[tuple[float, float, float]]:
    end = found.ways.rounds[-1]
    assert int(match["times"]) == len(found.ways.rounds) == end.number
    return [
        (_number(match["pure"]), 100.0 * end.purity, _POINT),
        (_number(match["volume"]), 1e6 * end.volume_m3, _POINT),
        (_number(match["share"]), 100.0 * end.share, _WHOLE),
    ]


def _azeotrope(found: Lesson, match: re.Match[str]) -> list[tuple[float, float, float]]:
    ways = found.ways
    told = [float(n) for n in re.findall(r"([\d.]+) mol %", match["parts"])]
    for one in find_azeotropes(ways.mixture, ways.pressure_Pa).azeotropes:
        known = [100.0 * float(one.mole_fraction[k]) for k in one.components]
        if len(known) == len(told) and np.allclose(known, told, atol=0.5):
            known.append(one.temperature_K - 273.15)
            told.append(_number(match["boils"]))
            return list(zip(told, known, (0.11,) * len(known), strict=True))
    raise AssertionError(f"no such azeotrope is known: {match[0]}")


_ASKED = r"(?P<asked>[\d.]+) (mol|wt) % [^:]+"
_SENTENCES: tuple[tuple[str, Judge], ...] = (
    (rf"None of these ways gives a cut of {_ASKED} from the head\.", _none),
    (
        rf"{_ASKED} as one cut: a simple still gives (?P<one>\d+) % of what was charged; "
        r"plates add little\.",
        _simple_does,
    ),
    (
        rf"{_ASKED} as one cut: a simple still gives (no cut|(?P<one>\d+) %) of it; "
        r"(?P<label>.+) gives? (?P<many>\d+) % of what was charged\.",
        _column_does,
    ),
    (
        r"The charge holds (?P<charge>[<>]?[\d.]+) mol % .+\. Boiled once, it sends up "
        r"(?P<once>[<>]?[\d.]+) mol %\. On each plate that vapour condenses and boils again: after "
        r"(?P<plates>\d+) plates, if nothing is taken off, (?P<often>[<>]?[\d.]+) mol %\.",
        _boilings,
    ),
    (
        r"Between a tenth and a half of the charge the head climbs (?P<one>-?[\d.]+) K in a "
        r"simple still and (?P<many>-?[\d.]+) K over (?P<plates>\d+) plates: what drips is "
        r"(?P<not>not )?steadier from a column\.",
        _climbs,
    ),
    (
        r"Between a tenth and a half of the charge the head stands, within (?P<within>[\d.]+) K, "
        r"in a simple still and over (?P<plates>\d+) plates\.",
        _stands,
    ),
    (
        r"Distilling the first half again (?P<times>\d+) times gives (?P<pure>[<>]?[\d.]+) mol %, "
        r"but only (?P<volume>[\d.]+) mL of it: (?P<share>\d+) % of the [^.]+\. [^\d]+",
        _again,
    ),
    (
        r"At [\d.]+ (mmHg|mbar) liquid and vapour are alike at (?P<parts>.+), "
        r"(?P<boils>[\d.]+) °C \((minimum|maximum|saddle) of the boiling point\): no number of "
        r"plates goes past it\.",
        _azeotrope,
    ),
)


def wrong_numbers(found: Lesson) -> tuple[int, list[str]]:
    """Return how many numbers were looked at, and a sentence for each that is not so."""
    seen, wrong = 0, []
    for said in (found.finding, *found.why):
        plain = said.replace("\u202f", " ").replace("\N{MINUS SIGN}", "-")
        if not re.search(r"\d", plain):
            continue
        hits = ((judge, re.fullmatch(pattern, plain)) for pattern, judge in _SENTENCES)
        hit = next(((judge, match) for judge, match in hits if match is not None), None)
        if hit is None:
            wrong.append(f"nobody looks at the numbers of: {plain}")
            continue
        for told, known, within in hit[0](found, hit[1]):
            seen += 1
            if not abs(told - known) <= within:
                wrong.append(f"{told} said, {known:.4g} found: {plain}")
    return seen, wrong + _wrong_cells(found)


def _wrong_cells(found: Lesson) -> list[str]:
    """Return what is not so in the table of all cuts."""
    ways, goal = found.ways, found.ways.goal
    weights = weights_for(ways.sheet, goal.basis)
    each = ways.sheet.charge_volume_m3 / 5
    wrong = []
    for way, row in zip(ways.ways, found.cuts()[1], strict=True):
        trace, charged = way.run.trace, float(way.run.ledger.charge_mol[goal.wanted])
        volume = trace.distillate_volume_m3
        for k, cell in enumerate(row[1:6]):
            match = re.match(r"([<>]?[\d.]+) \((\d+) %\)", cell.replace("\u202f", " "))
            edges = np.array([k * each, min((k + 1) * each, float(volume[-1]))])
            if match is None or edges[1] <= edges[0]:
                assert (match is None) == (edges[1] <= edges[0]), cell
                continue
            moles = np.array([np.interp(edges, volume, one) for one in trace.received_mol.T])
            held = moles[:, 1] - moles[:, 0]
            pure = 100.0 * float(held[goal.wanted] * weights[goal.wanted] / (held @ weights))
            share = 100.0 * float(held[goal.wanted]) / charged
            if abs(pure - _number(match[1])) > 0.6 or abs(share - float(match[2])) > 0.6:
                wrong.append(
                    f"{way.label}, receiver {k + 1}: {cell}, found {pure:.1f} ({share:.1f})"
                )
    return wrong
