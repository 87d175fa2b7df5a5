"""Three substances in a triangle: where liquids go that boil, and what cannot be crossed."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from forerun.core.quantities import format_pressure
from forerun.reporting import svg
from forerun.reporting.mix_more import order_of
from forerun.reporting.words import capital

if TYPE_CHECKING:
    from forerun.equilibrium.azeotropes_search import SingularPoint
    from forerun.equilibrium.boundaries import Ternary
    from forerun.equilibrium.residue import ResidueCurve
    from forerun.reporting.mix import Mix

__all__ = ["triangle_picture"]

Floats = npt.NDArray[np.float64]

_WIDTH, _HEIGHT = 1000, 930
_SIDE = 700.0
_LEFT, _FLOOR = 150.0, 796.0  # lower left corner [px]
_ZERO_C = 273.15  # K
_TITLE_LETTERS = 66
_NOTE_LETTERS = 132
_BOUNDARY_DASH = "11 5"
_POT_DASH = "2 5"
_GAP_DASH = "5 4"


def triangle_picture(mix: Mix) -> str:
    """Return the triangle of three substances as SVG.

    Residue curves with their direction, boundaries, azeotropes with their temperatures, the two
    liquids that boil, and the way of the pot for a charge.  The coldest-boiling pure substance
    stands on top, the hottest at the right.

    Args:
        mix: an answer about three substances that holds a map.
    """
    ternary = mix.more.ternary
    assert ternary is not None
    points = mix.points
    pure = [next(p for p in points if p.components == (k,)) for k in range(3)]
    order = sorted(range(3), key=lambda k: pure[k].temperature_K)
    corners = {order[0]: (0.5, np.sqrt(0.75)), order[1]: (0.0, 0.0), order[2]: (1.0, 0.0)}
    place = _Place(np.array([corners[k] for k in range(3)]))
    names = mix.mixture.names
    title, notes = _words(mix, ternary)
    parts = _titles(title)
    parts += _two_liquids(ternary, place)
    parts += _grid(place, order)
    parts += [p for curve in ternary.curves for p in _curve(curve, place)]
    parts += _boundaries(ternary, place)
    parts += _edges(place)
    parts += _pot(mix, place)
    parts += _points(points, names, place)
    parts += _notes(notes)
    return svg.document(_WIDTH, _HEIGHT, title, " ".join(notes), parts)


class _Place:
    """Where a composition lies on the paper.

    Args:
        corners: (3, 2) of the pure substances, upwards, in sides of the triangle [-].
    """

    def __init__(self, corners: Floats) -> None:
        self._corners = corners
        self.centre = self(np.full(3, 1.0 / 3.0))

    def outward(self, absent: int) -> Floats:
        """Return the direction (2,) [-] that leaves the triangle across an edge."""
        edge = np.full(3, 0.5)
        edge[absent] = 0.0
        away = self(edge) - self.centre
        direction: Floats = away / float(np.hypot(*away))
        return direction

    def __call__(self, x: Floats) -> Floats:
        """Return (…, 2) positions [px] of (…, 3) mole fractions."""
        at = np.asarray(x, dtype=np.float64) @ self._corners
        px: Floats = np.stack([_LEFT + _SIDE * at[..., 0], _FLOOR - _SIDE * at[..., 1]], axis=-1)
        return px


def _words(mix: Mix, ternary: Ternary) -> tuple[str, list[str]]:
    """The finding, and what the lines mean."""
    names = mix.mixture.names
    at = format_pressure(mix.pressure_Pa)
    course = mix.more.course
    if course is not None:
        title = f"{capital(order_of(course, names))}"
    else:
        regions = len(ternary.regions)
        lines = len(ternary.boundaries)
        title = f"{mix.finding}"
        if regions > 1:
            title += f"; {_count(lines, 'boundary')} makes {regions} regions"
            title = title.replace("boundaries makes", "boundaries make")
    notes = [f"{' + '.join(names)} at {at}. Figures along an edge: mol% of what they rise to."]
    notes.append(
        "Thin lines: the pot of a bare still, towards the arrow."
        + (" Heavy dashes: no simple distillation crosses them." if ternary.boundaries else "")
        + (" Grey field: two liquids boil, thin ties join them." if ternary.ties else "")
        + (
            " Dotted: the pot under a column of many plates; ring: the charge."
            if course is not None
            else ""
        )
    )
    notes.append(
        "Open ring: residue curves start (first to come over). Full: they end. Half: they pass."
    )
    return title, notes


def _count(number: int, word: str) -> str:
    if number == 1:
        return f"one {word}"
    return f"{number} {word.removesuffix('y')}ies"


def _titles(title: str) -> list[str]:
    lines = wrap(title, _TITLE_LETTERS)
    return [
        svg.text(36, 46 + 26 * k, line, size=20, weight=600) for k, line in enumerate(lines[:4])
    ]


def _grid(place: _Place, order: Sequence[int]) -> list[str]:
    """Lines of 20, 40, 60 and 80 % of each substance, with figures along the edges."""
    parts = []
    for k in range(3):
        one, other = (k + 1) % 3, (k + 2) % 3
        for tenth in (0.2, 0.4, 0.6, 0.8):
            a, b = np.zeros(3), np.zeros(3)
            a[k] = b[k] = tenth
            a[one], b[other] = 1.0 - tenth, 1.0 - tenth
            (x1, y1), (x2, y2) = place(a), place(b)
            parts.append(svg.straight(x1, y1, x2, y2, pen="pale", width=0.7))
        parts += _figures(place, k, other)
    return parts


def _figures(place: _Place, k: int, beside: int) -> list[str]:
    """Mol% of one substance along the edge that leads to it from another."""
    parts = []
    for tenth in (0.2, 0.4, 0.6, 0.8):
        x = np.zeros(3)
        x[k], x[beside] = tenth, 1.0 - tenth
        at, out = place(x), place.outward(3 - k - beside)
        px, py = at + 15.0 * out
        parts.append(
            svg.text(
                float(px), float(py) + 4.0, f"{100 * tenth:.0f}", size=11, pen="grey",
                anchor="middle",
            )
        )  # fmt: skip
    return parts


def _edges(place: _Place) -> list[str]:
    at = [place(np.eye(3)[k]) for k in range(3)]
    return [
        svg.straight(*at[a], *at[b], pen="black", width=1.6) for a, b in ((0, 1), (1, 2), (2, 0))
    ]


def _two_liquids(ternary: Ternary, place: _Place) -> list[str]:
    if len(ternary.ties) < 2:
        return []
    first = place(np.array([t.first for t in ternary.ties]))
    second = place(np.array([t.second for t in ternary.ties]))
    rim = np.vstack([first, second[::-1]])
    parts = [
        svg.element("path", d=svg.path(rim[:, 0], rim[:, 1]) + "Z", fill=svg.PENS["faint"]),
        svg.element(
            "path",
            d=svg.path(rim[:, 0], rim[:, 1]),
            fill="none",
            stroke=svg.PENS["vermillion"],
            stroke_width=1.4,
            stroke_dasharray=_GAP_DASH,
        ),
    ]
    every = max(1, len(ternary.ties) // 8)
    for k in range(0, len(ternary.ties), every):
        parts.append(svg.straight(*first[k], *second[k], pen="vermillion", width=0.6))
    return parts


def _curve(curve: ResidueCurve, place: _Place) -> list[str]:
    at = place(curve.mole_fraction)
    parts = [svg.polyline(at[:, 0], at[:, 1], pen="blue", width=1.1, dashes=None)]
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(at, axis=0).T))])
    if length[-1] > 60.0:
        parts.append(_arrow(at, length, 0.5 * length[-1], "blue"))
    return parts


def _arrow(at: Floats, length: Floats, where: float, pen: str, size: float = 7.0) -> str:
    k = min(max(int(np.searchsorted(length, where)), 1), len(at) - 1)
    step = at[k] - at[k - 1]
    along = step / max(float(np.hypot(*step)), 1e-9)
    across = np.array([-along[1], along[0]])
    tip = at[k] + along * size * 0.6
    wings = [tip - along * size * 1.5 + side * across * size * 0.55 for side in (1.0, -1.0)]
    corners = np.array([tip, *wings])
    return svg.element("path", d=svg.path(*corners.T) + "Z", fill=svg.PENS[pen])


def _boundaries(ternary: Ternary, place: _Place) -> list[str]:
    parts = []
    for boundary in ternary.boundaries:
        at = place(boundary.mole_fraction)
        parts.append(
            svg.polyline(at[:, 0], at[:, 1], pen="black", width=3.0, dashes=_BOUNDARY_DASH)
        )
        length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(at, axis=0).T))])
        parts.append(_arrow(at, length, 0.55 * length[-1], "black", 11.0))
    return parts


def _pot(mix: Mix, place: _Place) -> list[str]:
    course = mix.more.course
    if course is None:
        return []
    at = place(course.pot)
    x, y = at[0]
    return [
        svg.polyline(at[:, 0], at[:, 1], pen="green", width=4.0, dashes=_POT_DASH),
        svg.circle(x, y, 7.0, pen="green"),
        svg.circle(x, y, 3.0, pen="green"),
        _label(x + 13, y + 5, "charge", "green", "start", 600),
    ]


def _label(x: float, y: float, words: str, pen: str, anchor: str, weight: int = 400) -> str:
    """Text with paper around it, so that no line runs through it."""
    halo = svg.element(
        "text",
        words,
        x=float(x),
        y=float(y),
        font_size=13.5,
        text_anchor=anchor,
        font_weight=weight,
        stroke=svg.PAPER,
        stroke_width=5,
        stroke_linejoin="round",
        fill=svg.PAPER,
    )
    return halo + svg.text(x, y, words, size=13.5, pen=pen, anchor=anchor, weight=weight)


def _points(points: Sequence[SingularPoint], names: Sequence[str], place: _Place) -> list[str]:
    parts = []
    for point in points:
        x, y = place(point.mole_fraction)
        parts.append(svg.circle(x, y, 6.5))
        signs = {value > 0.0 for value in point.eigenvalues}
        if signs == {False}:  # residue curves end here
            parts.append(svg.circle(x, y, 4.2, fill=svg.PENS["black"]))
        elif len(signs) == 2:  # they pass by
            half = f"M{x - 6.5:.2f} {y:.2f}A6.5 6.5 0 0 0 {x + 6.5:.2f} {y:.2f}Z"
            parts.append(svg.element("path", d=half, fill=svg.PENS["black"]))
        parts += _named(point, names, x, y, place)
    return parts


def _named(
    point: SingularPoint, names: Sequence[str], x: float, y: float, place: _Place
) -> list[str]:
    boils = f"{point.temperature_K - _ZERO_C:.1f} °C"
    if len(point.components) == 1:
        words = [capital(names[point.components[0]]), boils]
    elif point.liquids is not None:
        words = [f"{boils}, two liquids"]
    else:
        words = [boils]
    anchor, dx, dy = "start", 12.0, -8.0
    if len(point.components) == 1:
        away = np.array([x, y]) - place.centre
        anchor = "middle" if abs(away[0]) < 10.0 else ("start" if away[0] > 0 else "end")
        dx = 0.0 if anchor == "middle" else float(np.sign(away[0])) * 14.0
        dy = -32.0 if away[1] < 0 else 14.0
    elif len(point.components) == 2:
        out = place.outward(3 - sum(point.components))
        anchor = "middle" if abs(out[0]) < 0.3 else ("start" if out[0] > 0 else "end")
        dx, dy = 30.0 * float(out[0]), 30.0 * float(out[1]) + 6.0
    return [
        _label(x + dx, y + dy + 17.0 * k, line, "black", anchor, 600 if k == 0 else 400)
        for k, line in enumerate(words)
    ]


def _notes(notes: Sequence[str]) -> list[str]:
    parts, y = [], _FLOOR + 62.0
    for note in notes:
        for line in wrap(note, _NOTE_LETTERS):
            parts.append(svg.text(36, y, line, size=13, pen="grey"))
            y += 18.0
    return parts
