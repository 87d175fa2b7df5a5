"""The pressures that fit, as one strip: what limits on either side."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from forerun.core.quantities import format_pressure
from forerun.reporting.paper import Paper
from forerun.reporting.table import columns, paragraph

if TYPE_CHECKING:
    from forerun.planning.pressure_window import PressureWindow

__all__ = ["strip_printed"]

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
