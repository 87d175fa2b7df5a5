"""The pressures that fit, as one strip: what limits on either side."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from forerun.core.quantities import format_pressure
from forerun.reporting.paper import Paper
from forerun.reporting.table import columns, paragraph

if TYPE_CHECKING:
    from forerun.planning.pressure_window import PressureWindow

__all__ = ["strip_as_svg", "strip_printed"]

_LOWEST, _HIGHEST = 10.0, 101325.0  # Pa, the ends of the strip
_WIDEST = 60  # characters


def strip_printed(window: PressureWindow, paper: Paper) -> list[str]:
    """Return the strip and its limits in lines.

    Args:
        window: the pressures.
        paper: where it is printed.
    """
    low, high = format_pressure(window.low_Pa, "mbar"), format_pressure(window.high_Pa, "mbar")
    title = (
        f"No pressure fits: at least {low}, at most {high}"
        if window.empty
        else (f"Pressures that fit: {low} to {high}")
    )
    lines = ["", paper.ink(paper.spelled(title), "bold"), *_strip(window, paper), ""]
    rows = [
        (limit.name, "≥" if limit.side == "low" else "≤", _pressure(limit.pressure_Pa),
         limit.item, limit.says)
        for limit in window.limits
    ]  # fmt: skip
    lines += columns(("limit", "", "pressure", "by", "since"), rows, paper, left=5)
    changes = [f"Change one of these: {change}" for change in window.changes[:6]]
    return lines + paragraph("To open it", changes, paper, "bold")


def _pressure(pressure: float) -> str:
    if not math.isfinite(pressure) or pressure > 2.0 * _HIGHEST:
        return "any"
    return format_pressure(pressure, "mbar")


def _strip(window: PressureWindow, paper: Paper) -> list[str]:
    width = min(_WIDEST, paper.width - 4)

    def place(pressure: float) -> int:
        span = math.log(_HIGHEST / _LOWEST)
        share = math.log(min(max(pressure, _LOWEST), _HIGHEST) / _LOWEST) / span
        return round(share * (width - 1))

    strip = ["."] * width
    if not window.empty:
        for k in range(place(window.low_Pa), place(window.high_Pa) + 1):
            strip[k] = "="
    asked = place(window.wanted_Pa)
    strip[asked] = "#"
    marks = ["0.1", "1", "10", "100", "1000"]
    scale = [" "] * (width + 4)
    for text in marks:
        at = place(100.0 * float(text))
        scale[at : at + len(text)] = list(text)
    return [
        f"  {''.join(strip)}",
        paper.ink(f"  {''.join(scale).rstrip()} mbar; # what the sheet asks for", "grey"),
    ]


_WIDE, _ROW, _LEFT, _TOP = 800, 30, 250, 96  # px
_SHOWN_C = (20.0, 50.0, 80.0, 110.0, 140.0, 170.0, 200.0)


def strip_as_svg(window: PressureWindow, name: str) -> str:
    """Return the pressures that fit as one strip, each limit on a line of its own.

    Args:
        window: the pressures.
        name: of the wanted component, whose boiling points stand along the foot.
    """
    rows = len(window.limits)
    foot = _TOP + _ROW * (rows + 1)
    height = foot + 76
    low, high = format_pressure(window.low_Pa, "mbar"), format_pressure(window.high_Pa, "mbar")
    title = (
        f"No pressure fits: at least {low}, at most {high}"
        if window.empty
        else f"{name.capitalize()}: {low} to {high}"
    )
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDE}" height="{height}" '
        f'viewBox="0 0 {_WIDE} {height}" role="img" font-family="Georgia, serif">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{_WIDE}" height="{height}" fill="#fffdf8"/>',
        _words(24, 34, title, 18, bold=True),
        _words(24, 56, "Open bars: the pressures that each thing allows; hatched: all.", 12),
        '<defs><pattern id="fits" width="7" height="7" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect width="7" height="7" fill="#e6f4ef"/>'
        '<line x1="0" y1="0" x2="0" y2="7" stroke="#009E73" stroke-width="2.5"/></pattern></defs>',
    ]
    for n, limit in enumerate(window.limits):
        y = _TOP + _ROW * n
        ends = (
            (limit.pressure_Pa, _HIGHEST) if limit.side == "low" else (_LOWEST, limit.pressure_Pa)
        )
        parts += _bar(y, ends, f"{limit.name}: {limit.item}", "none")
    if not window.empty:
        parts += _bar(_TOP + _ROW * rows, (window.low_Pa, window.high_Pa), "all", "url(#fits)")
    x = _along(window.wanted_Pa)
    parts += [
        f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{_TOP - 16}" y2="{foot}" stroke="#D55E00" '
        'stroke-width="1.6" stroke-dasharray="5 3"/>',
        _words(min(x - 30, _WIDE - 90), _TOP - 20, "the sheet", 11.5),
    ]
    parts += _scales(window, name, foot)
    return "\n".join([*parts, "</svg>"]) + "\n"


def _along(pressure: float) -> float:
    """Return where a pressure [Pa] stands across the page [px]."""
    inside = min(max(pressure, _LOWEST), _HIGHEST)
    share = math.log(inside / _LOWEST) / math.log(_HIGHEST / _LOWEST)
    return _LEFT + share * (_WIDE - _LEFT - 40)


def _bar(y: float, ends: tuple[float, float], label: str, fill: str) -> list[str]:
    a, b = _along(ends[0]), _along(ends[1])
    return [
        _words(24, y + 15, label, 12),
        f'<rect x="{a:.1f}" y="{y + 3}" width="{max(b - a, 1.0):.1f}" height="16" fill="{fill}" '
        'stroke="#1a1a1a" stroke-width="1.1"/>',
    ]


def _scales(window: PressureWindow, name: str, foot: float) -> list[str]:
    parts = [_words(24, foot + 24, "mbar", 12), _words(24, foot + 48, f"{name} boils, °C", 12)]
    for mbar in (0.1, 1.0, 10.0, 100.0, 1000.0):
        x = _along(100.0 * mbar)
        parts.append(
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{foot}" y2="{foot + 8}" stroke="#1a1a1a"/>'
        )
        parts.append(_words(x - 8, foot + 24, f"{mbar:g}", 11.5))
    points = [(p.temperature_K - 273.15, p.pressure_Pa) for p in window.boiling]
    for celsius in _SHOWN_C:
        if points and points[0][0] <= celsius <= points[-1][0]:
            above = next(k for k, (t, _) in enumerate(points) if t >= celsius)
            (t0, p0), (t1, p1) = points[max(above - 1, 0)], points[above]
            part = 0.0 if t1 == t0 else (celsius - t0) / (t1 - t0)
            x = _along(p0 * (p1 / p0) ** part)
            parts.append(_words(x - 8, foot + 48, f"{celsius:.0f}", 11.5))
    return parts


def _words(x: float, y: float, words: str, size: float, *, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}"{weight} fill="#1a1a1a">'
        f"{escape(words)}</text>"
    )
