"""The few elements of a drawing that forerun needs, written as SVG by hand."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

import numpy as np
import numpy.typing as npt

__all__ = [
    "PAPER",
    "PENS",
    "area",
    "circle",
    "document",
    "element",
    "hatch",
    "path",
    "polyline",
    "rectangle",
    "straight",
    "text",
]

Floats = npt.NDArray[np.float64]

PAPER = "#FFFFFF"
PENS = {
    "blue": "#0072B2",
    "vermillion": "#D55E00",
    "green": "#009E73",
    "black": "#1A1A1A",
    "grey": "#5F6368",
    "pale": "#D9DBDE",
    "faint": "#F3F4F5",
}
_FONT = "'Source Sans 3','Inter','Segoe UI','Helvetica Neue','DejaVu Sans',Arial,sans-serif"
_STYLE = (
    f"text{{font-family:{_FONT};font-variant-numeric:tabular-nums;font-feature-settings:'tnum' 1}}"
)


def _figure(value: float) -> str:
    rounded = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if rounded in {"-0", ""} else rounded


def element(name: str, inside: str = "", **attributes: object) -> str:
    """Return one element; underscores in attribute names become hyphens."""
    parts = [name]
    for key, value in attributes.items():
        if value is None:
            continue
        shown = _figure(value) if isinstance(value, float) else str(value)
        parts.append(f'{key.rstrip("_").replace("_", "-")}="{escape(shown)}"')
    opening = " ".join(parts)
    return f"<{opening}>{inside}</{name}>" if inside else f"<{opening}/>"


def text(
    x: float,
    y: float,
    words: str,
    *,
    size: float = 13.0,
    pen: str = "black",
    anchor: str = "start",
    weight: int = 400,
) -> str:
    """Return a line of text with its baseline at y."""
    return element(
        "text",
        escape(words, quote=False),
        x=float(x),
        y=float(y),
        font_size=size,
        fill=PENS[pen],
        text_anchor=None if anchor == "start" else anchor,
        font_weight=None if weight == 400 else weight,
    )


def straight(
    x1: float,
    y1: float,
    x2: float,
    y2: float,
    *,
    pen: str = "grey",
    width: float = 1.0,
    dashes: str | None = None,
) -> str:
    """Return a straight line."""
    return element(
        "line",
        x1=float(x1),
        y1=float(y1),
        x2=float(x2),
        y2=float(y2),
        stroke=PENS[pen],
        stroke_width=width,
        stroke_dasharray=dashes,
    )


def rectangle(
    x: float, y: float, width: float, height: float, fill: str, stroke: str | None = None
) -> str:
    """Return a filled rectangle; `fill` is a pen, or anything SVG takes, such as a pattern."""
    return element(
        "rect",
        x=float(x),
        y=float(y),
        width=float(max(width, 0.0)),
        height=float(max(height, 0.0)),
        fill=PENS.get(fill, fill),
        stroke=stroke,
        stroke_width=None if stroke is None else 0.6,
    )


def circle(x: float, y: float, radius: float, *, fill: str = PAPER, pen: str = "black") -> str:
    """Return a circle with an outline."""
    return element(
        "circle",
        cx=float(x),
        cy=float(y),
        r=float(radius),
        fill=fill,
        stroke=PENS[pen],
        stroke_width=1.2,
    )


def path(xs: Iterable[float], ys: Iterable[float]) -> str:
    """Return the data of a path through points; it is broken where a point is not finite."""
    parts: list[str] = []
    letter = "M"
    for x, y in zip(xs, ys, strict=True):
        if not (np.isfinite(x) and np.isfinite(y)):
            letter = "M"
            continue
        parts.append(f"{letter}{_figure(x)} {_figure(y)}")
        letter = "L"
    return "".join(parts)


def polyline(xs: Floats, ys: Floats, *, pen: str, width: float = 2.0, dashes: str | None) -> str:
    """Return a line through points, thinned to what the eye can see."""
    kept = _visible(xs, ys)
    return element(
        "path",
        d=path(xs[kept], ys[kept]),
        fill="none",
        stroke=PENS[pen],
        stroke_width=width,
        stroke_dasharray=dashes,
        stroke_linejoin="round",
        stroke_linecap="round" if dashes is None else None,
    )


def area(xs: Floats, low: Floats, high: Floats, *, pen: str, opacity: float = 0.16) -> str:
    """Return the filled space between two lines."""
    around = np.concatenate([xs, xs[::-1]]), np.concatenate([high, low[::-1]])
    return element("path", d=path(*around) + "Z", fill=PENS[pen], fill_opacity=opacity)


def hatch(name: str, ground: str, pen: str | None, turn: int) -> str:
    """Return a pattern of slanted lines on a ground, so that areas differ without colour."""
    lines = "" if pen is None else element("path", d="M0 0V6", stroke=pen, stroke_width=2.2)
    ground_area = element("rect", width=6, height=6, fill=ground)
    return element(
        "pattern",
        ground_area + lines,
        id=name,
        width=6,
        height=6,
        patternUnits="userSpaceOnUse",
        patternTransform=f"rotate({turn})",
    )


def document(width: int, height: int, title: str, description: str, parts: Iterable[str]) -> str:
    """Return a complete file with its own light ground, title and description."""
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
            f'width="{width}" height="{height}" role="img" aria-labelledby="title description">',
            f'<title id="title">{escape(title, quote=False)}</title>',
            f'<desc id="description">{escape(description, quote=False)}</desc>',
            f"<style>{_STYLE}</style>",
            rectangle(0, 0, width, height, PAPER),
            *parts,
            "</svg>\n",
        ]
    )


def _visible(xs: Floats, ys: Floats, tolerance: float = 0.12) -> npt.NDArray[np.intp]:
    """Points that a line needs to stay within the tolerance [px], in order (Douglas-Peucker)."""
    known = np.isfinite(xs) & np.isfinite(ys)
    if not known.all() or xs.size < 3:
        return np.arange(xs.size)
    keep = np.zeros(xs.size, dtype=bool)
    keep[[0, -1]] = True
    waiting = [(0, xs.size - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        dx, dy = xs[last] - xs[first], ys[last] - ys[first]
        between = slice(first + 1, last)
        length = float(np.hypot(dx, dy))
        across, up = xs[between] - xs[first], ys[between] - ys[first]
        away = np.abs(dx * up - dy * across) / length if length > 0 else np.hypot(across, up)
        farthest = int(np.argmax(away))
        if away[farthest] > tolerance:
            middle = first + 1 + farthest
            keep[middle] = True
            waiting += [(first, middle), (middle, last)]
    return np.flatnonzero(keep)
