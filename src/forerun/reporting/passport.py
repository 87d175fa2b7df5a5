"""The passport of a column over its runs: for people, as a drawing, as an object."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from forerun.core.provenance import signed
from forerun.equilibrium.band_rules import EIGHTY
from forerun.reporting.bands import Span, value_with_band
from forerun.reporting.paper import Paper
from forerun.reporting.scale import Axis, axis_over
from forerun.reporting.svg import circle, document, element, rectangle, straight, text
from forerun.reporting.table import columns, wrapped
from forerun.reviewing.passport import in_one_sentence

__all__ = ["Passport", "narrowing_as_svg"]

_QUANTITIES = (
    ("plates", "plates", 1.0, "", 1),
    ("holdup_m3", "hold-up", 1e6, "mL", 1),
    ("heat_loss_W_K", "heat loss", 1.0, "W/K", 2),
)
_WIDTH, _PANEL, _GAP, _LEFT, _TOP, _RIGHT = 720, 150, 46, 76, 78, 24  # px


@dataclass(frozen=True, slots=True)
class Passport:
    """Every state of one physical item, the oldest first.

    Args:
        name: by which sheets name it.
        states: as `forerun.reviewing.passport.passport_of` made them; not empty.
        kept_utc_s: when each was kept [s since 1970-01-01]; empty where nobody knows.
    """

    name: str
    states: tuple[Mapping[str, Any], ...]
    kept_utc_s: tuple[float, ...] = ()

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read."""
        last = self.states[-1]
        kinds = {str(state.get("column", "")) for state in self.states}
        found = [in_one_sentence(self.name, last)]
        if len(kinds) > 1:
            found.append(f'Runs of different columns are kept under "{self.name}".')
        if last.get("left_out"):
            runs = ", ".join(last["left_out"])
            found.append(f"Not counted, as they could not be reviewed again: {runs}.")
        return tuple(sentence for sentence in found if sentence)

    @property
    def finding(self) -> str:
        """What is known of it, in one sentence."""
        last = self.states[-1]
        told = [
            f"{words} {_said(last[key], scale, unit, decimals)}"
            for key, words, scale, unit, decimals in _QUANTITIES
            if key in last
        ]
        runs = int(last.get("runs", len(self.states)))
        after = f"after {runs} run" + ("s" if runs != 1 else "")
        known = ", ".join(told) or "nothing known"
        return f"{self.name} ({last.get('column', '')}), {after}: {known}"

    def brief(self) -> dict[str, Any]:
        """Return what is known of it now: the middle and the 80 % band of each quantity, SI."""
        last = self.states[-1]
        known = {key: _ends(last[key]) for key, *_ in _QUANTITIES if key in last}
        return {
            "passport": self.name,
            "finding": self.finding,
            "column": str(last.get("column", "")),
            "runs": int(last.get("runs", len(self.states))),
            "known": {
                key: {"low": low, "value": value, "high": high}
                for key, (low, value, high) in known.items()
            },
        }

    def to_json(self) -> dict[str, Any]:
        """Return the states as they are kept, SI."""
        return signed(
            {
                **self.brief(),
                "states": [dict(state) for state in self.states],
                "kept_utc_s": list(self.kept_utc_s),
            }
        )

    def table(self) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
        """Return headings and, for each run, its name and what it showed, alone and so far."""
        shown = [q for q in _QUANTITIES if any(q[0] in state for state in self.states)]
        head = ("run", *(f"{words}, this run | so far" for _, words, *_ in shown))
        rows = []
        for k, state in enumerate(self.states, 1):
            cells = [
                f"{_alone(state, key, scale, unit, n)} | "
                f"{_said(state[key], scale, unit, n) if key in state else '–'}"
                for key, _, scale, unit, n in shown
            ]
            rows.append((str(state.get("last", "")) or str(k), *cells))
        return head, rows

    def printed(self, paper: Paper) -> list[str]:
        """Return what is known, and what each run added, in lines for a person."""
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        head, rows = self.table()
        return [*lines, "", *columns(head, rows, paper)]

    def drawing(self) -> str:
        """Return each quantity over the runs as SVG: this run alone, and what is known so far."""
        shown = [q for q in _QUANTITIES if any(q[0] in state for state in self.states)]
        height = _TOP + len(shown) * (_PANEL + _GAP) + 10
        parts = [
            text(24, 30, f"{self.name}: what its runs have shown", size=17, weight=600),
            *_legend(24, 52),
        ]
        for k, quantity in enumerate(shown):
            parts += self._panel(_TOP + k * (_PANEL + _GAP), quantity)
        return document(_WIDTH, height, f"Passport of {self.name}", self.finding, parts)

    def _panel(self, top: float, quantity: tuple[str, str, float, str, int]) -> list[str]:
        key, words, scale, unit, _ = quantity
        known = [_ends(state[key]) if key in state else None for state in self.states]
        own = [_own(state, key) for state in self.states]
        ends = [scale * v for span in (*known, *own) if span is not None for v in span]
        upwards = axis_over(min(0.0, *ends), max(ends), 4)
        name = f"{words} [{unit}]" if unit else words
        parts = [text(_LEFT, top + 4, name, size=13, weight=600), *_axes(top, upwards)]
        for k, (so_far, alone) in enumerate(zip(known, own, strict=True)):
            x = self._across(k)
            if so_far is not None:
                low, value, high = (_up(top, upwards, scale * v) for v in so_far)
                parts.append(rectangle(x - 13, high, 26, low - high, "pale"))
                parts.append(straight(x - 13, value, x + 13, value, pen="blue", width=2.4))
            if alone is not None:
                low, value, high = (_up(top, upwards, scale * v) for v in alone)
                parts.append(straight(x, low, x, high, pen="vermillion", width=1.4))
                parts.append(circle(x, value, 4.0, pen="vermillion"))
            label = str(self.states[k].get("last", "")) or str(k + 1)
            if len(self.states) <= 12 or k % (1 + len(self.states) // 12) == 0:
                parts.append(text(x, top + _PANEL + 15, label, size=11, anchor="middle"))
        return parts

    def _across(self, k: int) -> float:
        return _LEFT + (_WIDTH - _LEFT - _RIGHT) * (k + 0.5) / len(self.states)


def _ends(kept: Mapping[str, Any]) -> tuple[float, float, float]:
    """Return the 80 % band of what is kept and its middle, log-normal [SI]."""
    value, factor = float(kept["value"]), float(np.exp(EIGHTY * float(kept["relative_sigma"])))
    return value / factor, value, value * factor


def _own(state: Mapping[str, Any], key: str) -> tuple[float, float, float] | None:
    own = state.get("own", {}).get(key)
    return None if own is None else (float(own["low"]), float(own["value"]), float(own["high"]))


def _said(kept: Mapping[str, Any], scale: float, unit: str, decimals: int) -> str:
    low, value, high = (scale * v for v in _ends(kept))
    return value_with_band(value, Span(low, high), unit, decimals)


def _alone(state: Mapping[str, Any], key: str, scale: float, unit: str, decimals: int) -> str:
    own = _own(state, key)
    if own is None:
        return "–"
    low, value, high = (scale * v for v in own)
    return value_with_band(value, Span(low, high), unit, decimals)


def _up(top: float, axis: Axis, value: float) -> float:
    return top + _PANEL - axis.place(value) * (_PANEL - 16)


def _axes(top: float, upwards: Axis) -> list[str]:
    parts = []
    for tick in upwards.ticks:
        y = _up(top, upwards, tick)
        parts.append(straight(_LEFT, y, _WIDTH - _RIGHT, y, pen="pale", width=0.8))
        parts.append(text(_LEFT - 8, y + 4, upwards.label(tick), size=11, anchor="end"))
    return parts


def _legend(x: float, y: float) -> list[str]:
    return [
        straight(x + 7, y - 11, x + 7, y + 3, pen="vermillion", width=1.4),
        circle(x + 7, y - 4, 4.0, pen="vermillion"),
        text(x + 20, y, "this run alone", size=12),
        rectangle(x + 125, y - 11, 22, 14, "pale"),
        straight(x + 125, y - 4, x + 147, y - 4, pen="blue", width=2.4),
        text(x + 154, y, "all runs so far; bars and boxes hold 80 %", size=12),
    ]


def narrowing_as_svg(figures: Mapping[str, Any]) -> str:
    """Return how the forecast's bands narrow with a passport, as SVG.

    Args:
        figures: by quantity ``width``, ``width_error`` and ``inside``, one for each number of runs
            from 0 on, and ``runs``, which were held against them.
    """
    names = [n for n in figures if isinstance(figures[n], Mapping)]
    parts = [text(24, 30, "The next forecast, with a passport", size=17, weight=600)]
    room = 330
    for k, name in enumerate(names):
        parts += _narrowing(24 + k * room, name, figures[name], int(figures["runs"]))
    said = "Mean width of the 80 % band of a forecast, and how often the truth lay inside."
    parts.append(text(24, 52, said, size=12, pen="grey"))
    return document(24 + room * len(names), 330, "What a passport is worth", said, parts)


def _narrowing(left: float, name: str, rows: Mapping[str, Sequence[float]], of: int) -> list[str]:
    widths = rows["width"]
    upwards = axis_over(0.0, max(widths) * 1.15, 4)
    foot, tall = 262.0, 160.0
    unit = "mL" if "volume" in name else "mole fraction"
    parts = [text(left, 82, f"{name} [{unit}]", size=13, weight=600)]
    for tick in upwards.ticks:
        y = foot - tall * upwards.place(tick)
        parts.append(straight(left + 46, y, left + 300, y, pen="pale", width=0.8))
        parts.append(text(left + 40, y + 4, upwards.label(tick), size=11, anchor="end"))
    for k, (width, error, inside) in enumerate(
        zip(widths, rows["width_error"], rows["inside"], strict=True)
    ):
        x = left + 50 + 250 * (k + 0.5) / len(widths)
        top = foot - tall * upwards.place(width)
        parts.append(rectangle(x - 26, top, 52, foot - top, "blue" if k else "grey"))
        rise = tall * upwards.place(error)
        parts.append(straight(x, top - rise, x, top + rise, pen="black", width=1.2))
        runs = "no passport" if k == 0 else f"{k} run" + ("s" if k > 1 else "")
        parts.append(text(x, foot + 16, runs, size=11, anchor="middle"))
        parts.append(text(x, foot + 33, f"inside {inside:.0f}/{of}", size=11, anchor="middle"))
    return [element("g", "".join(parts))]
