"""Measured boiling points at 0.1 to 13 kPa, papers held back.

Every point with its DOI, as recorded in the NIST TRC ThermoML archive (doi:10.18434/mds2-2422), at
most five of a paper and substance.  The shipped vapour pressures were built with these papers among
their sources; so each point also carries what a curve says that was chosen and fitted without its
paper (`tools/substances/hold_back.py`), and that is what the rows compare.
"""

from __future__ import annotations

import json
import math
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import brentq

from forerun.substances.catalogue import find
from validation._rows import ValidationRow

FILE = Path(__file__).parent / "data" / "reduced_pressure_points.json"
MEDIAN_K = 1.0  # what is asked of the median over all points

Point = dict[str, Any]


@cache
def points() -> tuple[Point, ...]:
    """Return the points."""
    return tuple(json.loads(FILE.read_text(encoding="utf-8")))


def _held_back(point: Point) -> float:
    return float(point["without_paper_K"] - point["temperature_K"])


def _shipped(point: Point) -> float:
    """Return the miss of the shipped curve [K]."""
    fit = find(point["substance"]).vapour_pressure
    a, b, c, d = fit.coefficients

    def gap(t: float) -> float:
        inside = min(max(t, fit.temperature_low), fit.temperature_high)
        value = a + b / inside + c * math.log(inside) + d * inside
        slope = b - c * inside - d * inside * inside
        return value + slope * (1.0 / t - 1.0 / inside) - math.log(point["pressure_Pa"])

    measured = point["temperature_K"]
    return float(brentq(gap, 0.6 * measured, 1.7 * measured)) - measured


@cache
def rows() -> list[ValidationRow]:
    """Return one comparison for every substance: the median size of its misses."""
    by_substance: dict[str, list[Point]] = defaultdict(list)
    for point in points():
        by_substance[point["substance"]].append(point)
    compared = []
    for name, own in sorted(by_substance.items()):
        median = float(np.median([abs(_held_back(p)) for p in own]))
        papers = len({p["doi"] for p in own})
        compared.append(
            ValidationRow(
                f"low-{find(name).cas}",
                name,
                "median miss of boiling points at 0.1 to 13 kPa, paper held back",
                f"{len(own)} points of {papers} papers, DOI of each in {FILE.name}",
                "numbers from the archive, papers not seen",
                0.0,
                median,
                "K",
                MEDIAN_K,
                median,
                median <= MEDIAN_K,
            )
        )
    return compared


def test_there_are_enough_points_each_with_its_paper() -> None:
    assert len(points()) >= 500
    assert len({p["substance"] for p in points()}) >= 80
    assert all(100.0 <= p["pressure_Pa"] <= 13e3 for p in points())
    assert all(p["doi"].startswith("10.") for p in points())


def test_curves_that_did_not_see_the_paper_predict_its_points() -> None:
    misses = np.abs([_held_back(p) for p in points()])
    assert np.median(misses) <= MEDIAN_K
    assert np.mean(misses <= MEDIAN_K) >= 0.75


def test_shipped_curves_are_no_worse_than_those_that_did_not_see_the_papers() -> None:
    """The substances are the same liquids, and the shipped file is built the same way."""
    shipped = np.median(np.abs([_shipped(p) for p in points()]))
    assert shipped <= np.median(np.abs([_held_back(p) for p in points()]))


def test_two_thirds_of_the_substances_are_met() -> None:
    assert np.mean([bool(row.met) for row in rows()]) >= 0.65
