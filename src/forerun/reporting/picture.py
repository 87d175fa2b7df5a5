"""The drawing of a run: head, pot and bath against time and against volume, cuts below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

import numpy as np
import numpy.typing as npt

from forerun.reporting import svg
from forerun.reporting.curve import Band, Curve, Line
from forerun.reporting.cut_rows import CutRow
from forerun.reporting.scale import Axis, axis_over
from forerun.reporting.words import shortened

__all__ = ["Picture", "drawn_as_svg"]

Floats = npt.NDArray[np.float64]

_WIDTH = 1000
_TOP, _BOTTOM = 126.0, 436.0  # upper and lower edge of both fields [px]
_TIME_FIELD = (64.0, 544.0)  # left and right edge [px]
_VOLUME_FIELD = (668.0, 906.0)
_TABLE_TOP = 508.0
_ROW = 30.0
_LABEL_GAP = 15.0  # least distance between two labels at line ends [px]
_BADGE = 9.5  # radius of the circle around the number of a receiver [px]
_TITLE_LETTERS = 62  # that fit a line at the size of a title
_SUBTITLE_LETTERS = 128
_LINE_LETTERS = 44  # that fit beside a bar
_MARGIN = 3.0  # K above and below the readings
_DASHES = {"head": None, "pot": "9 4", "bath": "2 4"}
_BARS = (
    ("#2B2F33", None, 0),
    ("#9AA0A6", None, 0),
    ("#FFFFFF", "#5F6368", 45),
    ("#D9DBDE", "#FFFFFF", -45),
    ("#5F6368", "#D9DBDE", 90),
)


@dataclass(frozen=True, slots=True)
class Picture:
    """What the drawing says.

    Args:
        title: the finding, in one sentence.
        subtitle: what was charged and how it is heated.
        description: the run in words, for those who do not see the drawing.
        curve: the run in bench units.
        names: (C,) names of the components.
        rows: receivers and pot.
        footnotes: lines below the table.
    """

    title: str
    subtitle: str
    description: str
    curve: Curve
    names: tuple[str, ...]
    rows: tuple[CutRow, ...]
    footnotes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Field:
    """A rectangle with its two axes."""

    left: float
    right: float
    across: Axis
    upwards: Axis

    def xs(self, values: Floats) -> Floats:
        return self.left + (values - self.across.low) / (self.across.high - self.across.low) * (
            self.right - self.left
        )

    def ys(self, values: Floats) -> Floats:
        return _BOTTOM - (values - self.upwards.low) / (self.upwards.high - self.upwards.low) * (
            _BOTTOM - _TOP
        )

    def x(self, value: float) -> float:
        return self.left + self.across.place(value) * (self.right - self.left)

    def y(self, value: float) -> float:
        return _BOTTOM - self.upwards.place(value) * (_BOTTOM - _TOP)


def drawn_as_svg(picture: Picture) -> str:
    """Return the drawing as a complete SVG file.

    Args:
        picture: the run and the words around it.

    Returns:
        SVG text without any outside asset; complete without colour.
    """
    curve = picture.curve
    low, high = curve.temperatures()
    upwards = axis_over(low - _MARGIN, high + _MARGIN, wanted=7, snug=True)
    end = float(curve.minutes[-1])
    most = max(float(curve.millilitres[-1]), 1.0)
    time_field = _Field(*_TIME_FIELD, axis_over(0.0, end, 8, snug=True, minutes=True), upwards)
    volume_field = _Field(*_VOLUME_FIELD, axis_over(0.0, most, 6, snug=True), upwards)
    parts = [_patterns(), *_titles(picture)]
    parts += _panel(time_field, curve, curve.minutes, curve.by_time, "time")
    parts += _panel(volume_field, curve, curve.millilitres, curve.by_volume, "volume")
    table, bottom = _table(picture)
    parts += table
    return svg.document(_WIDTH, round(bottom), picture.title, picture.description, parts)


def _patterns() -> str:
    patterns = (svg.hatch(f"bar{k}", *style) for k, style in enumerate(_BARS))
    return svg.element("defs", "".join(patterns))


def _titles(picture: Picture) -> list[str]:
    lines = wrap(picture.title, _TITLE_LETTERS)
    if len(lines) == 1:
        parts = [svg.text(28, 44, lines[0], size=22, weight=600)]
    else:
        lines = [*lines[:1], shortened(" ".join(lines[1:]), _TITLE_LETTERS + 10)]
        parts = [
            svg.text(28, 32 + 24 * k, line, size=19, weight=600) for k, line in enumerate(lines)
        ]
    size = min(14.0, 14.0 * _SUBTITLE_LETTERS / max(len(picture.subtitle), 1))
    below = 70 if len(lines) == 1 else 78
    return [*parts, svg.text(28, below, picture.subtitle, size=size, pen="grey")]


def _panel(field: _Field, curve: Curve, places: Floats, band: Band | None, kind: str) -> list[str]:
    """One field with its axes, receivers, fan and lines."""
    by_time = kind == "time"
    parts = _cuts_behind(field, curve, by_time) + _axes(field, "min" if by_time else "mL")
    parts.append(svg.text(field.left, _TOP - 26, f"against {kind}", pen="grey", size=13))
    if band is not None and band.places.size > 1:
        inside = (band.places >= field.across.low) & (band.places <= field.across.high)
        xs = field.xs(band.places[inside])
        parts.append(
            svg.area(xs, field.ys(band.low[inside]), field.ys(band.high[inside]), pen="blue")
        )
    # Against volume a curve starts with the first drop: before it all points share one place.
    began = 0 if by_time else max(int(np.argmax(places > 0.0)) - 1, 0)
    if by_time or places[-1] > 0.0:
        for line in curve.lines:
            parts.append(_thermometer(field, places[began:], line, began))
        parts += _end_labels(field, curve, float(places[-1]))
    else:
        middle = (field.left + field.right) / 2
        parts.append(
            svg.text(
                middle, (_TOP + _BOTTOM) / 2, curve.without_volume, pen="grey", anchor="middle"
            )
        )
    return parts


def _thermometer(field: _Field, places: Floats, line: Line, began: int) -> str:
    width = 2.4 if line.name == "head" else 1.8
    return svg.polyline(
        field.xs(places),
        field.ys(line.celsius[began:]),
        pen=line.ink,
        width=width,
        dashes=_DASHES[line.name],
    )


def _cuts_behind(field: _Field, curve: Curve, by_time: bool) -> list[str]:
    """Tints and numbers of the receivers."""
    parts: list[str] = []
    taken = -1e9
    raised = False
    for count, cut in enumerate(curve.cuts):
        start, end = (cut.start_min, cut.end_min) if by_time else (cut.start_mL, cut.end_mL)
        left, right = field.x(start), min(field.x(end), field.right)
        if count % 2 == 0:
            parts.append(svg.rectangle(left, _TOP, right - left, _BOTTOM - _TOP, "faint"))
        for edge in (left, right):
            parts.append(svg.straight(edge, _TOP, edge, _BOTTOM, pen="pale"))
        middle = (left + right) / 2
        raised = middle - taken < 2 * _BADGE + 2 and not raised
        taken = middle
        parts += _badge(middle, _TOP - 8 - (2 * _BADGE + 1 if raised else 0), str(cut.number))
    return parts


def _badge(x: float, y: float, number: str) -> list[str]:
    return [
        svg.circle(x, y, _BADGE),
        svg.text(x, y + 4.3, number, size=12, anchor="middle", weight=600),
    ]


def _axes(field: _Field, unit: str) -> list[str]:
    parts = []
    for tick in field.upwards.ticks:
        y = field.y(tick)
        parts.append(svg.straight(field.left, y, field.right, y, pen="pale", width=0.7))
        parts.append(
            svg.text(field.left - 8, y + 4.5, field.upwards.label(tick), anchor="end", pen="grey")
        )
    parts.append(svg.text(field.left - 8, _TOP - 4, "°C", anchor="end", pen="grey"))
    parts.append(svg.straight(field.left, _BOTTOM, field.right, _BOTTOM, pen="black"))
    for tick in field.across.ticks:
        x = field.x(tick)
        parts.append(svg.straight(x, _BOTTOM, x, _BOTTOM + 5, pen="black"))
        label = field.across.label(tick)
        parts.append(svg.text(x, _BOTTOM + 20, label, anchor="middle", pen="grey"))
    parts.append(svg.text(field.right + 16, _BOTTOM + 20, unit, pen="grey"))
    return parts


def _end_labels(field: _Field, curve: Curve, end: float) -> list[str]:
    """Name and last reading of each line beside its end, moved apart where they would meet."""
    wanted = sorted(
        ((field.y(float(line.celsius[-1])), line) for line in curve.lines), key=lambda pair: pair[0]
    )
    placed: list[tuple[float, Line]] = []
    floor = _TOP
    for y, line in wanted:
        height = max(y, floor)
        placed.append((height, line))
        floor = height + _LABEL_GAP
    shift = max(0.0, placed[-1][0] - _BOTTOM + 4)
    x = field.x(end) + 8
    return [
        svg.text(
            x, y + 4.5 - shift, f"{line.name} {line.celsius[-1]:.0f}", pen=line.ink, weight=600
        )
        for y, line in placed
    ]


def _table(picture: Picture) -> tuple[list[str], float]:
    """The receivers in words below the fields, and where the drawing ends [px]."""
    if not picture.rows and not picture.footnotes:
        return [], _BOTTOM + 44.0
    places = (46.0, 78.0, 210.0, 352.0, 470.0)
    heads = ("", "time", "head", "volume", "holds, mol%")
    y = _TABLE_TOP
    parts = [
        svg.text(x, y, head, pen="grey") for x, head in zip(places, heads, strict=True) if head
    ]
    parts.append(svg.straight(28, y + 10, _WIDTH - 28, y + 10, pen="pale"))
    for row in picture.rows:
        y += _ROW
        parts += _row(row, y, places)
    y += 22
    for note in picture.footnotes:
        y += 18
        parts.append(svg.text(28, y, note, size=12, pen="grey"))
    return parts, y + 24


def _row(row: CutRow, y: float, places: Sequence[float]) -> list[str]:
    if row.badge.isdecimal():
        parts = _badge(places[0], y - 4.5, row.badge)
    else:
        parts = [svg.text(places[0], y, row.badge, anchor="middle", weight=600)]
    for x, words in zip(places[1:], (row.time, row.head, row.volume), strict=False):
        parts.append(svg.text(x, y, words))
    left, width = places[4], 160.0
    for k, share in enumerate(row.fractions):
        parts.append(
            svg.rectangle(
                left,
                y - 12,
                width * share,
                14,
                f"url(#bar{k % len(_BARS)})",
                stroke="#5F6368",
            )
        )
        left += width * share
    return parts + _composition(row.composition, places[4] + width + 14, y)


def _composition(words: str, x: float, y: float) -> list[str]:
    """What a receiver holds, in one line, or in two smaller ones where it is much."""
    if len(words) <= _LINE_LETTERS:
        return [svg.text(x, y, words)]
    lines = wrap(words, max(_LINE_LETTERS + 8, len(words) // 2 + 6))
    size = min(11.0, 11.0 * (_LINE_LETTERS + 8) / max(len(line) for line in lines))
    return [svg.text(x, y - 7 + 13 * k, line, size=size) for k, line in enumerate(lines)]
