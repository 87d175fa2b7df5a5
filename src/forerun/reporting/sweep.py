"""A sweep for people: what the best settings give, and the front as a drawing."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from forerun.core.provenance import signed
from forerun.core.quantities import format_number, format_time
from forerun.reporting.paper import Paper
from forerun.reporting.plain import number
from forerun.reporting.scale import axis_over
from forerun.reporting.svg import circle, document, polyline, straight, text
from forerun.reporting.table import columns, paragraph, wrapped

__all__ = ["Swept"]

_ROWS = 12  # of the front that are printed
_WIDTH, _HEIGHT = 760, 520
_LEFT, _RIGHT, _TOP, _BOTTOM = 70.0, 30.0, 64.0, 56.0
_MOST_DOTS = 4000

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Swept:
    """What came of every setting.

    Args:
        title: of the sheet.
        wanted: the substance that purity and recovery are of.
        basis: of the purity.
        vary: keys and their values.
        rows: one for each point, in order.
        front: those that no other beats in purity, recovery and time, purest first.
        resumed: points that were there from an earlier, stopped sweep.
        workers: who ran the points.
        results: file with the table of all points.
        told: sentences on how it was run.
        assumed: what the sheet's aim left open.
        asked: the question, whole enough to be asked again.
    """

    title: str
    wanted: str
    basis: str
    vary: tuple[tuple[str, tuple[float | int | str, ...]], ...]
    rows: tuple[Row, ...]
    front: tuple[Row, ...]
    resumed: int
    workers: str
    results: str
    told: tuple[str, ...]
    assumed: tuple[str, ...]
    asked: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def counts(self) -> Counter[str]:
        """Number of points by their state."""
        return Counter(str(row["state"]) for row in self.rows)

    @property
    def rows_sha256(self) -> str:
        """Checksum of all rows, 64 hex digits: the same to the last digit, or another."""
        text = json.dumps([dict(row) for row in self.rows], sort_keys=True)
        return hashlib.sha256(text.encode("utf-8")).hexdigest()

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences that the user should read."""
        said = list(self.told)
        for state, words in (("failed", "did not finish"), ("refused", "could not be run")):
            bad = [row for row in self.rows if row["state"] == state]
            if bad:
                said.append(f"{len(bad)} of {len(self.rows)} settings {words}: {bad[0]['problem']}")
        return tuple(said)

    @property
    def finding(self) -> str:
        """What was found, in one sentence."""
        if not self.front:
            return f"None of {len(self.rows)} settings collects {self.wanted}."
        purest, most = self.front[0], max(self.front, key=lambda row: row["recovery"])
        first = f"{self.wanted}: up to {_percent(purest['purity'])} {self.basis}"
        if purest is most:
            return f"{first}, {_percent(purest['recovery'])} % of it, with {self._setting(purest)}."
        return (
            f"{first} ({_percent(purest['recovery'])} % of it; {self._setting(purest)}), or "
            f"{_percent(most['recovery'])} % of it at {_percent(most['purity'])} {self.basis} "
            f"({self._setting(most)})."
        )

    def _setting(self, row: Row) -> str:
        return ", ".join(f"{key} = {_shown(row[key])}" for key, _ in self.vary)

    def to_json(self) -> dict[str, Any]:
        """Return the object that the contract promises for ``sweep``."""
        counts = self.counts
        return signed(
            {
                "title": self.title,
                "finding": self.finding,
                "wanted": self.wanted,
                "basis": self.basis,
                "points": len(self.rows),
                "done": counts["done"],
                "failed": counts["failed"],
                "refused": counts["refused"],
                "resumed": self.resumed,
                "workers": self.workers,
                "vary": [{"key": key, "values": list(values)} for key, values in self.vary],
                "columns": list(self.rows[0]) if self.rows else [],
                "results": self.results,
                "rows_sha256": self.rows_sha256,
                "front": [
                    {k: number(v) if isinstance(v, float) else v for k, v in row.items()}
                    for row in self.front
                ],
                "assumed": list(self.assumed),
                "warnings": list(self.warnings),
            },
            self.asked,
        )

    def printed(self, paper: Paper) -> list[str]:
        """Return the answer in lines for a person: finding, front, files, cautions."""
        lines = [paper.ink(line, "bold") for line in wrapped(self.finding, paper)]
        lines += [""]
        if self.front:
            keys = [key for key, _ in self.vary]
            head = (*keys, f"{self.basis} {self.wanted}", "recovery %", "ready", "receiver")
            cells = [self._cells(row, keys) for row in _thinned(self.front)]
            lines += columns(head, cells, paper, left=len(keys))
            note = "The product is the receiver with most of it; no other setting beats these in"
            lines += [paper.ink(t, "grey") for t in wrapped(f"{note} all three.", paper)]
        told = (
            f"{len(self.rows)} settings ({self.resumed} from before), run by {self.workers}: "
            f"{self.results}, front.svg beside it."
        )
        lines += ["", *wrapped(told, paper)]
        lines += paragraph("Look out", self.warnings, paper, "amber", "bold")
        return lines + paragraph("Not given, so taken as", self.assumed, paper, "bold")

    def _cells(self, row: Row, keys: list[str]) -> tuple[str, ...]:
        return (
            *(_shown(row[key]) for key in keys),
            _percent(row["purity"]),
            _percent(row["recovery"]),
            format_time(row["ready_s"]),
            str(row["receiver"]),
        )

    def drawing(self) -> str:
        """Return purity against recovery as SVG, every setting a dot, the front joined."""
        able = [row for row in self.rows if row["purity"] is not None]
        parts = [
            text(_LEFT, 28.0, f"{self.title}: purity against recovery", size=17.0, weight=600),
            text(_LEFT, 48.0, self.finding[:118], size=12.0, pen="grey"),
        ]
        if able:
            parts += _plot(able, self.front)
        parts.append(
            text(_WIDTH / 2, _HEIGHT - 12.0, f"{self.wanted} recovered, %", anchor="middle")
        )
        parts.append(text(_LEFT, _TOP - 2.0, f"{self.basis} of it in the product", size=12.0))
        return document(_WIDTH, _HEIGHT, f"Sweep: {self.title}", self.finding, parts)


def _plot(able: list[Row], front: tuple[Row, ...]) -> list[str]:
    x = np.array([100.0 * row["recovery"] for row in able])
    y = np.array([100.0 * row["purity"] for row in able])
    across = axis_over(float(x.min()), float(x.max()), 8)
    up = axis_over(float(y.min()), float(y.max()), 6)
    wide, high = _WIDTH - _LEFT - _RIGHT, _HEIGHT - _TOP - _BOTTOM - 10.0

    def place(a: float, b: float) -> tuple[float, float]:
        return _LEFT + wide * across.place(a), _HEIGHT - _BOTTOM - high * up.place(b)

    parts = []
    for tick in across.ticks:
        at, foot = place(tick, up.low)
        parts.append(straight(at, foot, at, foot + 5.0))
        parts.append(text(at, foot + 19.0, across.label(tick), size=12.0, anchor="middle"))
    for tick in up.ticks:
        left, at = place(across.low, tick)
        parts.append(straight(left, at, left + wide, at, pen="pale"))
        parts.append(text(left - 8.0, at + 4.0, up.label(tick), size=12.0, anchor="end"))
    every = max(1, len(able) // _MOST_DOTS)
    dots = [place(float(a), float(b)) for a, b in zip(x[::every], y[::every], strict=True)]
    parts += [circle(a, b, 2.0, fill="#D9DBDE", pen="pale") for a, b in dots]
    line = np.array([place(100.0 * r["recovery"], 100.0 * r["purity"]) for r in _staircase(front)])
    if line.size:
        parts.append(polyline(line[:, 0], line[:, 1], pen="blue", dashes=None))
        parts += [circle(float(a), float(b), 4.0, fill="#0072B2", pen="blue") for a, b in line]
    return parts


def _staircase(front: tuple[Row, ...]) -> list[Row]:
    """Return the part of the front that purity and recovery alone would keep."""
    kept: list[Row] = []
    for row in front:  # purest first
        if not kept or row["recovery"] > kept[-1]["recovery"]:
            kept.append(row)
    return kept


def _thinned(front: tuple[Row, ...]) -> list[Row]:
    if len(front) <= _ROWS:
        return list(front)
    places = np.unique(np.linspace(0, len(front) - 1, _ROWS).round().astype(int))
    return [front[int(k)] for k in places]


def _percent(share: float) -> str:
    return format_number(100.0 * share, 1)


def _shown(value: float | int | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"
